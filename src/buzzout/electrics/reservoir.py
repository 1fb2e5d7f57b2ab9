"""Reservoirs and choke inputs: ripple, and what a finite capacitor does to the mean.

The law of `rectifier` assumes a reservoir so large that its voltage stands still; `charging` gives
what the real one does. The difference of the two means is handed back as a lift to the paths.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from buzzout.electrics.charging import Charged, Feed, charged
from buzzout.electrics.mains import MainsSide
from buzzout.electrics.paths import Way
from buzzout.electrics.rectifier import Pulse, critical

_BARE = 0.3  # paths that share so much of their resistance have no capacitor behind them
_CHOKE_OHMS = 100.0  # an inductive input of less than this is wiring, not a choke


@dataclass(frozen=True, slots=True)
class Reservoir:
    """What a path feeds. [F], [V], [A].

    `lift` is added to the voltage that drives the path; `choke` is the number of paths that feed
    one choke (0 for a capacitor) and `reactance` that of the choke at mains frequency [ohm];
    `group` numbers the paths that share a reservoir; `ripple` is peak to peak; `critical` the
    current below which the choke runs dry in each half cycle; `bare` says that no capacitor smooths
    the half waves; `lone` that a single path feeds a choke, which is not modelled. `cycle` is the
    periodic state behind lift and ripple.
    """

    group: int
    farads: float = 0.0
    lift: float = 0.0
    ripple: float = 0.0
    choke: int = 0
    reactance: float = math.inf
    critical: float = 0.0
    bare: bool = False
    lone: bool = False
    cycle: Charged | None = None


def reservoirs(
    side: MainsSide,
    ways: tuple[Way, ...],
    pulses: tuple[Pulse, ...],
    hertz: float,
    before: tuple[Reservoir, ...] = (),
) -> tuple[Reservoir, ...]:
    """What every path feeds; lifts need the pulses of an earlier turn, which `before` is of."""
    groups = _groups(side, ways)
    found: list[Reservoir] = [Reservoir(g) for g in groups]
    for number in sorted(set(groups)):
        members = [i for i, g in enumerate(groups) if g == number]
        got = _one(side, hertz, members)
        feeds = [_feed(side, ways, i, sign) for sign, i in zip((1.0, -1.0), members, strict=False)]
        drain = sum(pulses[i].mean for i in members) if pulses else 0.0
        if got.farads and drain >= 1e-6 and feeds[0].peak >= 1.0:
            near = before[number].cycle if before else None
            cycle = charged(feeds, got.farads, drain, hertz, near)
            got = replace(got, lift=cycle.mean - cycle.stiff, ripple=cycle.ripple, cycle=cycle)
        for i in members:
            found[i] = got
    return tuple(found)


def _groups(side: MainsSide, ways: tuple[Way, ...]) -> list[int]:
    """Paths that feed one reservoir in turn: they share an end and are driven in counter-phase."""
    groups = list(range(len(ways)))
    for j, later in enumerate(ways):
        for i, first in enumerate(ways[:j]):
            shared = first.k == later.k or first.a == later.a
            product = side.open_circuit[i] * np.conj(side.open_circuit[j])
            free = groups.count(groups[i]) == 1 and groups[j] == j
            if shared and free and product.real < 0:
                groups[j] = groups[i]
    return groups


def _feed(side: MainsSide, ways: tuple[Way, ...], index: int, sign: float) -> Feed:
    peak, ohms = abs(side.open_circuit[index]), side.ohms[index, index].real
    return Feed(ways[index].law, float(peak), float(ohms), sign)


def _one(side: MainsSide, hertz: float, members: list[int]) -> Reservoir:
    """What some paths feed, by the impedance in front of it; a capacitor is not yet charged."""
    first = members[0]
    z = complex(side.ohms[first, first])
    if z.imag > max(_CHOKE_OHMS, z.real):
        if len(members) == 1:
            return Reservoir(first, lone=True)
        least = critical(float(abs(side.open_circuit[first])), z.imag)
        return Reservoir(first, choke=2, reactance=z.imag, critical=least)
    shared = float(side.ohms[first, members[-1]].real) if len(members) == 2 else 0.0
    if shared > _BARE * z.real:
        return Reservoir(first, choke=2, bare=True)
    if z.imag > -0.2 * z.real or z.imag > -1e-3 or z.imag < -1e7:
        return Reservoir(first)
    return Reservoir(first, -1 / (2 * math.pi * hertz * z.imag))
