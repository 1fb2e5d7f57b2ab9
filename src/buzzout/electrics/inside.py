"""What lies inside one part, as branches between its own terminals."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from buzzout.circuit import Element, Part, Point, Quantity
from buzzout.electrics.conditions import FULLY_CLOCKWISE, Conditions

# Spans where the file states none. Fractions of the nominal value.
WINDING_SPREAD = 0.2  # common practice: copper losses of small transformers vary about so much
MEASURED_SPREAD = 0.02  # out of circuit with a hand-held meter
GUESS_FACTOR = 3.0  # a resistance that nobody stated is known to this factor only

# common practice: a small transformer loses some 4 % in each winding at 60 VA
_GUESS_LOSS, _GUESS_VA = 0.04, 60.0
_GUESS_SPEAKER, _GUESS_CHOKE, _FUSE, _LAMP_COLD = 0.85, 20.0, 0.1, 12.0
_GUESS_HENRIES = 10.0


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


def contents(part: Part, conditions: Conditions) -> Contents:
    """What a current finds inside this part (valves excepted: see `sockets`)."""
    if part.elements or part.kind == "bond":
        return _furniture(part, conditions)
    if len(part.terminals) < 2:
        return Contents()
    if part.kind == "pot":
        return _track(part, Element("track", "", part.terminals, part.value), conditions)
    fill = _FILLED.get(part.kind)
    return fill(part, conditions) if fill else Contents()


def _resistor(part: Part, _conditions: Conditions) -> Contents:
    a, b = part.points[:2]
    value = part.value
    if part.measured is not None and not part.in_circuit:
        value = part.measured.within(MEASURED_SPREAD)
    if value is None or (value.value <= 0 and "value" in part.unread):
        unread = Branch(part.name, part.name, "resistor", a, b, math.inf, 0.0, math.inf)
        return Contents(
            (unread,), remarks=(f"{part.name}: value unread, anything from short to open",)
        )
    low, high = value.span()
    return Contents(
        (Branch(part.name, part.name, "resistor", a, b, value.value, low, high, role="resistor"),)
    )


def _single(part: Part, _conditions: Conditions) -> Contents:
    a, b = part.points[:2]
    return Contents((_capacitor(part.name, part, (a, b), part.value),))


def _capacitor(name: str, part: Part, ends: tuple[Point, Point], value: Quantity | None) -> Branch:
    farads = value.value if value else 0.0
    low, high = value.span() if value else (0.0, math.inf)
    role = "electrolytic" if part.kind in ("electrolytic", "can") else "capacitor"
    return Branch(name, part.name, "capacitor", *ends, farads, low, high, role=role)


def _valueless(part: Part, _conditions: Conditions) -> Contents:
    a, b = part.points[:2]
    kind = part.kind
    return Contents((Branch(part.name, part.name, kind, a, b, 0.0, 0.0, 0.0, role=kind),))


def _bridge(part: Part, _conditions: Conditions) -> Contents:
    if not {"~1", "~2", "+", "-"} <= set(part.terminals):
        return Contents(remarks=(f"{part.name}: not all four ends of the bridge known, left out",))
    pairs = (("~1", "+"), ("~2", "+"), ("-", "~1"), ("-", "~2"))
    diodes = (
        Branch(
            f"{part.name} {a} to {b}", part.name, "diode", part.point(a), part.point(b),
            0.0, 0.0, 0.0, role="diode",
        )
        for a, b in pairs
    )  # fmt: skip
    return Contents(tuple(diodes))


def _ohmic(part: Part, conditions: Conditions) -> Contents:
    """Chokes, speakers, lamps and fuses: the ohms that a meter sees across the two ends."""
    a, b = part.points[:2]
    ohms, factor, remark = _ohms_of(part, conditions)
    henries = part.value.value if part.value and part.value.unit == "H" else 0.0
    branch = Branch(
        part.name, part.name, "resistor", a, b, ohms, ohms / factor, ohms * factor,
        role=part.kind, henries=henries,
    )  # fmt: skip
    return Contents((branch,), remarks=(remark,) if remark else ())


def _ohms_of(part: Part, conditions: Conditions) -> tuple[float, float, str]:
    """Resistance [ohm], the factor it is known to, and a remark where it was assumed."""
    if part.measured is not None and part.measured.unit == "ohm":
        return max(part.measured.value, 1e-3), 1 + MEASURED_SPREAD, ""
    if part.kind == "speaker" and part.value:
        return part.value.value * _GUESS_SPEAKER, 1.2, ""  # common practice: 80 to 90 % of the ohms
    if part.kind == "lamp" and part.current:
        volts = part.value or part.voltage
        if volts and part.current.value > 0:
            hot = volts.value / part.current.value
            return hot * conditions.glow(_LAMP_COLD), 1.4, ""
    if part.kind == "fuse":
        return _FUSE, 10.0, ""
    told = {"choke": _GUESS_CHOKE * _henries(part), "lamp": 4.0, "speaker": 4.0, "inductor": 10.0}
    ohms = told.get(part.kind, 10.0)
    return ohms, GUESS_FACTOR, f"{part.name}: resistance not stated, {ohms:.3g} ohm assumed"


def _henries(part: Part) -> float:
    return part.value.value if part.value and part.value.value > 0 else 10.0


def _furniture(part: Part, conditions: Conditions) -> Contents:
    """All elements of a piece of furniture."""
    branches: list[Branch] = []
    joins: list[tuple[Point, Point]] = []
    remarks: list[str] = []
    for element in part.elements:
        got = _element(part, element, conditions)
        branches += got.branches
        joins += got.joins
        remarks += got.remarks
    if part.kind == "speaker" and {"1", "2"} <= set(part.terminals):
        got = _ohmic(part, conditions)
        branches += got.branches
        remarks += got.remarks
    if part.kind == "bond":
        joins += [(part.points[0], other) for other in part.points[1:]]
    return Contents(tuple(branches), tuple(joins), tuple(remarks))


def _element(part: Part, element: Element, conditions: Conditions) -> Contents:
    if element.kind == "winding":
        return _winding(part, element)
    if element.kind == "track":
        return _track(part, element, conditions)
    ends = [part.point(t) for t in element.terminals]
    if len(ends) < 2:
        return Contents()
    if element.kind == "capacitor":
        name = f"{part.name}.{element.label or element.terminals[0]}"
        return Contents((_capacitor(name, part, (ends[0], ends[1]), element.value),))
    as_set = element.closed or (conditions.power and unstated(part, element))
    if element.kind == "contact" and conditions.closed(part.name, element.label, as_set):
        return Contents(joins=tuple((ends[0], other) for other in ends[1:]))
    return Contents()


def unstated(part: Part, contact: Element) -> bool:
    """Tell an on-off contact whose position nobody wrote down."""
    if part.kind == "pot":
        return True
    moving = contact.terminals[0]
    throws = sum(e.kind == "contact" and e.terminals[0] == moving for e in part.elements)
    return part.kind == "switch" and not part.setting and throws == 1


def volts_of(element: Element) -> tuple[float, ...]:
    """Open-circuit voltages of a winding's terminals along the winding. [V].

    `300 0 300` is how a drawing writes a centre-tapped winding: what stands before the zero is
    taken as negative when both sides of it are positive.
    """
    taps = element.taps
    if len(taps) != len(element.terminals):
        return ()
    if 0.0 in taps[1:-1]:
        zero = taps.index(0.0, 1)
        if all(v > 0 for v in taps[:zero]) and all(v > 0 for v in taps[zero + 1 :]):
            return tuple(-v for v in taps[:zero]) + taps[zero:]
    return taps


def _winding(part: Part, element: Element) -> Contents:
    ends = [part.point(t) for t in element.terminals]
    ohms, factor = winding_ohms(part, element)
    henries = _own_henries(part, element)
    family = f"{part.name} {element.label}"
    branches = tuple(
        Branch(
            f"{part.name}.{a.pin}-{b.pin}", part.name, "resistor", a, b, r, r / factor, r * factor,
            family, "winding", henries / len(ohms),
        )
        for a, b, r in zip(ends, ends[1:], ohms, strict=False)
    )  # fmt: skip
    remark = f"{part.name} {element.label}: winding resistance not stated, assumed"
    return Contents(branches, remarks=() if factor < GUESS_FACTOR else (remark,))


def _own_henries(part: Part, element: Element) -> float:
    """Inductance of a winding that stands alone; coupled windings are another matter. [H]."""
    windings = [e for e in part.elements if e.kind == "winding"]
    if len(windings) > 1:
        return 0.0
    told = element.value or part.value
    return told.value if told and told.unit == "H" else _GUESS_HENRIES * (part.kind == "choke")


def winding_ohms(part: Part, element: Element) -> tuple[tuple[float, ...], float]:
    """Ohms between neighbouring terminals of a winding, and the factor they are known to.

    Where the file states none: 4 % of the volts squared over 60 VA (common practice for small
    transformers), or 0.5 ohm and 300 ohm where even the volts are unknown.
    """
    steps = len(element.terminals) - 1
    if element.resistance and all(r > 0 for r in element.resistance):
        if len(element.resistance) == steps:
            return element.resistance, 1 + WINDING_SPREAD
        if len(element.resistance) == 1 and steps > 1:
            return (element.resistance[0] / steps,) * steps, 1 + 2 * WINDING_SPREAD
    volts = volts_of(element)
    if part.kind == "choke":
        return (_GUESS_CHOKE * _henries(part),) * steps, GUESS_FACTOR
    if volts:
        whole = abs(volts[-1] - volts[0]) or 1.0
        per_volt = _GUESS_LOSS * whole / _GUESS_VA
        pairs = itertools.pairwise(volts)
        return tuple(max(abs(b - a) * per_volt, 0.01) for a, b in pairs), GUESS_FACTOR
    each = 0.5 if element.load is not None and element.load < 100 else 300.0
    return (each / max(steps, 1),) * steps, GUESS_FACTOR


def taper(part: Part, rotation: float) -> float:
    """Share of the track between the anticlockwise end and the wiper. [1].

    Logarithmic tracks have a tenth of their ohms at half rotation (common practice).
    """
    share = min(max(rotation, 0.0), 1.0)
    words = {word.lower() for word in part.style}
    if words & {"log", "audio", "a"}:
        return float(81.0**share - 1) / 80
    if words & {"antilog", "reverse", "c"}:
        return 1 - float(81.0 ** (1 - share) - 1) / 80
    return share


def rotation_of(part: Part, conditions: Conditions) -> tuple[float, bool]:
    """Rotation of a control [1], and whether anybody stated it."""
    if part.name in conditions.rotations:
        return conditions.rotations[part.name], True
    text = part.setting.strip().rstrip("%")
    try:
        return float(text) / 100, True
    except ValueError:
        return FULLY_CLOCKWISE, False


def _track(part: Part, element: Element, conditions: Conditions) -> Contents:
    """The two halves of a track; they scale together inside the tolerance."""
    ends = {t.rstrip("0123456789"): part.point(t) for t in element.terminals}
    value = element.value or part.value
    if not {"ccw", "cw"} <= ends.keys() or value is None:
        return Contents(remarks=(f"{part.name}: track without value or ends, left out",))
    low, high = value.span()
    span = (value.value, low, high)
    if "wiper" not in ends:
        return Contents((_half(part, element, (ends["ccw"], ends["cw"]), span, 1.0),))
    rotation, stated = rotation_of(part, conditions)
    share = taper(part, rotation)
    halves = ((ends["ccw"], ends["wiper"], share), (ends["wiper"], ends["cw"], 1 - share))
    branches = tuple(_half(part, element, (a, b), span, s) for a, b, s in halves if s > 0)
    joins = tuple((a, b) for a, b, s in halves if s <= 0)
    remark = () if stated else (f"{part.name}: rotation not stated, fully clockwise assumed",)
    return Contents(branches, joins, remark)


def _half(
    part: Part,
    element: Element,
    ends: tuple[Point, Point],
    span: tuple[float, float, float],
    share: float,
) -> Branch:
    value, low, high = (share * x for x in span)
    name = f"{part.name} {ends[0].pin} to {ends[1].pin}"
    family = f"{part.name} {element.label}"
    return Branch(name, part.name, "resistor", *ends, value, low, high, family, "track")


_FILLED: Mapping[str, Callable[[Part, Conditions], Contents]] = {
    "resistor": _resistor,
    "thermistor": _resistor,
    "capacitor": _single,
    "electrolytic": _single,
    "diode": _valueless,
    "neon": _valueless,
    "bridge": _bridge,
    "inductor": _ohmic,
    "choke": _ohmic,
    "speaker": _ohmic,
    "lamp": _ohmic,
    "fuse": _ohmic,
}
