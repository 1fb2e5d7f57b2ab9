"""The mains side: what alternating voltage drives each rectifier path, and through what resistance.

The linear network is solved at mains frequency with all rectifier paths open; each path then sees
a voltage and, with currents from all paths, a matrix of resistances. Currents of the paths go back
through the same matrix to the primary, the fuse and a limiter lamp.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from buzzout.circuit import Circuit, Part, Point
from buzzout.electrics.alternating import Complex, Layout, Matrix, assemble, layout, turns_of
from buzzout.electrics.network import Floats, Network
from buzzout.electrics.rectifier import Pulse
from buzzout.electrics.system import GROUND

DEFAULT_HERTZ = 50.0
STIFF = 1e-3  # resistance of the wall outlet itself [ohm]


@dataclass(frozen=True, slots=True)
class Port:
    """Where a rectifier path meets the alternating network: rows and signs, from a to k."""

    name: str
    weights: tuple[tuple[int, float], ...]


@dataclass(frozen=True, slots=True)
class Outlet:
    """Where the mains comes in. `a` is line, `b` neutral, as rows."""

    a: int
    b: int


@dataclass(frozen=True)
class Feed:
    """What a mains side was solved for; see `solve_mains`."""

    ports: tuple[Port, ...]
    volts: float
    series: float
    extra: Mapping[tuple[int, int], float]


@dataclass(frozen=True)
class MainsSide:
    """Phasors are peak values. [V], [A], [ohm].

    `open_circuit` and `ohms` belong to the ports; `transfer` is the mains current for an ampere
    in each port; `idle` the mains current with all paths open. `fed` is what was solved for.
    """

    fed: Feed
    plan: Layout
    x: Complex
    open_circuit: Complex
    ohms: Complex
    transfer: Complex
    idle: complex
    responses: Complex


def outlet_nodes(net: Network) -> tuple[int, int] | None:
    """Nodes of line and neutral: of the mains lead, else of the primary's ends that fit."""
    for part in net.circuit.parts.values():
        if part.kind == "cord" and {"L", "N"} <= set(part.terminals):
            return net.of[part.point("L")], net.of[part.point("N")]
    for part in net.circuit.parts.values():
        ends = _primary(part, net.circuit)
        if ends:
            return net.of[ends[0]], net.of[ends[1]]
    return None


def find_outlet(net: Network, plan: Layout) -> Outlet | None:
    """Line and neutral as rows of the alternating network."""
    nodes = outlet_nodes(net)
    return Outlet(plan.node[nodes[0]], plan.node[nodes[1]]) if nodes else None


def _primary(part: Part, circuit: Circuit) -> tuple[Point, Point] | None:
    """The two terminals of a transformer's primary for the mains of this set."""
    volts = circuit.mains.voltage.value if circuit.mains else 0.0
    for element in part.elements:
        if element.kind == "winding" and element.label.lower() in ("primary", "mains"):
            turns = turns_of(element)
            if len(turns) < 2 or element.load is not None:
                continue
            zero = element.terminals[turns.index(min(turns, key=abs))]
            near = min(zip(turns, element.terminals, strict=True), key=lambda t: abs(t[0] - volts))
            return part.point(near[1]), part.point(zero)
    return None


def solve_mains(
    net: Network,
    ports: tuple[Port, ...],
    volts: float,
    series: float,
    extra: Mapping[tuple[int, int], float],
) -> MainsSide | None:
    """Solve the linear network at mains frequency.

    `volts` is the r.m.s. mains voltage [V], `series` a resistance in the line (a limiter lamp)
    [ohm], `extra` conductances of valves at their operating point by row and column. [S]
    """
    linear = unfed(net, layout(net))
    return solve_fed(linear, Feed(ports, volts, series, extra)) if linear else None


@dataclass(frozen=True)
class Unfed:
    """The linear network at mains frequency and where the mains comes in, nothing fed yet."""

    plan: Layout
    outlet: Outlet
    matrix: Matrix


def unfed(net: Network, plan: Layout) -> Unfed | None:
    """Make it ready for `solve_fed`; the layout may have other winding resistances."""
    outlet = find_outlet(net, plan)
    if outlet is None:
        return None
    return Unfed(plan, outlet, assemble(net, plan).at(2 * math.pi * hertz_of(net.circuit)))


def solve_fed(linear: Unfed, fed: Feed) -> MainsSide:
    """Solve a linear network that is made already; see `solve_mains`."""
    outlet, plan = linear.outlet, linear.plan
    matrix = Matrix(linear.matrix.whole.copy())
    for (row, column), slope in fed.extra.items():
        matrix.put(row, column, slope)
    stiff = 1 / max(fed.series, STIFF)
    matrix.between(outlet.a, outlet.b, stiff)
    ports = fed.ports
    drive = np.zeros((plan.size, 1 + len(ports)), dtype=np.complex128)
    feed(drive[:, 0], outlet, math.sqrt(2) * fed.volts * stiff)
    for column, port in enumerate(ports, 1):
        for row, sign in port.weights:
            if row != GROUND:
                drive[row, column] -= sign
    x = _solve(matrix, drive)
    across = np.array([[_across(port, x[:, c]) for c in range(x.shape[1])] for port in ports])
    line = np.array([_line(x[:, c], outlet, stiff, c == 0, fed.volts) for c in range(x.shape[1])])
    across = across.reshape(len(ports), 1 + len(ports))
    return MainsSide(fed, plan, x[:, 0], across[:, 0], -across[:, 1:], line[1:], line[0], x[:, 1:])


