"""Colours of bounded radius for the nodes of both sides, and what they make of each found node.

Colour refinement in the manner of Weisfeiler and Leman, run jointly on both sides: after r rounds
the colour of a node tells everything up to r parts away. An error spoils only the colours within
r of it, so the guess for a found node are the drawn nodes that share its colour at the largest
radius where there are any.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import log10

from buzzout.compare.model import FREE, UNSEEN, Pair, Small, live_nodes

FARTHEST = 6  # rounds; a stage of an amplifier is no wider
MOST_ALIKE = 4  # so many nodes of one colour are taken as guesses
Pin = tuple[str, str]


@dataclass(frozen=True)
class Half:
    """One side as a graph: parts as (look, rows of nodes, polarised), anchors of each node."""

    parts: Sequence[tuple[Hashable, tuple[int, ...], bool]]
    anchors: Sequence[frozenset[Pin]]


@dataclass(frozen=True)
class Guesses:
    """For each found node (`groups` of places): its anchors, and the drawn nodes it may be."""

    groups: Sequence[Sequence[int]]
    anchors: Sequence[frozenset[Pin]]
    nodes: Sequence[set[int]]
    surest: Sequence[tuple[int, ...]]


@lru_cache(maxsize=4096)
def look(kind: str, value: float) -> Hashable:
    """Kind and value to about 10 %."""
    return kind, round(20 * log10(value)) if value > 0 else None


def look_of(small: Small) -> Hashable:
    """The look of a part; on a chassis of what was read or else measured."""
    seen = small.part.value or small.part.measured
    return look(small.part.kind, seen.value if seen else 0)


def polar(small: Small) -> bool:
    """Which lead is which matters. Of more than two leads it is taken to."""
    return small.part.swap == "reversed" or len(small.at) > 2


def across(
    smalls: Iterable[Small], at: Mapping[int, int], *, sides: bool = False
) -> dict[tuple[Hashable, int], list[int]]:
    """Look and one end to the other ends of parts with two; `at` names the ends.

    With `sides` the look of a polarised part tells also which of its leads the one end is.
    """
    far: dict[tuple[Hashable, int], list[int]] = defaultdict(list)
    for small in smalls:
        if len(small.at) == 2 and UNSEEN not in small.at:
            seen, ends = look_of(small), [at[k] for k in small.at]
            for s, end in enumerate(ends):
                far[(seen, s) if sides and polar(small) else seen, end].append(ends[1 - s])
    return far


def guess(pair: Pair, groups: Sequence[Sequence[int]]) -> Guesses:
    """What each found node may be. Cost: `FARTHEST` times the number of leads."""
    nodes = live_nodes(pair)
    drawn, found = _drawn(pair, nodes), _found(pair, groups)
    ours, theirs = _by_anchors(pair, drawn, found)
    guesses, surest = [], []
    for n in range(len(groups)):
        may = {pair.drawing.pins[name][pin] for name, pin in found.anchors[n]}
        alike: list[int] = []
        for r in range(FARTHEST, -1, -1):
            if alike := ours[r].get(theirs[r][n], []):
                break
        surest.append(tuple(nodes[m] for m in alike))
        guesses.append(may | {nodes[m] for m in alike[:MOST_ALIKE]})
    return Guesses(groups, found.anchors, _voted(pair, groups, guesses), surest)


def halves(pair: Pair, groups: Sequence[Sequence[int]]) -> tuple[Half, Half]:
    """Both sides as graphs."""
    return _drawn(pair, live_nodes(pair)), _found(pair, groups)


def _drawn(pair: Pair, nodes: Sequence[int]) -> Half:
    row = {node: n for n, node in enumerate(nodes)}
    anchors: list[set[Pin]] = [set() for _ in row]
    for name, pins in pair.drawing.pins.items():
        for pin, node in pins.items():
            if node != FREE:
                anchors[row[node]].add((name, pin))
    parts = [
        (
            look_of(s),
            tuple(row[n] for n in s.at),
            polar(s),
        )
        for s in pair.drawing.smalls
    ]
    return Half(parts, [frozenset(a) for a in anchors])


def _found(pair: Pair, groups: Sequence[Sequence[int]]) -> Half:
    row = {place: n for n, group in enumerate(groups) for place in group}
    anchors: list[set[Pin]] = [set() for _ in groups]
    for name, pins in pair.board.pins.items():
        for pin, place in pins.items():
            if pair.drawing.pins[name][pin] != FREE:
                anchors[row[place]].add((name, pin))
    parts = []
    for s in pair.board.smalls:
        ends = tuple(row[k] for k in s.at if k != UNSEEN)
        parts.append((look_of(s), ends, polar(s)))
    return Half(parts, [frozenset(a) for a in anchors])


def _voted(pair: Pair, groups: Sequence[Sequence[int]], guesses: list[set[int]]) -> list[set[int]]:
    """The guesses, and for each found node the drawn nodes that most of its parts speak for.

    A part speaks for the nodes that a part like it joins to the node guessed for its other end
    (percolation: Yartseva and Grossglauser, "On the performance of percolation graph matching",
    COSN 2013).
    """
    row = {place: n for n, group in enumerate(groups) for place in group}
    other = across(pair.drawing.smalls, {n: n for s in pair.drawing.smalls for n in s.at})
    votes: list[dict[int, int]] = [defaultdict(int) for _ in groups]
    for s in pair.board.smalls:
        if len(s.at) != 2 or UNSEEN in s.at:
            continue
        seen = look_of(s)
        for here, far in (s.at, s.at[::-1]):
            for each in guesses[row[far]]:
                for node in other[seen, each][:MOST_ALIKE]:
                    votes[row[here]][node] += 1
    told = [set(sorted(count, key=lambda node: (-count[node], node))[:2]) for count in votes]
    return [mine | more for mine, more in zip(guesses, told, strict=True)]


def _by_anchors(
    pair: Pair, drawn: Half, found: Half
) -> tuple[list[dict[Hashable, list[int]]], list[list[int]]]:
    """For each radius: drawn nodes by colour, and the colour of each found node.

    A node with anchors keeps the colour of these: what is wrong on the chassis or on the HT must
    not spoil the colours of all that is joined to it.
    """
    fixed = [[_named(pair, pins) for pins in half.anchors] for half in (drawn, found)]
    ours, theirs = [], []
    for one, two in colours(drawn, found, *fixed):
        table: dict[Hashable, list[int]] = defaultdict(list)
        for n, colour in enumerate(one):
            table[colour].append(n)
        ours.append(dict(table))
        theirs.append(two)
    return ours, theirs


def colours(
    drawn: Half, found: Half, ours: Sequence[Hashable], theirs: Sequence[Hashable]
) -> Iterator[tuple[list[int], list[int]]]:
    """Colours of the drawn and of the found nodes, one radius after another.

    `ours` and `theirs` name nodes that keep their colour, whatever is around them; None elsewhere.
    """
    names: dict[Hashable, int] = {}
    one, two = start(drawn, names), start(found, names)
    for _ in range(FARTHEST + 1):
        one, two = _kept(one, ours, names), _kept(two, theirs, names)
        yield one, two
        one, two = one_round(drawn, one, names), one_round(found, two, names)


def _kept(
    colours: Sequence[int], fixed: Sequence[Hashable], names: dict[Hashable, int]
) -> list[int]:
    return [
        colour if name is None else names.setdefault(name, len(names))
        for colour, name in zip(colours, fixed, strict=True)
    ]


def _named(pair: Pair, pins: frozenset[Pin]) -> Hashable:
    """What names a node with anchors: the first drawn node that they belong to."""
    return ("node", min(pair.drawing.pins[name][pin] for name, pin in pins)) if pins else None


def start(half: Half, names: dict[Hashable, int]) -> list[int]:
    """First colours of the nodes: their anchors and the looks of the parts on them."""
    looks: list[list[int]] = [[] for _ in half.anchors]
    for seen, ends, polar in half.parts:
        for s, n in enumerate(ends):
            looks[n].append(names.setdefault((seen, s if polar else 0), len(names)))
    return [
        names.setdefault((a, tuple(sorted(x))), len(names))
        for a, x in zip(half.anchors, looks, strict=True)
    ]


def one_round(half: Half, colours: list[int], names: dict[Hashable, int]) -> list[int]:
    """The next colours: what was, and the colours at the far ends of the parts."""
    seen: list[list[int]] = [[] for _ in colours]
    for kind, ends, polar in half.parts:
        around = [colours[n] for n in ends]
        for s, n in enumerate(ends):
            others = tuple(sorted(around[:s] + around[s + 1 :]))
            key = (kind, s if polar else 0, others)
            seen[n].append(names.setdefault(key, len(names)))
    return [
        names.setdefault((c, tuple(sorted(x))), len(names))
        for c, x in zip(colours, seen, strict=True)
    ]
