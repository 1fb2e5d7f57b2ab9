"""How points, nodes and ways through parts are told to a person."""

from __future__ import annotations

import math
from collections.abc import Sequence

from buzzout.circuit import CHASSIS, Circuit, Point, listed, printed
from buzzout.job.passages import Passage, called

_TENTH = 1e-4  # a current from here on is told in mA [A]


def spot(circuit: Circuit, node: int) -> Point:
    """The point of a node that is found quickest: the chassis, a pin or tag, else any."""
    points = circuit.nodes[node].points
    if CHASSIS in points:
        return CHASSIS
    fixed = (p for p in points if p.owner in circuit.parts and circuit.parts[p.owner].furniture)
    return next(fixed, points[0])


def names(path: Sequence[Passage]) -> tuple[str, ...]:
    """Names of the parts on a way, each once, in order."""
    return tuple(dict.fromkeys(step.part.name for step in path))


def through(path: Sequence[Passage]) -> str:
    """`C1 (10n)`, `PL1 and C2 in series`; "wires alone" for an empty way."""
    if not path:
        return "wires alone"
    parts = {step.part.name: step for step in path}
    words = [_with_value(step) for step in parts.values()]
    return listed(words) + (" in series" if len(words) > 1 else "")


def _with_value(step: Passage) -> str:
    part = step.part
    if step.how == "winding" and step.element is not None and part.kind == "transformer":
        return f"the winding {step.element.label} of {part.name}"
    if part.anonymous or part.value is None or step.how in ("contact", "heater"):
        return called(part)
    return f"{part.name} ({part.value})"


def impedance(path: Sequence[Passage], hertz: float) -> float:
    """Size of the impedance of resistors and capacitors in series [ohm]; NaN if one is unknown.

    Lamps, fuses, contacts and windings count as nothing: the figure is the most that can flow.
    """
    real, imaginary = 0.0, 0.0
    for step in path:
        value = step.part.value.value if step.part.value else 0.0
        if step.how == "resistor":
            real += value
        elif step.how == "capacitor":
            if value <= 0:
                return math.nan
            imaginary += 1 / (2 * math.pi * hertz * value)
        elif step.how in ("track", "diode", "heater"):
            return math.nan
    return math.hypot(real, imaginary)


def leak(path: Sequence[Passage], volts: float, hertz: float) -> float:
    """Current that a way passes at mains frequency [A]; NaN where it cannot be told."""
    ohms = impedance(path, hertz)
    return volts / ohms if volts > 0 and ohms > 0 else math.nan


def amps(value: float) -> str:
    """A current with two figures, in milliamperes from a tenth of one on.

    >>> amps(0.00072), amps(0.00723), amps(0.357)
    ('0.72mA', '7.2mA', '360mA')
    """
    shown = float(f"{value:.2g}")
    return f"{1e3 * shown:.2g}mA" if _TENTH <= shown < 10 * _TENTH else printed(shown, "A")
