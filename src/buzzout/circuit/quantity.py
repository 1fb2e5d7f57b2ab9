"""Quantities as the trade prints them: `4k7`, `22n`, `.022`, `0.1 mfd`, `450V`, `10%`."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from decimal import Decimal

# Decimal multipliers. `K` and `Meg` are printed on old parts; `mu` signs are folded to `u` first.
MULTIPLIERS = {
    "p": "1e-12",
    "n": "1e-9",
    "u": "1e-6",
    "m": "1e-3",
    "": "1",
    "R": "1",
    "k": "1e3",
    "K": "1e3",
    "M": "1e6",
    "Meg": "1e6",
    "meg": "1e6",
    "G": "1e9",
    "jar": "1.111e-9",  # 1000 cm of capacitance; from memory
}
# Old and spelt-out units. Each gives the unit and, where the spelling holds one, the multiplier.
UNITS = {
    "ohm": ("ohm", ""),
    "ohms": ("ohm", ""),
    "R": ("ohm", ""),
    "Ω": ("ohm", ""),
    "F": ("F", ""),
    "H": ("H", ""),
    "V": ("V", ""),
    "A": ("A", ""),
    "W": ("W", ""),
    "Hz": ("Hz", ""),
    "VA": ("VA", ""),
    "%": ("%", ""),
    # common practice on old parts and drawings: mfd is the microfarad, mmf the picofarad
    "mfd": ("F", "u"),
    "MFD": ("F", "u"),
    "mf": ("F", "u"),
    "uf": ("F", "u"),
    "nf": ("F", "n"),
    "pf": ("F", "p"),
    "mmf": ("F", "p"),
    "mmfd": ("F", "p"),
    "MMF": ("F", "p"),
    "MMFD": ("F", "p"),
    "uuF": ("F", "p"),
    "uuf": ("F", "p"),
    "jar": ("F", "jar"),
}
_NUMBER = re.compile(r"(?P<whole>\d*)(?P<point>[.,]?)(?P<part>\d*)(?P<tail>.*)$")
_INFIX = re.compile(r"(?P<whole>\d*)(?P<letter>Meg|meg|[pnumRkKMGVAWHF])(?P<part>\d+)$")
_TAIL = re.compile(r"(?P<prefix>Meg|meg|[pnumkKMG]?)(?P<unit>[A-Za-zΩ%]*)$")
_PRINT = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1, ""), (1e-3, "m"), (1e-6, "u"), (1e-9, "n"))


# A multiplier that no part of this kind has: a slip, or a value meant for something else.
_ABSURD = {
    ("ohm", "m"): "resistance; did you mean M, for megohms?",
    **{("ohm", letter): "resistance" for letter in "pnu"},
    **{("F", letter): "capacitance" for letter in ("k", "K", "M", "G", "R")},
}


class NotAQuantity(ValueError):
    """The text is not a value as the trade prints it. The message says what is wrong."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value with its unit.

    `value` is in the base unit (`ohm`, `F`, `H`, `V`, `A`, `W`, `VA`, `Hz`, `%`, or "" for a bare
    number). `minus` and `plus` are the tolerance as positive fractions (0.1 is 10 %), None where
    nobody stated one. `text` is the user's own spelling; it does not take part in equality.
    """

    value: float
    unit: str = ""
    minus: float | None = None
    plus: float | None = None
    text: str = ""

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Quantity):
            return NotImplemented
        mine = (self.value, self.unit, self.minus, self.plus)
        return mine == (other.value, other.unit, other.minus, other.plus)

    def __hash__(self) -> int:
        return hash((self.value, self.unit, self.minus, self.plus))

    def within(self, minus: float, plus: float | None = None) -> Quantity:
        """The same value with a tolerance, in fractions."""
        return replace(self, minus=minus, plus=minus if plus is None else plus)

    def span(self, default: float = 0.2) -> tuple[float, float]:
        """Lowest and highest value that the tolerance allows; `default` [1] where none is stated.

        20 % for an unmarked part: the meaning of "no tolerance band", IEC 60062.
        """
        minus = default if self.minus is None else self.minus
        plus = default if self.plus is None else self.plus
        ends = self.value * (1 - minus), self.value * (1 + plus)
        return min(ends), max(ends)

    def __str__(self) -> str:
        return self.text or printed(self.value, self.unit)


def parse(text: str, unit: str = "") -> Quantity:
    """Read one printed value. `unit` is assumed where the text names none.

    A bare number below 1 on a capacitor is in microfarads and one of 1 or more in picofarads, as
    old drawings have it (common practice); say the unit and nothing is assumed.

    Raises
    ------
    NotAQuantity
        With a sentence in words of the trade.
    """
    clean = text.strip().replace("µ", "u").replace("μ", "u").replace("Ω", "Ω")
    squeezed = clean.replace(" ", "")
    if re.match(r"[1-9]\d*,\d{3}(?!\d)", squeezed):
        plain = squeezed.replace(",", "")
        raise NotAQuantity(f"{text!r}: is the comma for thousands?; write {plain} or use a point")
    infix = _INFIX.match(squeezed)
    if infix and (infix["whole"] or infix["letter"] in "RpnukKM"):
        number = Decimal(f"{infix['whole'] or 0}.{infix['part']}")
        return _infix_quantity(number, infix["letter"], unit, text)
    found = _NUMBER.match(squeezed)
    if not found or not (found["whole"] or found["part"]):
        raise NotAQuantity(_guess(squeezed) or f"{text!r} is not a value")
    number = Decimal(f"{found['whole'] or 0}.{found['part'] or 0}")
    prefix, named = _tail(found["tail"], text)
    if not prefix and not named and unit == "F":
        prefix = "u" if 0 < number < 1 else "p"
    return _checked(number * Decimal(MULTIPLIERS[prefix]), named, unit, text, prefix)


def _infix_quantity(number: Decimal, letter: str, unit: str, text: str) -> Quantity:
    """`4k7`, `2R2`, `n47`; also `6V3`, where the letter is the unit itself."""
    if letter in "VAWHF":
        return _checked(number, letter, unit, text, "")
    named = "ohm" if letter == "R" else ""
    return _checked(number * Decimal(MULTIPLIERS[letter]), named, unit, text, letter)


def _tail(tail: str, text: str) -> tuple[str, str]:
    """Multiplier letter and unit out of what stands behind the number."""
    if tail in UNITS:
        named, prefix = UNITS[tail]
        return prefix, named
    split = _TAIL.match(tail)
    if split and (split["unit"] in UNITS or not split["unit"]):
        named, inner = UNITS.get(split["unit"], ("", ""))
        if not inner:
            return split["prefix"], named
    raise NotAQuantity(
        _guess(text.strip()) or f"{text!r} has no unit that I know behind the number"
    )


def _checked(value: Decimal, named: str, wanted: str, text: str, letter: str) -> Quantity:
    if wanted and named and named != wanted:
        raise NotAQuantity(f"{text!r} is in {named}, expected {wanted}")
    if not named and (wanted, letter) in _ABSURD:
        raise NotAQuantity(f"{text!r} is no {_ABSURD[wanted, letter]}")
    return Quantity(float(value), named or wanted, text=" ".join(text.split()))


def _guess(text: str) -> str:
    """A slip of the finger: letter l or I for 1, letter O for 0. Or a range, as of a trimmer."""
    if range_ := re.fullmatch(r"[\d.]+[a-zA-Z]?-([\d.]+[pnu]F?)", text):
        return (
            f"{text!r} is a range; write its largest value and a word for it: {range_[1]} trimmer"
        )
    likely = text.translate(str.maketrans("lIoO", "1100"))
    if likely == text or not re.search(r"\d|[kKMnpuR]$", text):
        return ""
    try:
        parse(likely)
    except NotAQuantity:
        return ""
    return f"{text!r} is not a value; did you mean {likely!r}?"


_NO_VOLTS = 1e-3  # less than a meter shows [V]


def printed(value: float, unit: str = "") -> str:
    """A value as the trade prints it: `4.7k`, `22n`, `450V`. Four significant figures.

    >>> printed(4700, "ohm"), printed(2.2e-8, "F"), printed(0.1, "%")
    ('4.7k', '22n', '0.1%')
    """
    sign = {"ohm": "", "F": ""}.get(unit, unit)
    if unit == "%" or value == 0:
        return f"{value:.4g}{sign}"
    size, letter = next((p for p in _PRINT if abs(value) >= p[0] * 0.99995), (1e-12, "p"))
    if unit == "ohm" and size < 1:
        size, letter = 1, ""
    figure = f"{value / size:.4g}"
    tail = letter + sign
    if unit == "ohm" and not letter:
        tail = "R"
    if unit == "F" and not letter:
        tail = "F"
    return figure + tail


def metered(value: float, unit: str, figures: int = 2) -> str:
    """A few figures, as a meter shows them; from 100 on what stands before the point.

    >>> metered(99.7, "V"), metered(285.3, "V"), metered(0.0314, "A"), metered(4700.0, "ohm")
    ('100 V', '285 V', '31 mA', '4.7k')
    """
    told = float(f"{value:.{figures}g}")
    if unit == "ohm":
        return printed(told, unit)
    if unit == "A" and abs(value) < 1:
        return metered(value * 1e3, "mA", figures)
    if unit == "V" and abs(value) < _NO_VOLTS:
        return "0 V"
    return f"{told:g} {unit}" if abs(value) < 100 else f"{value:.0f} {unit}"


def frequency(value: float, figures: int = 3) -> str:
    """A frequency to so many figures, with the prefix that it then has.

    >>> frequency(999.7), frequency(999_700.0), frequency(50.0), frequency(1234.5, 4)
    ('1 kHz', '1 MHz', '50 Hz', '1.234 kHz')
    """
    told = float(f"{value:.{figures}g}")
    prefixes = ((1e6, "MHz"), (1e3, "kHz"))
    size, unit = next((p for p in prefixes if abs(told) >= p[0]), (1.0, "Hz"))
    return f"{told / size:.{figures}g} {unit}"


def last_digit(value: Quantity) -> float:
    """The smallest difference that a figure as typed can show, in its unit.

    >>> last_digit(Quantity(168.0, "V", text="168V")), last_digit(Quantity(1.12, "V", text="1.12V"))
    (1.0, 0.01)
    >>> last_digit(Quantity(4700.0, "ohm", text="4k7"))
    100.0
    """
    text = value.text.strip()
    between = re.match(r"(\d+)[RKkMm](\d+)", text)
    number = re.match(r"[-+]?(\d*)[.,]?(\d*)", text)
    if between is not None:
        shown, places = float(f"{between[1]}.{between[2]}"), len(between[2])
    elif number is not None and (number[1] or number[2]):
        shown, places = float(f"{number[1] or 0}.{number[2] or 0}"), len(number[2])
    else:
        return 0.1
    if not shown or math.isinf(value.value):
        return 0.1
    return float(abs(value.value) / shown * 10**-places)
