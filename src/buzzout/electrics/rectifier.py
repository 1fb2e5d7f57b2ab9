"""Rectifiers by their conduction angle: mean, r.m.s. and peak current of one path over a cycle.

A path sees a steady voltage u, an alternating one with peak E, and a resistance R that carries the
current pulses. In the part of the cycle where u + E sin(t) drives it, i(t) follows from the law of
the rectifier in series with R. The mean is taken by Gauss-Legendre quadrature from the edge of
conduction to the crest, so it is smooth in u. For an ideal rectifier this is the textbook relation
tan(a) - a = pi R / (n RL), Vdc/E = cos(a) [1].

References
----------
.. [1] O. H. Schade, Analysis of rectifier operation, Proc. IRE 31 (1943) 341, same assumptions.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

import numpy as np

from buzzout.electrics.network import Floats

NODES, WEIGHTS = np.polynomial.legendre.leggauss(32)
_TO_CREST, _WITH_CREST = np.append(NODES, 1.0), np.append(WEIGHTS, 0.0)  # the crest itself beside
_SOFT = 0.02  # softness of a silicon diode's knee [V]
_LEAST = 1e-6  # below this a path into a choke has gone dry [A]
LEAK = 1e-9  # leakage of any rectifier that does not conduct [S]


@dataclass(frozen=True, slots=True)
class Law:
    """Current of a rectifier with its forward voltage.

    Parameters
    ----------
    k : float
        Valves: i = k v^1.5. [A/V^1.5]; 0 for a semiconductor.
    knee, ohms : float
        Semiconductors: i = (v - knee) / ohms above the knee. [V], [ohm]
    """

    k: float = 0.0
    knee: float = 0.7
    ohms: float = 1.0


SILICON = Law()


def from_drop(volts: float, amps: float) -> Law:
    """Three-halves law of a rectifier valve through one published drop."""
    return Law(k=amps / volts**1.5)


class Pulse(NamedTuple):
    """Current of one path over a cycle. `slope` is d mean / d u. [A], [A/V].

    `inphase` is the peak of the component in phase with the alternating voltage.
    """

    mean: float
    slope: float
    rms: float
    peak: float
    inphase: float


def driven(
    law: Law, volts: Floats, ohms: float | Floats, more: float | Floats = 1.0
) -> tuple[Floats, Floats]:
    """Current [A] and slope [A/V] of a rectifier in series with a resistance, at each voltage.

    `ohms`, and `more`, a factor on the current of a valve, are numbers or arrays that fit `volts`.
    With y the root of the voltage across a valve, r k y^3 + y^2 = v. That is a cubic without its
    square in 1 / y; the root above zero is Viète's, by a third of an angle.
    """
    if law.k == 0:
        lifted = (volts - law.knee) / _SOFT
        soft = np.logaddexp(0.0, lifted) * _SOFT
        whole = ohms + law.ohms
        return soft / whole, 1 / (1 + np.exp(-np.clip(lifted, -60, 60))) / whole
    k = law.k * more
    scale = np.sqrt(3 * np.maximum(volts, 0.0))
    angle = 1.5 * ohms * k * scale  # its cosine; beyond 1 the hyperbolic one
    plain = np.cos(np.arccos(np.minimum(angle, 1.0)) / 3)
    y = scale / (2 * np.where(angle < 1, plain, np.cosh(np.arccosh(np.maximum(angle, 1.0)) / 3)))
    steep = 1.5 * k * y
    return k * y**3, steep / (1 + steep * ohms)


def pulse(law: Law, u: float, peak: float, ohms: float) -> Pulse:
    """Mean and other figures of the current with u + peak sin(t) behind `ohms`."""
    start = math.asin(min(max(-u / peak, -1.0), 1.0)) if peak > 1e-9 else -math.pi / 2
    half = (math.pi / 2 - start) / 2
    shape = np.sin(start + half * (_TO_CREST + 1))
    current, slope = driven(law, u + peak * shape, ohms)
    share = _WITH_CREST * half / math.pi  # both flanks of the pulse over the whole cycle
    return Pulse(
        float(share @ current) + LEAK * u,
        float(share @ slope) + LEAK,
        math.sqrt(float(share @ current**2)),
        float(current[-1]),
        2 * float(share @ (current * shape)),
    )


def drop(law: Law, amps: float) -> tuple[float, float]:
    """Forward voltage at a steady current [V] and its slope [ohm]; steep below no current."""
    if amps < _LEAST:
        volts, _ = drop(law, _LEAST)
        return volts + (amps - _LEAST) * 1e6, 1e6
    if law.k == 0:
        return law.knee + law.ohms * amps, law.ohms
    volts = (amps / law.k) ** (2 / 3)
    return volts, 2 / 3 * volts / amps


# A choke that carries current all the time holds its output at 2/pi of the peak. Below the critical
# current it runs dry in each half cycle, and the output rises towards the peak. The current starts
# where sin(t) reaches v, the output over the peak, and ends where the choke has given back what it
# took. Here for a lossless choke in front of a large capacitor, by integrating over the pulse.
CONTINUOUS = 2 / math.pi


@cache
def _dry() -> tuple[Floats, Floats]:
    """Mean current times reactance over the peak, rising; and the output over the peak."""
    v = 1 - (1 - CONTINUOUS) * np.linspace(0.0, 1.0, 401) ** 2
    begin = np.arcsin(v)
    low, high = np.full_like(v, 1e-9), np.full_like(v, np.pi)
    for _ in range(60):  # how long the pulse lasts, by halving
        lasts = (low + high) / 2
        later = begin + lasts > np.pi  # in the half wave that follows
        fed = np.cos(begin) - np.cos(begin + lasts) + 2 * later * (1 + np.cos(begin + lasts))
        low, high = np.where(fed > v * lasts, lasts, low), np.where(fed > v * lasts, high, lasts)
    end = begin + lasts
    rest = np.cos(begin) * lasts + v - np.sin(np.minimum(end, np.pi)) - v * lasts**2 / 2
    rest += np.where(end > np.pi, 2 * (end - np.pi) + np.sin(end), 0.0)
    mean = np.maximum.accumulate(np.maximum(rest, 0.0) / np.pi)
    return mean + 1e-12 * np.arange(len(v)), v


def critical(peak: float, reactance: float) -> float:
    """Current below which a choke input of two paths runs dry in each half cycle. [A]."""
    return float(_dry()[0][-1]) * peak / reactance


def choked(amps: Floats, peak: float | Floats, reactance: float) -> tuple[Floats, Floats]:
    """Voltage behind a choke before resistances and drops, at a mean current [V]; slope [ohm].

    `reactance` is that of the choke at mains frequency [ohm], infinite where the current never
    runs dry; `peak` of the alternating voltage of both paths. [V]
    """
    if not math.isfinite(reactance):
        return CONTINUOUS * peak + 0.0 * amps, 0.0 * amps
    x, v = _dry()
    load = np.maximum(amps, 0.0) * reactance / np.maximum(peak, 1e-9)
    place = np.clip(np.searchsorted(x, load) - 1, 0, len(x) - 2)
    steep = np.where(load < x[-1], (v[place + 1] - v[place]) / (x[place + 1] - x[place]), 0.0)
    return peak * np.interp(load, x, v), reactance * steep


def flat(mean: float, paths: int) -> Pulse:
    """A path that carries the steady current of a choke for its share of the cycle."""
    whole = paths * mean
    return Pulse(mean, 0.0, math.sqrt(paths) * abs(mean), whole, 2 * whole / math.pi)


def ripple(amps: float, farads: float, hertz: float, *, full_wave: bool) -> float:
    """Ripple on a reservoir, peak to peak, by linear discharge over the whole period. [V].

    I / (2 f C) full-wave, I / (f C) half-wave: the textbook figure, on the high side by the share
    of the cycle in which the reservoir is charged.
    """
    return amps / ((2 if full_wave else 1) * hertz * farads)
