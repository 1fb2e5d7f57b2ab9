"""Letter-and-digit codes: `4K7J`, `R22M` (IEC 60062), capacitor codes `103K`, old units.

Letters B to N are per cent, except on capacitors below 10 pF, where B to G are picofarads.
"""

from __future__ import annotations

import re
from decimal import Decimal

from buzzout.circuit import NotAQuantity, Quantity, parse

# Tolerances as fractions (minus, plus). IEC 60062, clause on tolerance letters; P and Y from the
# American capacitor lists.
TOLERANCE_LETTERS = {
    "B": (0.001, 0.001),
    "C": (0.0025, 0.0025),
    "D": (0.005, 0.005),
    "F": (0.01, 0.01),
    "G": (0.02, 0.02),
    "H": (0.03, 0.03),
    "J": (0.05, 0.05),
    "K": (0.1, 0.1),
    "M": (0.2, 0.2),
    "N": (0.3, 0.3),
    "P": (0.0, 1.0),
    "Q": (0.1, 0.3),
    "S": (0.2, 0.5),
    "T": (0.1, 0.5),
    "Y": (0.2, 0.5),
    "Z": (0.2, 0.8),
}
_PICOFARADS = {"B": 0.1, "C": 0.25, "D": 0.5, "F": 1.0, "G": 2.0}
_POWERS = {
    "ohm": {"L": -3, "m": -3, "R": 0, "E": 0, "K": 3, "k": 3, "M": 6, "G": 9, "T": 12},
    "F": {"p": -12, "P": -12, "n": -9, "N": -9, "u": -6, "m": -3, "F": 0, "R": -12},
    "H": {"n": -9, "u": -6, "m": -3, "H": 0},
}
_CODE = re.compile(r"(?P<whole>\d*)(?P<letter>[A-Za-z])(?P<part>\d*)(?P<tolerance>[A-Z]?)$")
_THREE = re.compile(r"(?P<figures>\d\d)(?P<zeros>\d)(?P<tolerance>[A-Z]?)$")
_PLAIN = re.compile(r"(?P<number>\d*[.,]\d+|\d+|\d+[.,])(?P<tolerance>[A-Z])$")
# A number with the unit behind it, as lettered on cans and papers. `MF` and `mF` are microfarads
# here: a can of millifarads there was not (common practice).
_LETTERED = re.compile(r"(?P<number>\d*[.,]?\d+)(?P<unit>[mup]{1,2}fd?|nf)s?\.?$", re.IGNORECASE)
_LETTERED_UNITS = {"m": -6, "u": -6, "n": -9, "p": -12, "mm": -12, "uu": -12}
# Old measures of capacitance: a jar is 1/900 uF, a centimetre is one e.s.u., 1/0.9 pF (both to
# the accuracy of the trade; common practice of lists before 1935).
_OLD = {"jar": 1e-6 / 900, "jars": 1e-6 / 900, "cm": 1e-12 / 0.9, "kcm": 1e-9 / 0.9}


def rkm(text: str, unit: str = "ohm") -> Quantity:
    """A value in letter code, with a tolerance letter or without, in `ohm`, `F` or `H`.

    A letter in last place behind another letter is the tolerance: `R22M` is 0.22 ohm, 20 %.

    >>> rkm("4K7J"), rkm("R22M").plus
    (Quantity(value=4700.0, unit='ohm', minus=0.05, plus=0.05, text='4K7J'), 0.2)

    Raises
    ------
    NotAQuantity
        With a sentence in words of the trade.
    """
    clean = re.sub("MEG", "M", _clean(text), flags=re.IGNORECASE)
    found = _CODE.match(clean)
    if not found or not (found["whole"] or found["part"]):
        raise NotAQuantity(f"{text!r} is no letter code such as 4K7 or 4K7J")
    powers = _POWERS[unit]
    if found["letter"] not in powers:
        hint = _hint(found, unit)
        raise NotAQuantity(f"{found['letter']!r} in {text!r} is no multiplier for {unit}{hint}")
    number = Decimal(f"{found['whole'] or 0}.{found['part'] or 0}").scaleb(powers[found["letter"]])
    named = not found["part"] and found["tolerance"] == unit  # 50pF: the unit, no tolerance
    return _with_tolerance(float(number), unit, "" if named else found["tolerance"], text)


def _hint(found: re.Match[str], unit: str) -> str:
    """Continental drawings of the fifties wrote 4k7 for 4700 pF (common practice)."""
    if unit != "F" or found["letter"] not in "kK":
        return ""
    return f"; for {found['whole']}{found['letter']}{found['part']} picofarads say n for k"


def capacitor_code(text: str) -> Quantity:
    """The capacitance that a marking means, in farads: `103K`, `473J`, `479`, `4n7K`, `.022`, `22`.

    Three figures are two and a number of zeros, in picofarads; a third figure 8 or 9 means a
    hundredth or a tenth. Two figures alone are picofarads. Beware of old parts that print 220 for
    220 pF: by the code it is 22 pF.

    >>> capacitor_code("103K").value, capacitor_code("479").value
    (1e-08, 4.7e-12)

    Raises
    ------
    NotAQuantity
        With a sentence in words of the trade.
    """
    clean = _clean(text)
    if found := _THREE.match(clean):
        zeros = {"8": -2, "9": -1}.get(found["zeros"], int(found["zeros"]))
        value = Decimal(found["figures"]).scaleb(zeros - 12)
        return _with_tolerance(float(value), "F", found["tolerance"], text)
    if lettered := _lettered(clean, text) or _old(clean, text):
        return lettered
    if found := _PLAIN.match(clean):
        value_ = parse(found["number"], "F").value
        return _with_tolerance(value_, "F", found["tolerance"], text)
    if _CODE.match(clean):
        return rkm(text, "F")
    return parse(text, "F")


def _lettered(clean: str, text: str) -> Quantity | None:
    found = _LETTERED.match(clean)
    power = _LETTERED_UNITS.get(found["unit"].lower().rstrip("d").rstrip("f")) if found else None
    if not found or power is None:
        return None
    number = Decimal(found["number"].replace(",", "."))
    return Quantity(float(number.scaleb(power)), "F", text=text)


def _old(clean: str, text: str) -> Quantity | None:
    found = re.match(r"(?P<number>\d*[.,]?\d+)(?P<unit>jars?|k?cm)$", clean, re.IGNORECASE)
    if not found:
        return None
    number = float(found["number"].replace(",", "."))
    return Quantity(number * _OLD[found["unit"].lower()], "F", text=text)


def _clean(text: str) -> str:
    return text.strip().replace("µ", "u").replace("μ", "u").replace("Ω", "R").replace(" ", "")


def _with_tolerance(value: float, unit: str, letter: str, text: str) -> Quantity:
    if not letter:
        return Quantity(value, unit, text=text)
    if letter not in TOLERANCE_LETTERS:
        raise NotAQuantity(f"{letter!r} at the end of {text!r} is no tolerance letter")
    if unit == "F" and value < 9.9999e-12 and letter in _PICOFARADS:
        share = round(_PICOFARADS[letter] * 1e-12 / value, 9)
        return Quantity(value, unit, share, share, text)
    minus, plus = TOLERANCE_LETTERS[letter]
    return Quantity(value, unit, minus, plus, text)
