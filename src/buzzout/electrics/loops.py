"""Loops broken at one lead: loop gain, and where it sustains an oscillation (Barkhausen).

With the two sides of the broken lead as a two-port Y (A the lead, B what it was taken from) and
each side loaded as it was, the loop gain is -(Y_AB + Y_BA) / (Y_AA + Y_BB). It is exactly 1 where
the closed circuit has a natural oscillation, whatever lead of the loop is taken.
"""

from __future__ import annotations

import cmath
import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from buzzout.circuit import Circuit, Point
from buzzout.electrics.alternating import layout
from buzzout.electrics.operating import Operating
from buzzout.electrics.signal import Linear, lifted
from buzzout.electrics.system import GROUND


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
    """A loop broken at one lead, ready for any frequency. `beyond` is a point it was taken from."""

    view: Linear
    lead: Point
    beyond: Point

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
    """Break a loop at a lead; None where the lead joins nothing."""
    if lead not in state.net.of:
        return None
    beyond = [link.other(lead) for link in state.net.circuit.links if link.touches(lead)]
    if not beyond:
        return None
    net = lifted(state.net, lead)
    return Cut(Linear(state, net, layout(net), farads), lead, beyond[0])


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
    loop: Cut, low: float = 1.0, high: float = 20_000.0, points: int = 90
) -> tuple[Oscillation, ...]:
    """Frequencies between `low` and `high` without phase shift, the largest gain first.

    For a single loop, as a phase-shift oscillator is. Where other paths lead round the same valve,
    see `stability`, which looks at the whole circuit.
    """
    grid = np.geomspace(low, high, points)
    phases = [(float(f), loop.at(float(f)).gain) for f in grid]
    found = []
    for (f1, one), (f2, two) in itertools.pairwise(phases):
        turns = one.imag * two.imag < 0 and abs(cmath.phase(one) - cmath.phase(two)) < math.pi
        if turns and (one.real > 0 or two.real > 0):
            found.append(_refine(loop, f1, f2))
    return tuple(sorted(found, key=lambda o: (-o.gain, o.hertz)))


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
