"""Windings: volts at their terminals, ohms between them, and the branches a meter sees."""

from __future__ import annotations

import itertools

from buzzout.circuit import Element, Part
from buzzout.electrics.branch import Branch, Contents

WINDING_SPREAD = 0.2  # common practice: copper losses of small transformers vary about so much
GUESS_FACTOR = 3.0  # a resistance that nobody stated is known to this factor only

# common practice: a small transformer loses some 4 % in each winding at 60 VA; a smoothing choke
# has 10 H, and 20 ohm for each
_GUESS_LOSS, _GUESS_VA = 0.04, 60.0
_GUESS_HENRIES, _GUESS_CHOKE = 10.0, 20.0


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


def winding(part: Part, element: Element) -> Contents:
    """A winding as the pieces between its terminals."""
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
        return (_GUESS_CHOKE * choke_henries(part),) * steps, GUESS_FACTOR
    if volts:
        whole = abs(volts[-1] - volts[0]) or 1.0
        per_volt = _GUESS_LOSS * whole / _GUESS_VA
        pairs = itertools.pairwise(volts)
        return tuple(max(abs(b - a) * per_volt, 0.01) for a, b in pairs), GUESS_FACTOR
    each = 0.5 if element.load is not None and element.load < 100 else 300.0
    return (each / max(steps, 1),) * steps, GUESS_FACTOR


def choke_henries(part: Part) -> float:
    """Inductance of a choke, a usual one where nobody stated it. [H]."""
    return part.value.value if part.value and part.value.value > 0 else _GUESS_HENRIES
