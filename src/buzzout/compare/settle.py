"""Settle what is in order, so that only the disturbed rest has to be searched.

A found node is known where its anchors are those of one drawn node, or where its colour points to
one. A part is in order where a right drawn part lies between the same nodes. What is left is the
rest: the parts that are not in order, the places they touch, and the furniture whose pins are
among those. Everything else is taken as it is; on a whole board that is an assumption, and the
proof says so.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from buzzout.circuit import Point, joined
from buzzout.compare.colours import Guesses, guess
from buzzout.compare.fits import Fit
from buzzout.compare.furniture import AS_DRAWN
from buzzout.compare.match import Match
from buzzout.compare.model import EARTH, FREE, UNSEEN, Labelled, Pair, Small, labelled_groups
from buzzout.compare.values import judge

CORE = "@core"  # name of the stand-ins for settled places


@dataclass(frozen=True)
class Settled:
    """Pairings in order, the node of each settled place, and the rest as a pair of its own.

    `drawn`, `found` and `places` are the indices that the rest's small parts and places have on the
    whole board.
    """

    fits: tuple[Fit, ...]
    node_at: Mapping[int, int]
    rest: Pair
    drawn: tuple[int, ...]
    found: tuple[int, ...]
    places: tuple[int, ...]

    @property
    def whole(self) -> bool:
        """Nothing is left."""
        return not (self.places or self.drawn or self.found)


def settle(pair: Pair) -> Settled:
    """Split a comparison into what is in order and the rest. Near-linear."""
    labelled = labelled_groups(pair)
    guesses = guess(pair, labelled.groups)
    group_of = {k: n for n, group in enumerate(labelled.groups) for k in group}
    sure = _sure(pair, guesses, labelled)
    fits = list(_in_order(pair, sure, group_of))
    disturbed = _disturbed(pair, guesses, sure, fits)
    disturbed |= {k for w in labelled.suspects for k in (w.a, w.b)}
    disturbed |= _on_same_furniture(pair, disturbed)
    disturbed |= _named_by_the_disturbed(pair, labelled.groups, disturbed)
    disturbed.discard(pair.board.pins[EARTH][""])
    node_at = {k: sure[n] for k, n in group_of.items() if k not in disturbed}
    return _split(pair, node_at, fits, disturbed, _in_pieces(sure))


def _sure(pair: Pair, guesses: Guesses, labelled: Labelled) -> dict[int, int]:
    """Found group to drawn node where there is no doubt.

    Several groups may have anchors of one node: connections are missing. A node without anchors is
    known by its colour, one to one.
    """
    anchored = {n for pins in pair.drawing.pins.values() for n in pins.values()}
    sure = {n: label for n, label in enumerate(labelled.labels) if label is not None}
    claims: dict[int, list[int]] = defaultdict(list)
    for n, label in enumerate(labelled.labels):
        if label is None and len(guesses.surest[n]) == 1:
            claims[guesses.surest[n][0]].append(n)
    for node, groups in claims.items():
        if len(groups) == 1 and node not in anchored:
            sure[groups[0]] = node
    return sure


def _in_pieces(sure: Mapping[int, int]) -> set[int]:
    """Nodes that more than one found group belongs to."""
    count: dict[int, int] = defaultdict(int)
    for node in sure.values():
        count[node] += 1
    return {node for node, groups in count.items() if groups > 1}


def _named_by_the_disturbed(
    pair: Pair, groups: Iterable[Iterable[int]], disturbed: set[int]
) -> set[int]:
    """Places that are known only by pins that may be numbered otherwise."""
    anchors = {
        k
        for name, pins in pair.board.pins.items()
        for pin, k in pins.items()
        if pair.drawing.pins[name][pin] != FREE
    }
    more: set[int] = set()
    for group in groups:
        pins = anchors.intersection(group)
        if pins and pins <= disturbed:
            more |= set(group)
    return more


Key = tuple[object, ...]


def _in_order(pair: Pair, sure: Mapping[int, int], group_of: Mapping[int, int]) -> Iterator[Fit]:
    """Parts between known nodes with right parts drawn there, as many here as there."""
    drawn: dict[Key, list[int]] = defaultdict(list)
    for i, small in enumerate(pair.drawing.smalls):
        if len(small.at) == 2:
            drawn[_key(small, small.at)].append(i)
    found: dict[Key, list[int]] = defaultdict(list)
    for j, small in enumerate(pair.board.smalls):
        nodes = [sure.get(group_of[k], UNSEEN) if k != UNSEEN else UNSEEN for k in small.at]
        if len(nodes) == 2 and UNSEEN not in nodes:
            found[_key(small, nodes)].append(j)
    for key, theirs in found.items():
        mine = drawn.get(key, [])
        if len(mine) != len(theirs):
            continue
        mine.sort(key=lambda i: (_value(pair.drawing.smalls[i]), i))
        theirs.sort(key=lambda j: (_value(pair.board.smalls[j]), j))
        yield from _all_right(pair, mine, theirs, sure, group_of)


def _all_right(
    pair: Pair,
    mine: list[int],
    theirs: list[int],
    sure: Mapping[int, int],
    group_of: Mapping[int, int],
) -> Iterator[Fit]:
    for i, j in zip(mine, theirs, strict=True):
        one, two = pair.drawing.smalls[i], pair.board.smalls[j]
        if judge(one.part, two.part).wrong:
            continue
        straight = sure[group_of[two.at[0]]] == one.at[0]
        yield Fit(i, j, (0, 1) if straight else (1, 0), (True, True))


def _key(small: Small, nodes: Iterable[int]) -> Key:
    ends = tuple(nodes)
    return small.part.kind, ends if small.part.swap == "reversed" else tuple(sorted(ends))


def _value(small: Small) -> float:
    value = small.part.value or small.part.measured
    return value.value if value else 0.0


def _disturbed(
    pair: Pair, guesses: Guesses, sure: Mapping[int, int], fits: Iterable[Fit]
) -> set[int]:
    """Places of unknown nodes, of nodes that lack something, of parts not in order."""
    calm = {fit.j for fit in fits}
    met = {fit.i for fit in fits}
    lacking = {n for i, s in enumerate(pair.drawing.smalls) if i not in met for n in s.at}
    disturbed = {
        k
        for n, group in enumerate(guesses.groups)
        if n not in sure or (sure[n] in lacking and not guesses.anchors[n])
        for k in group
    }
    for j, small in enumerate(pair.board.smalls):
        if j not in calm:
            disturbed |= {k for k in small.at if k != UNSEEN}
    return disturbed


def _on_same_furniture(pair: Pair, disturbed: set[int]) -> set[int]:
    """All pins of furniture that may be numbered otherwise.

    That is a socket or a control with one disturbed pin. Of other furniture two must be: much of
    the chassis and the HT comes together on the pins of transformers and jacks.
    """
    more: set[int] = set()
    for name, pins in pair.board.pins.items():
        part = pair.drawing.circuit.parts.get(name)
        few = 1 if part and part.kind in ("socket", "pot") else 2
        if len(disturbed.intersection(pins.values())) >= few:
            more |= set(pins.values())
    return more


def _split(
    pair: Pair,
    node_at: Mapping[int, int],
    fits: list[Fit],
    disturbed: set[int],
    in_pieces: set[int],
) -> Settled:
    stand = _cores(pair, disturbed)
    kept = [f for f in fits if not any(k in disturbed for k in pair.board.smalls[f.j].at)]
    met, calm = {f.i for f in kept}, {f.j for f in kept}
    drawn = tuple(i for i in range(len(pair.drawing.smalls)) if i not in met)
    found = tuple(j for j in range(len(pair.board.smalls)) if j not in calm)
    smalls = [pair.board.smalls[j] for j in found]
    wires = [w for w in pair.board.wires if w.a in disturbed or w.b in disturbed]
    touched = {stand[k] for small in smalls for k in small.at if k != UNSEEN}
    touched |= {stand[k] for w in wires for k in (w.a, w.b)} | disturbed
    touched |= {stand[k] for k, node in node_at.items() if node in in_pieces}
    places = tuple(sorted(touched))
    row = {k: n for n, k in enumerate(places)} | {UNSEEN: UNSEEN}
    nodes, pins = _furniture(pair, disturbed, node_at, row)
    at = {k: row[stand[k]] for k in stand if stand[k] in row} | {UNSEEN: UNSEEN}
    board = replace(
        pair.board,
        places=tuple(pair.board.places[k] for k in places),
        smalls=tuple(Small(s.part, tuple(at[k] for k in s.at)) for s in smalls),
        wires=tuple(replace(w, a=at[w.a], b=at[w.b]) for w in wires),
        pins=pins,
        called={n: there for n, there in pair.board.called.items() if n in pins},
        absent=frozenset(row[k] for k in pair.board.absent if k in row),
    )
    mine = tuple(pair.drawing.smalls[i] for i in drawn)
    rest = Pair(replace(pair.drawing, smalls=mine, pins=nodes), board)
    return Settled(tuple(kept), node_at, rest, drawn, found, places)


def _cores(pair: Pair, disturbed: set[int]) -> dict[int, int]:
    """Settled places that wires join stand for one another; the first one for all."""
    at = [Point("place", str(k)) for k in range(len(pair.board.places))]
    calm = [
        (at[w.a], at[w.b])
        for w in pair.board.wires
        if w.a not in disturbed and w.b not in disturbed
    ]
    return {int(p.pin): int(group[0].pin) for group in joined(at, calm) for p in group}


def _furniture(
    pair: Pair, disturbed: set[int], node_at: Mapping[int, int], row: Mapping[int, int]
) -> tuple[dict[str, Mapping[str, int]], dict[str, Mapping[str, int]]]:
    """Pins of disturbed furniture, and a stand-in with one pin for each settled place in touch."""
    nodes: dict[str, Mapping[str, int]] = {}
    places: dict[str, Mapping[str, int]] = {}
    for name, pins in pair.board.pins.items():
        here = disturbed.intersection(pins.values())
        if len(here) > 1:
            nodes[name] = pair.drawing.pins[name]
            places[name] = {pin: row[k] for pin, k in pins.items()}
        for pin, k in pins.items() if len(here) == 1 else ():
            if k in here and pair.drawing.pins[name][pin] != FREE:
                nodes[f"{CORE}{k}"] = {"": pair.drawing.pins[name][pin]}
                places[f"{CORE}{k}"] = {"": row[k]}
    for k in sorted(row.keys() - disturbed - {UNSEEN}):
        nodes[f"{CORE}{k}"], places[f"{CORE}{k}"] = {"": node_at[k]}, {"": row[k]}
    return nodes, places


def merged(pair: Pair, settled: Settled, rest: Match) -> Match:
    """The explanation of the rest as one of the whole board."""
    drawn, found = settled.drawn, settled.found
    fits = [replace(f, i=drawn[f.i], j=found[f.j]) for f in rest.fits]
    groups = [
        replace(
            g,
            drawn=tuple(drawn[i] for i in g.drawn),
            found=tuple(found[j] for j in g.found),
            ties=tuple((a, settled.places[k], found[j], t) for a, k, j, t in g.ties),
            inner=tuple(settled.places[k] for k in g.inner),
        )
        for g in rest.groups
    ]
    node_at = {settled.places[k]: node for k, node in rest.node_at.items()}
    return replace(
        rest,
        fits=tuple(sorted((*settled.fits, *fits), key=lambda fit: fit.i)),
        groups=tuple(groups),
        node_at={**settled.node_at, **node_at},
        turns=dict.fromkeys(pair.board.called, (AS_DRAWN,)) | dict(rest.turns),
        exchanged=tuple(tuple(drawn[i] for i in ring) for ring in rest.exchanged),
    )


def all_settled(pair: Pair, settled: Settled) -> Match:
    """The explanation of a board on which nothing is left to explain."""
    turns = dict.fromkeys(pair.board.called, (AS_DRAWN,))
    return Match(settled.fits, (), settled.node_at, turns, (), (), 0.0, 0.0, 1)
