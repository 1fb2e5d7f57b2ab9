"""Name the nodes of a board that has little to hold on to.

What is said clearly is spread (`names.py`). Where nothing more is, colours are made anew under the
names given so far; what is alone of its colour on both sides gets a name, or else one of a few that
are alike. In a regular circuit either is right; on a damaged one the colours tell: under the right
name more nodes have their like on the other side. What was taken wrongly nevertheless is mended
(`mend.py`), and the whole is begun again, with other choices where nothing tells.

This is a guess. The names say where the search begins; they prove nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from buzzout.compare.mend import mended
from buzzout.compare.model import Pair
from buzzout.compare.names import Names, Sides

CLEAR = 1.0  # votes that a name has at least beyond the next one
TRIED = 8  # names that one group may have
RECOLOURED = 100  # times at most that the colours are made anew
AGREED = 3  # starts that are the best together before the others are spared
STARTS = 12  # times at most that the whole is begun
TURNS = 0x9E3779B97F4A7C15  # bits without a pattern: which of several is taken at another start

Name = tuple[int, int]  # number of a group of places, and the drawn node that it is


def percolated(pair: Pair) -> dict[int, int]:
    """Number of each group of places to its drawn node, for as many as can be.

    The best of several starts, as soon as some are as good; one alone where nothing was a choice.
    """
    sides = Sides(pair)
    every = range(len(sides.groups))
    best: dict[int, list[dict[int, int]]] = defaultdict(list)
    for start in range(STARTS):
        names, chosen = _begun(sides, start)
        names = mended(names)
        best[names.right(every)].append(names.given)
        if not chosen or len(best[max(best)]) == AGREED:
            break
    return best[max(best)][0]


def _begun(sides: Sides, start: int) -> tuple[Names, int]:
    """The names of one start, and how often nothing told which of several to take."""
    names, chosen, every = Names(sides), 0, range(len(sides.groups))
    for n, label in enumerate(sides.labels):
        if label is not None:
            names.give(n, label)
    names.spread(CLEAR)
    for _ in range(RECOLOURED):
        alone, either = _alike(names)
        if not alone and not either and not names.spread(0, most=1):
            either = _of_one_colour(names)
            if not either:
                break
        for n, node in alone:
            names.give(n, node)
        if either:
            best = _likeliest(names, either)
            one = best[(start * TURNS >> chosen) % len(best)]
            if one.right(every) < names.right(every):
                break  # what is left fits nowhere
            names, chosen = one, chosen + (len(best) > 1)
        names.spread(CLEAR)
    return names, chosen


def _likeliest(names: Names, either: Iterable[Name]) -> list[Names]:
    """Of names that one group may have the best, those that nothing tells apart."""
    every = range(len(names.sides.groups))
    tried = []
    for n, node in either:
        other = names.copy()
        other.give(n, node)
        other.spread(CLEAR)
        tried.append(other)
    rights = [other.right(every) for other in tried]
    tried = [other for other, right in zip(tried, rights, strict=True) if right == max(rights)]
    if len(tried) == 1:
        return tried
    agreeing = [other.agreeing() for other in tried]
    return [other for other, count in zip(tried, agreeing, strict=True) if count == max(agreeing)]


def _alike(names: Names) -> tuple[list[Name], list[Name]]:
    """Names of groups that are alone of their colour; else names that one group may have.

    The widest colours count at which anything is alike.
    """
    for classes in _classes(names):
        even = [(groups, nodes) for groups, nodes in classes if len(groups) == len(nodes)]
        if alone := [(groups[0], nodes[0]) for groups, nodes in even if len(nodes) == 1]:
            return alone, []
        if even:
            groups, nodes = min(even, key=lambda both: len(both[1]))
            return [], [(groups[0], node) for node in nodes[:TRIED]]
    return [], []


def _of_one_colour(names: Names) -> list[Name]:
    """Names that one group may have where no colour has as many nodes on one side as the other."""
    for classes in _classes(names):
        if classes:
            groups, nodes = min(classes, key=lambda both: len(both[1]))
            return [(groups[0], node) for node in nodes[:TRIED]]
    return []


def _classes(names: Names) -> Iterator[list[tuple[list[int], list[int]]]]:
    """Groups and drawn nodes of each colour that is on both sides; the widest radius first."""
    rows, groups = names.open()
    for ours, theirs in reversed(names.colours()):
        drawn: dict[int, list[int]] = defaultdict(list)
        found: dict[int, list[int]] = defaultdict(list)
        for hue, m in zip(ours[rows].tolist(), rows, strict=True):
            drawn[hue].append(names.sides.nodes[m])
        for hue, n in zip(theirs[groups].tolist(), groups, strict=True):
            found[hue].append(n)
        yield [(found[hue], nodes) for hue, nodes in drawn.items() if hue in found]
