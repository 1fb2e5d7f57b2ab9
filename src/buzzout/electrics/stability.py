"""Does the whole circuit oscillate by itself, and where.

The determinant of the small-signal matrix over that of the same network without any valve is
Bode's return difference for all valves at once [1]. The passive network has no growing mode, so by
the argument principle half the turns that the ratio makes round the origin from zero to very high
frequency count the growing pairs. Their complex frequencies are then found by iteration.

Stray wiring capacitance and the leakage inductance of transformers are not in the file, so nothing
is said about instability above the audio range.

References
----------
.. [1] H. W. Bode, Network Analysis and Feedback Amplifier Design (1945), chapters 4 and 8.
"""

from __future__ import annotations

import cmath
import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from buzzout.electrics.alternating import Admittances, Complex
from buzzout.electrics.network import Floats
from buzzout.electrics.operating import Operating
from buzzout.electrics.signal import Signals, connected, linear

_LOW, _HIGH = 1e-4, 1e11  # the axis is followed from here to there [Hz]
_STRIDE, _FINEST = 1.6, 1.0002  # ratio of neighbouring frequencies: first try, and finest
_TURN = 0.6  # largest step of the phase before the frequency step is made finer [rad]
_STEPS = 3000  # budget of points on the axis
_ITERATIONS, _GUESSES, _TRIES = 60, 12, 5
_SLOWEST, _HARDLY = 0.01, 0.01  # below this a mode has no frequency [Hz]; share of its rate [1]
_RATES, _HALVINGS = 121, 30  # rates that are looked at along the axis; steps to find one


@dataclass(frozen=True, slots=True)
class Growth:
    """One mode that grows: its frequency [Hz] and its rate [1/s], as in exp(rate t)."""

    hertz: float
    rate: float

    @property
    def s(self) -> complex:
        """The complex frequency. [1/s]."""
        return complex(self.rate, 2 * math.pi * self.hertz)

    @property
    def drifts(self) -> bool:
        """It grows without swinging, or too slowly to be called a tone: it has no frequency."""
        return self.hertz < _SLOWEST or 2 * math.pi * self.hertz < _HARDLY * self.rate


@dataclass(frozen=True, slots=True)
class Stability:
    """Number of growing modes (a pair counts as one) and those that were located, fastest first.

    Two that grow without swinging count as a pair and are both among the located ones.
    `counted` is False where the budget of steps did not suffice to follow the phase.
    """

    modes: int
    growing: tuple[Growth, ...]
    counted: bool


def stability(state: Operating, *, farads: bool = True) -> Stability:
    """Growing modes of a set at its operating point."""
    view = linear(state, farads=farads)
    return _stability(view.admittances, replace(view, amplify=False).admittances)


def under(got: Signals) -> Stability:
    """Growing modes of the network of an answer, with its source on it."""
    dead = replace(got.view, amplify=False)
    return _stability(connected(got.view, got.drive), connected(dead, got.drive))


