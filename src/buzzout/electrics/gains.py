"""What tolerances make of gains and loops: the signal through many sets of good parts.

The sets are those of the operating point (see `samples`), each with its own slopes of the valves;
capacitors take a value of their own as well. Coupled windings and rectifiers stay as computed.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from buzzout.circuit import CHASSIS, Point
from buzzout.electrics.alternating import Complex
from buzzout.electrics.loops import Cut, Oscillation
from buzzout.electrics.network import LEAST_OHMS, Floats
from buzzout.electrics.ranges import Spread
from buzzout.electrics.samples import SEED, Samples, between, strata, tie
from buzzout.electrics.signal import Linear, Signals, driven
from buzzout.electrics.system import GROUND

_ROUND = 1.6  # a loop is looked at from its frequency over this to so many times it
_FREQUENCIES = 13


@dataclass(frozen=True)
class Gains:
    """The gains of one answer, in the middle set and in all others. Make it with `gains`."""

    signals: Signals
    ranges: Spread

    def size(self, at: Point, to: Point = CHASSIS) -> tuple[float, float, float]:
        """Size of the gain, lowest and highest. [1]."""
        middle = abs(self.signals.gain(at, to))
        if self._sets is None or math.isnan(middle):
            return middle, middle, middle
        return (middle, *self.ranges.span(middle, np.abs(self._volts(at) - self._volts(to))))

    @cached_property
    def _sets(self) -> Complex | None:
        """Phasors of every set, with a column for the chassis. [V]."""
        samples = self.ranges.samples
        if samples is None:
            return None
        view, omega = self.signals.view, 2 * math.pi * self.signals.hertz
        matrix = view.matrix(omega)
        right = driven(matrix, view, self.signals.drive)
        every = each_matrix(samples, view, matrix.values, omega)
        x = np.linalg.solve(every, np.repeat(right[None, :, None], len(every), axis=0))[:, :, 0]
        return np.concatenate([x, np.zeros((len(x), 1))], axis=1)

    def _volts(self, point: Point) -> Complex:
        assert self._sets is not None
        return np.asarray(self._sets[:, self.signals.plan.node[self.signals.net.of[point]]])


def gains(signals: Signals, ranges: Spread) -> Gains:
    """Gains with their ranges, for an answer and the ranges of its operating point."""
    return Gains(signals, ranges)


def each_matrix(samples: Samples, view: Linear, middle: Complex, omega: float) -> Complex:
    """The matrix of every settled set, from that of the middle one. [S]."""
    kept, size = samples.settled, len(middle)
    whole = np.zeros((int(kept.sum()), size + 1, size + 1), dtype=np.complex128)
    whole[:, :size, :size] = middle
    node, of = view.plan.node, view.net.of
    cores = set(view.plan.cores)
    for number, b in enumerate(samples.branches):
        if b.henries or (b.role == "winding" and b.part in cores):
            continue
        now = 1 / np.maximum(samples.draw.ohms[kept, number], LEAST_OHMS)
        tie(whole, node[of[b.a]], node[of[b.b]], now - 1 / max(b.value, LEAST_OHMS))
    rng = random.Random(SEED)  # noqa: S311 - a fixed draw, no secret
    for b in view.net.branches:
        if b.kind == "capacitor" and math.isfinite(b.high) and b.high > b.low:
            farads = between(b.value, b.low, b.high, strata(rng, len(kept)))[kept] - b.value
            tie(whole, node[of[b.a]], node[of[b.b]], np.asarray(1j * omega * farads))
    _put_slopes(whole, samples, view)
    return whole[:, :size, :size]


def _put_slopes(whole: Complex, samples: Samples, view: Linear) -> None:
    """The slopes of every valve beyond those of the middle set."""
    state, kept = samples.state, samples.settled
    at = {valve.name: valve.electrodes for valve in view.net.valves}
    for index, fitted in enumerate(state.system.valves):
        flow, points = state.flow(fitted.name), at.get(fitted.name)
        if flow is None or points is None:
            continue
        rows = {role: view.plan.node[view.net.of[p]] for role, p in points.items()}
        k = rows["cathode"]
        ends = (rows["grid"], rows.get("screen", k), rows["anode"])
        own = samples.flows(index, samples.x[kept]).slopes
        more = samples.draw.emission[kept, index][:, None, None] * own - np.array(flow.slopes)
        for i, row in enumerate(ends):
            for j, column in enumerate(ends):
                for end, sign in ((row, 1.0), (k, -1.0)):
                    whole[:, end, column] += sign * more[:, i, j]
                    whole[:, end, k] -= sign * more[:, i, j]


@dataclass(frozen=True, slots=True)
class LoopRange:
    """What tolerances make of an oscillation: spans of frequency [Hz] and loop gain [1].

    `starts` is the share of the sets whose loop gain suffices; sets whose phase nowhere comes back
    near the middle frequency count as silent.
    """

    hertz: tuple[float, float]
    gain: tuple[float, float]
    starts: float


def loop_range(loop: Cut, found: Oscillation, ranges: Spread) -> LoopRange | None:
    """An oscillation of one loop in many sets of good parts; None where there are none."""
    samples = ranges.samples
    if samples is None:
        return None
    grid = np.geomspace(found.hertz / _ROUND, found.hertz * _ROUND, _FREQUENCIES)
    told = np.array([_loop_gains(loop, samples, float(hertz)) for hertz in grid])
    pairs = [_crossing(np.log(grid), told[:, s]) for s in range(told.shape[1])]
    hertz = np.array([math.exp(p[0]) for p in pairs if p is not None])
    sizes = np.array([p[1] for p in pairs if p is not None])
    if not len(sizes):
        return None
    starts = float(np.sum(sizes > 1.0)) / len(pairs)
    return LoopRange(ranges.span(found.hertz, hertz), ranges.span(found.gain, sizes), starts)


def _loop_gains(loop: Cut, samples: Samples, hertz: float) -> Complex:
    """Loop gain of every set at one frequency, as `Cut.at` has it."""
    omega, plan, of = 2 * math.pi * hertz, loop.view.plan, loop.view.net.of
    rows = [plan.node[of[p]] for p in (loop.lead, loop.beyond)]
    every = each_matrix(samples, loop.view, loop.view.matrix(omega).values, omega)
    if GROUND in rows:
        return np.zeros(len(every), dtype=np.complex128)
    right = np.zeros((plan.size, 2), dtype=np.complex128)
    right[rows, [0, 1]] = 1.0
    z = np.linalg.solve(every, np.repeat(right[None], len(every), axis=0))[:, rows, :]
    return np.asarray((z[:, 0, 1] + z[:, 1, 0]) / (z[:, 0, 0] + z[:, 1, 1]))


def _crossing(at: Floats, gains_: Complex) -> tuple[float, float] | None:
    """Where the phase comes back with the largest gain: place and gain."""
    best: tuple[float, float] | None = None
    for i in range(len(at) - 1):
        one, two = gains_[i], gains_[i + 1]
        if one.imag * two.imag < 0:
            share = one.imag / (one.imag - two.imag)
            gain = float(one.real + share * (two.real - one.real))
            if gain > 0 and (best is None or gain > best[1]):
                best = float(at[i] + share * (at[i + 1] - at[i])), gain
    return best
