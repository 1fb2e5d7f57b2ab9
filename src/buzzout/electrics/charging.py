"""A reservoir capacitor charged by rectifier paths and drained by a steady current.

The periodic state by implicit steps through one mains cycle, closed by the secant method.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from buzzout.electrics.rectifier import Law, pulse

_STEPS = 360  # steps of one mains cycle
_WAVES = tuple(math.sin(2 * math.pi * n / _STEPS) for n in range(1, _STEPS + 1))
_BRACKETED = 60
_PASSES = 12  # cycles or secant steps towards the periodic state


@dataclass(frozen=True, slots=True)
class Feed:
    """One path that charges a reservoir. [V], [ohm]; `sign` tells the half cycle."""

    law: Law
    peak: float
    ohms: float
    sign: float


def stiff_mean(feeds: list[Feed], drain: float, near: float | None = None) -> float:
    """Voltage of an infinite reservoir that loses a current; `near` is where to begin. [V].

    The mean current falls with the voltage, so Newton inside a bracket that closes at each step.
    """
    crest = max(feed.peak for feed in feeds)
    low, high, volts = -10 * crest, crest, 0.7 * crest
    if near is not None and low < near < high:
        volts = near
    for _ in range(_BRACKETED):
        told = [pulse(f.law, -volts, f.peak, f.ohms) for f in feeds]
        over = sum(p.mean for p in told) - drain
        low, high = (volts, high) if over > 0 else (low, volts)
        step = over / sum(p.slope for p in told)
        volts = volts + step if low < volts + step < high else (low + high) / 2
        if abs(step) < 1e-6 * crest or high - low < 1e-9 * crest:
            break  # what is left is the square of that step
    return volts


@dataclass(frozen=True, slots=True)
class Charged:
    """A reservoir in its periodic state: mean, ripple peak to peak, mean if infinite. [V].

    `start` is the voltage where the cycle begins. [V]
    """

    mean: float
    ripple: float
    stiff: float
    start: float


def charged(
    feeds: list[Feed], farads: float, drain: float, hertz: float, near: Charged | None = None
) -> Charged:
    """The periodic state of a finite reservoir; `near` is one that differs little, to begin at."""
    stiff = stiff_mean(feeds, drain, near.stiff if near else None)
    start = near.start + stiff - near.stiff if near else stiff
    slope_at: tuple[float, float] | None = None
    cycle: list[float] = []
    for _ in range(_PASSES):
        cycle = _cycle(feeds, farads, drain, hertz, start)
        gap = cycle[-1] - start
        if abs(gap) < 1e-6 * max(abs(start), 1.0):
            break
        following = cycle[-1]
        if slope_at is not None and abs(gap - slope_at[1]) > 1e-12:
            secant = start - gap * (start - slope_at[0]) / (gap - slope_at[1])
            following = secant if abs(secant - start) < 0.5 * abs(start) + 10 else cycle[-1]
        slope_at, start = (start, gap), following
    return Charged(sum(cycle) / len(cycle), max(cycle) - min(cycle), stiff, start)


def _cycle(
    feeds: list[Feed], farads: float, drain: float, hertz: float, volts: float
) -> list[float]:
    """Reservoir voltage through one cycle, by implicit steps. [V]."""
    per_amp = 1 / (hertz * _STEPS) / farads
    lost = drain * per_amp
    fed = [(feed.law, feed.sign * feed.peak, feed.ohms + per_amp) for feed in feeds]
    told = []
    for wave in _WAVES:
        volts -= lost
        for law, crest, ohms in fed:
            drive = crest * wave - volts
            if drive > 0:
                volts += per_amp * current(law, drive, ohms)
        told.append(volts)
    return told


def current(law: Law, drive: float, ohms: float) -> float:
    """Current of a rectifier behind a resistance at one voltage. [A]. See `rectifier.driven`."""
    if law.k == 0:
        return max(drive - law.knee, 0.0) / (ohms + law.ohms)
    scale = math.sqrt(3 * drive)
    angle = 1.5 * ohms * law.k * scale
    third = math.cos(math.acos(angle) / 3) if angle < 1 else math.cosh(math.acosh(angle) / 3)
    return law.k * (scale / (2 * third)) ** 3


def law_from_output(
    output: tuple[float, float], rms: float, ohms: float, farads: float, hertz: float = 50.0
) -> Law | None:
    """Three-halves law of a full-wave rectifier from a published output.

    Parameters
    ----------
    output : tuple
        Direct current [A] and voltage on the reservoir [V] that the sheet prints.
    rms, ohms, farads, hertz : float
        Voltage per anode [V], resistance in front of each [ohm], reservoir [F], mains [Hz].

    Returns
    -------
    Law or None
        None where even a rectifier without any drop would not give the printed voltage.
    """
    amps, volts = output
    low, high = 1e-6, 1.0
    if _output(high, amps, rms, (ohms, farads, hertz)) < volts:
        return None
    for _ in range(17):  # six decades to a ten-thousandth of one
        middle = math.sqrt(low * high)
        if _output(middle, amps, rms, (ohms, farads, hertz)) < volts:
            low = middle
        else:
            high = middle
    return Law(k=math.sqrt(low * high))


def _output(k: float, amps: float, rms: float, behind: tuple[float, float, float]) -> float:
    ohms, farads, hertz = behind
    peak = rms * math.sqrt(2)
    feeds = [Feed(Law(k=k), peak, ohms, sign) for sign in (1.0, -1.0)]
    return charged(feeds, farads, amps, hertz).mean
