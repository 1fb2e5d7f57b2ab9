"""Alternating levels of one frequency at each point for each fault, and what good parts do to them.

The set is linear round the operating point that each fault leaves it with: the slopes of all valves
are those of that point. A level is what currents of many ways leave of each other: where they
cancel in the middle set, it is not near nothing in a real one, and how far good parts move it
depends on the fault. So the parts move the phasor of each fault by its own adjoint, and the level
to be expected is the root of all squares.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from buzzout.bench.batch import States, solve
from buzzout.bench.board import Board, Change
from buzzout.bench.faults import Fault
from buzzout.bench.predict import UNIFORM, VALVE_SPREAD
from buzzout.bench.probe import LEAST_LEVEL, TONE, Probe, Source, scored
from buzzout.circuit import Circuit, Link, Point
from buzzout.electrics.alternating import layout
from buzzout.electrics.branch import Branch
from buzzout.electrics.common import common
from buzzout.electrics.laws import Floats, valve
from buzzout.electrics.network import network
from buzzout.electrics.operating import Operating
from buzzout.electrics.signal import Linear, linear
from buzzout.electrics.system import GROUND

Complex = NDArray[np.complex128]
_SHORT = 1e4  # conductance of a generator without resistance [S]
_FARADS = 0.15  # deviation of a good capacitor, old ones among them; as a share
_CHUNK = 64  # faults solved together
# A level that is only what deviations leave of nothing: the logarithm of a normal deviate has this
# variance, and its mean lies so far below the logarithm of its deviation (Abramowitz and Stegun,
# Handbook of Mathematical Functions, 6.3.3 and 6.4.4).
_SCATTER, _BELOW = math.pi**2 / 8, 0.635


@dataclass(frozen=True)
class Scores:
    """Levels as they are scored, one row a fault, one column a probe.

    `moved` by one deviation of each cause (third axis), `unsure` what is left of their scatter.
    """

    mean: Floats
    moved: Floats
    unsure: Floats

    def columns(self, which: Sequence[int]) -> Scores:
        """Some of the probes."""
        own = list(which)
        return Scores(self.mean[:, own], self.moved[:, own], self.unsure[:, own])

    def rows(self, which: Sequence[int]) -> Scores:
        """Some of the faults, in any order and as often as wanted."""
        own = list(which)
        return Scores(self.mean[own], self.moved[own], self.unsure[own])


def stacked(rows: Sequence[Scores]) -> Scores:
    """Scores of some faults one below the other."""
    return Scores(
        np.concatenate([r.mean for r in rows]),
        np.concatenate([r.moved for r in rows]),
        np.concatenate([r.unsure for r in rows]),
    )


@dataclass(frozen=True)
class _Deviation:
    """A good part one deviation off: what changes, its rows, and the admittance added there.

    The valves have no admittance of their own here: their slopes change.
    """

    name: str
    change: Change
    branch: Branch | None = None
    rows: tuple[int, int] = (GROUND, GROUND)
    siemens: complex = 0.0


class Levels:
    """A set that an alternating voltage is put into, whole and with each fault."""

    def __init__(self, board: Board, source: Source) -> None:
        """Take a set under power; nothing is solved yet."""
        self.board, self.source = board, source
        self.state: Operating = board.state

    def whole(self, probes: Sequence[Probe]) -> Floats:
        """Levels of the undisturbed set. [V]."""
        return np.asarray(np.abs(self._at(self._whole[None], probes)[0][0]), dtype=np.float64)

    def scores(self, probes: Sequence[Probe], faults: Sequence[Fault]) -> Scores:
        """Levels of each fault as they are scored, the source as it is."""
        chunks = [faults[i : i + _CHUNK] for i in range(0, len(faults), _CHUNK)]
        return stacked([self._scores(probes, chunk) for chunk in chunks])

    @cached_property
    def causes(self) -> tuple[str, ...]:
        """What may differ in a good set: valves, resistors, capacitors."""
        return tuple(dict.fromkeys(one.name for one in self._within))

    # -- levels and their scatter ----------------------------------------------------------------

    def _scores(self, probes: Sequence[Probe], faults: Sequence[Fault]) -> Scores:
        changes = [fault.change for fault in faults]
        bent = self._bent(changes, solve(self.board, changes))
        level, moved = self._scatter(self._stack(changes, bent), probes, changes, bent)
        parted = [row for row, fault in enumerate(faults) if fault.change.apart]
        if parted:  # what is left of the network has other rows: good parts do as to the whole set
            still = np.zeros((1, *bent.shape[1:]))
            got = self._scatter(self._whole[None], probes, [Change()], still)
            one, shifts = got[0][0], got[1][0]
            usual = np.sqrt(np.abs(one) ** 2 + np.sum(np.abs(shifts) ** 2, axis=1)) + 1e-12
            for row in parted:
                left = self._parted(faults[row], probes)
                moved[row] = shifts * (left / usual)[:, None]
                level[row] = left * np.exp(1j * np.angle(one))
        size = np.abs(level)
        scatter = np.sum(np.abs(moved) ** 2, axis=2)
        expected = np.sqrt(size**2 + scatter)
        loose = scatter / np.maximum(expected**2, 1e-300)
        share = expected / (expected + LEAST_LEVEL)  # below what hum leaves nothing moves
        along = np.real(np.conj(level)[:, :, None] * moved)
        slope = along / np.maximum(expected**2, 1e-300)[:, :, None] * share[:, :, None]
        below = np.sum(slope**2, axis=2) + _BELOW * (loose * share) ** 2
        mean = np.log(expected + LEAST_LEVEL) - below
        return Scores(mean, slope, math.sqrt(_SCATTER) * loose * share)

    def _scatter(
        self, stack: Complex, probes: Sequence[Probe], changes: Sequence[Change], bent: Floats
    ) -> tuple[Complex, Complex]:
        """Phasor at each probe for each matrix, and how each cause moves it. [V].

        A part that the fault takes away moves nothing, nor do the slopes of a valve that has none.
        """
        level, x, adjoint = self._at(stack, probes)
        made, at = self._within, {name: number for number, name in enumerate(self.causes)}
        moved = np.zeros((*level.shape, len(at)), dtype=np.complex128)
        left = np.array([[self._left(one, change) for one in made] for change in changes])
        for number, one in enumerate(made):
            a, b = one.rows
            across = (x[:, a] - x[:, b]) * left[:, number] * one.siemens
            moved[:, :, at[one.name]] -= (adjoint[:, a] - adjoint[:, b]) * across[:, None]
        into = np.zeros((len(at), *self._bends.shape[1:]))
        np.add.at(into, [at[one.name] for one in made], self._bends)
        for number, rows in enumerate(self._valve_rows):
            whole = self._slopes_before[number]
            if not whole.any():  # it passes nothing in this set: good parts have no slope to move
                continue
            share = np.linalg.norm(whole + bent[:, number], axis=(1, 2)) / np.linalg.norm(whole)
            lost = np.einsum("kij,fj->fik", into[:, number], x[:, rows] * share[:, None])
            moved -= np.einsum("fip,fik->fpk", adjoint[:, rows], lost)
        return level, moved

    def _at(self, stack: Complex, probes: Sequence[Probe]) -> tuple[Complex, Complex, Complex]:
        """Phasor at each probe, of each unknown, and how each probe answers to currents.

        The last row is the chassis.
        """
        size = stack.shape[1]
        drive = np.zeros((size + 1, len(probes)), dtype=np.complex128)
        for number, probe in enumerate(probes):
            for point, sign in ((probe.at, 1.0), (probe.to, -1.0)):
                drive[self._row(self._linear, point), number] += sign
        right = self._right(self._linear)
        x = np.zeros((len(stack), size + 1), dtype=np.complex128)
        adjoint = np.zeros((len(stack), size + 1, len(probes)), dtype=np.complex128)
        x[:, :size] = np.linalg.solve(
            stack, np.repeat(right[None, :, None], len(stack), axis=0)
        )[:, :, 0]  # fmt: skip
        turned = np.swapaxes(stack, 1, 2)
        adjoint[:, :size] = np.linalg.solve(
            turned, np.repeat(drive[None, :size], len(stack), axis=0)
        )  # fmt: skip
        return np.asarray(x @ drive, dtype=np.complex128), x, adjoint

    @cached_property
    def _within(self) -> tuple[_Deviation, ...]:
        """One deviation of each valve, resistor and capacitor inside what is good."""
        return tuple(self._deviations())

    def _deviations(self) -> Iterator[_Deviation]:
        for name in self.board.sections:
            yield _Deviation(name, Change(emission={name: 1 + VALVE_SPREAD}))
        for b in self.board.branches:
            if b.role in ("resistor", "track") and np.isfinite(b.high) and b.value > 0:
                share = (b.high - b.low) / (2 * b.value) / UNIFORM
                more = (1 / (1 + share) - 1) / b.value
                change = Change(siemens=((b.a, b.b, more),))
                yield _Deviation(b.family or b.name, change, b, self._ends(b), more)
        for b in self.state.net.branches:
            if b.kind == "capacitor" and b.value:
                charges = 1j * self._omega * b.value * _FARADS
                change = Change(farads={b.name: 1 + _FARADS})
                yield _Deviation(b.name, change, b, self._ends(b), charges)

    def _ends(self, branch: Branch) -> tuple[int, int]:
        return self._row(self._linear, branch.a), self._row(self._linear, branch.b)

    @staticmethod
    def _left(one: _Deviation, change: Change) -> float:
        """What a fault leaves of the part that deviates, as a share."""
        branch = one.branch
        if branch is None:
            return 0.0
        if branch.kind == "capacitor":
            return change.farads.get(branch.name, 1.0)
        own = [s for a, b, s in change.siemens if (a, b) == (branch.a, branch.b)]
        return min(max(1 + sum(own) * branch.value, 0.0), 1.0)

    @cached_property
    def _bends(self) -> Floats:
        """Change of the slopes of each valve with each deviation. [S]."""
        changes = [one.change for one in self._within]
        return self._bent(changes, solve(self.board, changes))

    # -- the network -----------------------------------------------------------------------------

    @property
    def _minus(self) -> Point:
        return common(self.state.net.circuit)

    @property
    def _omega(self) -> float:
        return 2 * math.pi * self.source.hertz

    @cached_property
    def _linear(self) -> Linear:
        return linear(self.state)

    @cached_property
    def _whole(self) -> Complex:
        """Admittances of the whole set with the source in it."""
        return self._driven(self._linear)

    def _driven(self, view: Linear) -> Complex:
        matrix = view.matrix(self._omega)
        matrix.between(self._row(view, self.source.at), self._row(view, self._minus), _SHORT)
        return matrix.values

    @staticmethod
    def _row(view: Linear, point: Point) -> int:
        node = view.net.of.get(point)
        return GROUND if node is None else view.plan.node[node]

    def _stack(self, changes: Sequence[Change], bent: Floats) -> Complex:
        """Admittances with each change, `bent` being that of the slopes. [S]."""
        stack = np.repeat(self._whole[None], len(changes), axis=0)
        for row, change in enumerate(changes):
            self._enter(stack[row], change)
        for number, rows in enumerate(self._valve_rows):
            for i, row in enumerate(rows):
                for j, column in enumerate(rows):
                    if GROUND not in (row, column):
                        stack[:, row, column] += bent[:, number, i, j]
        return stack

    def _enter(self, matrix: Complex, change: Change) -> None:
        """What a fault adds to the admittances."""
        for a, b, siemens in change.siemens:
            _between(matrix, self._row(self._linear, a), self._row(self._linear, b), siemens)
        for branch in self.state.net.branches if change.farads else ():
            left = change.farads.get(branch.name)
            if left is not None:
                lost = 1j * self._omega * branch.value * (left - 1)
                near, far = (self._row(self._linear, p) for p in (branch.a, branch.b))
                _between(matrix, near, far, lost)

    @cached_property
    def _valve_rows(self) -> tuple[tuple[int, ...], ...]:
        """Rows of grid, screen, anode and cathode of each section."""
        electrodes = {v.name: v.electrodes for v in self.state.net.valves}
        found = []
        for fitted in self.state.system.valves:
            at = electrodes[fitted.name]
            k = at["cathode"]
            points = (at["grid"], at.get("screen", k), at["anode"], k)
            found.append(tuple(self._row(self._linear, p) for p in points))
        return tuple(found)

    @cached_property
    def _slopes_before(self) -> Floats:
        """Slopes of each section of the whole set as a matrix of its four electrodes. [S]."""
        flows = [self.state.flow(v.name) for v in self.state.system.valves]
        slopes = [flow.slopes for flow in flows if flow is not None]
        return _four(np.array(slopes, dtype=np.float64).reshape(-1, 3, 3))

    def _bent(self, changes: Sequence[Change], states: States) -> Floats:
        """By how much the slopes differ from those of the whole set: change, section, 4 by 4."""
        each = np.arange(len(changes))
        bent = np.zeros((len(changes), *self._slopes_before.shape))
        for number, fitted in enumerate(self.state.system.valves):
            volts = states.x[each[:, None], states.valve_rows[:, number]]
            flows = valve(fitted.model, *(volts[:, i] - volts[:, 3] for i in range(3)))
            slopes = _four(states.emission[:, number, None, None] * flows.slopes)
            bent[:, number] = slopes - self._slopes_before[number]
        return bent

    def _parted(self, fault: Fault, probes: Sequence[Probe]) -> Floats:
        """Levels with some points cut off from the rest of their node, valves as they were. [V]."""
        apart, circuit = fault.change.apart, self.state.net.circuit
        links: list[Link] = [k for k in circuit.links if (k.a in apart) == (k.b in apart)]
        cut: Circuit = circuit.but(links=links)
        net = network(cut, self.state.net.conditions)
        view = Linear(self.state, net, layout(net))
        x = np.append(np.linalg.solve(self._driven(view), self._right(view)), 0.0)
        ends = [[self._row(view, p) for p in (probe.at, probe.to)] for probe in probes]
        return np.asarray(np.abs([x[a] - x[b] for a, b in ends]), dtype=np.float64)

    def _right(self, view: Linear) -> Complex:
        right = np.zeros(view.plan.size, dtype=np.complex128)
        for point, sign in ((self.source.at, 1.0), (self._minus, -1.0)):
            row = self._row(view, point)
            if row != GROUND:
                right[row] += sign * _SHORT * self.source.volts
        return right


def score(levels: Floats) -> Floats:
    """Levels as they are scored."""
    return np.asarray(np.vectorize(lambda v: scored(TONE, v), otypes=[np.float64])(levels))


def _four(slopes: Floats) -> Floats:
    """Slopes of grid, screen and anode as a matrix of four electrodes, the cathode the last."""
    wide = np.concatenate([slopes, -np.sum(slopes, axis=-1, keepdims=True)], axis=-1)
    return np.concatenate([wide, -np.sum(wide, axis=-2, keepdims=True)], axis=-2)


def _between(matrix: Complex, a: int, b: int, value: complex) -> None:
    for row, other in ((a, b), (b, a)):
        if row != GROUND:
            matrix[row, row] += value
            if other != GROUND:
                matrix[row, other] -= value
