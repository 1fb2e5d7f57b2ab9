"""Loops broken at one lead: loop gain, and where it sustains an oscillation (Barkhausen).

With the two sides of the broken lead as a two-port Y (A the lead, B what it was taken from) and
each side loaded as it was, the loop gain is -(Y_AB + Y_BA) / (Y_AA + Y_BB). It is exactly 1 where
the closed circuit has a natural oscillation, whatever lead of the loop is taken.

Coils in a loop, which are known by the inductances of their windings, are coupled by a factor that
no file tells: 0.3 is taken, common practice for two windings side by side on one former, and the
least factor with which the loop starts is told beside it.
"""

from __future__ import annotations

import cmath
import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from buzzout.circuit import Circuit, Point
from buzzout.electrics.alternating import layout
from buzzout.electrics.around import Around
from buzzout.electrics.operating import Operating
from buzzout.electrics.signal import Linear, lifted
from buzzout.electrics.system import GROUND

COUPLING = 0.3  # between the windings of a coil, common practice [1]
FACTORS = (0.02, 0.03, 0.05, 0.07, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)
_HEARD = 20_000.0  # as far as a loop without a coil is looked at [Hz]
_SHORT_WAVE = 30e6  # and one with a coil: no stray capacitance is in the file [Hz]
_POINTS, _TUNED_POINTS = 90, 240
# Where the phase turns by more between two frequencies, the one between is looked at as well [rad],
# until they are so near, or so many were looked at.
_TURN, _FINEST, _MOST = 0.6, 1.0001, 2000


@dataclass(frozen=True, slots=True)
class Loop:
    """Loop gain at one frequency. `gain` is complex; 1 means that it just sustains itself."""

    hertz: float
    gain: complex

    @property
    def decibels(self) -> float:
        """Size of the loop gain. [dB]."""
        return 20 * math.log10(max(abs(self.gain), 1e-30))


@dataclass(frozen=True)
class Cut:
    """A loop broken at one lead, ready for any frequency. `beyond` is a point it was taken from.

    `around` is what it leads through.
    """

    view: Linear
    lead: Point
    beyond: Point
    around: Around

    @property
    def coils(self) -> tuple[str, ...]:
        """Coils in it that are taken by their inductances and a coupling factor."""
        return tuple(self.view.plan.coils)

    def coupled(self, factor: float) -> Cut:
        """The same with its coils coupled by another factor. [1]."""
        plan = layout(self.view.net, dict.fromkeys(self.coils, factor))
        return replace(self, view=replace(self.view, plan=plan))

    @cached_property
    def oscillations(self) -> tuple[Oscillation, ...]:
        """Where it has no phase shift: in the audio range, and with a coil in it to short wave."""
        if self.around.tuned:
            return oscillations(self, 1.0, _SHORT_WAVE, _TUNED_POINTS)
        return oscillations(self, 1.0, _HEARD, _POINTS)

    @cached_property
    def least(self) -> float | None:
        """The least coupling factor of its coils, in steps, with which it starts; None if none."""
        if not self.coils:
            return None
        starting = (f for f in FACTORS if any(o.starts for o in self.coupled(f).oscillations))
        return next(starting, None)

    @cached_property
    def turned(self) -> str:
        """The coil with which it would start if one winding were turned round; "" if none."""
        if self.sustained or self.least:
            return ""
        return next((name for name in self.coils if self._turned(name).sustained), "")

    def _turned(self, coil: str) -> Cut:
        """The same with the first winding of a coil the other way round."""
        plan = self.view.plan
        first = next(p.label for p in plan.pieces if p.part == coil)
        pieces = (
            replace(p, turns=-p.turns) if (p.part, p.label) == (coil, first) else p
            for p in plan.pieces
        )
        return replace(self, view=replace(self.view, plan=replace(plan, pieces=tuple(pieces))))

    @cached_property
    def missing(self) -> tuple[str, ...]:
        """What stands in the way of a verdict: of a loop that starts, nothing but its coils."""
        if self.around.untold or self.sustained or self.least:
            return self.around.untold
        return self.around.blind

    @property
    def starts(self) -> bool | None:
        """Whether it starts; None where that is not known, or hangs on the factor of its coils."""
        if self.missing or (self.least and not self.sustained):
            return None
        return self.sustained

    @property
    def sustained(self) -> bool:
        """Whether it starts as it is computed."""
        return any(o.starts for o in self.oscillations)

    def at(self, hertz: float) -> Loop:
        """Loop gain at a frequency."""
        plan, of = self.view.plan, self.view.net.of
        rows = [plan.node[of[p]] for p in (self.lead, self.beyond)]
        if GROUND in rows:
            return Loop(hertz, 0j)
        right = np.zeros((plan.size, 2), dtype=np.complex128)
        right[rows, [0, 1]] = 1.0
        z = self.view.solve(2 * math.pi * hertz, right)[rows, :]
        # -(Yab + Yba) / (Yaa + Ybb), written with the impedances to spare an inversion
        return Loop(hertz, complex((z[0, 1] + z[1, 0]) / (z[0, 0] + z[1, 1])))


