"""What lies inside one part, as branches between its own terminals."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from buzzout.circuit import Element, Part, Point, Quantity
from buzzout.electrics.branch import Branch, Contents
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.controls import track
from buzzout.electrics.windings import GUESS_FACTOR, choke_henries, winding

MEASURED_SPREAD = 0.02  # out of circuit with a hand-held meter

# Common practice, where the file states none: speaker coil 0.85 of its ohms, choke 20 ohm a henry,
# fuse a tenth of an ohm, lamp cold a twelfth of hot.
_GUESS_SPEAKER, _GUESS_CHOKE, _FUSE, _LAMP_COLD = 0.85, 20.0, 0.1, 12.0


def contents(part: Part, conditions: Conditions) -> Contents:
    """What a current finds inside this part (valves excepted: see `sockets`)."""
    if part.elements or part.kind == "bond":
        return _furniture(part, conditions)
    if len(part.terminals) < 2:
        return Contents()
    if part.kind == "pot":
        return track(part, Element("track", "", part.terminals, part.value), conditions)
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
    if part.measured is not None and part.measured.unit == "F" and not part.in_circuit:
        value = part.measured.within(MEASURED_SPREAD)
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
    if part.type == "none":  # an empty holder
        return Contents(())
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
    told = {
        "choke": _GUESS_CHOKE * choke_henries(part),
        "lamp": 4.0,
        "speaker": 4.0,
        "inductor": 10.0,
    }
    ohms = told.get(part.kind, 10.0)
    return ohms, GUESS_FACTOR, f"{part.name}: resistance not stated, {ohms:.3g} ohm assumed"


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
        return winding(part, element)
    if element.kind == "track":
        return track(part, element, conditions)
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
