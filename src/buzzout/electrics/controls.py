"""Controls: the two halves of a track at a rotation."""

from __future__ import annotations

from buzzout.circuit import Element, Part, Point
from buzzout.electrics.branch import Branch, Contents
from buzzout.electrics.conditions import FULLY_CLOCKWISE, Conditions


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


def track(part: Part, element: Element, conditions: Conditions) -> Contents:
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
