"""Who pays for a fit that is too cheap: the pairs of node and place that let its leads be kept.

Rows that tie a lead to a pair need prices also where they are not written down. Every price from
0 up is valid. The ledger looks for prices under which no fit is below zero and no pair pays more
than it can bear. It need not find them where they exist (that would be a linear programme again);
what it leaves unpaid is written down and settled by the solver.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from buzzout.compare.fits import WAYS, Family
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


def cheap(prices: Prices, family: Family, limit: float) -> Iterator[Cheap]:
    """Collect the fits below a limit, way by way."""
    at: dict[int, list[tuple[Ints, Ints, Array]]] = {way: [] for way in family.ways}
    for some, others in prices.candidates(family):
        for way, reduced in prices.reduced(family, some, others):
            row, column = np.nonzero(reduced < limit)
            at[way].append((some[row], others[column], reduced[row, column]))
    for way, parts in at.items():
        row, column, cost = (np.concatenate(each) for each in zip(*parts, strict=True))
        yield _cheap(prices, family, way, (row, column, cost))


def _cheap(prices: Prices, family: Family, way: int, at: tuple[Ints, Ints, Array]) -> Cheap:
    (first, second), kept = WAYS[way]
    row, column, cost = at
    held: list[Bools] = []
    node: list[Ints] = []
    place: list[Ints] = []
    for s, t in ((0, first), (1, second)):
        a, k, seen = prices.tables.ends(family, s, t)
        held.append(seen[column].astype(bool) if kept[s] else np.zeros(len(row), dtype=bool))
        node.append(a[row])
        place.append(k[column])
    return Cheap(
        family,
        way,
        row,
        column,
        cost,
        (held[0], held[1]),
        (node[0], node[1]),
        (place[0], place[1]),
        (first, second),
    )


class Ledger:
    """Charges on found ends (per node) and on drawn leads (per place).

    Fits and the leads that they keep are rows of flat tables: only what some cheap fit asks for is
    written down. `fit`, `pair`, `end`, `lead` number them for each kept lead.
    """

    def __init__(self, prices: Prices, groups: Sequence[Cheap]) -> None:
        """Share out what all the cheap fits owe."""
        self.bearing = prices.bearing
        self._list(groups, prices.tables.size)
        missed = np.maximum(0, -prices.drawn[self.drawn]) + PENNY
        extra = np.maximum(0, -prices.found[self.found]) + PENNY
        self.mine = (missed / (missed + extra))[self.fit]
        self.ends, self.leads = np.zeros(len(self.end_pair)), np.zeros(len(self.lead_pair))
        bearing = prices.bearing.ravel()[self.pairs]
        turnable = prices.tables.brought[None, :] & ~prices.there & ~prices.tables.closed
        self.turnable = turnable.ravel()[self.pairs]
        for _ in range(PASSES):
            if not self._collect(bearing - self._total()):
                break
            self._scale(np.maximum(bearing, 0))
        self._settle()

    def _list(self, groups: Sequence[Cheap], size: tuple[int, int]) -> None:
        nodes, places = size
        none = np.zeros(0, dtype=np.int64)
        drawn = [*(group.family.drawn[group.row] for group in groups), none]
        found = [*(group.family.found[group.column] for group in groups), none]
        self.drawn, self.found = np.concatenate(drawn), np.concatenate(found)
        self.cost = np.concatenate([*(group.cost for group in groups), np.zeros(0)])
        self.starts = np.cumsum([0, *(len(group.row) for group in groups)])
        fit, side, pair, end, lead = [none], [none], [none], [none], [none]
        for n, group in enumerate(groups):
            for s in (0, 1):
                at = np.nonzero(group.held[s])[0]
                node, place = group.node[s][at], group.place[s][at]
                fit.append(self.starts[n] + at)
                side.append(np.full(len(at), s))
                pair.append(node * places + place)
                end.append((found[n][at] * 2 + group.end[s]) * nodes + node)
                lead.append((drawn[n][at] * 2 + s) * places + place)
        self.fit, self.side = np.concatenate(fit), np.concatenate(side)
        self.pairs, self.pair = np.unique(np.concatenate(pair), return_inverse=True)
        (self.end, self.end_pair), (self.lead, self.lead_pair) = map(self._numbered, (end, lead))

    def _numbered(self, keys: Sequence[Ints]) -> tuple[Ints, Ints]:
        """The number of each key, and the pair that each number belongs to."""
        _, first, number = np.unique(np.concatenate(keys), return_index=True, return_inverse=True)
        return number, self.pair[first]

    def left(self) -> Array:
        """What each pair of node and place can still bear when all its charges are paid."""
        left = self.bearing.copy()
        left.ravel()[self.pairs] -= self._total()
        return left

    def debt(self, group: int) -> Array:
        """What each fit of a group still owes."""
        return self._debts()[self.starts[group] : self.starts[group + 1]]

    def _total(self) -> Array:
        at_ends = np.bincount(self.end_pair, self.ends, len(self.pairs))
        return np.asarray(at_ends + np.bincount(self.lead_pair, self.leads, len(self.pairs)))

    def _debts(self) -> Array:
        charged = self.ends[self.end] + self.leads[self.lead]
        return np.asarray(-self.cost - np.bincount(self.fit, charged, len(self.cost)))

    def _collect(self, left: Array) -> bool:
        """One pass: what is owed, charged to the pairs that can bear it.

        Debts are shared between the two leads, and between the part that is missed and the one
        found. A drawn part that is dear to miss makes all its fits cheap: one charge on its lead
        serves them all. So does a dear found part with one charge on its end.
        """
        debt = np.maximum(0, self._debts())
        if not np.any(debt > PENNY):
            return False
        able = np.where(self.turnable, np.maximum(left, TURNABLE), np.maximum(left, 0))[self.pair]
        whole = np.maximum(np.bincount(self.fit, able, len(debt)), PENNY)
        share = debt[self.fit] * able / whole[self.fit]
        ends, leads = np.zeros(len(self.ends)), np.zeros(len(self.leads))
        np.maximum.at(ends, self.end, share * (1 - self.mine))
        np.maximum.at(leads, self.lead, share * self.mine)
        self.ends += ends
        self.leads += leads
        return True

    def _scale(self, bearing: Array) -> None:
        """Where a pair is charged more than it can bear, lower all its charges alike."""
        total = self._total()
        over = (total > bearing) & ~self.turnable
        scale = np.where(over, bearing / np.maximum(total, PENNY), 1.0)
        self.ends *= scale[self.end_pair]
        self.leads *= scale[self.lead_pair]

    def _settle(self) -> None:
        """What is left unpaid and a pin could bear goes there: turns have to answer for it."""
        debt = np.maximum(0, self._debts())
        for s in (0, 1):
            at = np.nonzero((self.side == s) & self.turnable[self.pair])[0]
            np.maximum.at(self.ends, self.end[at], (self.ends[self.end] + debt[self.fit])[at])
            debt[self.fit[at]] = 0