def cut(state: Operating, lead: Point, *, farads: bool = True) -> Cut | None:
    """Break a loop at a lead; None where the lead joins nothing.

    The coils in it are coupled by `COUPLING`.
    """
    if lead not in state.net.of:
        return None
    beyond = [link.other(lead) for link in state.net.circuit.links if link.touches(lead)]
    if not beyond:
        return None
    net = lifted(state.net, lead)
    around = Around(state, net, (lead, *beyond))
    plan = layout(net, dict.fromkeys(around.coils, COUPLING))
    return Cut(Linear(state, net, plan, farads), lead, beyond[0], around)


@dataclass(frozen=True, slots=True)
class Oscillation:
    """Where a loop has no phase shift. `gain` is the loop gain there, above 1 it starts. [Hz].

    `margin` is how much of the loop gain may be lost before it stops. [dB]
    """

    hertz: float
    gain: float

    @property
    def starts(self) -> bool:
        """The loop gain suffices to start."""
        return self.gain > 1.0

    @property
    def margin(self) -> float:
        """Loop gain in decibels: negative where it is missing."""
        return 20 * math.log10(max(self.gain, 1e-30))


def oscillations(
    loop: Cut, low: float = 1.0, high: float = _HEARD, points: int = _POINTS
) -> tuple[Oscillation, ...]:
    """Frequencies between `low` and `high` without phase shift, the largest gain first.

    For a single loop, as a phase-shift oscillator is. Where other paths lead round the same valve,
    see `stability`, which looks at the whole circuit.
    """
    phases = _followed(loop, [float(f) for f in np.geomspace(low, high, points)])
    found = []
    for (f1, one), (f2, two) in itertools.pairwise(phases):
        turns = one.imag * two.imag < 0 and abs(cmath.phase(one) - cmath.phase(two)) < math.pi
        if turns and (one.real > 0 or two.real > 0):
            found.append(_refine(loop, f1, f2))
    return tuple(sorted(found, key=lambda o: (-o.gain, o.hertz)))


def _followed(loop: Cut, hertz: list[float]) -> list[tuple[float, complex]]:
    """Loop gain at each frequency, and at as many between them as it takes to follow the phase."""
    told = [(f, loop.at(f).gain) for f in hertz]
    while True:
        between = [
            math.sqrt(f1 * f2)
            for (f1, one), (f2, two) in itertools.pairwise(told)
            if f2 > f1 * _FINEST and abs(cmath.phase(two * one.conjugate())) > _TURN
        ]
        if not between or len(told) > _MOST:
            return told
        told = sorted([*told, *((f, loop.at(f).gain) for f in between)], key=lambda each: each[0])


def _refine(loop: Cut, low: float, high: float) -> Oscillation:
    """Bisection on the phase, to a millionth of the frequency."""
    sign = loop.at(low).gain.imag > 0
    for _ in range(40):
        middle = math.sqrt(low * high)
        if (loop.at(middle).gain.imag > 0) == sign:
            low = middle
        else:
            high = middle
        if high / low < 1 + 1e-7:
            break
    middle = math.sqrt(low * high)
    return Oscillation(middle, loop.at(middle).gain.real)


def with_values(circuit: Circuit, values: Mapping[str, float]) -> Circuit:
    """The circuit with some parts at other values, as found ones may be. Base units."""
    parts = dict(circuit.parts)
    for name, value in values.items():
        old = parts[name].value
        if old is not None:
            parts[name] = replace(parts[name], value=replace(old, value=value, text=""))
    return circuit.but(parts)
