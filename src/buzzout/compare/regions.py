"""Regions of the disturbed rest that have nothing to do with one another.

Each region is a comparison of its own. What lies outside is taken to be as it should: places there
that wires join stand in for one another, the first for all, as anchors of one pin. Two parts belong
to one region if they touch a place that is not settled, or if one may be the other.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise

from buzzout.circuit import joined
from buzzout.compare.colours import look_of
from buzzout.compare.explanation import Match
from buzzout.compare.furniture import AS_DRAWN
from buzzout.compare.model import FREE, UNSEEN, Pair, Small, Wire
from buzzout.compare.settle import Settled
from buzzout.compare.turns import Likely

CORE = "@core"  # name of the stand-ins for settled places
TOLD = ("place", "found")  # without any of these there is nothing to explain it by
Item = tuple[str, Hashable]
Break = tuple[int, int, int]  # a node and the numbers of two of its pieces
Pins = dict[str, Mapping[str, int]]


@dataclass(frozen=True)
class Region:
    """A comparison of its own: the indices that its parts and places have on the whole board."""

    pair: Pair
    drawn: tuple[int, ...]
    found: tuple[int, ...]
    places: tuple[int, ...]


def regions(pair: Pair, settled: Settled) -> list[Region]:
    """The rest in regions, in order of their places."""
    rest = _Rest(pair, settled)
    items, ties = list(rest.items()), list(rest.ties())
    groups = joined(items, ties)
    groups = joined(items, [*ties, *rest.missed_here_found_there(groups)])
    inside = [{k for kind, k in group if kind == "place" and isinstance(k, int)} for group in groups]
    mending = rest.menders(inside)
    return [
        rest.region(group, breaks)
        for group, breaks in zip([*groups, ()], mending, strict=True)
        if breaks or any(kind in TOLD for kind, _ in group)
    ]


@dataclass(frozen=True)
class _Rest:
    pair: Pair
    settled: Settled
    breaks: list[Break] = field(default_factory=list)

    @cached_property
    def kept(self) -> tuple[frozenset[int], frozenset[int]]:
        """Drawn and found parts in order that touch nothing disturbed."""
        away, smalls = self.settled.disturbed, self.pair.board.smalls
        fits = [f for f in self.settled.fits if away.isdisjoint(smalls[f.j].at)]
        return frozenset(f.i for f in fits), frozenset(f.j for f in fits)

    @cached_property
    def lost(self) -> tuple[list[int], list[int]]:
        """Drawn and found parts that no pairing in order has."""
        drawn, found = {f.i for f in self.settled.fits}, {f.j for f in self.settled.fits}
        return (
            [i for i in range(len(self.pair.drawing.smalls)) if i not in drawn],
            [j for j in range(len(self.pair.board.smalls)) if j not in found],
        )

    @cached_property
    def furniture(self) -> dict[str, list[int]]:
        """Furniture with disturbed pins, and the places of these."""
        table = {
            name: [k for k in pins.values() if k in self.settled.disturbed]
            for name, pins in self.pair.board.pins.items()
        }
        return {name: places for name, places in table.items() if places}

    def items(self) -> Iterator[Item]:
        """All that has to be explained."""
        yield from (("place", k) for k in sorted(self.settled.disturbed))
        drawn, found = self.kept
        yield from (("drawn", i) for i in range(len(self.pair.drawing.smalls)) if i not in drawn)
        yield from (("found", j) for j in range(len(self.pair.board.smalls)) if j not in found)

    def ties(self) -> Iterator[tuple[Item, Item]]:
        """Pairs of items that have to be explained together."""
        yield from self._on_the_board()
        yield from self._on_the_drawing()
        yield from self._maybe_the_same()
    def _on_the_board(self) -> Iterator[tuple[Item, Item]]:
        """Lost parts tie all their places, parts in order those of small nodes; so do wires."""
        away, node_at = self.settled.disturbed, self.settled.node_at
        lost = set(self.lost[1])
        for j in set(range(len(self.pair.board.smalls))) - self.kept[1]:
            here = [k for k in self._at(j) if k in away]
            small = [k for k in here if k not in self.settled.firm]
            yield from ((("found", j), ("place", k)) for k in (here if j in lost else small or here[:1]))
        for wire in self.pair.board.wires:
            alike = node_at.get(wire.a, -1) == node_at.get(wire.b, -2)
            if wire.a in away and wire.b in away and not (alike and wire.a in self.settled.firm):
                yield ("place", wire.a), ("place", wire.b)
        for places in self.furniture.values():
            yield from ((("place", places[0]), ("place", k)) for k in places[1:])

    @cached_property
    def spoken_for(self) -> frozenset[int]:
        """Nodes that a settled place belongs to."""
        away = self.settled.disturbed
        return frozenset(node for k, node in self.settled.node_at.items() if k not in away)

    def _at(self, j: int) -> list[int]:
        return [k for k in self.pair.board.smalls[j].at if k != UNSEEN]

    def _on_the_drawing(self) -> Iterator[tuple[Item, Item]]:
        """Leads and pins of a node that no settled place speaks for."""
        node_at, away = self.settled.node_at, self.settled.disturbed
        at: list[tuple[int, Item]] = [(node, ("place", k)) for k, node in node_at.items() if k in away]
        at += [(n, ("place", k)) for k, nodes in self.settled.may_be.items() for n in nodes]
        for i in set(range(len(self.pair.drawing.smalls))) - self.kept[0]:
            at += [(node, ("drawn", i)) for node in self.pair.drawing.smalls[i].at]
        for name, places in self.furniture.items():
            if len(self.pair.board.pins[name]) > 1:
                at += [(n, ("place", places[0])) for n in self.pair.drawing.pins[name].values()]
        yield from (
            (("node", node), item) for node, item in at if node not in self.spoken_for and node != FREE
        )

    def _maybe_the_same(self) -> Iterator[tuple[Item, Item]]:
        """Parts in order, parts between the same nodes, sockets in each other's place."""
        for f in self.settled.fits:
            if f.i not in self.kept[0]:
                yield ("drawn", f.i), ("found", f.j)
        for i in self.lost[0]:
            yield ("drawn", i), ("between", tuple(sorted(self.pair.drawing.smalls[i].at)))
        for j in self.lost[1]:
            nodes = [self.settled.node_at.get(k, UNSEEN) for k in self._at(j)]
            if UNSEEN not in nodes:
                yield ("found", j), ("between", tuple(sorted(nodes)))
        whole = [n for n, k in self.furniture.items() if len(k) == len(self.pair.board.pins[n])]
        likely = Likely(self.pair)
        for name in whole:
            for other in likely.better(name, whole):
                yield ("place", self.furniture[name][0]), ("place", self.furniture[other][0])

    def missed_here_found_there(
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

    def menders(self, inside: Sequence[set[int]]) -> list[list[Break]]:
        """For each region, and for none, the breaks of nodes that it has to explain.

        Of two pieces of a node one region that touches both is asked how they come apart. Those
        that no region joins are left to a region of their own.
        """
        breaks: list[list[Break]] = [[] for _ in (*inside, ())]
        reach = [
            {k for place in places for w in self._wires_at[place] for k in (w.a, w.b)} | places
            for places in inside
        ]
        at: dict[int, list[int]] = defaultdict(list)
        for n, places in enumerate(reach):
            for k in places:
                at[k].append(n)
        for node, groups in self.settled.pieces.items():
            touch: dict[int, list[int]] = defaultdict(list)
            for piece, group in enumerate(groups):
                for n in dict.fromkeys(n for k in group for n in at.get(k, ())):
                    touch[n].append(piece)
            touch[len(inside)] = list(range(len(groups)))
            piece_of = list(range(len(groups)))
            for n, pieces in sorted(touch.items()):
                for piece in pieces[1:]:
                    one, other = piece_of[pieces[0]], piece_of[piece]
                    if one != other:
                        breaks[n].append((node, pieces[0], piece))
                        piece_of = [one if p == other else p for p in piece_of]
        self.breaks.extend(b for each in breaks for b in each)
        return breaks

    def region(self, items: Iterable[Item], breaks: Sequence[Break]) -> Region:
        """The comparison of some items, with stand-ins for what they touch outside."""
        of: dict[str, set[int]] = defaultdict(set)
        for kind, what in items:
            if isinstance(what, int):
                of[kind].add(what)
        inside, board = of["place"], self.pair.board
        drawn, found = tuple(sorted(of["drawn"])), tuple(sorted(of["found"]))
        stand = self._stand_ins(inside, breaks)
        smalls = [board.smalls[j] for j in found]
        wires = [w for k in sorted(inside) for w in self._wires_at[k]]
        touched = [k for j in found for k in self._at(j)]
        touched += [k for w in wires for k in (w.a, w.b)]
        for node, *pieces in breaks:
            groups = self.settled.pieces[node]
            touched += [k for piece in pieces for k in groups[piece] if k in self._cores]
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
            called={n: name for n, name in board.called.items() if n in pins},
            absent=frozenset(row[k] for k in board.absent if k in row),
        )
        mine = tuple(self.pair.drawing.smalls[i] for i in drawn)
        pair = Pair(replace(self.pair.drawing, smalls=mine, pins=nodes), there)
        return Region(pair, drawn, found, places)

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
    def _between(self) -> list[tuple[int, int]]:
        """Wires of right places that touch something disturbed, from core to core."""
        core, node_at = self._cores, self.settled.node_at
        wires = dict.fromkeys(w for wires in self._wires_at.values() for w in wires)
        right = [w for w in wires if node_at.get(w.a, -1) == node_at.get(w.b, -2)]
        return [(core.get(w.a, w.a), core.get(w.b, w.b)) for w in right]

    def _stand_ins(self, inside: set[int], breaks: Sequence[Break]) -> Callable[[int], int]:
        """Which place stands for a settled one that a wire or lead ends on.

        Wires outside are taken to hold, and nodes that are in pieces to be mended but for `breaks`.
        """
        core = self._cores
        outside = [(a, b) for a, b in self._between if a not in inside and b not in inside]
        for node, *pieces in self.breaks:
            if (node, *pieces) not in breaks:
                cores = [self._core_of(node, piece) for piece in pieces]
                outside += list(pairwise(core for core in cores if core is not None))
        first: dict[int, int] = {}
        for group in joined((), outside):
            one = next((k for k in group if k in core), group[0])
            first |= dict.fromkeys(group, one)
        return lambda k: first.get(core.get(k, k), core.get(k, k))

    def _core_of(self, node: int, piece: int) -> int | None:
        """A settled place of a piece of a node."""
        group = self.settled.pieces[node][piece]
        return next((self._cores[k] for k in group if k in self._cores), None)

    def _furniture(self, inside: set[int], row: Mapping[int, int]) -> tuple[Pins, Pins]:
        """Pins of furniture inside, and an anchor of one pin for each settled place in touch."""
        nodes: Pins = {}
        places: Pins = {}
        for name, here in self.furniture.items():
            if inside.isdisjoint(here):
                continue
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


