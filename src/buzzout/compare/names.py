"""Names for the nodes of the board, given one after another, the surest first.

A named node speaks for its neighbours: a part on it has a like one on the drawn node, whose other
end is then the name of the part's other end (percolation: Yartseva and Grossglauser, "On the
performance of percolation graph matching", COSN 2013). Of several parts alike each may be any of
several, so their vote is divided by their number on that side where there are more: then one part
too many, on either side, makes a vote weak, not wrong.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping
from functools import cached_property
from heapq import heappop, heappush, nsmallest

from buzzout.compare.colours import across, halves
from buzzout.compare.hues import Hued, Hues, alike
from buzzout.compare.model import Pair, Small, labelled_groups, live_nodes

MANY = 30  # likely nodes; to speak for one of more says nothing

Beside = Mapping[Hashable, list[int]]  # look of a part to the far ends of such parts


class Sides:
    """What lies beside what on the drawing and on the board; found nodes are groups of places."""

    def __init__(self, pair: Pair) -> None:
        """Near-linear."""
        labelled = labelled_groups(pair)
        self.groups, self.labels = labelled.groups, labelled.labels
        self.nodes = live_nodes(pair)
        self.row = {node: m for m, node in enumerate(self.nodes)}
        group_of = {k: n for n, group in enumerate(self.groups) for k in group}
        self.drawn = _beside(pair.drawing.smalls, {node: node for node in self.nodes})
        self.found = _beside(pair.board.smalls, group_of)
        self._pair = pair

    @cached_property
    def hued(self) -> tuple[Hued, Hued]:
        """Both sides, ready to be coloured."""
        numbers: dict[Hashable, int] = {}
        drawn, found = halves(self._pair, self.groups)
        return Hued(drawn, numbers), Hued(found, numbers)

    def around(self, some: Iterable[int]) -> set[int]:
        """Groups that a part joins to one of some."""
        return {o for n in some for others in self.found.get(n, {}).values() for o in others}


def _beside(smalls: Iterable[Small], at: Mapping[int, int]) -> dict[int, dict[Hashable, list[int]]]:
    table: dict[int, dict[Hashable, list[int]]] = defaultdict(dict)
    for (way, n), others in across(smalls, at, sides=True).items():
        table[n][way] = others
    return dict(table)


class Names:
    """The names given so far, `given`, and the votes for more."""

    def __init__(self, sides: Sides, given: Mapping[int, int] | None = None) -> None:
        """Names from elsewhere are `given` without a word: they speak when they are told to."""
        self.sides = sides
        self.given: dict[int, int] = dict(given or {})
        self._taken = set(self.given.values())
        self._votes: dict[int, dict[int, float]] = {}
        self._voters: dict[int, set[int]] = {}
        self._line: list[tuple[float, float, int, int]] = []
        self._colours: list[tuple[Hues, Hues]] = []

    def copy(self) -> Names:
        """The same names and votes, to go on with otherwise."""
        other = Names(self.sides, self.given)
        other._votes = {n: dict(votes) for n, votes in self._votes.items()}
        other._voters = {node: set(voters) for node, voters in self._voters.items()}
        other._line = list(self._line)
        return other

    # ---- giving names

    def give(self, n: int, node: int) -> None:
        """Name a group, and count what that says of others."""
        self.given[n] = node
        self._taken.add(node)
        self._colours = []
        self._queue({*self._voters.pop(node, ()), *self._spoken_for(n)})

    def speak(self, some: Iterable[int]) -> None:
        """Count what names that were given without a word say of others."""
        self._queue({other for n in some for other in self._spoken_for(n)})

    def _spoken_for(self, n: int) -> set[int]:
        """Cast the votes of a named group; the groups that they are for."""
        heard: set[int] = set()
        drawn = self.sides.drawn.get(self.given[n], {})
        for way, beside in self.sides.found.get(n, {}).items():
            others = [o for o in beside if o not in self.given]
            nodes = [e for e in drawn.get(way, ()) if e not in self._taken] if others else []
            if not nodes or len(nodes) > MANY:
                continue
            vote = 1 / max(len(others), len(nodes))
            for other in others:
                votes = self._votes.setdefault(other, {})
                for each in dict.fromkeys(nodes):
                    votes[each] = votes.get(each, 0) + vote
                    self._voters.setdefault(each, set()).add(other)
            heard.update(others)
        return heard

    def _queue(self, some: set[int]) -> None:
        """Put groups in line with what each is most likely to be: the clearest comes first."""
        for n in sorted(some - self.given.keys()):
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
            if n in self.given or node in self._taken or votes != -self._votes[n][node]:
                continue  # it has a name, or stands in line anew with other votes
            self.give(n, node)
            count += 1
        return count

    def anew(self, hole: Iterable[int]) -> Names:
        """The same names but for some groups, which are named anew as the others speak for them."""
        away = set(hole)
        other = Names(self.sides, {n: node for n, node in self.given.items() if n not in away})
        other.speak(n for n in sorted(self.sides.around(away)) if n in other.given)
        other.spread(0)
        return other

    # ---- what they are worth

    def right(self, some: Iterable[int]) -> int:
        """How well some groups fit: twice the ends of right parts less wrong ones, and leads.

        A lead counts where the node has such a lead, wherever the part goes: it may be kept.
        """
        return sum(2 * (2 * right - here) + leads for right, here, leads in map(self._counts, some))

    def _counts(self, n: int) -> tuple[int, int, int]:
        """Ends of right parts on a group, of all whose other end has a name, and likely leads."""
        if n not in self.given:
            return 0, 0, 0
        drawn, right, all_, leads = self.sides.drawn.get(self.given[n], {}), 0, 0, 0
        for way, others in self.sides.found.get(n, {}).items():
            here = [self.given[o] for o in others if o in self.given]
            there = list(drawn.get(way, ()))
            all_ += len(here)
            leads += min(len(others), len(there))
            for node in here:
                if node in there:
                    there.remove(node)
                    right += 1
        return right, all_, leads

    def odd(self) -> list[int]:
        """Groups without a name, and those whose parts are not just those of their node."""
        return [n for n in range(len(self.sides.groups)) if not self._fits(n)]

    def _fits(self, n: int) -> bool:
        if n not in self.given:
            return False
        drawn, found = self.sides.drawn.get(self.given[n], {}), self.sides.found.get(n, {})
        return drawn.keys() == found.keys() and all(
            sorted(self.given.get(o, -1) for o in others) == sorted(drawn[way])
            for way, others in found.items()
        )

    def colours(self) -> list[tuple[Hues, Hues]]:
        """Colours of drawn nodes and of groups at each radius; what has a name keeps to that."""
        if not self._colours:
            row = self.sides.row
            drawn, found = self.sides.hued
            ours = drawn.colours({row[node]: row[node] for node in self.given.values()})
            theirs = found.colours({n: row[node] for n, node in self.given.items()})
            self._colours = list(zip(ours, theirs, strict=True))
        return self._colours

    def agreeing(self) -> int:
        """How many nodes have their like, by colour, on the other side, over all radii."""
        return sum(alike(ours, theirs) for ours, theirs in self.colours())

    def open(self) -> tuple[list[int], list[int]]:
        """Rows of the drawn nodes that no group is, and the groups without a name."""
        return (
            [m for m, node in enumerate(self.sides.nodes) if node not in self._taken],
            [n for n in range(len(self.sides.groups)) if n not in self.given],
        )
