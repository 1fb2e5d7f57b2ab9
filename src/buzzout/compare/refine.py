"""Are the two sides the same circuit? Decided exactly, without anything to explain.

Each side becomes a graph. A node is a vertex; a part with two leads is an edge of its sort, any
other part a vertex with an edge for each lead. `isomorphism.py` looks for a mapping of one graph to
the other, and equality is claimed for a mapping that was checked part by part.

*Sorts* are needed because values within tolerances are no equivalence: of three parts the second
may stand for the first and the third for the second, and yet the third not for the first. What any
chain of such likenesses joins is one sort, and parts of different sorts never stand for one
another. Where within a sort any found part may stand for any drawn one, the sort is *firm* and says
all. A part of any other sort is a vertex, and pairings of these are judged one by one.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator, Mapping, Sequence
from operator import attrgetter
from typing import Literal

from buzzout.circuit import joined
from buzzout.compare.cells import Edges, Effort
from buzzout.compare.colours import Half, halves, look_of
from buzzout.compare.fits import SEEN, Fit
from buzzout.compare.isomorphism import Graph, isomorphism
from buzzout.compare.model import FREE, VOID, Pair, Small, found_nodes
from buzzout.compare.values import judge

CHOICES = 20000  # nodes singled out, all looked at for each, before the question is left open
MANY = 4000  # pairs of what looks alike; where there are more, none is judged beforehand
_seen = attrgetter(*SEEN)


def same(pair: Pair, choices: int = CHOICES) -> tuple[Fit, ...] | Literal[False] | None:
    """The pairings that show the two sides to be the same; False if they differ.

    None where as much work as looking at all nodes for each of `choices` brought no answer. Parts
    count as alike if kind and value agree to about 10 %; furniture only as drawn. So False does not
    say that anything is wrong.
    """
    sorts = _Sorts(pair)
    if Counter(sorts.of[0]) != Counter(sorts.of[1]):
        return False
    one, two = (
        _Side(half, seen, of, sorts.firm)
        for half, seen, of in zip(
            halves(pair, _worth_naming(pair)), sorts.seen, sorts.of, strict=True
        )
    )
    effort = Effort(2 * choices * len(one.graph.near))
    mapping = isomorphism(one.graph, two.graph, effort, sorts.right)
    if mapping is None or mapping is False:
        return mapping
    return _checked(one, two, mapping, sorts)


def _worth_naming(pair: Pair) -> list[list[int]]:
    """Found nodes that a part or an anchored pin is on."""
    used = {k for small in pair.board.smalls for k in small.at}
    used |= {k for k, _ in _pins(pair)}
    return [group for group in found_nodes(pair.board) if not used.isdisjoint(group)]


def _pins(pair: Pair) -> Iterator[tuple[int, int]]:
    """Place and drawn node of each pin that asks for something."""
    for name, pins in pair.drawing.pins.items():
        for pin, node in pins.items():
            if node != FREE:
                yield pair.board.pins[name][pin], node


class _Sorts:
    """The parts by what is to be seen of them, numbered, and the sorts that follow.

    `seen` and `of` are the number and the sort of each part of each side.
    """

    def __init__(self, pair: Pair) -> None:
        """Judge each sight of the board in the place of each of the drawing that looks alike."""
        self.first: dict[int, Small] = {}
        self.seen: list[list[int]] = []
        number: dict[object, int] = {}
        for smalls in (pair.drawing.smalls, pair.board.smalls):
            row = [number.setdefault(_seen(small.part), len(number)) for small in smalls]
            self.first |= dict(zip(row, smalls, strict=True))
            self.seen.append(row)
        self.judged: dict[tuple[int, int], bool] = {}
        self.firm: set[int] = set()
        looks: dict[Hashable, tuple[list[int], list[int]]] = {}
        for side, row in enumerate(self.seen):
            for sight in dict.fromkeys(row):
                looks.setdefault(look_of(self.first[sight]), ([], []))[side].append(sight)
        sort: list[dict[int, int]] = [{}, {}]
        groups = (group for each in looks.values() for group in self._chains(*each))
        for n, (ones, twos) in enumerate(groups):
            sort[0] |= dict.fromkeys(ones, n)
            sort[1] |= dict.fromkeys(twos, n)
            if len(ones) * len(twos) <= MANY and all(self.right(a, b) for a in ones for b in twos):
                self.firm.add(n)
        self.of = [[sort[side][sight] for sight in row] for side, row in enumerate(self.seen)]

    def _chains(self, ones: list[int], twos: list[int]) -> list[tuple[list[int], list[int]]]:
        """What chains of likenesses join."""
        if len(ones) * len(twos) > MANY:
            return [(ones, twos)]
        alike = [((0, a), (1, b)) for a in ones for b in twos if self.right(a, b)]
        groups = joined([*((0, a) for a in ones), *((1, b) for b in twos)], alike)
        return [([n for s, n in g if s == 0], [n for s, n in g if s == 1]) for g in groups]

    def right(self, wanted: int, fitted: int) -> bool:
        """What a found part looks like is right in the place of a drawn one that looks so."""
        key = (wanted, fitted)
        if key not in self.judged:
            one, two = self.first[wanted].part, self.first[fitted].part
            self.judged[key] = not judge(one, two).wrong
        return self.judged[key]


class _Side:
    """One side as a graph. The first vertices are its nodes, then the `parts` that are no edges."""

    def __init__(self, half: Half, seen: list[int], sorts: list[int], firm: set[int]) -> None:
        """A lead of a polarised part is an edge of another kind than the other one."""
        self.half, self.seen, self.sorts = half, seen, sorts
        self.parts: list[int] = []
        near: list[Edges] = [[] for _ in half.anchors]
        for i, ((_, ends, polar), sort) in enumerate(zip(half.parts, sorts, strict=True)):
            if len(ends) == 2 and sort in firm:
                a, b = ends
                near[a].append((b, 2 * sort + polar))
                near[b].append((a, 2 * sort))
                continue
            leads = [(n, -1 - s * polar) for s, n in enumerate(ends)]
            for n, kind in leads:
                near[n].append((len(near), kind))
            near.append(leads)
            self.parts.append(i)
        colours = [*half.anchors, *(sorts[i] for i in self.parts)]
        looks: list[int | None] = [None] * len(half.anchors)
        looks += [None if sorts[i] in firm else seen[i] for i in self.parts]
        self.graph = Graph(near, colours, looks)


def _checked(
    drawn: _Side, found: _Side, mapping: Mapping[int, int], sorts: _Sorts
) -> tuple[Fit, ...] | None:
    """Pair the parts under a mapping of vertices; None unless every part has its like."""
    nodes = len(drawn.half.anchors)
    partner = {i: found.parts[mapping[nodes + k] - nodes] for k, i in enumerate(drawn.parts)}
    taken = set(partner.values())
    between: dict[Hashable, list[int]] = defaultdict(list)
    for j, (_, ends, polar) in reversed([*enumerate(found.half.parts)]):
        if j not in taken:
            between[found.sorts[j], ends if polar else tuple(sorted(ends))].append(j)
    fits = []
    for i, (_, ends, polar) in enumerate(drawn.half.parts):
        to = tuple([mapping[n] for n in ends])
        like = between[drawn.sorts[i], to if polar else tuple(sorted(to))]
        j = partner[i] if i in partner else like.pop() if like else -1
        if j < 0 or not sorts.right(drawn.seen[i], found.seen[j]):
            return None
        there = found.half.parts[j][1]
        if there != to and (polar or there[::-1] != to):
            return None
        order = range(len(to)) if there == to else range(len(to))[::-1]
        fits.append(Fit(i, j, tuple(order), (True,) * len(to)))
    if any(a != found.half.anchors[mapping[n]] for n, a in enumerate(drawn.half.anchors)):
        return None
    return tuple(fits)


def node_of_place(pair: Pair, fits: Sequence[Fit]) -> dict[int, int]:
    """The drawn node of each place under pairings that make the two sides the same.

    What no part is on belongs to nothing.
    """
    nodes = {k: n for n, group in enumerate(found_nodes(pair.board)) for k in group}
    to: dict[int, int] = {}
    to |= {nodes[k]: node for k, node in _pins(pair)}
    for fit in fits:
        for s, t in enumerate(fit.ends):
            to[nodes[pair.board.smalls[fit.j].at[t]]] = pair.drawing.smalls[fit.i].at[s]
    return {k: to.get(n, VOID) for k, n in nodes.items()}
