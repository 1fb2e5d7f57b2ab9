"""An integer programme, written down column by column and solved by HiGHS."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array


@dataclass(frozen=True)
class Answer:
    """A solution: `values` of all columns, `cost`, the proven lower `bound`, search nodes used."""

    values: np.ndarray
    cost: float
    bound: float
    nodes: int


class Programme:
    """Columns with costs and limits, rows `low <= sum <= high`."""

    def __init__(self) -> None:
        """An empty programme."""
        self.costs: list[float] = []
        self.whole: list[int] = []
        self.least: list[float] = []
        self.most: list[float] = []
        self.lows: list[float] = []
        self.highs: list[float] = []
        self._rows: list[int] = []
        self._columns: list[int] = []
        self._entries: list[float] = []

    def column(
        self, cost: float = 0, *, whole: bool = True, least: float = 0, most: float = 1
    ) -> int:
        """A new column; its number."""
        self.costs.append(cost)
        self.whole.append(int(whole))
        self.least.append(least)
        self.most.append(most)
        return len(self.costs) - 1

    def row(
        self, entries: Mapping[int, float], *, low: float = -np.inf, high: float = np.inf
    ) -> int:
        """A new row over some columns; its number."""
        number = len(self.lows)
        self.lows.append(low)
        self.highs.append(high)
        self._rows += [number] * len(entries)
        self._columns += entries.keys()
        self._entries += entries.values()
        return number

    def at_most_one(self, columns: Iterable[int]) -> int:
        """A row that lets at most one of the columns be chosen."""
        return self.row(dict.fromkeys(columns, 1.0), high=1)

    def matrix(self) -> csr_array:
        """The rows as a sparse matrix."""
        shape = (len(self.lows), len(self.costs))
        return csr_array((self._entries, (self._rows, self._columns)), shape=shape)

    def solve(self, nodes: int, *, relaxed: bool = False) -> Answer | None:
        """The cheapest solution, None where none was found within the number of search nodes."""
        if not self.costs:
            return Answer(np.zeros(0), 0, 0, 0)
        rows = LinearConstraint(self.matrix(), self.lows, self.highs)
        result = milp(
            self.costs,
            integrality=np.array([0 if relaxed else w for w in self.whole]),
            bounds=Bounds(self.least, self.most),
            constraints=rows if self.lows else None,
            options={"node_limit": nodes, "mip_rel_gap": 0},
        )
        if result.x is None:
            return None
        bound = result.mip_dual_bound
        return Answer(
            result.x,
            float(result.fun),
            float(result.fun if bound is None else bound),
            int(result.mip_node_count or 0),
        )