def hertz_of(circuit: Circuit) -> float:
    """Mains frequency of a set; 50 Hz where the file says none. [Hz]."""
    told = circuit.mains.frequency if circuit.mains else None
    return told.value if told else DEFAULT_HERTZ


def feed(column: Complex, outlet: Outlet, amps: complex) -> None:
    """A current into line and out of neutral."""
    for row, sign in ((outlet.a, 1.0), (outlet.b, -1.0)):
        if row != GROUND:
            column[row] += sign * amps


def _solve(matrix: Matrix, drive: Complex) -> Complex:
    try:
        return np.asarray(np.linalg.solve(matrix.values, drive), dtype=np.complex128)
    except np.linalg.LinAlgError:
        return np.asarray(np.linalg.lstsq(matrix.values, drive, rcond=None)[0])


def _across(port: Port, x: Complex) -> complex:
    return sum(sign * complex(x[row]) for row, sign in port.weights if row != GROUND)


def _line(x: Complex, outlet: Outlet, stiff: float, fed: bool, volts: float) -> complex:
    """Current out of the outlet's ideal voltage. [A]."""
    here = sum(
        sign * complex(x[row]) for row, sign in ((outlet.a, 1), (outlet.b, -1)) if row != GROUND
    )
    return stiff * ((math.sqrt(2) * volts if fed else 0.0) - here)


def line_current(side: MainsSide, pulses: tuple[Pulse, ...]) -> float:
    """R.m.s. mains current with the rectifiers working. [A].

    The fundamental adds up by phasors; what the pulses hold beyond it is added in squares, which
    is exact where no two paths conduct at the same moment.
    """
    fundamental = side.idle
    harmonics, steady, rest = 0.0, 0.0j, 0.0j
    for index, pulse in enumerate(pulses):
        phase = np.exp(1j * np.angle(side.open_circuit[index]))
        reflected = side.transfer[index]
        fundamental += reflected * pulse.inphase * phase
        rest += reflected * pulse.inphase * phase
        steady += reflected * pulse.mean
        harmonics += abs(reflected) ** 2 * pulse.rms**2
    harmonics -= abs(steady) ** 2 + abs(rest) ** 2 / 2
    return math.sqrt(abs(fundamental) ** 2 / 2 + max(harmonics, 0.0))


@dataclass(frozen=True, slots=True)
class Lamp:
    """A lamp in series with the mains as a limiter: its rating. [W], [V]."""

    watts: float
    volts: float


# R = V0^2/P0 (V/V0)^0.45 near rated voltage: current goes with the 0.55th power of the voltage
# (Fink and Beaty, Standard Handbook for Electrical Engineers, 11th ed., page 22-8). Cold at a
# fourteenth of the hot resistance: (T/300)^1.2 for tungsten at 2700 K, from memory.
_EXPONENT, _COLD = 0.45, 14.0


def lamp_ohms(lamp: Lamp, volts: float) -> float:
    """Resistance of a tungsten lamp at a voltage across it. [ohm]."""
    hot = lamp.volts**2 / lamp.watts
    glow = math.pow(max(volts, 0.0) / lamp.volts, _EXPONENT)
    return hot * max(glow, 1 / _COLD)


def lamp_volts(lamp: Lamp, amps: Floats) -> Floats:
    """Voltage across a tungsten lamp at a current: `lamp_ohms` solved for it. [V]."""
    hot = lamp.volts**2 / lamp.watts
    glowing = np.power(amps * hot * lamp.volts**-_EXPONENT, 1 / (1 - _EXPONENT))
    return np.asarray(np.maximum(glowing, amps * hot / _COLD))


def real_ohms(side: MainsSide) -> Floats:
    """Resistances between the ports, the part that carries pulses. [ohm]."""
    return np.asarray(side.ohms.real, dtype=np.float64)


def fundamental(side: MainsSide, pulses: tuple[Pulse, ...]) -> Complex:
    """All unknowns of the mains side with the rectifiers working, at mains frequency. Peak."""
    x = side.x.copy()
    for index, pulse in enumerate(pulses):
        phase = np.exp(1j * np.angle(side.open_circuit[index]))
        x = x + side.responses[:, index] * (pulse.inphase * phase)
    return x


def alternating(
    side: MainsSide | None, pulses: tuple[Pulse, ...], node: int, to: int | None = None
) -> float:
    """R.m.s. voltage at mains frequency of a node against chassis or another node. [V]."""
    return 0.0 if side is None else effective(side.plan, fundamental(side, pulses), node, to)


def effective(plan: Layout, x: Complex, node: int, to: int | None = None) -> float:
    """R.m.s. voltage of a node against chassis or another node, from all unknowns. [V]."""
    ends = [plan.node[n] for n in (node, to) if n is not None]
    volts = [0.0j if row == GROUND else complex(x[row]) for row in ends]
    return abs(volts[0] - (volts[1] if len(volts) > 1 else 0.0)) / math.sqrt(2)
