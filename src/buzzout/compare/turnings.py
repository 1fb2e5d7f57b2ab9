"""Which numberings of furniture, not written down yet, could make the explanation cheaper.

A frame that lets found pin q serve for drawn pin p gains what the pair of p's node and q's place is
worth: what the prices charge there, or would if the pair were written down. Swaps on top of a frame
gain the difference.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from buzzout.compare import costs
from buzzout.compare.columns import landings
from buzzout.compare.model import FREE
from buzzout.compare.programme import Array
from buzzout.compare.turns import Piece

if TYPE_CHECKING:
    from buzzout.compare.price import Prices

BELOW = 1e-4  # what brings no more than this brings nothing


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
        self.worth = np.where(prices.there0, 0, np.maximum(0, -prices.left))
        for node, place in self.columns.sits:
            if place in self.task.anchored:
                anchor = prices.price(("anchor", node, place))
                self.worth[prices.index[node], place] = anchor
        self._worthy = np.asarray(self.worth.any(axis=0))
        self._brings: dict[tuple[str, int], Array] = {}

    def missed(self) -> None:
        """Add the frames and swaps that are missed, and what is owed for them."""
        priced: dict[tuple[str, str], Priced] = {}
        for name, piece in self.task.pieces.items():
            for target in piece.on:
                priced[name, target] = self._priced(piece, target)
        for name, piece in self.task.pieces.items():
            own = priced[name, name]
            for f in own.frames[own.reduced < self.limit].tolist():
                self._add_frame(name, f)
            self.prices.owed += max(0.0, -float(own.reduced.min(initial=0)))
            for target in piece.on:
                if name < target:
                    self._crossing(name, target, priced[name, target], priced[target, name])

    def _crossing(self, name: str, target: str, ours: Priced, theirs: Priced) -> None:
        """Two sockets in each other's place: both halves are chosen together, or none."""
        both = ours.reduced[:, None] + theirs.reduced[None, :]
        if not both.size or both.min() >= self.limit:
            return
        self.prices.owed += max(0.0, -float(both.min()))
        pairs = np.argwhere(both < self.limit)
        if self.limit <= 0:
            pairs = np.array([np.unravel_index(int(both.argmin()), both.shape)])
        for a, b in pairs.tolist():
            self._add_frame(name, int(ours.frames[a]))
            self._add_frame(target, int(theirs.frames[b]))

    def _priced(self, piece: Piece, target: str) -> Priced:
        """Reduced cost of each frame with all that its swaps could bring; swaps are noted.

        A frame that is too dear whatever its pins gain is left out.
        """
        numbers, used, pin, cost = piece.on[target]
        if self._calm(piece, target):
            return Priced(numbers[:0], cost[:0])
        gains = self._gains(piece, self.task.pieces[target])
        there = np.array([("frame", piece.name, f) in self.columns.at for f in numbers.tolist()])
        start = costs.bare(cost) + self.prices.price(("piece", piece.name))
        most = float(np.maximum(0, gains.max(axis=1)).sum())
        look = np.nonzero(there | (start - most <= costs.SOCKETS))[0]
        numbers, used, pin, there = numbers[look], used[look], pin[look], there[look]
        reduced = start[look] - gains[np.arange(used.shape[1])[None, :], used].sum(axis=1)
        brings = self._swaps(piece, gains[pin])
        if brings.size:
            for row in np.nonzero(there)[0].tolist():
                brings[row] -= self._busy(piece, int(numbers[row]))
            extra = _most(piece, brings)
            reduced -= np.where(there, 0, extra)
            self.prices.owed += float(extra[there].sum())
            for row, f in enumerate(numbers.tolist()):
                self._brings[piece.name, f] = brings[row]
                if there[row]:
                    self._add_swaps(piece, f)
        if target != piece.name:
            tie = ("crossed", min(piece.name, target), max(piece.name, target))
            reduced += self.prices.price(tie) * (1 if piece.name < target else -1)
        return Priced(numbers, reduced)

    def _calm(self, piece: Piece, target: str) -> bool:
        """No pair on the target is worth anything and nothing else is priced: no frame gains."""
        if self.limit > 0 or self._worthy[list(self.task.pieces[target].places)].any():
            return False
        tie = ("crossed", min(piece.name, target), max(piece.name, target))
        return not (self.prices.price(("piece", piece.name)) or self.prices.price(tie))

    def _gains(self, piece: Piece, target: Piece) -> Array:
        """What it brings to let found pin q of the target serve for drawn pin p."""
        rows = [self.prices.index.get(node, -1) for node in piece.nodes]
        free = np.array([node == FREE for node in piece.nodes])
        worth = self.worth[:, list(target.places)]
        return np.where(free[:, None], worth.sum(axis=0)[None, :], worth[rows])

    @staticmethod
    def _swaps(piece: Piece, table: Array) -> Array:
        """What each swap brings in each frame: `table` is the gains by found pin, per frame."""
        start, stop, cost, _ = piece.swap_table
        if not len(cost):
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
        for s in self._few(piece, -self._brings[piece.name, f]) if piece.swaps else ():
            if ("swap", piece.name, f, s) not in self.columns.at:
                self.prices.new.swaps[piece.name, f, s] = None
                self._open(piece, f, s)

    def _open(self, piece: Piece, f: int, s: int | None) -> None:
        swap = None if s is None else piece.swaps[s]
        for node, place in landings(self.task, piece, f, swap):
            self.prices.there[self.prices.index[node], place] = True

    def _few(self, piece: Piece, reduced: Array) -> list[int]:
        """Swaps below the limit; of those that share a pin only the best few."""
        start, _, _, size = piece.swap_table
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
    start, _, _, size = piece.swap_table
    at_pin = np.zeros((len(brings), len(piece.places)))
    frame, swap = np.nonzero(brings > BELOW)
    share = brings[frame, swap] / size[swap]
    for pin in start[swap].T:
        moved = pin >= 0
        np.maximum.at(at_pin, (frame[moved], pin[moved]), share[moved])
    return np.asarray(at_pin.sum(axis=1))
