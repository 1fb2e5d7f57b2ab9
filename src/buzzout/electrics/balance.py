"""Residual and Jacobian of a system: what is out of balance, and how it answers to each unknown."""

from __future__ import annotations

import numpy as np

from buzzout.electrics.network import Floats
from buzzout.electrics.rectifier import Law, choked, driven, drop, pulse
from buzzout.electrics.system import (
    Fitted,
    Source,
    Stabiliser,
    System,
    drive,
    voltage,
)
from buzzout.electrics.valves import flow

_LEAK = 1e-9  # insulation of any valve between grid and cathode; anode a hundredth of it [S]


class _Sheet:
    """Residual and Jacobian under construction, with a row for ground that falls away."""

    def __init__(self, system: System, x: Floats) -> None:
        n = system.nodes
        self.rest = np.zeros(system.size + 1)
        self.jacobian = np.zeros((system.size + 1, system.size + 1))
        self.rest[:n] = system.conductance @ x[:n]
        self.jacobian[:n, :n] = system.conductance

    def between(self, a: int, b: int, amps: float, siemens: float) -> None:
        """A current from a to b that depends on the voltage between them."""
        self.rest[a] += amps
        self.rest[b] -= amps
        for row, other in ((a, b), (b, a)):
            self.jacobian[row, row] += siemens
            self.jacobian[row, other] -= siemens

    def carry(self, a: int, b: int, row: int, amps: float) -> None:
        """A current that is an unknown, from a to b."""
        self.rest[a] += amps
        self.rest[b] -= amps
        self.jacobian[a, row] += 1.0
        self.jacobian[b, row] -= 1.0


def balance(system: System, x: Floats, fraction: float) -> tuple[Floats, Floats]:
    """What is out of balance in every row, and the matrix of slopes."""
    sheet = _Sheet(system, x)
    for index, source in enumerate(system.sources):
        _put_source(sheet, source, system.nodes + index, x, fraction)
    _put_valves(sheet, system, x)
    for index in range(len(system.paths)):
        _put_path(sheet, system, index, x, fraction)
    for tube in system.gas:
        _put_gas(sheet, tube, x)
    return sheet.rest[:-1], sheet.jacobian[:-1, :-1]


def _put_source(sheet: _Sheet, source: Source, row: int, x: Floats, fraction: float) -> None:
    amps = float(x[row])
    sheet.carry(source.a, source.b, row, amps)
    across = voltage(x, source.a) - voltage(x, source.b)
    sheet.rest[row] = across - source.ohms * amps - fraction * source.volts
    sheet.jacobian[row, source.a] += 1.0
    sheet.jacobian[row, source.b] -= 1.0
    sheet.jacobian[row, row] -= source.ohms


def _put_valves(sheet: _Sheet, system: System, x: Floats) -> None:
    if system.valves:
        amps, slopes = zip(*(_valve(valve, x) for valve in system.valves), strict=True)
        at = system.electrodes
        np.add.at(sheet.rest, at[:, _ENDS], amps)
        np.add.at(sheet.jacobian, (at[:, _ROWS], at[:, _COLUMNS]), slopes)


# Where what `_valve` tells is added: grid is 0, screen 1, anode 2, cathode 3.
_ENDS = [at for end in range(3) for at in (end, 3, end, 3)]
_ROWS = [at for end in range(3) for at in (*(end, 3) * 4, end, end, 3, 3)]
_COLUMNS = [at for end in range(3) for at in (0, 0, 1, 1, 2, 2, 3, 3, end, 3, 3, end)]


def _valve(valve: Fitted, x: Floats) -> tuple[list[float], list[float]]:
    """Currents [A] and slopes [S] of a valve, end by end: its own, then that of its insulation."""
    k = voltage(x, valve.cathode)
    ends = (valve.grid, valve.screen, valve.anode)
    volts = [voltage(x, end) - k for end in ends]
    got, e = flow(valve.model, *volts), valve.emission
    amps: list[float] = []
    slopes: list[float] = []
    for end, volt, own, line in zip(ends, volts, got[:3], got.slopes, strict=True):
        leak = _LEAK if end == valve.grid else _LEAK / 100
        amps += (e * own, -e * own, leak * volt, -leak * volt)
        for slope in (*line, -sum(line)):
            slopes += (e * slope, -e * slope)
        slopes += (leak, -leak, leak, -leak)
    return amps, slopes


def _put_path(sheet: _Sheet, system: System, index: int, x: Floats, fraction: float) -> None:
    path = system.paths[index]
    first = system.nodes + len(system.sources)
    row = first + index
    amps = float(x[row])
    sheet.carry(path.a, path.k, row, amps)
    if path.choke:
        _put_choke(sheet, system, index, x, fraction)
        return
    got = pulse(path.law, drive(system, index, x), fraction * path.peak, path.ohms)
    sheet.rest[row] = amps - got.mean
    sheet.jacobian[row, row] += 1.0
    sheet.jacobian[row, path.a] -= got.slope
    sheet.jacobian[row, path.k] += got.slope
    for other, ohms in enumerate(path.coupled):
        sheet.jacobian[row, first + other] -= got.slope * ohms


def _put_choke(sheet: _Sheet, system: System, index: int, x: Floats, fraction: float) -> None:
    """A path into a choke: it carries the whole steady current for its share of the cycle."""
    path = system.paths[index]
    first = system.nodes + len(system.sources)
    row = first + index
    whole = path.choke * float(x[row])
    lost, slope = drop(path.law, whole)
    crest, falls = choked(np.array([whole]), fraction * path.peak, path.reactance)
    # in milliamps per volt, so that the row weighs as much as its neighbours
    left = drive(system, index, x) + float(crest[0]) - path.ohms * whole - lost
    sheet.rest[row] = -1e-3 * left
    sheet.jacobian[row, path.a] -= 1e-3
    sheet.jacobian[row, path.k] += 1e-3
    sheet.jacobian[row, row] += 1e-3 * path.choke * (path.ohms + slope - float(falls[0]))
    for other, ohms in enumerate(path.coupled):
        sheet.jacobian[row, first + other] -= 1e-3 * ohms


def _put_gas(sheet: _Sheet, tube: Stabiliser, x: Floats) -> None:
    across = voltage(x, tube.a) - voltage(x, tube.b)
    law = Law(knee=tube.volts, ohms=tube.ohms)
    sign = 1.0 if across >= 0 else -1.0
    amps, slope = driven(law, np.array([abs(across)]), 0.0)
    sheet.between(tube.a, tube.b, sign * float(amps[0]) + _LEAK * across, float(slope[0]) + _LEAK)
