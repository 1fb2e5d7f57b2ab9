"""What a voltmeter shows where it is not light against the point: the state solved with it in.

A straight line round the state tells what a light meter takes. At the cathode of a valve that is
cut off, or behind an open feed, that line goes far astray: the valve conducts as soon as the meter
draws its microamperes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from buzzout.bench.board import Board
from buzzout.bench.faults import Fault
from buzzout.bench.predict import metered
from buzzout.bench.probe import Predicted, Probe
from buzzout.circuit import Point
from buzzout.electrics.laws import Floats

_Key = tuple[tuple[str, str, str], Point, Point, float]


@dataclass(frozen=True)
class Stand:
    """A set with one fault: its equations, the fault, and its unknowns without a meter."""

    board: Board
    fault: Fault
    x: Floats


class Loads:
    """Readings of heavy meters, each solved once."""

    def __init__(self) -> None:
        """Nothing is solved yet."""
        self._known: dict[_Key, tuple[float, Floats] | None] = {}

    def shown(self, bare: Predicted, probes: Sequence[Probe], stand: Sequence[Stand]) -> Predicted:
        """The readings of `bare`, which is without meters, as the meters show them.

        `stand` has the set of each row. Where the state with the meter does not settle, the
        straight line stands.
        """
        wanted = [(int(row), int(column)) for row, column in np.argwhere(bare.heavy(probes))]
        keys = {place: _key(stand[place[0]], probes[place[1]]) for place in wanted}
        new: dict[Board, dict[_Key, tuple[int, int]]] = {}
        for place, key in keys.items():
            if key not in self._known:
                new.setdefault(stand[place[0]].board, {}).setdefault(key, place)
        for board, places in new.items():
            self._solve(bare, probes, stand, places, board)
        told = {place: self._known[key] for place, key in keys.items()}
        return bare.loaded(probes, {at: each for at, each in told.items() if each is not None})

    def _solve(
        self,
        bare: Predicted,
        probes: Sequence[Probe],
        stand: Sequence[Stand],
        places: dict[_Key, tuple[int, int]],
        board: Board,
    ) -> None:
        own = [stand[row] for row, _ in places.values()]
        near = np.stack([each.x[: board.size] for each in own])
        at = [probes[column] for _, column in places.values()]
        got = metered(board, [each.fault for each in own], at, near)
        moved = got.over(bare.causes)
        for number, key in enumerate(places):
            settled = bool(got.settled[number])
            known = float(got.mean[number, 0]), moved[number, 0]
            self._known[key] = known if settled else None


def _key(stand: Stand, probe: Probe) -> _Key:
    return stand.fault.name, probe.at, probe.to, probe.meter
