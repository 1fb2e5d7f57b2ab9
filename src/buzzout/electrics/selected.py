"""Diagonal of the inverse of a sparse symmetric matrix, without the rest of the inverse.

With A = L D L', the entries Z of the inverse at the places where L has any obey, column by column
from the last to the first, Z(S, j) = -Z(S, S) L(S, j) and Z(j, j) = 1/D(j) - L(S, j)' Z(S, j), S
being the rows of column j of L [1]. Its last columns are nearly full: they are inverted as one.

References
----------
.. [1] K. Takahashi, J. Fagan, M.-S. Chin, Formation of a sparse bus impedance matrix, Power
   Industry Computer Applications Conference (1973).
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import csc_array
from scipy.sparse.linalg import SuperLU

from buzzout.electrics.network import Floats

_FULL = 0.5  # from the column on where L has half of its places filled, it is taken as full


def inverse_diagonal(factors: SuperLU) -> Floats | None:
    """Diagonal of the inverse, in the order of the matrix; None where rows were exchanged.

    Works on a square array of the matrix's size.
    """
    if not np.array_equal(factors.perm_r, factors.perm_c):
        return None
    lower, pivots = csc_array(factors.L), factors.U.diagonal()
    lower.sort_indices()
    size = lower.shape[0]
    first = _full_from(lower)
    z = np.zeros((size, size))
    tail = lower[first:, first:].toarray()
    z[first:, first:] = np.linalg.inv((tail * pivots[first:]) @ tail.T)
    for j in range(first - 1, -1, -1):
        own = slice(lower.indptr[j] + 1, lower.indptr[j + 1])  # without the one on the diagonal
        rows, values = lower.indices[own], lower.data[own]
        column = -z[np.ix_(rows, rows)] @ values
        z[rows, j] = z[j, rows] = column
        z[j, j] = 1 / pivots[j] - values @ column
    return np.asarray(z.diagonal()[factors.perm_c], dtype=np.float64)


def _full_from(lower: csc_array) -> int:
    """First of the last columns that are nearly full."""
    size = lower.shape[0]
    places = np.arange(size, 0, -1)
    sparse = np.flatnonzero(np.diff(lower.indptr) < _FULL * places)
    return int(sparse[-1]) + 1 if len(sparse) else 0
