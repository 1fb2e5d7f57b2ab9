"""What is to balance: sources, valves, rectifier paths and discharges on numbered nodes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from buzzout.electrics.network import Floats, Ints
from buzzout.electrics.rectifier import Law, Pulse, flat, pulse
from buzzout.electrics.valves import Flow, Model, flow

GROUND = -1


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
    correction for a finite reservoir [V]; `choke` the number of paths that share a choke, or 0, and
    `reactance` that of the choke at mains frequency, infinite where no current ever runs dry. [ohm]
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
    reactance: float = math.inf


@dataclass(frozen=True, slots=True)
class Stabiliser:
    """A gas discharge between two nodes: burns at `volts`, `ohms` steep. Both ways.

    `strike` is what it needs to start, NaN where nobody says; `low` and `high` the published span
    of the burning voltage. `volts` is infinite while it is dark. [V], [ohm]
    """

    name: str
    a: int
    b: int
    volts: float
    ohms: float
    strike: float = math.nan
    low: float = math.nan
    high: float = math.nan

    @property
    def dark(self) -> bool:
        """It has not struck."""
        return math.isinf(self.volts)


@dataclass(frozen=True)
class System:
    """Everything that is to balance. `conductance` is the matrix of the linear part. [S]."""

    conductance: Floats
    sources: tuple[Source, ...] = ()
    valves: tuple[Fitted, ...] = ()
    paths: tuple[Path, ...] = ()
    gas: tuple[Stabiliser, ...] = ()

    @cached_property
    def electrodes(self) -> Ints:
        """Grid, screen, anode and cathode of every valve, a row each."""
        rows = [(v.grid, v.screen, v.anode, v.cathode) for v in self.valves]
        return np.array(rows, dtype=np.int64).reshape(-1, 4)

    @property
    def nodes(self) -> int:
        """Number of nodes, ground not counted."""
        return int(self.conductance.shape[0])

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return self.nodes + len(self.sources) + len(self.paths)


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
    return pulse(path.law, drive(system, index, x), path.peak, path.ohms)


def drive(system: System, index: int, x: Floats) -> float:
    """Steady voltage that a path sees, the correction for its reservoir included. [V]."""
    path = system.paths[index]
    means = x[system.nodes + len(system.sources) :]
    lifted = path.lift + sum(z * float(i) for z, i in zip(path.coupled, means, strict=False))
    return float(voltage(x, path.a) - voltage(x, path.k) + lifted)
