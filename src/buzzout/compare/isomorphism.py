"""Are two coloured graphs isomorphic? Decided exactly, with the mapping that shows it.

Both are refined together (`cells.py`). Where that stops with open cells, a vertex of the first
graph is singled out together with a candidate of the second, and refinement goes on; after a
contradiction the next candidate is tried (individualisation and refinement: McKay and Piperno,
"Practical graph isomorphism, II", 2014).

Three things keep the search small. Open cells fall into *pieces* that only settled vertices join:
each is settled by itself (Junttila and Kaski, "Conflict propagation and component recursion for
canonical labeling", 2011). Pieces alike are matched, not permuted. And a candidate that a symmetry
takes to one that failed is not tried.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from operator import eq
from typing import Any, Literal

from buzzout.compare.cells import Cells, Edges, Effort, SpentError

DEEPEST = 200  # vertices singled out within one another; each takes some calls within calls
Pairs = list[tuple[int, int]]
Fits = Callable[[Any, Any], bool]


@dataclass(frozen=True)
class Graph:
    """Vertices 0, 1, … by what can be seen of each.

    `near[v]` lists the edges at v: the far end, and the kind of edge that v is on the far end of.
    A vertex goes to none of another of the `colours`. `looks` are what `fits` is asked about, None
    where there is nothing to ask.
    """

    near: Sequence[Edges]
    colours: Sequence[Hashable]
    looks: Sequence[Hashable]


def isomorphism(
    one: Graph, two: Graph, effort: Effort, fits: Fits = eq
) -> dict[int, int] | Literal[False] | None:
    """Where each vertex of the first graph goes; False if there is no way, None if `effort` ended.

    `fits` judges the look of a vertex and of the one it goes to. It need not be an equivalence.
    """
    half = len(one.near)
    if half != len(two.near):
        return False
    near = _side_by_side(one.near, two.near)
    width = max(map(len, near), default=0).bit_length()
    kinds = Counter(kind for row in near for _, kind in row).most_common()
    power = {kind: 1 << n * width for n, (kind, _) in enumerate(kinds)}
    near = [[(u, power[kind]) for u, kind in row] for row in near]
    cells = Cells(near, [*one.colours, *two.colours], effort)
    search = _Search(cells, [*one.looks, *two.looks], fits)
    try:
        pairs = search.pairs(range(len(cells.members)))
    except SpentError:
        return None
    return False if pairs is None else {v: w - half for v, w in pairs}


def _side_by_side(one: Sequence[Edges], two: Sequence[Edges]) -> list[Edges]:
    return [*one, *([(u + len(one), kind) for u, kind in row] for row in two)]


@dataclass
class _Search:
    """Choices and what follows from them. Each method leaves the partition as it was."""

    cells: Cells
    looks: Sequence[Hashable]
    fits: Fits
    depth: int = 0

    def pairs(self, start: Sequence[int]) -> Pairs | None:
        """Pair all vertices, refining by some cells first; None if there is no way."""
        cells = self.cells
        if not (all(map(cells.balanced, cells.members)) and cells.refine(start)):
            return None
        every = range(len(cells.near))
        return self._settled(every[: cells.half], every[cells.half :])

    def _settled(self, ones: Sequence[int], twos: Sequence[int]) -> Pairs | None:
        """Pair these with one another.

        The partition is equitable, and no cell holds some of these and others as well.
        """
        cells, looks = self.cells, self.looks
        pairs = [(v, max(cells.members[cells.cell[v]])) for v in ones if not cells.open(v)]
        if any(looks[v] is not None and not self.fits(looks[v], looks[w]) for v, w in pairs):
            return None
        alike: dict[tuple[int, ...], tuple[list[list[int]], list[list[int]]]] = {}
        for side, vertices in enumerate((ones, twos)):
            for piece in cells.pieces(vertices):
                colour = tuple(sorted(cells.cell[v] for v in piece))
                alike.setdefault(colour, ([], []))[side].append(piece)
        if any(len(mine) != len(theirs) for mine, theirs in alike.values()):
            return None
        for colour in sorted(alike, key=len):
            mine, theirs = alike[colour]
            more = self._matched(mine, theirs) if len(mine) > 1 else self._paired(*mine, *theirs)
            if more is None:
                return None
            pairs += more
        return pairs

    def _matched(self, mine: list[list[int]], theirs: list[list[int]]) -> Pairs | None:
        """Pair each piece with one that it can be."""
        known: dict[tuple[int, int], Pairs | None] = {}

        def can_be(a: int, b: int) -> bool:
            if (a, b) not in known:
                known[a, b] = self._paired(mine[a], theirs[b])
            return known[a, b] is not None

        taken = perfect_matching(len(mine), can_be)
        return None if taken is None else [p for ab in taken.items() for p in known[ab] or ()]

    def _paired(self, ones: list[int], twos: list[int]) -> Pairs | None:
        """Pair the vertices of two pieces alike, apart from all others of their cells."""
        cells = self.cells
        cells.effort.spend(len(ones))
        mark = len(cells.members)
        here: dict[int, set[int]] = defaultdict(set)
        for v in (*ones, *twos):
            here[cells.cell[v]].add(v)
        for old, share in here.items():
            if len(share) < len(cells.members[old]):
                cells.split(old, share)
        go_on = self._chosen if min(map(len, here.values())) > 2 else self._settled
        pairs = go_on(ones, twos)
        cells.undo(mark)
        return pairs

    def _chosen(self, ones: list[int], twos: list[int]) -> Pairs | None:
        """Single out one vertex with each of its candidates in turn."""
        cells, effort = self.cells, self.cells.effort
        v = self._target(ones)
        old, mark = cells.cell[v], len(cells.members)
        failures = _Failures(self, twos)
        self.depth += 1
        if self.depth > DEEPEST:
            raise SpentError
        pairs = None
        for w in sorted(u for u in cells.members[old] if u >= cells.half):
            if failures.foretell(w):
                continue
            before = effort.spent
            single = cells.split(old, {v, w})
            pairs = self._settled(ones, twos) if cells.refine([single]) else None
            cells.undo(mark)
            if pairs is not None:
                break
            failures.add(w, effort.spent - before)
        self.depth -= 1
        return pairs

    def _target(self, ones: list[int]) -> int:
        """A vertex joined to many open cells, but not to most of their members; in a small cell."""
        cell, members, near = self.cells.cell, self.cells.members, self.cells.near
        first = {cell[v]: v for v in reversed(ones)}

        def rank(v: int) -> tuple[int, int]:
            into: dict[int, int] = defaultdict(int)
            for u, _ in near[v]:
                into[cell[u]] += 1
            joined = sum(2 * edges < len(members[c]) > 2 for c, edges in into.items())
            return joined, -len(members[cell[v]])

        return max(first.values(), key=rank)


class _Failures:
    """Candidates of one choice that failed, and those that symmetries take to them.

    Questions about symmetries are paid from what the failures so far have cost, and each in vain
    doubles the price of the next; so all of them together cost no more than the failures.
    """

    def __init__(self, search: _Search, piece: list[int]) -> None:
        """`piece` are the vertices of the second graph that the choice is about."""
        self.search, self.piece = search, piece
        self.failed: list[int] = []
        self.credit, self.price = 0, 4 * len(piece)
        self.above: dict[int, int] = {}  # towards the first vertex of each orbit

    def add(self, w: int, cost: int) -> None:
        """Candidate w failed; that took so many steps."""
        self.failed.append(w)
        self.credit += cost

    def foretell(self, w: int) -> bool:
        """Candidate w would fail like another one."""
        if self.above and self._orbit(w) in map(self._orbit, self.failed):
            return True
        for x in self.failed:
            if self.credit < self.price:
                break
            if symmetry := self._symmetry(x, w):
                for a, b in symmetry:
                    self._join(self.piece[a], self.piece[b - len(self.piece)])
                return True
            self.price *= 2
        return False

    def _symmetry(self, x: int, w: int) -> Pairs | None:
        """Pair the piece with itself, x with w; None if there is no way or the credit is spent."""
        cells, at = self.search.cells, {v: n for n, v in enumerate(self.piece)}
        near = [[(at[u], kind) for u, kind in cells.near[v] if u in at] for v in self.piece]
        colours = [(cells.cell[v], v == one) for one in (x, w) for v in self.piece]
        looks = [self.search.looks[v] for v in self.piece]
        most = min(self.credit, cells.effort.most - cells.effort.spent)
        effort = Effort(most, spent=len(self.piece))
        twice = Cells(_side_by_side(near, near), colours, effort)
        search = _Search(twice, looks * 2, eq, self.search.depth + 1)
        try:
            return search.pairs([twice.cell[at[x]]])
        except SpentError:
            return None
        finally:
            self.credit -= effort.spent
            cells.effort.spend(min(effort.spent, most))

    def _join(self, v: int, w: int) -> None:
        v, w = self._orbit(v), self._orbit(w)
        if v != w:
            self.above[max(v, w)] = min(v, w)

    def _orbit(self, v: int) -> int:
        while v in self.above:
            v = self.above[v]
        return v


def perfect_matching(size: int, can_be: Callable[[int, int], bool]) -> dict[int, int] | None:
    """A partner of its own for each of 0, 1, …; None if there is no way.

    By augmenting paths (Berge, "Two theorems in graph theory", 1957), through as few as will do.
    """
    goes: dict[int, int] = {}
    owner: dict[int, int] = {}
    free = dict.fromkeys(range(size))
    for start in range(size):
        came: dict[int, int] = {}  # to each partner, from whom
        last = None
        queue = [start]
        for a in queue:
            last = next((b for b in free if can_be(a, b)), None)
            if last is not None:
                came[last] = a
                del free[last]
                break
            for b, other in owner.items():
                if b not in came and can_be(a, b):
                    came[b] = a
                    queue.append(other)
        if last is None:
            return None
        while last is not None:
            a = owner[last] = came[last]
            before, goes[a] = goes.get(a), last
            last = before
    return goes
