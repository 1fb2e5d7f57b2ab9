"""Who pays for a fit that is too cheap: the pairs of node and place that let its leads be kept.

Rows that tie a lead to a pair need prices also where they are not written down. Every price from
0 up is valid. The ledger looks for prices under which no fit is below zero and no pair pays more
than it can bear. It need not find them where they exist (that would be a linear programme again);
what it leaves unpaid is written down and settled by the solver.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from buzzout.compare.fits import WAYS, Family
from buzzout.compare.model import UNSEEN
from buzzout.compare.programme import Array

if TYPE_CHECKING:
    from buzzout.compare.price import Prices

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
PASSES = 4
TURNABLE = 300.0  # what a pair on a pin is taken to bear at least: a turn has to pay 1000 or more
PENNY = 1e-4


@dataclass(frozen=True)
class Cheap:
    """The fits of one family and way that are below a limit, row by row.

    `row` and `column` are places in the family's matrix, `cost` the reduced cost. `held[s]` tells
    whether drawn lead s asks for its pair `node[s]`, `place[s]`; `end[s]` is the found end.
    """

    family: Family
    way: int
    row: Ints
    column: Ints
    cost: Array
    held: tuple[Bools, Bools]
    node: tuple[Ints, Ints]
    place: tuple[Ints, Ints]
    end: tuple[int, int]


def cheap(prices: Prices, family: Family, way: int, limit: float) -> Cheap:
    """Collect the fits below a limit."""
    (first, second), kept = WAYS[way]
    reduced = prices.reduced(family, way)
    row, column = np.nonzero(reduced < limit)
    held: list[Bools] = []
    node: list[Ints] = []
    place: list[Ints] = []
    for s, t in ((0, first), (1, second)):
        a, k, seen = prices.ends(family, s, t)
        held.append(seen[column].astype(bool) if kept[s] else np.zeros(len(row), dtype=bool))
        node.append(a[row])
        place.append(k[column])
    return Cheap(
        family,
        way,
        row,
        column,
        reduced[row, column],
        (held[0], held[1]),
        (node[0], node[1]),
        (place[0], place[1]),
        (first, second),
    )


class Ledger:
    """Charges on found ends (per node) and on drawn leads (per place)."""

    def __init__(self, prices: Prices, groups: list[Cheap]) -> None:
        """Share out what all the cheap fits owe."""
        self.prices, self.groups = prices, groups
        self.ends, self.leads = np.zeros(prices.end.shape), np.zeros(prices.lead.shape)
        pair, index = prices.task.pair, prices.index
        self.landed = [
            (j, t, place)
            for j, small in enumerate(pair.board.smalls)
            for t, place in enumerate(small.at[:2])
            if place != UNSEEN
        ]
        self.leaving = [
            (i, s, index[node])
            for i, small in enumerate(pair.drawing.smalls)
            for s, node in enumerate(small.at[:2])
        ]
        pins = prices.on_pin & ~prices.free_pins
        self.turnable = pins[None, :] & ~prices.there & ~prices.closed
        for _ in range(PASSES):
            left = prices.bearing - self.total()
            if not self._collect(left):
                break
            self._scale()
        self._settle()

    def total(self) -> Array:
        """What each pair of node and place is charged."""
        nodes, places = self.prices.size
        at_place, at_node = np.zeros((places, nodes)), np.zeros((nodes, places))
        for j, t, place in self.landed:
            at_place[place] += self.ends[j, t]
        for i, s, node in self.leaving:
            at_node[node] += self.leads[i, s]
        return at_place.T + at_node

    def debt(self, group: Cheap) -> Array:
        """What each fit of a group still owes."""
        paid = np.zeros(len(group.row))
        i, j = group.family.drawn[group.row], group.family.found[group.column]
        for s in (0, 1):
            charge = self.ends[j, group.end[s], group.node[s]] + self.leads[i, s, group.place[s]]
            paid += np.where(group.held[s], charge, 0)
        return -group.cost - paid

    def _settle(self) -> None:
        """What is left unpaid and a pin could bear goes there: turns have to answer for it."""
        for group in self.groups:
            debt = np.maximum(0, self.debt(group))
            j = group.family.found[group.column]
            for s in (0, 1):
                pin = group.held[s] & self.turnable[group.node[s], group.place[s]]
                charge = self.ends[j, group.end[s], group.node[s]] + debt
                at = (j[pin], np.full(int(pin.sum()), group.end[s]), group.node[s][pin])
                np.maximum.at(self.ends, at, charge[pin])
                debt = np.where(pin, 0, debt)

    def _collect(self, left: Array) -> bool:
        """One pass: what is owed, charged to the pairs that can bear it."""
        able = np.where(self.turnable, np.maximum(left, TURNABLE), np.maximum(left, 0))
        ends, leads = np.zeros(self.ends.shape), np.zeros(self.leads.shape)
        owing = False
        for group in self.groups:
            debt = np.maximum(0, self.debt(group))
            if not np.any(debt > PENNY):
                continue
            owing = True
            self._charge(group, debt, able, (ends, leads))
        self.ends += ends
        self.leads += leads
        return owing

    def _charge(self, group: Cheap, debt: Array, able: Array, to: tuple[Array, Array]) -> None:
        """Share debts between the two leads, and between the part that is missed and the one found.

        A drawn part that is dear to miss makes all its fits cheap: one charge on its lead serves
        them all. So does a dear found part with one charge on its end.
        """
        i, j = group.family.drawn[group.row], group.family.found[group.column]
        missed = np.maximum(0, -self.prices.drawn[i]) + PENNY
        extra = np.maximum(0, -self.prices.found[j]) + PENNY
        mine = missed / (missed + extra)
        can = [np.where(group.held[s], able[group.node[s], group.place[s]], 0) for s in (0, 1)]
        whole = np.maximum(can[0] + can[1], PENNY)
        for s in (0, 1):
            share = debt * can[s] / whole
            end = np.full(len(j), group.end[s])
            np.maximum.at(to[0], (j, end, group.node[s]), share * (1 - mine))
            np.maximum.at(to[1], (i, np.full(len(i), s), group.place[s]), share * mine)

    def _scale(self) -> None:
        """Where a pair is charged more than it can bear, lower all its charges alike."""
        total, bearing = self.total(), np.maximum(self.prices.bearing, 0)
        over = (total > bearing) & ~self.turnable
        scale = np.where(over, bearing / np.maximum(total, PENNY), 1.0)
        by_place = np.ascontiguousarray(scale.T)
        for j, t, place in self.landed:
            self.ends[j, t] *= by_place[place]
        for i, s, node in self.leaving:
            self.leads[i, s] *= scale[node]
