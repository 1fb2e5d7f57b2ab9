"""The numberings of each piece of furniture as tables of numbers, for the programme.

`Piece.frames` are whole numberings: `used[p]` is the index of the found pin that serves for drawn
pin p, on the piece itself or on a twin socket (`target`), where each of the two bears half the
cost. `Piece.swaps` exchange found pins on top of a frame: `moved` maps index to index.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from buzzout.compare.costs import SOCKETS
from buzzout.compare.furniture import AS_DRAWN, Turn, frames, swaps
from buzzout.compare.model import Pair

# Sockets alike beyond which two in each other's place are considered only with their pins in order,
# and beyond which they are not considered at all.
MANY_TWINS, TOO_MANY_TWINS = 16, 60
Ints = npt.NDArray[np.int64]
Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Frame:
    """One numbering: `turn` says what it means."""

    turn: Turn
    target: str
    used: tuple[int, ...]


@dataclass(frozen=True)
class Swap:
    """A small exchange of found pins."""

    turn: Turn
    moved: Mapping[int, int]


@dataclass(frozen=True)
class Piece:
    """Furniture by name: `nodes` that its drawn pins belong to, `places` of its found pins."""

    name: str
    nodes: tuple[int, ...]
    places: tuple[int, ...]
    frames: tuple[Frame, ...]
    swaps: tuple[Swap, ...]

    @cached_property
    def on(self) -> dict[str, tuple[Ints, Ints, Ints, Array]]:
        """Target to its frames: their indices, `used`, drawn pin by found pin, costs."""
        table = {}
        for target in dict.fromkeys((self.name, *(frame.target for frame in self.frames))):
            rows = [f for f, frame in enumerate(self.frames) if frame.target == target]
            used = np.array([self.frames[f].used for f in rows])
            cost = np.array([self.frames[f].turn.cost for f in rows], dtype=np.float64)
            table[target] = (np.array(rows), used, np.argsort(used, axis=1), cost)
        return table

    @cached_property
    def swap_table(self) -> tuple[Ints, Ints, Ints, Ints]:
        """All swaps as arrays: pins, where each goes (padded with -1), costs, sizes."""
        widest = max((len(s.moved) for s in self.swaps), default=0)
        start = np.full((len(self.swaps), widest), -1)
        stop = start.copy()
        for row, swap in enumerate(self.swaps):
            start[row, : len(swap.moved)] = list(swap.moved)
            stop[row, : len(swap.moved)] = list(swap.moved.values())
        cost = np.array([s.turn.cost for s in self.swaps])
        return start, stop, cost, np.array([len(s.moved) for s in self.swaps])


def pieces(pair: Pair) -> dict[str, Piece]:
    """All furniture that stands on both sides, the chassis included."""
    table = {}
    for name, pins in pair.drawing.pins.items():
        places = tuple(pair.board.pins[name].values())
        if name not in pair.drawing.circuit.parts:
            frame = Frame(AS_DRAWN, name, (0,))
            table[name] = Piece(name, tuple(pins.values()), places, (frame,), ())
        else:
            table[name] = _piece(pair, name, tuple(pins.values()), places)
    return table


def _piece(pair: Pair, name: str, nodes: tuple[int, ...], places: tuple[int, ...]) -> Piece:
    wanted = pair.drawing.circuit.parts[name]
    index = {pin: n for n, pin in enumerate(wanted.terminals)}
    own = [Frame(turn, name, tuple(index[turn(pin)] for pin in index)) for turn in frames(wanted)]
    twins = _twins(pair, name)
    wrong = [
        frame
        for frame in own
        if frame.turn is AS_DRAWN or (not frame.turn.harmless and len(twins) <= MANY_TWINS)
    ]
    own += [
        Frame(replace(frame.turn, cost=frame.turn.cost + SOCKETS // 2), twin, frame.used)
        for twin in (twins if len(twins) <= TOO_MANY_TWINS else ())
        for frame in wrong
    ]
    table = [
        Swap(turn, {index[p]: index[q] for p, q in turn.moved.items()})
        for turn in swaps(wanted)
        if set(turn.moved) <= set(index)
    ]
    return Piece(name, nodes, places, tuple(own), tuple(table))


def _twins(pair: Pair, name: str) -> list[str]:
    """Other sockets with the same pins: the two may be wired in each other's place."""
    parts = pair.drawing.circuit.parts
    if parts[name].kind != "socket":
        return []
    return [
        other
        for other in pair.board.called
        if other != name
        and parts[other].kind == "socket"
        and parts[other].terminals == parts[name].terminals
    ]
