"""Controls: the pieces of a track at a rotation."""

from __future__ import annotations

import itertools

from buzzout.circuit import Element, Part
from buzzout.electrics.branch import Branch, Contents
from buzzout.electrics.conditions import FULLY_CLOCKWISE, Conditions

TAP = 0.5  # where the tap of a tapped track sits, as a rotation (common practice)


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
    if part.setting:
        return float(part.setting.rstrip("%")) / 100, True
    return FULLY_CLOCKWISE, False


def track(part: Part, element: Element, conditions: Conditions) -> Contents:
    """The pieces of a track between its ends, wiper and tap; they scale together in tolerance."""
    ends = {t.rstrip("0123456789"): part.point(t) for t in element.terminals}
    value = element.value or part.value
    if not {"ccw", "cw"} <= ends.keys() or value is None:
        return Contents(remarks=(f"{part.name}: track without value or ends, left out",))
    rotation, stated = rotation_of(part, conditions)
    shares = {"ccw": 0.0, "cw": 1.0, "wiper": taper(part, rotation), "tap": taper(part, TAP)}
    order = {"ccw": 0, "wiper": 1, "tap": 1, "cw": 2}
    along = sorted((shares[end], order[end], ends[end]) for end in ends if end in shares)
    low, high = value.span()
    branches, joins = [], []
    for (from_, _, a), (to, _, b) in itertools.pairwise(along):
        if to - from_ > 0:
            name, scale = f"{part.name} {a.pin} to {b.pin}", to - from_
            sized = (scale * value.value, scale * low, scale * high)
            family = f"{part.name} {element.label}"
            branches.append(Branch(name, part.name, "resistor", a, b, *sized, family, "track"))
        else:
            joins.append((a, b))
    remarks = []
    if "wiper" in ends and not stated:
        remarks.append(f"{part.name}: rotation not stated, fully clockwise assumed")
    if "tap" in ends:
        remarks.append(f"{part.name}: tap assumed at half rotation")
    return Contents(tuple(branches), tuple(joins), tuple(remarks))
