"""Small signals: gain to every point, with feedback closed or opened at a lead.

The network is the alternating one with the slopes of every valve at its operating point. Valves get
the capacitances of a typical sheet (below); wiring has none unless the file says so.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from buzzout.circuit import CHASSIS, Element, Link, Point, listed, printed
from buzzout.electrics.alternating import (
    Admittances,
    Complex,
    Layout,
    Matrix,
    assemble,
    coupled,
    in_phase,
    layout,
)
from buzzout.electrics.common import feeding
from buzzout.electrics.mains import find_outlet
from buzzout.electrics.network import Network, network
from buzzout.electrics.operating import Operating
from buzzout.electrics.sockets import Valve
from buzzout.electrics.system import GROUND

# Capacitances of the valve itself: grid to cathode, grid to anode, anode to cathode. [F]
# Small double triodes: 1.6, 1.6 and 0.4 pF (Brimar VAD/513.5, Philips ECC82 sheet, page 1);
# screened valves: 10, 0.1 and 6 pF (Philips EL84 sheet, page 1: 10.8, below 0.5, 6.5).
TRIODE_FARADS = (1.6e-12, 1.6e-12, 0.4e-12)
SCREENED_FARADS = (10e-12, 0.1e-12, 6e-12)
_SPEAKER_MOST = 100.0  # an output winding for less than this feeds a speaker [ohm]
_TRACE = 1e-7  # loss left in a valve that does not amplify [S]
_SHORT = 1e4  # conductance of an ideal voltage [S]


@dataclass(frozen=True, slots=True)
class Drive:
    """A signal source from `to` to `at`, behind `ohms`. [ohm]."""

    at: Point
    to: Point = CHASSIS
    ohms: float = 0.0


@dataclass(frozen=True)
class Linear:
    """A set at its operating point as a linear network, for any frequency.

    `net` may differ from the state's in links (a lead lifted), never in parts. `farads`: valves
    have their capacitances; `amplify`: their slopes are there, but for those that are `still`, else
    only a trace of loss; `left` is the share of its slopes that some valve has, where it is less.
    """

    state: Operating
    net: Network
    plan: Layout
    farads: bool = True
    amplify: bool = True
    still: frozenset[str] = frozenset()
    left: Mapping[str, float] = field(default_factory=dict)

    @cached_property
    def admittances(self) -> Admittances:
        """Admittances of the whole, made once for all frequencies.

        Mains and given supplies are shorts for the signal; a rectifier shows its slope. An output
        winding without a speaker anywhere in the file is loaded with what it is made for.
        """
        made = assemble(self.net, self.plan)
        for valve in self.net.valves:
            self._put_valve(made, valve)
        _put_supplies(made.fixed, self)
        _put_loads(made.fixed, self.net, self.plan)
        return made

    def matrix(self, omega: complex) -> Matrix:
        """The matrix at one frequency. `omega` in rad/s, complex for s / j."""
        return self.admittances.at(omega)

    def solve(self, omega: complex, right: Complex, matrix: Matrix | None = None) -> Complex:
        """Phasors for given currents; least squares where the matrix is singular."""
        values = (matrix or self.matrix(omega)).values
        try:
            return np.asarray(np.linalg.solve(values, right), dtype=np.complex128)
        except np.linalg.LinAlgError:
            return np.asarray(np.linalg.lstsq(values, right, rcond=None)[0])

    def _put_valve(self, made: Admittances, valve: Valve) -> None:
        flow = self.state.flow(valve.name)
        if flow is None:
            return
        at = {role: self.plan.node[self.net.of[p]] for role, p in valve.electrodes.items()}
        k = at["cathode"]
        ends = (at["grid"], at.get("screen", k), at["anode"])
        if self.amplify and valve.name not in self.still:
            share = self.left.get(valve.name, 1.0)
            slopes = tuple((share * a, share * b, share * c) for a, b, c in flow.slopes)
            _put_slopes(made.fixed, ends, k, slopes)
        else:
            made.fixed.between(at["anode"], k, _TRACE)
        if self.farads:
            farads = SCREENED_FARADS if "screen" in at else TRIODE_FARADS
            pairs = ((at["grid"], k), (at["grid"], at["anode"]), (at["anode"], k))
            for (a, b), c in zip(pairs, farads, strict=True):
                made.farads.between(a, b, c)


def linear(state: Operating, *, farads: bool = True) -> Linear:
    """The linear network of a state as it stands."""
    return Linear(state, state.net, layout(state.net), farads)


@dataclass(frozen=True)
class Signals:
    """Answer of a circuit to a source of one volt. `x` are phasors by row of its plan. [V]."""

    view: Linear
    drive: Drive
    hertz: float
    x: Complex

    @property
    def net(self) -> Network:
        """The network, a lifted lead off."""
        return self.view.net

    @property
    def plan(self) -> Layout:
        """Rows of the network."""
        return self.view.plan

    def gain(self, at: Point, to: Point = CHASSIS) -> complex:
        """Voltage between two points for one volt from the source. [1]; NaN for unknown points."""
        if at not in self.net.of or to not in self.net.of:
            return complex(math.nan)
        return self._volts(at) - self._volts(to)

    def _volts(self, point: Point) -> complex:
        row = self.plan.node[self.net.of[point]]
        return 0j if row == GROUND else complex(self.x[row])

    @property
    def remarks(self) -> tuple[str, ...]:
        """What was assumed for the signal beside the operating point."""
        loads = (
            f"{part} {element.label}: no speaker in the file, loaded with the"
            f" {printed(element.load, 'ohm')} it is made for"
            for part, element in _unloaded(self.net, self.plan)
            if element.load is not None
        )
        return (*loads, *_unmarked(self.net, self.plan))

    def levels(self, volts: float, points: tuple[Point, ...]) -> Mapping[Point, float]:
        """Voltage at each test point for a source of so many volts. [V] in the same measure."""
        return {p: volts * abs(self.gain(p)) for p in points}


def signals(
    state: Operating,
    drive: Drive,
    hertz: float,
    *,
    open_at: Point | None = None,
    farads: bool = True,
) -> Signals:
    """Small-signal voltages of a set at one frequency.

    `open_at` lifts one lead for the signal only: the operating point stays as it was.
    """
    net = state.net if open_at is None else lifted(state.net, open_at)
    return answer(Linear(state, net, layout(net), farads), drive, hertz)


def answer(view: Linear, drive: Drive, hertz: float) -> Signals:
    """The same for a linear network that is made already."""
    omega = 2 * math.pi * hertz
    matrix = view.matrix(omega)
    right = driven(matrix, view, drive)
    return Signals(view, drive, hertz, view.solve(omega, right, matrix))


def driven(matrix: Matrix, view: Linear, drive: Drive) -> Complex:
    """Put a source into the matrix of a network; the currents that it brings. [A]."""
    right = np.zeros(view.plan.size, dtype=np.complex128)
    ends, siemens = _source(view, drive)
    matrix.between(*ends, siemens)
    for row, sign in zip(ends, (1.0, -1.0), strict=True):
        if row != GROUND:
            right[row] += sign * siemens
    return right


def connected(view: Linear, drive: Drive) -> Admittances:
    """The admittances of a network with a source on it that gives nothing."""
    made = view.admittances
    fixed = Matrix(made.fixed.whole.copy())
    ends, siemens = _source(view, drive)
    fixed.between(*ends, siemens)
    return replace(made, fixed=fixed)


def _source(view: Linear, drive: Drive) -> tuple[tuple[int, int], float]:
    """Rows of the two ends of a source, and its own conductance. [S]."""
    row = {p: view.plan.node.get(view.net.of.get(p, -1), GROUND) for p in (drive.at, drive.to)}
    return (row[drive.at], row[drive.to]), 1 / drive.ohms if drive.ohms > 0 else _SHORT


def _unloaded(net: Network, plan: Layout) -> Iterator[tuple[str, Element]]:
    """Output windings, where no speaker is anywhere in the file."""
    if any(branch.role == "speaker" for branch in net.branches):
        return
    for part, element in net.windings():
        if element.load is not None and element.load < _SPEAKER_MOST and part in plan.cores:
            yield part, element


def _unmarked(net: Network, plan: Layout) -> Iterator[str]:
    """Which ends are taken to be in phase in a transformer for signals without phase marks."""
    mains = feeding(net.circuit)
    for name in plan.cores:
        part = net.circuit.parts[name]
        wound = coupled(part)
        without = [e.label or "a winding" for e in wound if not e.dot]
        if name not in mains and without:
            alike = listed([str(part.point(in_phase(e))) for e in wound])
            yield (
                f"{name}: no phase mark in the file on {listed(without)}; {alike} are taken to be"
                " in phase. Turned round, the gain behind it changes sign, and feedback over it"
                " goes from negative to positive or back"
            )


def _put_loads(matrix: Matrix, net: Network, plan: Layout) -> None:
    for part, element in _unloaded(net, plan):
        if element.load is not None:
            ends = [plan.node[net.of[Point(part, t)]] for t in element.terminals]
            matrix.between(ends[0], ends[-1], 1 / element.load)


def _put_slopes(
    matrix: Matrix,
    ends: tuple[int, int, int],
    cathode: int,
    slopes: tuple[tuple[float, float, float], ...],
) -> None:
    for row, line in zip(ends, slopes, strict=True):
        for column, slope in (*zip(ends, line, strict=True), (cathode, -sum(line))):
            matrix.put(row, column, slope)
            matrix.put(cathode, column, -slope)


def _put_supplies(matrix: Matrix, view: Linear) -> None:
    state, net, plan = view.state, view.net, view.plan
    outlet = find_outlet(net, plan)
    if outlet is not None:
        matrix.between(outlet.a, outlet.b, _SHORT)
    for supply in state.power.supplies:
        if supply.a in net.of and supply.b in net.of:
            a, b = (plan.node[net.of[p]] for p in (supply.a, supply.b))
            matrix.between(a, b, 1 / supply.ohms if supply.ohms > 0 else _SHORT)
    for way, pulse in zip(state.ways, state.pulses, strict=True):
        a, k = (plan.node[net.of[state.net.groups[n][0]]] for n in (way.a, way.k))
        matrix.between(a, k, max(pulse.slope, 0.0))


def lifted(net: Network, lead: Point) -> Network:
    """The network with one point taken from its node; whatever else met there stays together."""
    circuit = net.circuit
    others = [link.other(lead) for link in circuit.links if link.touches(lead)]
    links = [link for link in circuit.links if not link.touches(lead)]
    links += [Link(a, b, "joint") for a, b in itertools.pairwise(others)]
    return network(circuit.but(links=links), net.conditions, net)
