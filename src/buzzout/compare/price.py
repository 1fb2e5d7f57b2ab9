"""Columns that are not written down, and which of them could make the explanation cheaper.

The relaxation over the chosen columns gives every row a price. With those prices each column that
was left out has a reduced cost; where none is below zero, the relaxation is solved over *all*
columns, and its cost is a lower bound for every explanation (column generation: Dantzig and Wolfe,
"Decomposition principle for linear programs", Operations Research 8, 1960). A column whose reduced
cost exceeds the gap to a known explanation is in no better one.

Rows that are not written down, because their columns are not, need prices too, and any price from 0
up is valid there. A fit that would be too cheap is charged for each lead it keeps; the charge is
borne by the pair of node and place that lets the lead be kept. A pair that can bear all its charges
is no bargain. One that cannot is a column to write down or, on a pin of furniture, a gain for the
turns that would bring it about.

While some columns below zero are not written down yet, the bound is what the relaxation says less
what these could bring at most, `owed`: any explanation has at most one node for each place, one fit
for each part, one numbering for each piece of furniture with swaps that share no pin, one exchange
for each wrong part. So for each of those rows the worst debt is summed, and nothing more.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator

import numpy as np
import numpy.typing as npt

from buzzout.compare import costs
from buzzout.compare.columns import Chosen, Columns
from buzzout.compare.fits import WAYS, Family
from buzzout.compare.ledger import Cheap, Ledger, cheap
from buzzout.compare.programme import Array, Relaxed
from buzzout.compare.turnings import Turnings

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]
MANY = 60  # exchanges of one part are brought in at a time: they take no pairs with them
BELOW = 1e-4  # a reduced cost within this of zero is zero


class Prices:
    """Reduced costs of all columns that are not chosen, up to a limit.

    `limit` 0 asks for columns that would make the relaxation cheaper; a gap asks for all that could
    be in an explanation closer than that to the bound.
    """

    def __init__(
        self,
        columns: Columns,
        relaxed: Relaxed,
        limit: float = -BELOW,
        *,
        few: int = 0,
        known: bool = False,
    ) -> None:
        """Lay the prices out as tables.

        Below the limit 0 only `few` columns of one row are asked for at a time. With `known` only
        columns are asked for that need no new pairs of node and place.
        """
        self.known = known
        self.columns, self.relaxed, self.limit = columns, relaxed, limit
        self.few = few
        self.task = columns.task
        self.tables = self.task.tables
        self._lay_out()
        self.bearing = self._pairs()
        self.new = Chosen()
        floor = max(self.limit, -BELOW)
        self.groups = [each for f in self.task.fits.families for each in cheap(self, f, floor)]
        self.ledger = Ledger(self, self.groups)
        self.left = self.ledger.left()
        self.owed = 0.0

    def price(self, row: Hashable) -> float:
        """Price of a row; 0 where it is not written down."""
        return self.relaxed.prices.get(row, 0.0)

    def missed(self) -> Chosen:
        """The columns below the limit.

        `owed` is then by how much they could at most lower the bound, all together.
        """
        self._missed_pairs()
        Turnings(self).missed()
        self._missed_fits()
        self._missed_exchanges()
        return self.new

    # ---- tables

    def _lay_out(self) -> None:
        pair, (nodes, places) = self.task.pair, self.tables.size
        index = self.tables.index
        self.lead = np.zeros((len(pair.drawing.smalls), 2, places))
        self.end = np.zeros((len(pair.board.smalls), 2, nodes))
        self.drawn, self.found = np.zeros(len(self.lead)), np.zeros(len(self.end))
        self.off, self.crossed = np.zeros(len(self.lead)), np.zeros(len(self.lead))
        # A row that is not written down may have any price that its columns can bear: here half of
        # what a wrong part costs, so that two exchanged ones still pay the whole.
        written = [("off", i) in self.columns.at for i in range(len(self.off))]
        self.off[np.logical_not(written)] = costs.HALF
        self.whole, self.place = np.zeros(nodes), np.zeros(places)
        self.wire = np.zeros(len(pair.board.wires))
        self.moved = np.zeros((len(self.wire), nodes))
        plain = {
            "drawn": self.drawn, "found": self.found, "off": self.off,
            "place": self.place, "wire": self.wire,
        }  # fmt: skip
        for row, price in self.relaxed.prices.items():
            match row:
                case ("lead", int(i), int(s), int(k)) if s < 2:
                    self.lead[i, s, k] = price
                case ("end", int(j), int(t), int(a)) if t < 2:
                    self.end[j, t, index[a]] = price
                case ("exchanged", int(i), int(_)):
                    self.crossed[i] += price
                case ("whole", int(a)):
                    self.whole[index[a]] = price
                case ("moved", int(n), int(a)):
                    self.moved[n, index[a]] = price
                case (str(kind), int(n)) if kind in plain:
                    plain[kind][n] = price

    def _pairs(self) -> Array:
        """Reduced cost of each pair of node and place, before charges: what it can bear."""
        node, place, column = np.array(self.columns.sat, dtype=np.int64).reshape(-1, 3).T
        self.there = np.zeros(self.tables.size, dtype=bool)
        self.there[node, place] = True
        self.there0 = self.there.copy()
        reduced = self.place[None, :] + self.whole[:, None]
        for k in self.task.pair.board.absent:
            absence = [costs.bare(self.task.absence(each)) for each in self.tables.nodes]
            reduced[:, k] = self.place[k] + np.array(absence)
        wires = self.tables.wires
        gain = np.maximum(0, self.wire[wires, None] + self.whole[None, :])
        moved = np.maximum(0, gain - costs.bare(costs.MOVED))
        moved[:, -1] = 0
        one, two = self.tables.ends_of_wires
        for here, far in ((one, two), (two, one)):
            held = np.where(self.there.T[far], gain + self.moved[wires], gain / 2 + moved)
            np.subtract.at(reduced.T, here, held)
        reduced[node, place] = self.relaxed.reduced[column]
        reduced[self.tables.closed] = np.inf
        return reduced

    # ---- parts

    def candidates(self, family: Family) -> Iterator[tuple[Ints, Ints]]:
        """Rows and columns of a family's matrix that can be below the limit.

        Only the prices of the parts themselves make a pairing cheap.
        """
        every, others = np.arange(len(family.drawn)), np.arange(len(family.found))
        if self.limit > 0:
            yield every, others
            return
        off = self.off[family.drawn] - self.crossed[family.drawn]
        low = self.drawn[family.drawn] + np.minimum(0, off) < 0
        yield every[low], others
        yield every[~low], others[self.found[family.found] < 0]

    def reduced(
        self, family: Family, rows: Ints, columns: Ints, *, written: bool = False
    ) -> Iterator[tuple[int, Array]]:
        """For each way a matrix of reduced costs at the prices of rows that are written down.

        Fits that are written down themselves are left out unless `written`.
        """
        drawn, found = family.drawn[rows], family.found[columns]
        off = self.off[drawn] - self.crossed[drawn]
        alike = costs.bare(family.price[np.ix_(rows, columns)]).astype(np.float64)
        alike += self.drawn[drawn][:, None] + self.found[found][None, :]
        alike += off[:, None] * family.wrong[np.ix_(rows, columns)]
        held = {(s, t): self._held(family, s, t, rows, columns) for s in (0, 1) for t in (0, 1)}
        for way in family.ways:
            (first, _), kept = WAYS[way]
            reduced = alike + costs.ERROR * kept.count(False)
            if first:
                reduced += costs.ERROR * family.turned[np.ix_(rows, columns)]
            for s in (0, 1):
                if kept[s]:
                    reduced += held[s, s ^ first]
            reduced[:, ~family.usable(way)[columns]] = np.inf
            if not written:
                self._leave_out_written(reduced, family, way, rows, columns)
            yield way, reduced

    def _leave_out_written(
        self, reduced: Array, family: Family, way: int, rows: Ints, columns: Ints
    ) -> None:
        if not (known := self.columns.written[family.number, way]):
            return
        row, column = np.full(len(family.drawn), -1), np.full(len(family.found), -1)
        row[rows], column[columns] = np.arange(len(rows)), np.arange(len(columns))
        at_row, at_column = np.array(known).T
        at = row[at_row], column[at_column]
        here = (at[0] >= 0) & (at[1] >= 0)
        reduced[at[0][here], at[1][here]] = np.inf

    def _held(self, family: Family, s: int, t: int, rows: Ints, columns: Ints) -> Array:
        """Prices of keeping drawn lead s at found end t; infinite where that can never be."""
        a, k, seen = self.tables.ends(family, s, t)
        a, k, seen = a[rows], k[columns], seen[columns]
        cost: Array = self.lead[family.drawn[rows][:, None], s, k[None, :]]
        cost = cost + self.end[family.found[columns][None, :], t, a[:, None]]
        cost[self.tables.closed[a[:, None], k[None, :]]] = np.inf
        cost[:, ~seen] = 0
        return cost

    # ---- what is missed

    def _missed_pairs(self) -> None:
        """Pairs on places that are no pins, and that are below the limit whatever they let keep."""
        free = ~self.tables.brought[None, :]
        lowest = self.left.min(axis=0, where=free, initial=0)
        self.owed += float(np.maximum(0, -lowest - self._counted()).sum())
        if self.known:
            return
        below = (self.left < self.limit) & ~self.there & ~self.tables.closed & free
        for k in np.nonzero(below.any(axis=0))[0].tolist():
            for a in self._few(np.where(below[:, k], self.left[:, k], np.inf)).tolist():
                self._add_pair(a, k)

    def _counted(self) -> Array:
        """What the bound has already lost at each place for pairs that are written down."""
        _, place, column = np.array(self.columns.sat, dtype=np.int64).reshape(-1, 3).T
        lost = np.maximum(0, -self.relaxed.reduced[column])
        return np.asarray(np.bincount(place, lost, self.tables.size[1]), dtype=np.float64)

    def _add_pair(self, a: int, k: int) -> None:
        self.new.sits.add((self.tables.nodes[a], k))
        self.there[a, k] = True

    def _few(self, reduced: Array) -> npt.NDArray[np.int64]:
        """Where the reduced cost is below the limit; the lowest few while columns are asked for."""
        below = np.nonzero(reduced < self.limit)[0]
        if self.limit > 0 or len(below) <= self.few:
            return below
        return below[np.argsort(reduced[below], kind="stable")[: self.few]]

    def _missed_fits(self) -> None:
        """Fits that nobody pays for; their pairs come with them."""
        self._owed_fits()
        for number, group in enumerate(self.groups):
            open_pairs = np.ones(len(group.row), dtype=bool)
            for s in (0, 1):
                at = (group.node[s], group.place[s])
                brought = self.tables.brought[at[1]] & ~self.there[at]
                open_pairs &= ~(group.held[s] & brought)
            if self.limit > 0:
                open_pairs &= self._all_there(group)
                wanted = np.nonzero(open_pairs)[0]
            else:
                wanted = np.nonzero(open_pairs & (self.ledger.debt(number) > BELOW))[0]
            for n in self._few_fits(group, wanted):
                self._add_fit(group, n)

    def _owed_fits(self) -> None:
        """A drawn part has one fit at most, a found one too: the smaller sum of the worst debts."""
        drawn, found = np.zeros(len(self.drawn)), np.zeros(len(self.found))
        for number, group in enumerate(self.groups):
            debt = np.maximum(0, self.ledger.debt(number))
            np.maximum.at(drawn, group.family.drawn[group.row], debt)
            np.maximum.at(found, group.family.found[group.column], debt)
        self.owed += float(min(drawn.sum(), found.sum()))

    def _all_there(self, group: Cheap) -> Bools:
        there = np.ones(len(group.row), dtype=bool)
        for s in (0, 1):
            there &= self.there[group.node[s], group.place[s]] | ~group.held[s]
        return there

    def _few_fits(self, group: Cheap, wanted: npt.NDArray[np.int64]) -> list[int]:
        """The cheapest few of each drawn and of each found part."""
        if self.limit > 0:
            return [int(n) for n in wanted]
        count: dict[tuple[int, int], int] = {}
        few = []
        for n in wanted[np.argsort(group.cost[wanted], kind="stable")].tolist():
            keys = ((0, int(group.row[n])), (1, int(group.column[n])))
            if min(count.get(key, 0) for key in keys) < self.few:
                few.append(n)
                for key in keys:
                    count[key] = count.get(key, 0) + 1
        return few

    def _add_fit(self, group: Cheap, n: int) -> None:
        row, column = int(group.row[n]), int(group.column[n])
        fit = self.task.fits.named(group.family, row, column, group.way)
        if fit in self.columns.fits:
            return
        self.new.fits[fit] = None
        for s in (0, 1):
            a, k = int(group.node[s][n]), int(group.place[s][n])
            if group.held[s][n] and not self.there[a, k]:
                self._add_pair(a, k)

    def _missed_exchanges(self) -> None:
        """Two wrong parts in each other's place, or three in a ring, where prices leave room.

        Where every part is priced at half of an error, no exchange is below zero.
        """
        for family in self.task.fits.families:
            if family.strange:
                continue
            off = self.off[family.drawn]
            dear = off > costs.HALF + BELOW if self.limit <= 0 else off > 0
            if not dear.any():
                continue
            gain = off[:, None] - self._spare(family, dear)[:, family.look]
            gain[family.look[:, None] == family.look[None, :]] = -np.inf
            self._add_exchanges(family, [*self._pairs_of(gain), *self._threes_of(gain)])

    def _pairs_of(self, gain: Array) -> Iterator[tuple[float, tuple[int, ...]]]:
        left = costs.bare(costs.EXCHANGED) - gain - gain.T
        for a, b in np.argwhere(np.triu(left < self.limit, 1)).tolist():
            yield float(left[a, b]), (a, b)

    def _threes_of(self, gain: Array) -> Iterator[tuple[float, tuple[int, ...]]]:
        cost = 2 * costs.bare(costs.EXCHANGED)
        at_best = gain + gain.max(axis=1)[None, :] + gain.max(axis=0)[:, None]
        for a, b in np.argwhere(cost - at_best < self.limit).tolist():
            left = cost - gain[a, b] - gain[b] - gain[:, a]
            for c in np.nonzero(left < self.limit)[0].tolist():
                if a == min(a, b, c):
                    yield float(left[c]), (a, b, c)

    def _spare(self, family: Family, dear: Bools) -> Array:
        """What the cheapest wrong part that would be right for each look could still pay.

        Known for the dear parts and for looks like theirs; 0 for the others.
        """
        looks, first = np.unique(family.look, return_index=True)
        right = ~family.wrong[first] & ~family.unread[first]
        shares = np.maximum(1, right.sum(axis=0))
        spare = np.zeros((len(family.drawn), len(looks)))
        theirs = np.nonzero(np.bincount(family.look[dear]))[0]
        for rows, asked in ((np.nonzero(dear)[0], looks), (np.nonzero(~dear)[0], theirs)):
            columns = np.nonzero(right[asked].any(axis=0))[0]
            wrong = np.full((len(rows), len(columns)), np.inf)
            for _, reduced in self.reduced(family, rows, columns, written=True):
                wrong = np.minimum(wrong, reduced)
            wrong = np.where(family.wrong[np.ix_(rows, columns)], np.maximum(wrong, 0), np.inf)
            wrong /= shares[columns]
            for look in asked.tolist():
                of = right[look, columns]
                spare[rows, look] = wrong[:, of].min(axis=1, initial=np.inf)
        return spare

    def _add_exchanges(
        self, family: Family, rings: Iterable[tuple[float, tuple[int, ...]]]
    ) -> None:
        owed = np.zeros(len(family.drawn))
        count = np.zeros(len(family.drawn), dtype=int)
        for left, ring in sorted(rings):
            where = list(ring)
            parts = tuple(int(i) for i in family.drawn[where])
            first = parts.index(min(parts))
            parts = parts[first:] + parts[:first]
            if ("exchanged", parts) in self.columns.at:
                continue
            owed[where] = np.maximum(owed[where], -left / len(ring))
            if self.limit > 0 or count[where].max() < MANY:
                self.new.exchanged[parts] = None
                count[where] += 1
        self.owed += float(owed.sum())
