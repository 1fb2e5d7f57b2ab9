"""Where the common lead of a meter is clipped: the chassis, or HT minus where that is another node.

In a set without a mains transformer the chassis may be tied to the common line of the circuit by no
more than a capacitor and a resistor: voltages are then read against HT minus.
"""

from __future__ import annotations

from collections.abc import Iterator

from buzzout.circuit import CHASSIS, Circuit, Point

_HT = 100.0  # rated volts from which an electrolytic belongs to the HT (common practice)


def feeding(circuit: Circuit) -> frozenset[str]:
    """Transformers that the mains feeds: a winding with volts beside the first, without a load."""
    return frozenset(
        part.name
        for part in circuit.parts.values()
        if part.kind == "transformer"
        and any(e.kind == "winding" and e.taps and e.load is None for e in part.elements[1:])
    )


def reservoirs(circuit: Circuit) -> Iterator[tuple[Point, Point]]:
    """Plus and minus of every HT electrolytic, where its leads land."""
    for part in circuit.parts.values():
        if part.kind == "electrolytic" and part.voltage and part.voltage.value >= _HT:
            yield circuit.landing(part.point("+")), circuit.landing(part.point("-"))
        for element in part.elements:
            if element.kind == "capacitor" and element.voltage and element.voltage.value >= _HT:
                ends = [part.point(t) for t in element.terminals[:2]]
                if len(ends) == 2:
                    yield ends[0], ends[1]


def common(circuit: Circuit) -> Point:
    """HT minus by its name where no transformer feeds the set and no reservoir is on the chassis.

    Else the chassis.
    """
    of = circuit.node_of
    if feeding(circuit):
        return CHASSIS
    minus = [of[m] for _, m in reservoirs(circuit) if m in of]
    if not minus or of.get(CHASSIS) in minus:
        return CHASSIS
    node = max(dict.fromkeys(minus), key=minus.count)
    named = [Point(name) for name in circuit.names if of.get(Point(name)) == node]
    fixed = [p for part in circuit.parts.values() if part.furniture for p in part.points]
    return next((p for p in (*named, *fixed) if of.get(p) == node), CHASSIS)
