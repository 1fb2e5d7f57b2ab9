"""One two-ended thing between two points, and what a part holds of them."""

from __future__ import annotations

from dataclasses import dataclass

from buzzout.circuit import Point

# Role of what stands in for an electrode of a valve without a model (see `unmodelled`).
ELECTRODE = "electrode"


@dataclass(frozen=True, slots=True)
class Branch:
    """One two-ended thing between two points.

    Parameters
    ----------
    kind : str
        "resistor" (anything that a direct current sees as ohms), "capacitor", "diode" (a is the
        anode), "neon".
    value, low, high : float
        Nominal value and its span. [ohm] or [F]; nominal infinite and span 0 to infinity where
        nobody could read it.
    henries : float
        Inductance in series with the ohms. [H]
    family : str
        Branches of one family move together inside their span (the two halves of one track).
    role : str
        What it is to a person: "resistor", "track", "winding", "fuse", "lamp", "heater", …
    """

    name: str
    part: str
    kind: str
    a: Point
    b: Point
    value: float
    low: float
    high: float
    family: str = ""
    role: str = ""
    henries: float = 0.0


@dataclass(frozen=True, slots=True)
class Contents:
    """Branches inside a part, points of it that touch, and remarks about what was assumed."""

    branches: tuple[Branch, ...] = ()
    joins: tuple[tuple[Point, Point], ...] = ()
    remarks: tuple[str, ...] = ()
