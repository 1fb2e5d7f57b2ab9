"""A partition of the vertices of two graphs at once: refined, and taken back cell by cell.

Both graphs lie side by side. A *cell* holds the vertices of both that nothing has told apart so
far, of each graph as many. Cells are split until all vertices of one have the same edges into each
other: the coarsest equitable partition (Berkholz, Bonsma and Grohe, "Tight lower and upper bounds
for the complexity of canonical colour refinement", 2017). A share of a cell with more vertices of
one graph than of the other is a contradiction: under these cells the graphs are not isomorphic. So
both are refined in one go, and nothing they do differently goes by unseen.

A cell of one vertex of each graph is *settled*, any larger one *open*.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass

Edges = list[tuple[int, int]]


class SpentError(Exception):
    """The effort is spent; the question is left open."""


@dataclass
class Effort:
    """Steps taken, and how many there may be. A step is a look at the edges of one vertex."""

    most: int
    spent: int = 0

    def spend(self, steps: int) -> None:
        """Leave the question open when nothing is left."""
        self.spent += steps
        if self.spent > self.most:
            raise SpentError


class Cells:
    """The partition: `members` of each cell, and the `cell` that each vertex is in.

    `near[v]` lists the edges at v: the far end, and a power of two for the kind of edge, so far
    apart that the edges of all kinds can be counted in one number. The vertices of the second
    graph, from `half` on, follow on those of the first.
    """

    def __init__(self, near: Sequence[Edges], colours: Iterable[Hashable], effort: Effort) -> None:
        """Cells by colour."""
        self.near, self.half, self.effort = near, len(near) // 2, effort
        self.members: list[set[int]] = []
        self.cell = [0] * len(near)
        self._above: list[int] = []  # the cell that each was split from
        by_colour: dict[Hashable, set[int]] = defaultdict(set)
        for v, colour in enumerate(colours):
            by_colour[colour].add(v)
        for members in by_colour.values():
            self._new(-1, members)

    def balanced(self, vertices: set[int]) -> bool:
        """There are as many of one graph as of the other among these."""
        return 2 * sum(v < self.half for v in vertices) == len(vertices)

    def open(self, v: int) -> bool:
        """More than one vertex of the other graph may be v."""
        return len(self.members[self.cell[v]]) > 2

    def split(self, old: int, share: set[int]) -> int:
        """Give some of the members of a cell a cell of their own."""
        self.members[old] -= share
        return self._new(old, share)

    def _new(self, above: int, members: set[int]) -> int:
        new = len(self.members)
        self.members.append(members)
        self._above.append(above)
        for v in members:
            self.cell[v] = new
        return new

    def undo(self, mark: int) -> None:
        """Back to the first so many cells."""
        while len(self.members) > mark:
            share, old = self.members.pop(), self._above.pop()
            self.members[old] |= share
            for v in share:
                self.cell[v] = old

    def refine(self, start: Iterable[int]) -> bool:
        """Split until the partition is equitable, beginning with these cells; False: contradiction.

        Where `start` are not all cells, the partition was equitable before they were split off. Of
        the shares of a cell all but the largest split others in their turn (Hopcroft's rule), so no
        edge is looked at more often than the logarithm of the size.
        """
        cell, near, members = self.cell, self.near, self.members
        work = dict.fromkeys(start)
        while work:
            splitter, _ = work.popitem()
            self.effort.spend(len(members[splitter]))
            edges: dict[int, int] = defaultdict(int)  # into the splitter
            for v in members[splitter]:
                for u, kind in near[v]:
                    edges[u] += kind
            touched: dict[int, list[int]] = {}
            for u in edges:
                if cell[u] in touched:
                    touched[cell[u]].append(u)
                else:
                    touched[cell[u]] = [u]
            for old, some in touched.items():
                alike = len(some) == len(members[old]) and len({edges[u] for u in some}) == 1
                if not alike and not self._split_up(old, some, edges, work):
                    return False
        return True

    def _split_up(
        self, old: int, some: list[int], edges: dict[int, int], work: dict[int, None]
    ) -> bool:
        """Split a cell by the edges that some of its members have into another."""
        shares: dict[int, set[int]] = defaultdict(set)
        for u in some:
            shares[edges[u]].add(u)
        if len(some) == len(self.members[old]):
            shares.popitem()  # it stays
        cells = [old]
        for share in shares.values():
            if not self.balanced(share):
                return False
            cells.append(self.split(old, share))
        if old not in work:
            cells.remove(max(cells, key=lambda c: len(self.members[c])))
        work.update(dict.fromkeys(cells))
        return True

    def pieces(self, vertices: Sequence[int]) -> Iterator[list[int]]:
        """Open ones of these vertices that hang together without the settled ones."""
        unseen = {v for v in vertices if self.open(v)}
        for start in vertices:
            if start in unseen:
                unseen.remove(start)
                piece = [start]
                for v in piece:
                    for u, _ in self.near[v]:
                        if u in unseen:
                            unseen.remove(u)
                            piece.append(u)
                yield piece
