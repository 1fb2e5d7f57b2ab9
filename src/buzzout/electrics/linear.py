"""Linear resistor networks: resistance between points, sparse, whatever hangs in the air.

The conductance matrix of each connected piece is factored with one of its nodes as reference; two
nodes of different pieces have infinite resistance between them. With G the inverse of the
grounded matrix, R(i, j) = G(i, i) + G(j, j) - 2 G(i, j) [1].

References
----------
.. [1] D. J. Klein and M. Randic, Resistance distance, J. Math. Chem. 12 (1993) 81.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from buzzout.circuit import pieces
from buzzout.electrics.network import Edges, Floats, Ints

# The sparse side is imported where it is needed, at large networks: it takes longer to import than
# most sets take to solve.
if TYPE_CHECKING:
    from scipy.sparse import csc_array, csr_array
    from scipy.sparse.linalg import SuperLU

_Cut: TypeAlias = "tuple[Ints, Floats | None, SuperLU | None]"
DENSE = 600  # nodes up to which a dense inverse is quicker than sparse columns
_SQUARE = 6000  # nodes up to which a square array may be spent on all resistances to one
_BLOCK = 8  # columns solved at once; more spoil the cache and wake idle threads


def laplacian(edges: Edges) -> csr_array:
    """Conductance matrix of the whole network, no node grounded. [S]."""
    from scipy.sparse import csr_array  # noqa: PLC0415

    a, b, g = edges.a, edges.b, edges.siemens
    rows = np.concatenate([a, b, a, b])
    columns = np.concatenate([a, b, b, a])
    values = np.concatenate([g, g, -g, -g])
    return csr_array((values, (rows, columns)), shape=(edges.size, edges.size))


def _factor(matrix: csc_array) -> SuperLU:
    """Factors of a symmetric, diagonally dominant matrix: no pivoting, order by minimum degree."""
    from scipy.sparse.linalg import splu  # noqa: PLC0415

    return splu(
        matrix,
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )


@dataclass(frozen=True)
class Solver:
    """One network, factored once. Make it with `solver(edges)`."""

    edges: Edges
    piece: Ints

    @cached_property
    def _matrix(self) -> csr_array:
        return laplacian(self.edges)

    @cached_property
    def _table(self) -> Floats:
        """The same matrix of a small network as a plain table, which is much quicker to cut."""
        a, b, g = self.edges.a, self.edges.b, self.edges.siemens
        table = np.zeros((self.edges.size, self.edges.size))
        np.add.at(table, (np.append(a, b), np.append(a, b)), np.append(g, g))
        np.add.at(table, (np.append(a, b), np.append(b, a)), -np.append(g, g))
        return table

    def _inverse(self, ground: int) -> _Cut:
        """Nodes of one piece without `ground`, and its matrix if small, else the factors."""
        inside = np.flatnonzero(self.piece == self.piece[ground])
        kept = inside[inside != ground]
        if not len(kept):
            return kept, None, None
        if self.edges.size <= DENSE:
            return kept, self._table[np.ix_(kept, kept)], None
        from scipy.sparse import csc_array  # noqa: PLC0415

        matrix = csc_array(self._matrix[kept][:, kept])
        if len(kept) <= DENSE:
            return kept, matrix.toarray(), None
        return kept, None, _factor(matrix)

    def to(self, node: int) -> Floats:
        """Resistance from every node to one. Infinite where nothing joins them. [ohm]."""
        result: Floats = np.full(self.edges.size, np.inf)
        result[node] = 0.0
        kept, matrix, factors = self._inverse(node)
        if matrix is not None:
            result[kept] = np.diag(np.linalg.inv(matrix))
        if factors is None:
            return result
        from buzzout.electrics.selected import inverse_diagonal  # noqa: PLC0415

        diagonal = inverse_diagonal(factors) if len(kept) <= _SQUARE else None
        if diagonal is not None:
            result[kept] = diagonal
            return result
        for start in range(0, len(kept), _BLOCK):
            block = np.arange(start, min(start + _BLOCK, len(kept)))
            unit = np.zeros((len(kept), len(block)))
            unit[block, np.arange(len(block))] = 1.0
            result[kept[block]] = factors.solve(unit)[block, np.arange(len(block))]
        return result

    def table(self) -> Floats:
        """Resistance of every pair of nodes, a square matrix. [ohm]. Meant for some 1000 nodes."""
        size = self.edges.size
        result: Floats = np.full((size, size), np.inf)
        np.fill_diagonal(result, 0.0)
        for number in np.unique(self.piece):
            inside = np.flatnonzero(self.piece == number)
            kept = inside[1:]
            if not len(kept):
                continue
            inverse = np.zeros((len(inside), len(inside)))
            inverse[1:, 1:] = np.linalg.inv(self._table[np.ix_(kept, kept)])
            own = np.diag(inverse)
            result[np.ix_(inside, inside)] = own[:, None] + own[None, :] - 2 * inverse
        return result

    def between(self, pairs: Sequence[tuple[int, int]]) -> Floats:
        """Resistance of each pair of nodes. [ohm]. What ends at one node is solved at once."""
        told: Floats = np.array([0.0 if a == b else np.inf for a, b in pairs], dtype=np.float64)
        places: dict[int, list[int]] = {}
        for place, (a, b) in enumerate(pairs):
            if a != b and self.piece[a] == self.piece[b]:
                places.setdefault(b, []).append(place)
        for sink, those in places.items():
            sources = [pairs[place][0] for place in those]
            volts = self._volts(sources, sink)
            told[those] = volts[sources, np.arange(len(those))]
        return told

    def potentials(self, source: int, sink: int) -> Floats:
        """Voltages against `sink` when 1 A goes in at `source`; NaN in other pieces. [V].

        Infinite at `source` where the two are not joined.
        """
        if source == sink:
            return np.where(self.piece == self.piece[sink], 0.0, np.nan)
        if self.piece[source] == self.piece[sink]:
            return self._volts([source], sink)[:, 0]
        volts: Floats = np.full(self.edges.size, np.nan)
        volts[sink], volts[source] = 0.0, np.inf
        return volts

    def _volts(self, sources: list[int], sink: int) -> Floats:
        """The same for several sources of one piece with the sink, a column each. [V]."""
        volts: Floats = np.full((self.edges.size, len(sources)), np.nan)
        volts[sink] = 0.0
        kept, matrix, factors = self._inverse(sink)
        amps = np.zeros((len(kept), len(sources)))
        amps[np.searchsorted(kept, sources), np.arange(len(sources))] = 1.0
        if factors is not None:
            volts[kept] = factors.solve(amps)
        elif matrix is not None:
            volts[kept] = np.linalg.solve(matrix, amps)
        return volts


def solver(edges: Edges) -> Solver:
    """A solver for resistances in this network."""
    joined = edges.siemens > 0
    ends = zip(edges.a[joined].tolist(), edges.b[joined].tolist(), strict=True)
    return Solver(edges, np.array(pieces(edges.size, ends), dtype=np.int64))
