"""Name the nodes of a board that has little to hold on to, one after another, the surest first.

A named node speaks for its neighbours: a part on it has a like one on the drawn node, whose other
end is then the name of the part's other end (percolation: Yartseva and Grossglauser, "On the
performance of percolation graph matching", COSN 2013). Where nothing more is said clearly, colours
are made anew under the names given so far; what is alone of its colour on both sides gets a name,
or else one of a few that are alike: in a regular circuit either is right, on a damaged one likely.

This is a guess. The names say where the search begins; they prove nothing.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Sequence
from heapq import heappop, heappush, nsmallest

from buzzout.compare.colours import across, colours, halves
from buzzout.compare.model import Pair, labelled_groups, live_nodes

CLEAR = 1.0  # votes that a name has at least beyond the next one
TRIED = 8  # names that one group may have
MANY = 30  # likely nodes; to speak for one of more says nothing
RECOLOURED = 100  # times at most that the colours are made anew

Name = tuple[int, int]  # number of a group of places, and the drawn node that it is
Groups = tuple[tuple[int, ...], ...]


def percolated(pair: Pair) -> dict[int, int]:
    """Number of each group of places to its drawn node, for as many as can be."""
    labelled = labelled_groups(pair)
    names = _Names(pair, labelled.groups)
    for n, label in enumerate(labelled.labels):
        if label is not None:
            names.give(n, label)
    names.spread(CLEAR)
    for _ in range(RECOLOURED):
        alone, either = names.alike()
        for n, node in alone:
            names.give(n, node)
        if either:
            names = max((names.with_one(n, node) for n, node in either), key=_Names.right)
        elif not alone and not names.spread(0, most=1):
            break
        names.spread(CLEAR)
    return names.given


class _Names:
    """The names given so far, and the votes for more."""

    def __init__(self, pair: Pair, groups: Groups) -> None:
        self.pair, self.groups = pair, groups
        group_of = {k: n for n, group in enumerate(groups) for k in group}
        nodes = {node: node for small in pair.drawing.smalls for node in small.at}
        self._far = across(pair.drawing.smalls, nodes, sides=True)
        self._beside: dict[int, list[tuple[Hashable, list[int]]]] = defaultdict(list)
        for (way, n), others in across(pair.board.smalls, group_of, sides=True).items():
            self._beside[n].append((way, others))
        self.given: dict[int, int] = {}
        self._taken: set[int] = set()
        self._votes: dict[int, dict[int, float]] = defaultdict(lambda: defaultdict(float))
        self._voters: dict[int, set[int]] = defaultdict(set)
        self._line: list[tuple[float, float, int, int]] = []

    def with_one(self, n: int, node: int) -> _Names:
        """A copy in which one more group has a name, and what follows clearly from that."""
        other = _Names(self.pair, self.groups)
        for name in (*self.given.items(), (n, node)):
            other.give(*name)
        other.spread(CLEAR)
        return other

    def right(self) -> int:
        """How many parts are right under the names, less those that are wrong."""
        count = 0
        for n, node in self.given.items():
            for way, others in self._beside.get(n, ()):
                there = Counter(self._far.get((way, node), ()))
                here = Counter(self.given[m] for m in others if m in self.given)
                right = (here & there).total()
                count += 2 * right - here.total()
        return count

    def give(self, n: int, node: int) -> None:
        """Name a group, and count what that says of others."""
        self.given[n] = node
        self._taken.add(node)
        changed = set(self._voters.pop(node, ()))
        for way, others in self._beside.get(n, ()):
            nodes = set(self._far.get((way, node), ()))
            if len(nodes) > MANY:
                continue
            for other, each in ((o, e) for o in others for e in nodes):
                self._votes[other][each] += 1 / len(nodes)
                self._voters[each].add(other)
            changed.update(others)
        for other in sorted(changed - self.given.keys()):
            self._queue(other)

    def _queue(self, n: int) -> None:
        """Put a group in line with what it is most likely to be: the clearest comes first."""
        votes = self._votes.get(n, {})
        open_ = ((-count, node) for node, count in votes.items() if node not in self._taken)
        if ballot := nsmallest(2, open_):
            (most, node), (next_most, _) = (*ballot, (0.0, 0))[:2]
            heappush(self._line, (most - next_most, most, n, node))

    def spread(self, clear: float, most: int = 0) -> int:
        """Name what is clear by as many votes, `most` groups if that is not 0; how many it were."""
        count = 0
        while self._line and -self._line[0][0] >= clear and not (most and count == most):
            _, votes, n, node = heappop(self._line)
            if n in self.given:
                continue
            if node in self._taken or votes != -self._votes[n][node]:
                continue  # it stands in line anew, with other votes
            self.give(n, node)
            count += 1
        return count

    def alike(self) -> tuple[list[Name], list[Name]]:
        """Names of groups that are alone of their colour; else names that one group may have.

        The widest colours count at which anything is alike.
        """
        nodes = live_nodes(self.pair)
        row = {node: m for m, node in enumerate(nodes)}
        fixed: tuple[list[Hashable], list[Hashable]] = (
            [None] * len(nodes),
            [None] * len(self.groups),
        )
        for n, node in self.given.items():
            fixed[0][row[node]] = fixed[1][n] = "named", node
        for mine, theirs in reversed(list(colours(*halves(self.pair, self.groups), *fixed))):
            drawn = _classes(mine, (row[node] for node in nodes if node not in self._taken))
            found = _classes(theirs, (n for n in range(len(theirs)) if n not in self.given))
            both = [c for c in drawn if len(drawn[c]) == len(found.get(c, ()))]
            if alone := [(found[c][0], nodes[drawn[c][0]]) for c in both if len(drawn[c]) == 1]:
                return alone, []
            if both:
                fewest = min(both, key=lambda c: len(drawn[c]))
                return [], [(found[fewest][0], nodes[m]) for m in drawn[fewest][:TRIED]]
        return [], []


def _classes(colours: Sequence[int], kept: Iterable[int]) -> dict[int, list[int]]:
    """Colour to those of some nodes that have it."""
    table: dict[int, list[int]] = defaultdict(list)
    for n in kept:
        table[colours[n]].append(n)
    return table
