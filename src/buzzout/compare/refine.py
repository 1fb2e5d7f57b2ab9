"""Are the two sides the same circuit? Decided exactly, without anything to explain.

Joint colour refinement of the nodes of both sides; where it stops with cells of more than one
node, one node is singled out on both sides and refinement goes on, with backtracking
(individualisation and refinement: McKay and Piperno, "Practical graph isomorphism, II", 2014).
Colours alone prove only that two circuits differ. Equality is claimed for a mapping that was
checked part by part.

A *cell* is a set of nodes of one colour. Cost of a refinement: leads times rounds.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

from buzzout.compare.colours import Half, halves, one_round, start
from buzzout.compare.fits import Fit
from buzzout.compare.model import FREE, VOID, Pair, found_nodes
from buzzout.compare.values import judge

CHOICES = 20000  # nodes singled out before the question is left open


@dataclass
class _Search:
    pair: Pair
    drawn: Half
    found: Half
    names: dict[Hashable, int] = field(default_factory=dict)
    most: int = CHOICES
    choices: int = 0


def same(pair: Pair, choices: int = CHOICES) -> tuple[Fit, ...] | Literal[False] | None:
    """The pairings that show the two sides to be the same; False if they differ.

    None where `choices` were spent without an answer. Parts count as alike if kind and value agree
    to about 10 %; furniture only as drawn. So False does not say that anything is wrong.
    """
    groups = _worth_naming(pair)
    drawn, found = halves(pair, groups)
    if len(drawn.anchors) != len(found.anchors) or len(drawn.parts) != len(found.parts):
        return False
    search = _Search(pair, drawn, found, most=choices)
    one, two = start(drawn, search.names), start(found, search.names)
    for mapping in _mappings(search, one, two):
        if mapping is None:
            return None
        fits = _checked(search, mapping)
        if fits is not None:
            return fits
    return False


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


def _mappings(
    search: _Search, one: Sequence[int], two: Sequence[int]
) -> Iterator[dict[int, int] | None]:
    """Candidate mappings of drawn to found nodes; None once the choices are spent."""
    refined = _refined(search, one, two)
    if refined is None:
        return
    one, two = refined
    cells: dict[int, list[int]] = defaultdict(list)
    for n, colour in enumerate(two):
        cells[colour].append(n)
    open_cells = [(len(cells[c]), n) for n, c in enumerate(one) if len(cells[c]) > 1]
    if not open_cells:
        yield {n: cells[colour][0] for n, colour in enumerate(one)}
        return
    _, chosen = min(open_cells)
    for candidate in cells[one[chosen]]:
        search.choices += 1
        if search.choices > search.most:
            yield None
            return
        mine, theirs = list(one), list(two)
        mine[chosen] = theirs[candidate] = search.names.setdefault(
            ("single", search.choices), len(search.names)
        )
        yield from _mappings(search, mine, theirs)


def _refined(
    search: _Search, one: Sequence[int], two: Sequence[int]
) -> tuple[list[int], list[int]] | None:
    """Refine until nothing splits; None as soon as a colour is not as frequent on both sides."""
    mine, theirs = list(one), list(two)
    while True:
        count = Counter(mine)
        if count != Counter(theirs):
            return None
        if len(count) == len(mine):
            return mine, theirs
        next_mine = one_round(search.drawn, mine, search.names)
        next_theirs = one_round(search.found, theirs, search.names)
        if len(set(next_mine)) == len(count) and Counter(next_mine) == Counter(next_theirs):
            return next_mine, next_theirs
        mine, theirs = next_mine, next_theirs


def _checked(search: _Search, mapping: dict[int, int]) -> tuple[Fit, ...] | None:
    """Pair the parts under a mapping of nodes; None unless every part has its like."""
    there: dict[Hashable, list[int]] = defaultdict(list)
    for j, (look, ends, polar) in enumerate(search.found.parts):
        there[look, ends if polar else tuple(sorted(ends))].append(j)
    fits = []
    for i, (look, ends, polar) in enumerate(search.drawn.parts):
        to = tuple(mapping[n] for n in ends)
        like = there.get((look, to if polar else tuple(sorted(to))), [])
        j = next((j for j in like if _right(search.pair, i, j)), -1)
        if j < 0:
            return None
        like.remove(j)
        order = range(len(to)) if search.found.parts[j][1] == to else reversed(range(len(to)))
        fits.append(Fit(i, j, tuple(order), (True,) * len(to)))
    anchors = search.drawn.anchors
    if any(anchors[n] != search.found.anchors[m] for n, m in mapping.items()):
        return None
    return tuple(fits)


def _right(pair: Pair, i: int, j: int) -> bool:
    return not judge(pair.drawing.smalls[i].part, pair.board.smalls[j].part).wrong


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
