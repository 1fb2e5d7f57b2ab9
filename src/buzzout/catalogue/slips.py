"""A value explained by a slip: a band misread, bands from the wrong end, a factor of ten."""

from __future__ import annotations

from functools import lru_cache
from math import isclose, log10

from buzzout.catalogue.bands import DIGITS, bands, bands_for
from buzzout.circuit import NotAQuantity, Quantity

# Colours that age or heat turns into one another (common practice at the bench).
_CONFUSED = [
    {"brown", "red"},
    {"red", "orange"},
    {"orange", "yellow"},
    {"orange", "brown"},
    {"yellow", "gold"},
    {"yellow", "white"},
    {"green", "blue"},
    {"blue", "violet"},
    {"blue", "grey"},
    {"blue", "black"},
    {"violet", "grey"},
    {"violet", "brown"},
    {"grey", "white"},
    {"grey", "silver"},
    {"black", "brown"},
    {"green", "brown"},
]


def colour_slip(marked: Quantity, wanted: Quantity) -> str:
    """The one slip that turns the wanted value into the marked one, in words; "" if none does.

    Resistors: one band read for another that looks like it, or all bands from the wrong end. Any
    unit: a factor of ten, or of a thousand or a million (mfd against mmf).
    """
    if marked.unit != wanted.unit or min(marked.value, wanted.value) <= 0:
        return ""
    if isclose(marked.value, wanted.value, rel_tol=1e-6):
        return ""
    if marked.unit == "ohm":
        if slip := _band(marked, wanted):
            return slip
        if _turned(marked.value) == wanted.value:
            return "bands read from the wrong end?"
    return _power_of_ten(marked, wanted)


@lru_cache(maxsize=1024)  # a set has some dozens of values, and each is held against all others
def _shown(ohms: float, tolerance: float) -> tuple[str, ...]:
    try:
        return bands_for(ohms, tolerance)
    except NotAQuantity:
        return ()


def _band(marked: Quantity, wanted: Quantity) -> str:
    """One band differs, and its two colours look alike."""
    for tolerance in (0.05, 0.01):
        seen, meant = _shown(marked.value, tolerance), _shown(wanted.value, tolerance)
        if seen and len(seen) == len(meant):
            wrong = [(a, b) for a, b in zip(seen, meant, strict=True) if a != b]
            if len(wrong) == 1 and set(wrong[0]) in _CONFUSED:
                return f"{wrong[0][0]} read for {wrong[0][1]}?"
    return ""


@lru_cache(maxsize=1024)
def _turned(ohms: float) -> float:
    """What three bands (no tolerance band seen) say from the wrong end; 0 for nothing. [ohm]."""
    seen = _shown(ohms, 0.2)
    if len(seen) != 3 or seen[2] not in DIGITS or seen[2] == "black":
        return 0.0
    return bands(seen[::-1]).value


def _power_of_ten(marked: Quantity, wanted: Quantity) -> str:
    power = log10(marked.value / wanted.value)
    steps = round(power)
    words = {1: "ten", 2: "a hundred", 3: "a thousand", 6: "a million"}
    if not isclose(power, steps, abs_tol=1e-6) or abs(steps) not in words:
        return ""
    size = "more" if steps > 0 else "less"
    return f"the same figures, {words[abs(steps)]} times {size}: a slip in the multiplier?"
