"""Which numberings of furniture, not written down yet, could make the explanation cheaper.

A frame that lets found pin q serve for drawn pin p gains what the pair of p's node and q's place is
worth: what the prices charge there, or would if the pair were written down. Swaps on top of a frame
gain the difference.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from buzzout.compare import costs
from buzzout.compare.columns import landings
from buzzout.compare.programme import Array
from buzzout.compare.turns import Ints, Piece

if TYPE_CHECKING:
    from buzzout.compare.price import Prices

BELOW = 1e-4  # what brings no more than this brings nothing
FEW = 12  # pairs of sockets brought in at a time for each other's place


@dataclass(frozen=True)
class Priced:
    """Frames of a piece on one target: their indices and reduced costs."""

    frames: npt.NDArray[np.int64]
    reduced: Array


class Turnings:
    """The frames and swaps below the limit of the prices."""

    def __init__(self, prices: Prices) -> None:
        """Lay out what each pair of node and place is worth."""
        self.prices, self.task, self.columns = prices, prices.task, prices.columns
        self.limit = prices.limit
        # A pair on a place that a free pin may take is asked for by itself and owed already.
        open_ = prices.there0 | ~prices.tables.brought[None, :]
        self.worth = np.where(open_, 0, np.maximum(0, -prices.left))
        self.pinned = np.zeros_like(self.worth)
        self.index = prices.tables.index
        for node, place in self.columns.sits:
            if place in self.task.anchored:
                self.worth[self.index[node], place] = prices.price(("anchor", node, place))
                self.pinned[self.index[node], place] = prices.price(("pinned", node, place))
        self._worthy = np.asarray(self.worth.any(axis=0) | self.pinned.any(axis=0))
        self._brings: dict[tuple[str, int], Array] = {}
        self._halves: list[tuple[float, tuple[tuple[str, int], tuple[str, int]]]] = []

    def missed(self) -> None:
        """Add the frames and swaps that are missed, and what is owed for them."""
        floors = {
            (name, target): self._floor(piece, target)
            for name, piece in self.task.pieces.items()
            for target in piece.on
        }
        priced = {at: self._priced(*at, floors) for at in floors}
        for name in self.task.pieces:
            own = priced[name, name]
            for f in own.frames[own.reduced < self.limit].tolist():
                self._add_frame(name, f)
            self.prices.owed += max(0.0, -float(own.reduced.min()) - self._counted(name))
        ties = {
            (a, b): self._crossing((a, b), priced[a, b], priced[b, a]) for a, b in priced if a < b
        }
        few = len(self._halves) if self.limit > 0 else FEW
        for _, halves in sorted(self._halves)[:few]:
            for name, f in halves:
                self._add_frame(name, f)
        self._rings(priced, {pair: tie for pair, tie in ties.items() if tie})

    def _counted(self, name: str) -> float:
        """What the bound has already lost for a frame that is written down and always taken."""
        written = (
            self.columns.at.get(("frame", name, f)) for f in self.task.pieces[name].on[name][0]
        )
        reduced = [float(self.prices.relaxed.reduced[at]) for at in written if at is not None]
        return sum(max(0.0, -each) for each in reduced)

    def _crossing(self, pair: tuple[str, str], ours: Priced, theirs: Priced) -> float:
        """Two sockets in each other's place: both halves are chosen together, or none.

        Returns the price of the tie between them, moved so that each half pays for itself.
        """
        low, high = -float(ours.reduced.min()), float(theirs.reduced.min())
        self.prices.owed += max(0.0, low - high)
        both = ours.reduced[:, None] + theirs.reduced[None, :]
        pairs = np.argwhere(both < self.limit)
        if len(pairs) and self.limit <= 0:
            pairs = np.array([np.unravel_index(int(both.argmin()), both.shape)])
        for a, b in pairs.tolist():
            halves = ((pair[0], int(ours.frames[a])), (pair[1], int(theirs.frames[b])))
            self._halves.append((float(both[a, b]), halves))
        return min(max(self.prices.price(("crossed", *pair)), low), max(low, high))

    def _rings(
        self, priced: Mapping[tuple[str, str], Priced], ties: Mapping[tuple[str, str], float]
    ) -> None:
        """Three sockets that went round: what the ties of a ring are worth, against its cost."""
        step = {**ties, **{(b, a): -tie for (a, b), tie in ties.items()}}
        near: dict[str, list[str]] = defaultdict(list)
        for a, b in step:
            near[a].append(b)
        for (a, b), first in step.items():
            for c in near[b]:
                ring = (a, b, c)
                if a != min(ring) or (c, a) not in step:
                    continue
                left = costs.HALF - first - step[b, c] - step[c, a]
                self.prices.owed += max(0.0, -left)
                if left < self.limit:
                    if ("sockets", ring) not in self.columns.at:
                        self.prices.new.sockets[ring] = None
                    for x, y in ((a, b), (b, c), (c, a)):
                        best = priced[x, y]
                        self._add_frame(x, int(best.frames[best.reduced.argmin()]))

    def _calm(self, target: str) -> bool:
        """The target has no pins, or no pair on them is worth anything: nothing gains."""
        places = list(self.task.pieces[target].places)
        return not places or (self.limit <= 0 and not self._worthy[places].any())

    def _floor(self, piece: Piece, target: str) -> Array:
        """What each frame costs if all its pins gained what they can at most."""
        cost = costs.bare(piece.on[target][3]) + self.prices.price(("piece", piece.name))
        if self._calm(target):
            return np.asarray(cost)
        gains = self._gains(piece, self.task.pieces[target])
        return np.asarray(cost - min(gains.max(axis=1).sum(), gains.max(axis=0).sum()))

    def _priced(self, name: str, target: str, floors: Mapping[tuple[str, str], Array]) -> Priced:
        """Reduced cost of each frame with all that its swaps could bring; swaps are noted.

        The tie to the other half is left out. A frame that is too dear in any case is priced at
        what it costs at least.
        """
        piece, floor = self.task.pieces[name], floors[name, target]
        every, used, pin, cost = piece.on[target]
        there = np.array([("frame", name, f) in self.columns.at for f in every.tolist()])
        half = 0.0 if target == name else float(floors[target, name].min())
        look = np.nonzero(there | (floor + half < max(self.limit, -BELOW)))[0]
        reduced = floor.copy()
        if not len(look) or self._calm(target):
            return Priced(every, reduced)
        gains = self._gains(piece, self.task.pieces[target])
        used, pin, there = used[look], pin[look], there[look]
        start = costs.bare(cost[look]) + self.prices.price(("piece", name))
        reduced[look] = start - gains[np.arange(used.shape[1])[None, :], used].sum(axis=1)
        brings = self._swaps(piece, gains[pin], piece.swap_cost[every[look]])
        if brings.size:
            for row in np.nonzero(there)[0].tolist():
                brings[row] -= self._busy(piece, int(every[look[row]]))
            extra = _most(piece, brings)
            reduced[look] -= np.where(there, 0, extra)
            self.prices.owed += float(extra[there].sum())
            for row, f in enumerate(every[look].tolist()):
                self._brings[name, f] = brings[row]
                if there[row]:
                    self._add_swaps(piece, f)
        return Priced(every, reduced)

    def _gains(self, piece: Piece, target: Piece) -> Array:
        """What it brings to let found pin q of the target serve for drawn pin p."""
        rows, free = self.prices.tables.pins(piece)
        places = list(target.places)
        worth, pinned = self.worth[:, places], self.pinned[:, places]
        return np.where(free[:, None], worth.sum(axis=0)[None, :], (worth - pinned)[rows])

    @staticmethod
    def _swaps(piece: Piece, table: Array, cost: Ints) -> Array:
        """What each swap brings in each frame: `table` is the gains by found pin, per frame."""
        start, stop, _ = piece.swap_table
        if not len(start):
            return np.zeros((len(table), 0))
        table = table - np.diagonal(table, axis1=1, axis2=2)[:, :, None]
        moves = np.where(start >= 0, table[:, start, stop], 0)
        return np.asarray(moves.sum(axis=2) - costs.bare(cost))

    def _busy(self, piece: Piece, f: int) -> Array:
        """What it costs the swaps of a written frame that their pins are wanted otherwise."""
        start = piece.swap_table[0]
        pins = range(len(piece.places))
        busy = np.array([self.prices.price(("busy", piece.name, f, q)) for q in pins])
        return np.asarray(np.where(start >= 0, busy[start], 0).sum(axis=1))

    def _add_frame(self, name: str, f: int) -> None:
        if ("frame", name, f) in self.columns.at or (name, f) in self.prices.new.frames:
            return
        self.prices.new.frames[name, f] = None
        piece = self.task.pieces[name]
        self._open(piece, f, None)
        self._add_swaps(piece, f)

    def _add_swaps(self, piece: Piece, f: int) -> None:
        brings = self._brings.get((piece.name, f), np.zeros(0))
        for s in self._few(piece, -brings):
            if ("swap", piece.name, f, s) not in self.columns.at:
                self.prices.new.swaps[piece.name, f, s] = None
                self._open(piece, f, s)

    def _open(self, piece: Piece, f: int, s: int | None) -> None:
        swap = None if s is None else piece.swaps[s]
        for node, place in landings(self.task, piece, f, swap):
            self.prices.there[self.index[node], place] = True

    def _few(self, piece: Piece, reduced: Array) -> list[int]:
        """Swaps below the limit; of those that share a pin only the best few."""
        start, _, size = piece.swap_table
        count: dict[int, int] = {}
        few = []
        below = np.nonzero(reduced < self.limit)[0]
        for s in below[np.argsort(reduced[below], kind="stable")].tolist():
            pins = start[s][: size[s]].tolist()
            if self.limit > 0 or all(count.get(q, 0) < self.prices.few for q in pins):
                few.append(s)
                for q in pins:
                    count[q] = count.get(q, 0) + 1
        return few


def _most(piece: Piece, brings: Array) -> Array:
    """What swaps that share no pin can bring together, at most, in each frame."""
    start, _, size = piece.swap_table
    at_pin = np.zeros((len(brings), len(piece.places)))
    frame, swap = np.nonzero(brings > BELOW)
    share = brings[frame, swap] / size[swap]
    for pin in start[swap].T:
        moved = pin >= 0
        np.maximum.at(at_pin, (frame[moved], pin[moved]), share[moved])
    return np.asarray(at_pin.sum(axis=1))
