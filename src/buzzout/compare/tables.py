"""What all tables of prices have in common: drawn nodes as rows, and which pairs there can be."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from buzzout.compare.fits import Family
from buzzout.compare.model import FREE, UNSEEN, VOID
from buzzout.compare.turns import Piece

if TYPE_CHECKING:
    from buzzout.compare.task import Task

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]
Ends = tuple[Ints, Ints, Bools]


class Tables:
    """What does not change while prices do.

    `index` is the row of each drawn node, `VOID` the last; places are columns, `size` is both.
    `closed` are the pairs that no turn of any furniture brings about, `on_pin` the places of pins,
    `brought` those of them to which only a turn can bring a node. `wires` are the numbers of those
    that may hold or not, `ends_of_wires` their places.
    """

    def __init__(self, task: Task) -> None:
        """Lay out the pairs of a task."""
        board = task.pair.board
        self.nodes = (*task.nodes, VOID)
        self.index = {node: n for n, node in enumerate(self.nodes)}
        self.size = (len(self.nodes), len(board.places))
        self.closed = np.zeros(self.size, dtype=bool)
        self.on_pin = np.zeros(self.size[1], dtype=bool)
        self.brought = self.on_pin.copy()
        for place in task.anchored:
            self.on_pin[place] = True
            may = task.reach[place]
            if FREE not in may:
                self.brought[place] = True
                self.closed[:, place] = True
                self.closed[[self.index[node] for node in may], place] = False
        outer = [n for n in range(len(board.wires)) if n not in task.inner]
        ends = [(board.wires[n].a, board.wires[n].b) for n in outer]
        self.wires = np.array(outer, dtype=np.int64)
        self.ends_of_wires = np.array(ends, dtype=np.int64).reshape(-1, 2).T
        self._ends: dict[tuple[int, int, int], Ends] = {}
        self._pins: dict[str, tuple[Ints, Bools]] = {}

    def ends(self, family: Family, s: int, t: int) -> Ends:
        """Rows of the nodes of drawn lead s, places of found end t, and what was seen."""
        key = family.number, s, t
        if key not in self._ends:
            a = np.array([self.index[node] for node in family.nodes[:, s].tolist()])
            k = family.places[:, t]
            self._ends[key] = a, np.where(k == UNSEEN, 0, k), k != UNSEEN
        return self._ends[key]

    def pins(self, piece: Piece) -> tuple[Ints, Bools]:
        """Rows of the nodes of a piece's drawn pins, and which pins are free."""
        if piece.name not in self._pins:
            rows = np.array([self.index.get(node, -1) for node in piece.nodes], dtype=np.int64)
            self._pins[piece.name] = rows, np.array([n == FREE for n in piece.nodes], dtype=bool)
        return self._pins[piece.name]
