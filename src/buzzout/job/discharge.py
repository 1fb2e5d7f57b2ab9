"""How long the reservoirs hold their charge once the set is unplugged, valves cold or out.

One capacitor with one resistance falls as v(t) = V0 exp(-t/RC), so t = RC ln(V0/V). Several of them
in one network fall together: with C the diagonal of the capacitances and Z the matrix of
resistances against their common minus, v(t) = exp(-t (Z C)^-1) v(0), a sum of exponentials whose
time constants are the eigenvalues of C^1/2 Z C^1/2 [1].

References
----------
.. [1] W. C. Elmore, Journal of Applied Physics 19 (1948) 55, RC networks (from memory); the
   solution itself is that of any linear system with a symmetric matrix.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buzzout.circuit import CHASSIS, Point, printed
from buzzout.job.passages import called
from buzzout.job.rails import HT_RATING, Rails, ohmic
from buzzout.job.rulebook import figure

_HALVINGS = 60  # of the bracket of a time: more than a double can tell


@dataclass(frozen=True, slots=True)
class Discharge:
    """One reservoir, unplugged. [ohm], [F], [V], [s].

    `ohms` lie across it, `volts` is where it starts; `to_touch` and `to_work` are the times to the
    touchable and to the empty voltage, infinite where nothing discharges it. `name` is how a person
    finds it.
    """

    plus: Point
    minus: Point
    name: str
    farads: float
    ohms: float
    volts: float
    to_touch: float
    to_work: float

    def __str__(self) -> str:
        if math.isinf(self.to_touch):
            return f"{self.name} has no discharge path: it keeps {self.volts:.0f} V for hours"
        return (
            f"{self.name}: {printed(self.farads, 'F')} with {printed(self.ohms, 'ohm')} across it"
            f" takes {_seconds(self.to_touch)} from {self.volts:.0f} V to"
            f" {figure('touch-volts'):g} V, {_seconds(self.to_work)} to {figure('work-volts'):g} V"
        )


@dataclass(frozen=True, slots=True)
class _Held:
    """An electrolytic as it stands in the set. [F], [V]."""

    plus: Point
    minus: Point
    farads: float
    volts: float


def _seconds(value: float) -> str:
    """`8 s`, `2 min`."""
    return f"{max(value, 1):.0f} s" if value < 120 else f"{value / 60:.0f} min"


def discharge_time(ohms: float, farads: float, start: float, end: float) -> float:
    """Time in which one capacitor falls from one voltage to another through a resistance. [s].

    >>> round(discharge_time(33e3, 470e-6, 385, 60), 2)
    28.83
    """
    if start <= end:
        return 0.0
    return ohms * farads * math.log(start / end)


def discharges(rails: Rails) -> tuple[Discharge, ...]:
    """Every electrolytic of the HT, in the order of the file.

    A file without an HT winding is a piece of a set: what discharges it may stand elsewhere, and
    nothing is told.
    """
    start = rails.peak * (1 + figure("mains-high"))
    held = [
        _Held(plus, minus, rails.farads(plus), min(volts, start))
        for plus, minus, volts in rails.reservoirs
        if rails.raw and volts >= HT_RATING and rails.ways.node(plus) != rails.ways.node(minus)
    ]
    minuses = dict.fromkeys(rails.ways.node(one.minus) for one in held)
    groups = ([h for h in held if rails.ways.node(h.minus) == node] for node in minuses)
    told = {d.plus: d for group in groups for d in _together(rails, group)}
    return tuple(told[one.plus] for one in held)


def _together(rails: Rails, held: Sequence[_Held]) -> Iterator[Discharge]:
    """Reservoirs with one common minus, as one network."""
    across = [rails.cold.ohms(h.plus, h.minus) for h in held]
    falling = [h for h, ohms in zip(held, across, strict=True) if math.isfinite(ohms)]
    network = _Network.of(rails, falling) if falling else None
    for one, ohms in zip(held, across, strict=True):
        touch = work = math.inf
        if network is not None and one in falling:
            at = falling.index(one)
            touch, work = (network.time(at, figure(v)) for v in ("touch-volts", "work-volts"))
        name = _name(rails, one.plus)
        yield Discharge(one.plus, one.minus, name, one.farads, ohms, one.volts, touch, work)


@dataclass(frozen=True)
class _Network:
    """Voltages as sums of exponentials: `shares[i, k] * exp(-t / constants[k])`. [V], [s]."""

    constants: NDArray[np.float64]
    shares: NDArray[np.float64]

    @classmethod
    def of(cls, rails: Rails, held: Sequence[_Held]) -> _Network:
        """Capacitors and the resistances between them."""
        zero = held[0].minus
        own = np.array([rails.cold.ohms(h.plus, zero) for h in held])
        mutual = np.array([[rails.cold.ohms(a.plus, b.plus) for b in held] for a in held])
        mutual[~np.isfinite(mutual)] = np.inf
        z = np.where(np.isinf(mutual), 0.0, (own[:, None] + own[None, :] - mutual) / 2)
        root = np.sqrt(np.array([max(h.farads, 1e-12) for h in held]))
        constants, modes = np.linalg.eigh(root[:, None] * z * root[None, :])
        start = modes.T @ (root * np.array([h.volts for h in held]))
        return cls(np.maximum(constants, 1e-12), modes * start / root[:, None])

    def volts(self, at: int, time: float) -> float:
        """Voltage of one capacitor after some time. [V]."""
        return float(self.shares[at] @ np.exp(-time / self.constants))

    def time(self, at: int, end: float) -> float:
        """When one capacitor has fallen to a voltage. [s]."""
        if self.volts(at, 0.0) <= end:
            return 0.0
        low, high = 0.0, float(self.constants.max())
        while self.volts(at, high) > end:
            low, high = high, 2 * high
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            low, high = (middle, high) if self.volts(at, middle) > end else (low, middle)
        return high


def _name(rails: Rails, plus: Point) -> str:
    part = rails.circuit.parts[plus.owner]
    return str(plus) if part.kind == "can" else called(part)


def ht_share(rails: Rails, node: int) -> float:
    """Share of the HT that resistors bring to a node, valves out. [1].

    From the resistances between the nearest rail r, the chassis c and the node n:
    (Rrc + Rnc - Rrn) / (2 Rrc), which is the voltage divider for any linear network.
    """
    if node in rails.plus:
        return 1.0
    path = rails.ways.path([node], rails.plus, ohmic, rails.chassis)
    if not path:
        return 0.0
    rail = next(n for n in rails.ways.nodes((path[-1].a, path[-1].b)) if n in rails.plus)
    of = rails.cold.network.of
    first = [of[rails.circuit.nodes[n].points[0]] for n in (rail, node)]
    r, n, c = *first, of[CHASSIS]
    whole, low, high = rails.cold.nominal.between([(r, c), (n, c), (r, n)])
    if math.isinf(low):
        return 1.0
    return float((whole + low - high) / (2 * whole))