def _stability(live: Admittances, dead: Admittances) -> Stability:
    live = live.reduced()
    steps, whole = _walk(live, dead.reduced())
    zeros = max(round(-sum(turn for _, turn in steps) / math.pi), 0)
    return Stability((zeros + 1) // 2, _locate(live, steps, zeros), whole)


def _return_differences(live: Admittances, dead: Admittances, hertz: Floats) -> Complex:
    """Direction of Bode's return difference of all valves at each frequency, but for a sign."""
    axis = (2 * math.pi * hertz).tolist()
    return np.array([_determinant(live, w)[0] / _determinant(dead, w)[0] for w in axis])


def _determinant(view: Admittances, omega: complex) -> tuple[complex, float]:
    """Direction of the determinant and the logarithm of its size."""
    direction, size = np.linalg.slogdet(view.at(omega).values)
    return complex(direction), float(size)


def _walk(live: Admittances, dead: Admittances) -> tuple[list[tuple[float, float]], bool]:
    """Turning of the phase along the axis: frequency [Hz] and step [rad] of each point.

    Where the phase turns far between two frequencies, the one in the middle is looked at as well.
    """
    count = math.ceil(math.log(_HIGH / _LOW) / math.log(_STRIDE)) + 1
    hertz = np.geomspace(_LOW, _HIGH, count)
    values = _return_differences(live, dead, hertz)
    while True:
        turns = np.angle(values[1:] / values[:-1])
        far = (np.abs(turns) > _TURN) & (hertz[1:] > hertz[:-1] * _FINEST)
        if not far.any() or len(hertz) > _STEPS:
            return list(zip(hertz[1:].tolist(), turns.tolist(), strict=True)), not far.any()
        between = np.sqrt(hertz[1:] * hertz[:-1])[far]
        places = np.flatnonzero(far) + 1
        hertz = np.insert(hertz, places, between)
        values = np.insert(values, places, _return_differences(live, dead, between))


def _locate(view: Admittances, steps: list[tuple[float, float]], zeros: int) -> tuple[Growth, ...]:
    """Growing modes: what grows without swinging, then others by Newton on the determinant.

    Newton starts where the phase turns back fastest. A start that leads to a mode that dies away is
    tried again with that mode divided out. Of the `zeros` one that swings is two.
    """
    known: list[complex] = [complex(s) for s in _straight(view)] if zeros else []
    for hertz in _suspects(steps):
        for _ in range(_TRIES):
            if sum(1 + (s.imag > 0) for s in known if s.real > 0) >= zeros:
                break
            s = _newton(view, 2j * math.pi * hertz, known)
            if s is None or any(abs(s - t) <= 1e-3 * abs(s) for t in known):
                break
            known.append(s)
            if s.real > 0:
                break
    found = [s for s in known if s.real > 0]
    told = [Growth(float(abs(s.imag)) / (2 * math.pi), float(s.real)) for s in found]
    return tuple(sorted(told, key=lambda g: (-g.rate, g.hertz)))


def _straight(view: Admittances) -> list[float]:
    """Where the determinant changes its sign on the growing half of the real axis. [1/s]."""

    def sign(s: float) -> bool:
        return _determinant(view, s / 1j)[0].real > 0

    rates = np.geomspace(2 * math.pi * _LOW, 2 * math.pi * _HIGH, _RATES).tolist()
    signs = [sign(s) for s in rates]
    return [
        _between(sign, rates[i], rates[i + 1])
        for i in range(_RATES - 1)
        if signs[i] != signs[i + 1]
    ]


def _between(sign: Callable[[float], bool], low: float, high: float) -> float:
    """Where a sign changes between two rates. [1/s]."""
    first = sign(low)
    for _ in range(_HALVINGS):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if sign(middle) == first else (low, middle)
    return math.sqrt(low * high)


def _suspects(steps: list[tuple[float, float]]) -> list[float]:
    """Where the phase turns back faster than on either side, the fastest first. [Hz]."""
    pairs = itertools.pairwise(steps)
    rates = [(turn / math.log(hertz / before), hertz) for (before, _), (hertz, turn) in pairs]
    lows = [
        here
        for last, here, following in zip(rates, rates[1:], rates[2:], strict=False)
        if here[0] < 0 and here[0] <= last[0] and here[0] <= following[0]
    ]
    return [hertz for _, hertz in sorted(lows)][:_GUESSES]


def _newton(view: Admittances, s: complex, known: list[complex]) -> complex | None:
    """A zero of the determinant near s, those already known divided out."""
    for _ in range(_ITERATIONS):
        h = 1e-5 * abs(s) + 1e-6
        here, there = (_determinant(view, p / 1j) for p in (s, s + h))
        slope = (there[1] - here[1] + 1j * cmath.phase(there[0] / here[0])) / h
        slope -= sum(1 / (s - t) + 1 / (s - t.conjugate()) for t in known)
        if slope == 0 or not cmath.isfinite(slope):
            return None
        step = -1 / slope
        if abs(step) > 0.5 * abs(s):
            step *= 0.5 * abs(s) / abs(step)
        s += step
        if abs(step) < 1e-5 * abs(s):
            return s if s.imag >= 0 else s.conjugate()
    return None
