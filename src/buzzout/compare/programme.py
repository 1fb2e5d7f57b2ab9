"""A linear or integer programme, written down row by row under names and solved by HiGHS."""

from __future__ import annotations

from collections.abc import Container, Hashable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import csr_array, eye_array, hstack

from buzzout.compare.costs import bare

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
WHOLE = 1e-6  # a value this near to a whole number is taken for it


@dataclass(frozen=True)
class Relaxed:
    """The solution of the relaxation: `prices` of the rows, `reduced` costs of the columns.

    A price tells by how much the cost falls for one more unit on a row's right side; it is at
    least 0 for rows of the form "at most". `bound` follows from the prices alone: no solution of
    the relaxation costs less, whatever the solver's tolerance.
    """

    values: Array
    cost: float
    bound: float
    prices: Mapping[Hashable, float]
    reduced: Array

    @property
    def whole(self) -> bool:
        """All values are whole numbers: the relaxation solves the programme itself."""
        return bool(np.all(np.abs(self.values - np.round(self.values)) < WHOLE))


@dataclass(frozen=True)
class Answer:
    """A whole solution: `values` of all columns, `cost`, proven lower `bound`, search nodes."""

    values: Array
    cost: float
    bound: float
    nodes: int


class Programme:
    """Columns with costs and limits; rows "at most" and "equal", known by name."""

    def __init__(self) -> None:
        """An empty programme."""
        self.costs: list[float] = []
        self.most: list[float] = []
        self.right: dict[Hashable, float] = {}
        self.equal: set[Hashable] = set()
        self._names: list[Hashable] = []
        self._columns: list[int] = []
        self._entries: list[float] = []

    def column(self, cost: float = 0, most: float = 1) -> int:
        """A new column from 0 to `most`; its number."""
        self.costs.append(cost)
        self.most.append(most)
        return len(self.costs) - 1

    def put(self, row: Hashable, column: int, entry: float = 1) -> None:
        """One entry of the matrix."""
        self._names.append(row)
        self._columns.append(column)
        self._entries.append(entry)

    def at_most(self, row: Hashable, right: float) -> None:
        """Let the row be at most `right`."""
        self.right[row] = right

    def exactly(self, row: Hashable, right: float) -> None:
        """Let the row be exactly `right`."""
        self.right[row] = right
        self.equal.add(row)

    def _matrix(self, rows: Iterable[Hashable]) -> csr_array:
        number = {row: n for n, row in enumerate(rows)}
        keep = [n for n, row in enumerate(self._names) if row in number]
        entries = [self._entries[n] for n in keep]
        where = [number[self._names[n]] for n in keep]
        columns = [self._columns[n] for n in keep]
        return csr_array((entries, (where, columns)), shape=(len(number), len(self.costs)))

    def touched(self, columns: Container[int]) -> set[Hashable]:
        """The rows in which any of the columns has an entry."""
        return {r for r, c in zip(self._names, self._columns, strict=True) if c in columns}

    def relax(self) -> Relaxed:
        """Solve the relaxation.

        Raises
        ------
        RuntimeError
            If the solver fails, which a programme that can be satisfied never causes.
        """
        rows = list(self.right)
        level = np.array([row in self.equal for row in rows], dtype=bool)
        return self._solved(rows, level, np.array(self.costs), np.zeros(len(rows)))

    def price(self, loose: float, rows: Container[Hashable] | None = None) -> Relaxed:
        """Prices that prove a bound in bare costs and say little where there is little to say.

        Every row may be missed by `loose`: of all prices that prove the bound the solver then
        rather finds those near 0. With `rows` the others are left out and priced at 0. The bound
        is computed from the prices for the rows as they are, so it holds in any case.
        """
        kept = [row for row in self.right if rows is None or row in rows]
        level = np.array([row in self.equal for row in kept], dtype=bool)
        return self._solved(kept, level, bare(np.array(self.costs)), np.full(len(kept), loose))

    def _solved(self, rows: list[Hashable], level: Bools, costs: Array, loose: Array) -> Relaxed:
        matrix, most = self._matrix(rows), np.array(self.most)
        right = np.array([self.right[row] for row in rows])
        used = np.unique(matrix.indices)
        few = matrix[:, used]
        slack = np.column_stack([-loose[level], loose[level]])
        limits = np.vstack([np.column_stack([np.zeros(len(used)), most[used]]), slack])
        result = linprog(
            np.append(costs[used], np.zeros(len(slack))),
            hstack([few[~level], csr_array((int((~level).sum()), len(slack)))]),
            right[~level] + loose[~level],
            hstack([few[level], eye_array(len(slack))]),
            right[level],
            limits,  # type: ignore[call-overload]  # the stubs know lists of pairs only
            method="highs",
        )
        if result.x is None:
            raise RuntimeError(result.message)
        prices = np.zeros(len(rows))
        prices[~level], prices[level] = -result.ineqlin.marginals, -result.eqlin.marginals
        reduced = costs + matrix.T @ prices
        bound = float(np.minimum(0, reduced) @ most - prices @ right)
        values = np.zeros(len(costs))
        values[used] = result.x[: len(used)]
        named = dict(zip(rows, prices.tolist(), strict=True))
        return Relaxed(values, float(result.fun), bound, named, reduced)

    def solve(self, nodes: int) -> Answer | None:
        """The cheapest whole solution, None where none was found within the search nodes."""
        rows = list(self.right)
        highs = np.array([self.right[row] for row in rows])
        lows = np.where([row in self.equal for row in rows], highs, -np.inf)
        result = milp(
            self.costs,
            integrality=np.ones(len(self.costs), dtype=np.int64),
            bounds=Bounds(0, np.array(self.most)),
            constraints=LinearConstraint(self._matrix(rows), lows, highs),
            options={"node_limit": nodes, "mip_rel_gap": 0},
        )
        if result.x is None:
            return None
        bound = result.fun if result.mip_dual_bound is None else result.mip_dual_bound
        return Answer(result.x, float(result.fun), float(bound), int(result.mip_node_count or 0))