def merged(pair: Pair, settled: Settled, told: Iterable[tuple[Region, Match]]) -> Match:
    """The explanations of all regions, and what is settled, as one of the whole board."""
    away = settled.disturbed
    fits = [f for f in settled.fits if away.isdisjoint(pair.board.smalls[f.j].at)]
    node_at = {k: node for k, node in settled.node_at.items() if k not in away}
    whole = Match((), (), {}, dict.fromkeys(pair.board.called, (AS_DRAWN,)), (), (), 0.0, 0.0, 0)
    parts = [whole, *(_on_the_board(region, match) for region, match in told)]
    groups = [group for part in parts for group in part.groups]
    exchanged = [ring for part in parts for ring in part.exchanged]
    fits += [fit for part in parts for fit in part.fits]
    return Match(
        tuple(sorted(fits, key=lambda fit: fit.i)),
        tuple(sorted(groups, key=lambda group: group.drawn)),
        node_at | {k: node for part in parts for k, node in part.node_at.items()},
        {name: turns for part in parts for name, turns in part.turns.items()},
        tuple(ring for part in parts for ring in part.crossed),
        tuple(sorted(exchanged)),
        sum(part.cost for part in parts),
        sum(part.bound for part in parts),
        sum(part.steps for part in parts),
    )


def _on_the_board(region: Region, match: Match) -> Match:
    """The explanation of a region with the indices of the whole board."""
    drawn, found, places = region.drawn, region.found, region.places
    groups = (
        replace(
            g,
            drawn=tuple(drawn[i] for i in g.drawn),
            found=tuple(found[j] for j in g.found),
            ties=tuple((a, places[k], found[j], t) for a, k, j, t in g.ties),
            inner=tuple(places[k] for k in g.inner),
        )
        for g in match.groups
    )
    return replace(
        match,
        fits=tuple(replace(f, i=drawn[f.i], j=found[f.j]) for f in match.fits),
        groups=tuple(groups),
        node_at={places[k]: node for k, node in match.node_at.items()},
        exchanged=tuple(tuple(drawn[i] for i in ring) for ring in match.exchanged),
    )
