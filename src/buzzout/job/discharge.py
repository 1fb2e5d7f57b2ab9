"""How long a reservoir holds its charge once the set is unplugged, with the valves cold or out.

A capacitor alone with a resistance: v(t) = V0 exp(-t/RC), so t = RC ln(V0/V) [1]. Capacitors that a
choke or a small resistor joins discharge together and count as one.

References
----------
.. [1] Any textbook; used for the 60 V limit by IEC 60204-1, clause 6.2.4.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from buzzout.circuit import CHASSIS, Point, printed
from buzzout.electrics.resistance import Resistances
from buzzout.job.rails import HT_RATING, Rails, ohmic
from buzzout.job.rulebook import figure

# Capacitors belong together when the resistance between them is below this share of the bleeder's.
_TOGETHER = 0.1


@dataclass(frozen=True, slots=True)
class Discharge:
    """One reservoir, unplugged. [ohm], [F], [V], [s].

    `ohms` lie across it, `farads` is all that discharges along with it, `volts` the start;
    `to_touch` and `to_work` are the times to the touchable and to the empty voltage.
    """

    plus: Point
    minus: Point
    farads: float
    ohms: float
    volts: float
    to_touch: float
    to_work: float

    def __str__(self) -> str:
        if math.isinf(self.ohms):
            return f"{self.plus} has no discharge path: it keeps {self.volts:.0f} V for hours"
        return (
            f"{self.plus}: {printed(self.farads, 'F')} through {printed(self.ohms, 'ohm')} takes"
            f" {_seconds(self.to_touch)} from {self.volts:.0f} V to {figure('touch-volts'):g} V,"
            f" {_seconds(self.to_work)} to {figure('work-volts'):g} V"
        )


def _seconds(value: float) -> str:
    """`8 s`, `2 min`."""
    return f"{max(value, 1):.0f} s" if value < 120 else f"{value / 60:.0f} min"


def discharge_time(ohms: float, farads: float, start: float, end: float) -> float:
    """Time in which a capacitor falls from one voltage to another through a resistance. [s].

    >>> round(discharge_time(33e3, 470e-6, 385, 60), 2)
    28.83
    """
    if start <= end:
        return 0.0
    return ohms * farads * math.log(start / end)


def discharges(rails: Rails) -> tuple[Discharge, ...]:
    """Every electrolytic of the HT, in the order of the file."""
    held = [
        (plus, minus, volts)
        for plus, minus, volts in rails.reservoirs
        if volts >= HT_RATING and rails.ways.node(plus) != rails.ways.node(minus)
    ]
    if not held:
        return ()
    start = rails.peak * (1 + figure("mains-high"))
    farads = {plus: _farads(rails, plus) for plus, _, _ in held}
    return tuple(
        _discharge(rails.cold, (plus, minus), min(volts, start) if start else volts, farads)
        for plus, minus, volts in held
    )


def _discharge(
    ready: Resistances, ends: tuple[Point, Point], volts: float, farads: dict[Point, float]
) -> Discharge:
    plus, minus = ends
    ohms = ready.between(plus, minus).nominal
    together = sum(
        f for p, f in farads.items()
        if p == plus or ready.between(p, plus).nominal <= _TOGETHER * min(ohms, 1e6)
    )  # fmt: skip
    limits = (figure("touch-volts"), figure("work-volts"))
    touch, work = (discharge_time(ohms, together, volts, v) for v in limits)
    return Discharge(plus, minus, together, ohms, volts, touch, work)


def _farads(rails: Rails, plus: Point) -> float:
    part = rails.circuit.parts[plus.owner]
    value = part.value
    for element in part.elements:
        if plus.pin in element.terminals:
            value = element.value
    return value.value if value else 0.0


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
