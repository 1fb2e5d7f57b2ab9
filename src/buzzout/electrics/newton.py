"""Damped Newton for networks with valves and rectifiers, with continuation, and honest about it.

Unknowns are the node voltages, then one current for each source, then one for each rectifier
path. Every law has an analytic slope. From a cold start the supplies are raised in steps when the
direct way does not converge; steps are halved until a floor is reached. Budgets count steps.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_array
from scipy.sparse.linalg import splu

from buzzout.electrics.network import Floats
from buzzout.electrics.rectifier import Law, Pulse, driven, drop, flat, pulse
from buzzout.electrics.valves import Flow, Model, flow

GROUND = -1
_LEAK = 1e-9  # insulation of any valve between grid and cathode; anode a hundredth of it [S]
_ITERATIONS, _HALVINGS, _FLOOR = 60, 20, 1 / 256
_AMPS, _VOLTS = 1e-9, 1e-6  # settled: currents balance to this, last step smaller than that
_DENSE = 400


@dataclass(frozen=True, slots=True)
class Source:
    """An ideal voltage behind a resistance; its current counts from a into it. [V], [ohm]."""

    a: int
    b: int
    volts: float
    ohms: float = 0.0


@dataclass(frozen=True, slots=True)
class Fitted:
    """A valve section on nodes grid, screen, anode, cathode; `emission` scales its currents."""

    name: str
    model: Model
    grid: int
    screen: int
    anode: int
    cathode: int
    emission: float = 1.0


@dataclass(frozen=True, slots=True)
class Path:
    """A rectifier from node a to node k, with the alternating voltage that drives it.

    `ohms` carries the current pulses; `coupled` are resistances through which the mean current of
    every path lifts this one (see `mains`). `lift` is the
    correction for a finite reservoir [V]; `choke` the number of paths that share a choke, or 0.
    """

    name: str
    law: Law
    a: int
    k: int
    peak: float = 0.0
    ohms: float = 0.0
    coupled: tuple[float, ...] = ()
    lift: float = 0.0
    choke: int = 0


@dataclass(frozen=True, slots=True)
class Stabiliser:
    """A gas discharge between two nodes: burns at `volts`, `ohms` steep. Both ways."""

    name: str
    a: int
    b: int
    volts: float
    ohms: float


@dataclass(frozen=True)
class System:
    """Everything that is to balance. `conductance` is the matrix of the linear part. [S]."""

    conductance: Floats
    sources: tuple[Source, ...] = ()
    valves: tuple[Fitted, ...] = ()
    paths: tuple[Path, ...] = ()
    gas: tuple[Stabiliser, ...] = ()

    @property
    def nodes(self) -> int:
        """Number of nodes, ground not counted."""
        return int(self.conductance.shape[0])

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return self.nodes + len(self.sources) + len(self.paths)


@dataclass(frozen=True)
class Solution:
    """Node voltages [V], source and path currents [A]; or the best that was reached.

    `fraction` is the share of the supplies at which the last settled state was found: 1 when all
    is well. `worst` is the row that is furthest from balance.
    """

    x: Floats
    settled: bool
    fraction: float
    steps: int
    worst: int


def voltage(x: Floats, node: int) -> float:
    """Voltage of a node in a vector of unknowns; ground is 0. [V]."""
    return 0.0 if node == GROUND else float(x[node])


def valve_flow(valve: Fitted, x: Floats) -> Flow:
    """Currents of a fitted valve at a solution. [A]."""
    k = voltage(x, valve.cathode)
    volts = (voltage(x, n) - k for n in (valve.grid, valve.screen, valve.anode))
    return flow(valve.model, *volts)


def path_pulse(system: System, index: int, x: Floats) -> Pulse:
    """Pulse of one rectifier path at a solution."""
    path = system.paths[index]
    if path.choke:
        return flat(float(x[system.nodes + len(system.sources) + index]), path.choke)
    return pulse(path.law, _drive(system, index, x), path.peak, path.ohms)


def _drive(system: System, index: int, x: Floats) -> float:
    path = system.paths[index]
    means = x[system.nodes + len(system.sources) :]
    lifted = path.lift + sum(z * float(i) for z, i in zip(path.coupled, means, strict=False))
    return float(voltage(x, path.a) - voltage(x, path.k) + lifted)


class _Sheet:
    """Residual and Jacobian under construction; ground rows and columns fall away."""

    def __init__(self, system: System, x: Floats) -> None:
        n = system.nodes
        self.rest = np.zeros(system.size)
        self.jacobian = np.zeros((system.size, system.size))
        self.rest[:n] = system.conductance @ x[:n]
        self.jacobian[:n, :n] = system.conductance

    def current(self, node: int, amps: float) -> None:
        """A current that leaves a node."""
        if node != GROUND:
            self.rest[node] += amps

    def slope(self, row: int, column: int, value: float) -> None:
        if GROUND not in (row, column):
            self.jacobian[row, column] += value

    def between(self, a: int, b: int, amps: float, siemens: float) -> None:
        """A current from a to b that depends on the voltage between them."""
        self.current(a, amps)
        self.current(b, -amps)
        for row, sign in ((a, 1), (b, -1)):
            self.slope(row, a, sign * siemens)
            self.slope(row, b, -sign * siemens)


def balance(system: System, x: Floats, fraction: float) -> tuple[Floats, Floats]:
    """What is out of balance in every row, and the matrix of slopes."""
    sheet = _Sheet(system, x)
    for index, source in enumerate(system.sources):
        _put_source(sheet, source, system.nodes + index, x, fraction)
    for valve in system.valves:
        _put_valve(sheet, valve, x)
    for index in range(len(system.paths)):
        _put_path(sheet, system, index, x, fraction)
    for tube in system.gas:
        _put_gas(sheet, tube, x)
    return sheet.rest, sheet.jacobian


def _put_source(sheet: _Sheet, source: Source, row: int, x: Floats, fraction: float) -> None:
    amps = float(x[row])
    sheet.current(source.a, amps)
    sheet.current(source.b, -amps)
    sheet.slope(source.a, row, 1.0)
    sheet.slope(source.b, row, -1.0)
    across = voltage(x, source.a) - voltage(x, source.b)
    sheet.rest[row] = across - source.ohms * amps - fraction * source.volts
    sheet.slope(row, source.a, 1.0)
    sheet.slope(row, source.b, -1.0)
    sheet.jacobian[row, row] -= source.ohms


def _put_valve(sheet: _Sheet, valve: Fitted, x: Floats) -> None:
    got = valve_flow(valve, x)
    ends = (valve.grid, valve.screen, valve.anode)
    for row, (amps, slopes) in zip(
        ends, zip((got.grid, got.screen, got.anode), got.slopes, strict=True), strict=True
    ):
        scaled = [valve.emission * s for s in slopes]
        sheet.current(row, valve.emission * amps)
        sheet.current(valve.cathode, -valve.emission * amps)
        for column, slope in (*zip(ends, scaled, strict=True), (valve.cathode, -sum(scaled))):
            sheet.slope(row, column, slope)
            sheet.slope(valve.cathode, column, -slope)
        across = voltage(x, row) - voltage(x, valve.cathode)
        leak = _LEAK if row == valve.grid else _LEAK / 100
        sheet.between(row, valve.cathode, leak * across, leak)


def _put_path(sheet: _Sheet, system: System, index: int, x: Floats, fraction: float) -> None:
    path = system.paths[index]
    first = system.nodes + len(system.sources)
    row = first + index
    amps = float(x[row])
    sheet.current(path.a, amps)
    sheet.current(path.k, -amps)
    sheet.slope(path.a, row, 1.0)
    sheet.slope(path.k, row, -1.0)
    if path.choke:
        _put_choke(sheet, system, index, x, fraction)
        return
    got = pulse(path.law, _drive(system, index, x), fraction * path.peak, path.ohms)
    sheet.rest[row] = amps - got.mean
    sheet.jacobian[row, row] += 1.0
    sheet.slope(row, path.a, -got.slope)
    sheet.slope(row, path.k, got.slope)
    for other, ohms in enumerate(path.coupled):
        sheet.jacobian[row, first + other] -= got.slope * ohms


def _put_choke(sheet: _Sheet, system: System, index: int, x: Floats, fraction: float) -> None:
    """A path into a choke: it carries the whole steady current for its share of the cycle."""
    path = system.paths[index]
    first = system.nodes + len(system.sources)
    row = first + index
    whole = path.choke * float(x[row])
    lost, slope = drop(path.law, whole)
    crest = fraction * path.peak * 2 / math.pi
    # in milliamps per volt, so that the row weighs as much as its neighbours
    sheet.rest[row] = -1e-3 * (_drive(system, index, x) + crest - path.ohms * whole - lost)
    sheet.slope(row, path.a, -1e-3)
    sheet.slope(row, path.k, 1e-3)
    sheet.jacobian[row, row] += 1e-3 * path.choke * (path.ohms + slope)
    for other, ohms in enumerate(path.coupled):
        sheet.jacobian[row, first + other] -= 1e-3 * ohms


def _put_gas(sheet: _Sheet, tube: Stabiliser, x: Floats) -> None:
    across = voltage(x, tube.a) - voltage(x, tube.b)
    law = Law(knee=tube.volts, ohms=tube.ohms)
    sign = 1.0 if across >= 0 else -1.0
    amps, slope = driven(law, np.array([abs(across)]), 0.0)
    sheet.between(tube.a, tube.b, sign * float(amps[0]) + _LEAK * across, float(slope[0]) + _LEAK)


def _step(jacobian: Floats, rest: Floats) -> Floats | None:
    try:
        if len(rest) <= _DENSE:
            moved: Floats = np.linalg.solve(jacobian, -rest).astype(np.float64)
        else:
            moved = splu(csc_array(jacobian)).solve(-rest)
    except (np.linalg.LinAlgError, RuntimeError):
        return None
    return moved if bool(np.all(np.isfinite(moved))) else None


def _weights(system: System) -> Floats:
    """Rows in comparable units: milliamps for nodes and paths, volts for sources."""
    weights = np.full(system.size, 1e3)
    weights[system.nodes : system.nodes + len(system.sources)] = 1.0
    return weights


def _descend(system: System, x: Floats, fraction: float) -> tuple[Floats, bool, int, int]:
    """Newton with backtracking at one fraction of the supplies."""
    weights = _weights(system)
    rest, jacobian = balance(system, x, fraction)
    off = float(np.linalg.norm(weights * rest))
    for step in range(_ITERATIONS):
        moved = _step(jacobian, rest)
        if moved is None:
            break
        length = 1.0
        for _ in range(_HALVINGS):
            trial = x + length * moved
            new_rest, new_jacobian = balance(system, trial, fraction)
            new_off = float(np.linalg.norm(weights * new_rest))
            if new_off <= off * (1 - 1e-4 * length) or new_off < 1e-9:
                break
            length /= 2
        else:
            break
        x, rest, jacobian, off = trial, new_rest, new_jacobian, new_off
        largest = float(np.max(np.abs(length * moved[: system.nodes]), initial=0.0))
        worst = float(np.max(np.abs(weights * rest), initial=0.0))
        if worst < _AMPS * 1e3 or (worst < 1e-4 and largest < _VOLTS):
            return x, True, step + 1, int(np.argmax(np.abs(weights * rest)))
    balanced = float(np.max(np.abs(weights * rest), initial=0.0)) < 1e-5
    return x, balanced, _ITERATIONS, int(np.argmax(np.abs(weights * rest)))


def solve(system: System, start: Floats | None = None) -> Solution:
    """The operating point of a system.

    Tries from `start` (all zero by default), then raises the supplies from nothing in steps.
    """
    zero = np.zeros(system.size)
    if system.size == 0:
        return Solution(zero, settled=True, fraction=1.0, steps=0, worst=0)
    x, settled, steps, worst = _descend(system, zero if start is None else start, 1.0)
    if settled:
        return Solution(x, settled=True, fraction=1.0, steps=steps, worst=worst)
    return _raise(system, zero, steps)


def _raise(system: System, x: Floats, steps: int) -> Solution:
    done, stride, worst = 0.0, 0.125, 0
    while done < 1.0 and stride >= _FLOOR:
        aim = min(done + stride, 1.0)
        trial, settled, used, at = _descend(system, x, aim)
        steps += used
        if settled:
            x, done, stride = trial, aim, stride * 1.5
        else:
            worst, stride = at, stride / 2
    return Solution(x, settled=done >= 1.0, fraction=done, steps=steps, worst=worst)


def sensitivities(system: System, x: Floats, disturbances: Sequence[Floats]) -> Floats:
    """Change of all unknowns with each disturbance (d residual / d parameter), one column each."""
    _, jacobian = balance(system, x, 1.0)
    if not disturbances:
        return np.zeros((system.size, 0))
    try:
        moved = np.linalg.solve(jacobian, -np.column_stack(disturbances))
    except np.linalg.LinAlgError:
        return np.full((system.size, len(disturbances)), np.nan)
    return np.asarray(moved, dtype=np.float64)
