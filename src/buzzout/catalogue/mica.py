"""Moulded mica capacitors: the coloured dots, by number of dots and by who marked them.

Three dots: two figures and the number of zeros, left to right along the arrow; 500 V, 20 %. Five
dots add voltage and tolerance. Six dots of the old RMA code: three figures on the top row, then on
the bottom row from right to left multiplier, tolerance, voltage. Six dots of the war-time and later
military code: the first dot says the material, then two figures; on the bottom row from right to
left multiplier, tolerance, characteristic. Figures: capacitor colour codes as printed at
vcomp.co.uk and in the American ordnance manual OD 1647; order of the old bottom row: common
practice. Old dots fade: measure before trusting one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from buzzout.catalogue.bands import DIGITS, MULTIPLIERS, colour
from buzzout.circuit import NotAQuantity, Quantity

STYLES = ("three", "five", "old six", "war six")
_TOLERANCES = {"gold": 0.05, "silver": 0.1, "none": 0.2}
_WAR_TOLERANCES = {"black": 0.2, "red": 0.02, "gold": 0.05, "silver": 0.1}  # others: not known
_MATERIALS = {"black": "mica", "white": "mica", "silver": "paper"}


@dataclass(frozen=True, slots=True)
class Mica:
    """What the dots say: value, working voltage (None if no dot says it) and material.

    `material` is "mica", or "paper" for the look-alikes, which leak and want replacing.
    """

    value: Quantity
    volts: float | None
    material: str = "mica"


def mica(words: Sequence[str], style: str = "") -> Mica:
    """What the dots of a moulded capacitor mean, read as described in this module's head.

    Six dots are given as top row left to right, then bottom row left to right; `style` is one of
    `STYLES` and must be said for six dots, where the two codes differ.

    >>> mica(["red", "green", "black"]).value.value
    2.5e-11

    Raises
    ------
    NotAQuantity
        With a sentence in words of the trade.
    """
    dots = [colour(word) for word in words]
    kind = style or {3: "three", 5: "five"}.get(len(dots), "")
    if kind not in STYLES or len(dots) != {"three": 3, "five": 5}.get(kind, 6):
        raise NotAQuantity(
            f"{len(dots)} dots: say three, five, or six with the style 'old six' or 'war six'"
        )
    text = " ".join(words)
    if kind == "war six":
        return _war(dots, text)
    if kind == "old six":
        figures, multiplier, tolerance, volts = dots[:3], dots[5], dots[4], dots[3]
        return Mica(_value(figures, multiplier, _tolerance(tolerance), text), _volts(volts))
    figures, multiplier = dots[:2], dots[2]
    if kind == "three":
        return Mica(_value(figures, multiplier, 0.2, text), 500.0)
    return Mica(_value(figures, multiplier, _tolerance(dots[4]), text), _volts(dots[3]))


def _war(dots: list[str], text: str) -> Mica:
    tolerance = _WAR_TOLERANCES.get(dots[4])
    value = _value(dots[1:3], dots[5], tolerance, text)
    return Mica(value, None, _MATERIALS.get(dots[0], "paper"))


def _value(figures: list[str], multiplier: str, tolerance: float | None, text: str) -> Quantity:
    for each in figures:
        if each not in DIGITS:
            raise NotAQuantity(f"{each} stands for no figure")
    if multiplier not in MULTIPLIERS:
        raise NotAQuantity(f"{multiplier} is no multiplier")
    number = int("".join(str(DIGITS.index(each)) for each in figures))
    value = float(Decimal(number).scaleb(MULTIPLIERS[multiplier] - 12))
    return Quantity(value, "F", tolerance, tolerance, text)


def _tolerance(each: str) -> float:
    if each in _TOLERANCES:
        return _TOLERANCES[each]
    if each in DIGITS[1:]:
        return DIGITS.index(each) / 100
    raise NotAQuantity(f"{each} is no tolerance of a mica capacitor")


def _volts(each: str) -> float:
    special = {"gold": 1000.0, "silver": 2000.0, "none": 500.0}
    if each in special:
        return special[each]
    if each in DIGITS[1:]:
        return DIGITS.index(each) * 100.0
    raise NotAQuantity(f"{each} is no voltage of a mica capacitor")
