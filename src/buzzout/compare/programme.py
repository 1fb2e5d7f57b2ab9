"""A linear or integer programme that grows, written down under names and solved by HiGHS.

Rows and columns are added between solutions, and each solution begins where the last one ended.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass

import highspy
import numpy as np
import numpy.typing as npt

from buzzout.compare.costs import bare

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
LOOSE = 1e-3  # see `Programme.price`
NOTHING = 1e-7  # a price within this of zero is zero
OPTIMAL = highspy.HighsModelStatus.kOptimal
SPENT = highspy.HighsModelStatus.kIterationLimit
NODE = 1000  # steps that a node of the integer search is taken to cost
FEWEST = 10  # nodes that are always searched
HEAVY = 10_000  # columns; a pivot counts once for each so many: it takes so much longer
PRIMAL = 4  # HiGHS: the primal simplex, which goes on from a solution when columns are added


@dataclass(frozen=True)
class Relaxed:
    """What the relaxation says: `values` of the columns, `prices` of the rows, `reduced` costs.

    A price tells by how much the cost falls for one more unit on a row's right side; it is at
    least 0 for rows of the form "at most". Rows without a price are not listed. `bound` follows
    from the prices alone: no solution of the relaxation costs less, whatever the solver's
    tolerance.
    """

    values: Array
    bound: float
    prices: Mapping[Hashable, float]
    reduced: Array


@dataclass(frozen=True)
class Answer:
    """A whole solution: `values` of all columns, `cost`, proven lower `bound`."""

    values: Array
    cost: float
    bound: float


class Programme:
    """Columns with costs and limits; rows "at most" and "equal", known by name.

    `steps` counts the pivots of the solver so far, and what else its user adds.
    """

    def __init__(self) -> None:
        """An empty programme."""
        self.costs: list[float] = []
        self.most: list[float] = []
        self.rows: dict[Hashable, int] = {}
        self._right: list[float] = []
        self._loose: list[float] = []
        self._equal: list[bool] = []
        self._new: dict[tuple[int, int], float] = {}
        self._row, self._column = np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
        self._entry = np.zeros(0)
        self._sizes = (0, 0)
        self.steps = 0
        self._solver = _quiet()
        self._solver.setOptionValue("simplex_strategy", PRIMAL)
        # Rows may be missed by a little (see `price`): that is perturbation enough.
        self._solver.setOptionValue("primal_simplex_bound_perturbation_multiplier", 0.0)

    def column(self, cost: float = 0, most: float = 1) -> int:
        """A new column from 0 to `most`; its number."""
        self.costs.append(cost)
        self.most.append(most)
        return len(self.costs) - 1

    def put(self, row: Hashable, column: int, entry: float = 1) -> None:
        """One entry of the matrix, in a row that is there; what is put twice adds up."""
        key = self.rows[row], column
        self._new[key] = self._new.get(key, 0.0) + entry

    def at_most(self, row: Hashable, right: float, loose: float = LOOSE) -> bool:
        """Have a row that is at most `right`; whether it is a new one. For `loose` see `price`."""
        return self._have(row, right, loose, equal=False)

    def exactly(self, row: Hashable, right: float, loose: float = LOOSE) -> bool:
        """Have a row that is exactly `right`; whether it is a new one. For `loose` see `price`."""
        return self._have(row, right, loose, equal=True)

    def _have(self, row: Hashable, right: float, loose: float, *, equal: bool) -> bool:
        if row in self.rows:
            return False
        self.rows[row] = len(self._right)
        self._right.append(right)
        self._loose.append(loose)
        self._equal.append(equal)
        return True

    def price(self, effort: int) -> Relaxed:
        """Prices that prove a bound in bare costs and say little where there is little to say.

        Every row may be missed by a little, its `loose`: of all prices that prove the bound the
        solver then rather finds those near 0, nearest where a row may be missed by most. The bound
        is computed from the prices for the rows as they are, so it holds in any case, also where
        the steps reached `effort` before the best prices.

        Raises
        ------
        RuntimeError
            If the solver fails, which a programme that can be satisfied never causes.
        """
        self._grow()
        costs = np.asarray(bare(np.array(self.costs)), dtype=np.float64)
        solver, weight = self._solver, max(1, len(costs) // HEAVY)
        solver.setOptionValue("simplex_iteration_limit", max(0, effort - self.steps) // weight)
        solver.run()
        if solver.getModelStatus() not in (OPTIMAL, SPENT):
            raise RuntimeError(solver.modelStatusToString(solver.getModelStatus()))
        self.steps += weight * max(0, solver.getInfo().simplex_iteration_count)
        if solver.getModelStatus() == SPENT:
            self.steps = max(self.steps, effort)
        solution = solver.getSolution()
        prices = -np.array(solution.row_dual)
        level = np.array(self._equal, dtype=bool)
        prices[~level] = np.maximum(0, prices[~level])
        prices[np.abs(prices) < NOTHING] = 0
        weights = self._entry * prices[self._row]
        reduced = costs + np.bincount(self._column, weights, minlength=len(costs))
        bound = np.minimum(0, reduced) @ np.array(self.most) - prices @ np.array(self._right)
        names = list(self.rows)
        named = {names[n]: float(prices[n]) for n in np.nonzero(prices)[0]}
        return Relaxed(np.array(solution.col_value), float(bound), named, reduced)

    def solve(self, effort: int, limits: Array) -> Answer | None:
        """The cheapest whole solution; None if none was found when the steps reach `effort`.

        Columns of which `limits` allow nothing but 0 are left out.
        """
        self._grow()
        used = np.nonzero(limits > 0)[0]
        place = np.full(len(limits), -1)
        place[used] = np.arange(len(used))
        kept = place[self._column] >= 0
        solver = _quiet()
        low, high = self._sides(np.zeros(len(self._right)))
        number, starts, rows, entries = _packed([], [], [], len(low))
        solver.addRows(len(low), low, high, number, starts, rows, entries)
        number, starts, rows, entries = _packed(
            place[self._column[kept]], self._row[kept], self._entry[kept], len(used)
        )
        costs = np.array(self.costs)[used]
        solver.addCols(len(used), costs, 0 * costs, limits[used], number, starts, rows, entries)
        whole = np.ones(len(used), dtype=np.uint8)
        solver.changeColsIntegrality(len(used), np.arange(len(used)), whole)
        solver.setOptionValue("mip_max_nodes", max(FEWEST, (effort - self.steps) // NODE))
        solver.setOptionValue("mip_rel_gap", 0.0)
        solver.run()
        info = solver.getInfo()
        self.steps += max(0, info.simplex_iteration_count)
        if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return None
        values = np.zeros(len(limits))
        values[used] = np.round(solver.getSolution().col_value)
        cost = float(info.objective_function_value)
        return Answer(values, cost, float(info.mip_dual_bound))

    def _sides(self, loose: Array) -> tuple[Array, Array]:
        """Lower and upper limits of the rows, each missed by as much as its `loose`."""
        right = np.array(self._right)
        return np.where(self._equal, right - loose, -highspy.kHighsInf), right + loose

    def _grow(self) -> None:
        """Add the new rows over the old columns, then the new columns over all rows."""
        rows, columns = self._sizes
        many, wide = len(self._right) - rows, len(self.costs) - columns
        row, column = np.array(list(self._new), dtype=np.int64).reshape(-1, 2).T
        entry = np.array(list(self._new.values()), dtype=np.float64)
        old, below = column < columns, row < rows
        mine = old & ~below
        number, starts, across, entries = _packed(row[mine] - rows, column[mine], entry[mine], many)
        low, high = self._sides(np.array(self._loose))
        self._solver.addRows(many, low[rows:], high[rows:], number, starts, across, entries)
        number, starts, across, entries = _packed(
            column[~old] - columns, row[~old], entry[~old], wide
        )
        costs = np.asarray(bare(np.array(self.costs[columns:])), dtype=np.float64)
        most = np.array(self.most[columns:])
        self._solver.addCols(wide, costs, 0 * most, most, number, starts, across, entries)
        for n in np.nonzero(old & below)[0]:
            before = self._entry[(self._row == row[n]) & (self._column == column[n])].sum()
            self._solver.changeCoeff(int(row[n]), int(column[n]), float(before + entry[n]))
        self._row, self._column = np.append(self._row, row), np.append(self._column, column)
        self._entry = np.append(self._entry, entry)
        self._new, self._sizes = {}, (rows + many, columns + wide)


def _quiet() -> highspy.Highs:
    solver = highspy.Highs()  # type: ignore[no-untyped-call]
    solver.silent()
    solver.setOptionValue("parallel", "off")
    return solver


def _packed(
    line: npt.ArrayLike, across: npt.ArrayLike, entry: npt.ArrayLike, lines: int
) -> tuple[int, Ints, Ints, Array]:
    """Entries line by line, as the solver wants them: their number, starts, places, values.

    Entries at one place are added up.
    """
    rows, columns = np.asarray(line, dtype=np.int64), np.asarray(across, dtype=np.int64)
    order = np.lexsort((columns, rows))
    rows, columns = rows[order], columns[order]
    entries = np.asarray(entry, dtype=np.float64)[order]
    if len(rows):
        first = np.append(True, (np.diff(rows) != 0) | (np.diff(columns) != 0))
        entries = np.add.reduceat(entries, np.nonzero(first)[0])
        rows, columns = rows[first], columns[first]
    starts = np.searchsorted(rows, np.arange(lines)).astype(np.int64)
    return len(rows), starts, columns, entries
