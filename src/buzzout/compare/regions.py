"""Regions of the disturbed rest that have nothing to do with one another.

Each region is a comparison of its own. What lies outside is taken to be as it should: places there
that wires join stand in for one another, the first for all, as anchors of one pin, and nodes are
whole. Two parts belong to one region if they touch a place that is not settled, or if one may be
the other.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import chain

from buzzout.circuit import joined
from buzzout.compare.colours import look_of
from buzzout.compare.explanation import Match
from buzzout.compare.fits import Fit
from buzzout.compare.model import FREE, UNSEEN, Pair, Small, Wire
from buzzout.compare.outside import Outside
from buzzout.compare.settle import Settled
from buzzout.compare.turns import Likely

CORE = "@core"  # name of the stand-ins for settled places
TOLD = ("place", "found")  # without any of these there is nothing to explain it by
PARTS = ("drawn", "found")
Item = tuple[str, Hashable]
Apart = Mapping[int, Sequence[Sequence[int]]]
Pins = dict[str, Mapping[str, int]]


@dataclass(frozen=True)
class Region:
    """A comparison of its own: the indices that its parts and places have on the whole board.

    `likely` is the part of an explanation that was taken for granted before.
    """

    pair: Pair
    drawn: tuple[int, ...]
    found: tuple[int, ...]
    places: tuple[int, ...]
    likely: Match


@dataclass(frozen=True)
class Rest:
    """All that is not settled, in groups of items that have to be explained together."""

    pair: Pair
    settled: Settled

    @cached_property
    def groups(self) -> list[list[Item]]:
        """The items of each region, in order of their places."""
        return [group for group in self._all_groups if any(kind in TOLD for kind, _ in group)]

    @cached_property
    def gone(self) -> list[int]:
        """Drawn parts in no region: nothing on the board could be them."""
        regions = {item for group in self.groups for item in group}
        away = {item for group in self._all_groups for item in group} - regions
        return sorted(i for kind, i in away if kind == "drawn" and isinstance(i, int))

    @cached_property
    def _all_groups(self) -> list[list[Item]]:
        items, ties = list(self._items()), list(self._ties())
        groups = joined(items, ties)
        return joined(items, [*ties, *self._missed_here_found_there(groups)])

    @cached_property
    def largest(self) -> int:
        """Small parts of the largest region, drawn and found."""
        return max((sum(kind in PARTS for kind, _ in group) for group in self.groups), default=0)

    @property
    def scattered(self) -> bool:
        """No region has more than half of the small parts."""
        return 2 * self.largest <= len(self.pair.drawing.smalls) + len(self.pair.board.smalls)

    @cached_property
    def home(self) -> Mapping[int, int]:
        """Disturbed place to the number of its group."""
        return {
            k: n
            for n, group in enumerate(self.groups)
            for kind, k in group
            if kind == "place" and isinstance(k, int)
        }

    @cached_property
    def _kept(self) -> tuple[frozenset[int], frozenset[int]]:
        """Drawn and found parts in order that touch nothing disturbed."""
        away, smalls = self.settled.disturbed, self.pair.board.smalls
        fits = [f for f in self.settled.fits if away.isdisjoint(smalls[f.j].at)]
        return frozenset(f.i for f in fits), frozenset(f.j for f in fits)

    @cached_property
    def _lost(self) -> tuple[list[int], list[int]]:
        """Drawn and found parts that no pairing in order has."""
        drawn, found = {f.i for f in self.settled.fits}, {f.j for f in self.settled.fits}
        return (
            [i for i in range(len(self.pair.drawing.smalls)) if i not in drawn],
            [j for j in range(len(self.pair.board.smalls)) if j not in found],
        )

    @cached_property
    def _doubtful(self) -> dict[str, list[int]]:
        """Furniture with disturbed pins, and the places of these."""
        table = {
            name: [k for k in pins.values() if k in self.settled.disturbed]
            for name, pins in self.pair.board.pins.items()
        }
        return {name: places for name, places in table.items() if places}

    @cached_property
    def _furniture_at(self) -> Mapping[int, list[tuple[int, str]]]:
        """Disturbed place to the furniture there, numbered in its order."""
        table: dict[int, list[tuple[int, str]]] = defaultdict(list)
        for n, (name, places) in enumerate(self._doubtful.items()):
            for k in places:
                table[k].append((n, name))
        return table

    def _items(self) -> Iterator[Item]:
        """All that has to be explained."""
        yield from (("place", k) for k in sorted(self.settled.disturbed))
        drawn, found = self._kept
        yield from (("drawn", i) for i in range(len(self.pair.drawing.smalls)) if i not in drawn)
        yield from (("found", j) for j in range(len(self.pair.board.smalls)) if j not in found)

    def _ties(self) -> Iterator[tuple[Item, Item]]:
        """Pairs of items that have to be explained together."""
        yield from self._on_the_board()
        yield from self._on_the_drawing()
        yield from self._maybe_the_same()

    def _on_the_board(self) -> Iterator[tuple[Item, Item]]:
        """Lost parts tie all their places, parts in order those of small nodes; so do wires."""
        away, node_at = self.settled.disturbed, self.settled.node_at
        lost = set(self._lost[1])
        for j in set(range(len(self.pair.board.smalls))) - self._kept[1]:
            here = [k for k in self._at(j) if k in away]
            small = [k for k in here if k not in self.settled.firm]
            yield from (
                (("found", j), ("place", k)) for k in (here if j in lost else small or here[:1])
            )
        for wire in self.pair.board.wires:
            alike = node_at.get(wire.a, -1) == node_at.get(wire.b, -2)
            if wire.a in away and wire.b in away and not (alike and wire.a in self.settled.firm):
                yield ("place", wire.a), ("place", wire.b)
        for places in self._doubtful.values():
            yield from ((("place", places[0]), ("place", k)) for k in places[1:])

    @cached_property
    def _spoken_for(self) -> frozenset[int]:
        """Nodes that a settled place belongs to."""
        away = self.settled.disturbed
        return frozenset(node for k, node in self.settled.node_at.items() if k not in away)

    def _at(self, j: int) -> list[int]:
        return [k for k in self.pair.board.smalls[j].at if k != UNSEEN]

    def _on_the_drawing(self) -> Iterator[tuple[Item, Item]]:
        """Leads and pins of a node that no settled place speaks for."""
        node_at, away = self.settled.node_at, self.settled.disturbed
        at: list[tuple[int, Item]] = [
            (node, ("place", k)) for k, node in node_at.items() if k in away
        ]
        at += [(n, ("place", k)) for k, nodes in self.settled.may_be.items() for n in nodes]
        for i in set(range(len(self.pair.drawing.smalls))) - self._kept[0]:
            at += [(node, ("drawn", i)) for node in self.pair.drawing.smalls[i].at]
        for name, places in self._doubtful.items():
            if len(self.pair.board.pins[name]) > 1:
                at += [(n, ("place", places[0])) for n in self.pair.drawing.pins[name].values()]
        yield from (
            (("node", node), item)
            for node, item in at
            if node not in self._spoken_for and node != FREE
        )

    def _maybe_the_same(self) -> Iterator[tuple[Item, Item]]:
        """Parts in order, parts between the same nodes, sockets in each other's place."""
        for f in self.settled.fits:
            if f.i not in self._kept[0]:
                yield ("drawn", f.i), ("found", f.j)
        for i in self._lost[0]:
            yield ("drawn", i), ("between", tuple(sorted(self.pair.drawing.smalls[i].at)))
        for j in self._lost[1]:
            nodes = [self.settled.node_at.get(k, UNSEEN) for k in self._at(j)]
            if UNSEEN not in nodes:
                yield ("found", j), ("between", tuple(sorted(nodes)))
        whole = [n for n, k in self._doubtful.items() if len(k) == len(self.pair.board.pins[n])]
        likely = Likely(self.pair)
        for name in whole:
            for other in likely.better(name, whole):
                yield ("place", self._doubtful[name][0]), ("place", self._doubtful[other][0])

    def _missed_here_found_there(
        self, groups: Iterable[Iterable[Item]]
    ) -> Iterator[tuple[Item, Item]]:
        """Groups of items of which one lacks a part of a look that another has too many of."""
        for group in groups:
            first: dict[Hashable, Item] = {}
            count: Counter[Hashable] = Counter()
            for kind, what in group:
                if kind in ("drawn", "found") and isinstance(what, int):
                    side = self.pair.drawing if kind == "drawn" else self.pair.board
                    seen = look_of(side.smalls[what])
                    count[seen] += 1 if kind == "drawn" else -1
                    first[seen] = kind, what
            yield from ((first[seen], ("look", seen)) for seen in count if count[seen])

    # ---- a region as a pair

    def region(self, items: Iterable[Item], apart: Apart) -> Region:
        """The comparison of some items, with stand-ins for what they touch outside.

        `apart` names nodes that are not whole outside, and the groups of places that they are in.
        """
        of: dict[str, set[int]] = defaultdict(set)
        for kind, what in items:
            if isinstance(what, int):
                of[kind].add(what)
        inside, board = of["place"], self.pair.board
        drawn, found = tuple(sorted(of["drawn"])), tuple(sorted(of["found"]))
        outside = self._outside(apart) if apart else self._all_whole
        stand = outside.stand_ins(inside)
        smalls = [board.smalls[j] for j in found]
        wires = [w for k in sorted(inside) for w in self._wires_at[k]]
        touched = [k for j in found for k in self._at(j)]
        touched += [k for w in wires for k in (w.a, w.b)]
        touched += [k for pieces in apart.values() for each in pieces for k in self._core_of(each)]
        places = tuple(sorted(inside | set(map(stand, touched))))
        row = {k: n for n, k in enumerate(places)}

        def at(k: int) -> int:
            return UNSEEN if k == UNSEEN else row[stand(k)]

        nodes, pins = self._furniture(inside, row)
        there = replace(
            board,
            places=tuple(board.places[k] for k in places),
            smalls=tuple(Small(s.part, tuple(map(at, s.at))) for s in smalls),
            wires=tuple(replace(w, a=at(w.a), b=at(w.b)) for w in dict.fromkeys(wires)),
            pins=pins,
            called={name: board.called[name] for name in pins if name in board.called},
            absent=frozenset(n for k, n in row.items() if k in board.absent),
        )
        mine = tuple(self.pair.drawing.smalls[i] for i in drawn)
        pair = Pair(replace(self.pair.drawing, smalls=mine, pins=nodes), there)
        return Region(pair, drawn, found, places, self._likely(drawn, found, row))

    def _likely(self, drawn: Sequence[int], found: Sequence[int], row: Mapping[int, int]) -> Match:
        """What settled of a region, with its own indices."""
        theirs = {j: n for n, j in enumerate(found)}
        settled = ((n, self._fit_of[i]) for n, i in enumerate(drawn) if i in self._fit_of)
        fits = tuple(replace(f, i=n, j=theirs[f.j]) for n, f in settled if f.j in theirs)
        known = self.settled.node_at
        return Match(fits, node_at={n: known[k] for k, n in row.items() if k in known})

    @cached_property
    def _fit_of(self) -> Mapping[int, Fit]:
        return {fit.i: fit for fit in self.settled.fits}

    @cached_property
    def _wires_at(self) -> Mapping[int, list[Wire]]:
        table: dict[int, list[Wire]] = defaultdict(list)
        for wire in self.pair.board.wires:
            for k in {wire.a, wire.b} & self.settled.disturbed:
                table[k].append(wire)
        return table

    @cached_property
    def _cores(self) -> Mapping[int, int]:
        """Settled places that settled wires join, the first one for all."""
        away = self.settled.disturbed
        calm = (k for k in range(len(self.pair.board.places)) if k not in away)
        wires = ((w.a, w.b) for w in self.pair.board.wires if away.isdisjoint((w.a, w.b)))
        return {k: group[0] for group in joined(calm, wires) for k in group}

    @cached_property
    def _right(self) -> list[tuple[int, int]]:
        """The ends of right wires that touch something disturbed."""
        node_at = self.settled.node_at
        wires = dict.fromkeys(w for wires in self._wires_at.values() for w in wires)
        return [(w.a, w.b) for w in wires if node_at.get(w.a, -1) == node_at.get(w.b, -2)]

    @cached_property
    def _pieces(self) -> Mapping[int, list[int]]:
        """The settled places of each node in pieces."""
        pieces = self.settled.pieces.items()
        return {node: self._core_of(chain(*groups)) for node, groups in pieces}

    @cached_property
    def _all_whole(self) -> Outside:
        return self._outside({})

    def _outside(self, apart: Apart) -> Outside:
        """The board outside a region: nodes are whole there, but for those that are `apart`."""
        whole = [places for node, places in self._pieces.items() if node not in apart]
        several = [self._core_of(each) for groups in apart.values() for each in groups]
        return Outside(self._cores, [*whole, *several], self._right)

    def _core_of(self, places: Iterable[int]) -> list[int]:
        """The settled places among some, one for all that settled wires join."""
        return list(dict.fromkeys(self._cores[k] for k in places if k in self._cores))

    def _furniture(self, inside: set[int], row: Mapping[int, int]) -> tuple[Pins, Pins]:
        """Pins of furniture inside, and an anchor of one pin for each settled place in touch."""
        nodes: Pins = {}
        places: Pins = {}
        for _, name in sorted({item for k in inside for item in self._furniture_at.get(k, ())}):
            here = self._doubtful[name]
            mine, theirs = self.pair.drawing.pins[name], self.pair.board.pins[name]
            if len(here) == len(theirs) > 1:
                nodes[name], places[name] = mine, {pin: row[k] for pin, k in theirs.items()}
                continue
            for pin, k in theirs.items():
                if k in inside and mine[pin] != FREE:
                    nodes[f"{CORE}{k}"], places[f"{CORE}{k}"] = {"": mine[pin]}, {"": row[k]}
        for k in sorted(row.keys() - inside):
            node = self.settled.node_at[k]
            nodes[f"{CORE}{k}"], places[f"{CORE}{k}"] = {"": node}, {"": row[k]}
        return nodes, places
