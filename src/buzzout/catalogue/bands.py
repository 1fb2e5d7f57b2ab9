"""Resistor colour bands, both ways.

Digits, multipliers and tolerances: IEC 60062 colour code. Two digit bands for 5 % and wider, three
for 2 % and tighter. Body, end and dot: the RMA code of the thirties. Yellow, orange and grey
changed their tolerance in the 2016 edition; an old part has gold, silver or nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from buzzout.catalogue.names import nearest
from buzzout.circuit import NotAQuantity, Quantity, printed

DIGITS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
MULTIPLIERS = {colour: power for power, colour in enumerate(DIGITS)} | {
    "gold": -1,
    "silver": -2,
    "pink": -3,
}
TOLERANCES = {
    "brown": 0.01,
    "red": 0.02,
    "orange": 0.0005,
    "yellow": 0.0002,
    "green": 0.005,
    "blue": 0.0025,
    "violet": 0.001,
    "grey": 0.0005,
    "gold": 0.05,
    "silver": 0.1,
    "none": 0.2,
}
# Old body-end-dot parts: the second end or ring. RMA code as reprinted in "Der
# Standard-Farbencode der RMA": yellow stands beside gold, white beside silver.
_OLD_TOLERANCES = {"gold": 0.05, "yellow": 0.05, "silver": 0.1, "white": 0.1, "none": 0.2}
_TEMPERATURE = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey")
# Two-letter codes: IEC 60757. The rest is how people write.
_SPELLINGS = {
    "gray": "grey",
    "slate": "grey",
    "purple": "violet",
    "bk": "black",
    "bn": "brown",
    "rd": "red",
    "og": "orange",
    "ye": "yellow",
    "gn": "green",
    "bu": "blue",
    "vt": "violet",
    "gy": "grey",
    "wh": "white",
    "pk": "pink",
    "gd": "gold",
    "sr": "silver",
}
COLOURS = tuple(dict.fromkeys([*DIGITS, "gold", "silver", "pink", "none"]))
_PLACES = ("first", "second", "third", "fourth", "fifth", "sixth")


def colour(word: str) -> str:
    """The colour that a word means: `gray` is grey, `GN` is green.

    Raises
    ------
    NotAQuantity
        With the nearest colour, if there is one.
    """
    low = word.strip().lower()
    known = _SPELLINGS.get(low, low)
    if known in COLOURS:
        return known
    near = nearest(low, [*COLOURS, *(word for word in _SPELLINGS if len(word) > 2)], most=1)
    hint = f"; did you mean {near[0]!r}?" if near else ""
    raise NotAQuantity(f"{word!r} is no colour of the code{hint}")


def bands(words: Sequence[str], body: bool = False) -> Quantity:
    """The resistance that three to six bands mean, in ohms, with its tolerance.

    `body` reads body, end and dot of the thirties, in that order, with a tolerance mark or without.

    >>> bands(["brown", "black", "yellow", "silver"])
    Quantity(value=100000.0, unit='ohm', minus=0.1, plus=0.1, text='brown black yellow silver')

    Raises
    ------
    NotAQuantity
        With a sentence in words of the trade.
    """
    text = " ".join(words)
    colours = [colour(word) for word in words]
    if body:
        return replace(_body(colours), text=text)
    try:
        return replace(_read(colours), text=text)
    except NotAQuantity as error:
        raise NotAQuantity(f"{error}{_from_the_other_end(colours)}") from None


def _read(colours: list[str]) -> Quantity:
    if not 3 <= len(colours) <= 6:
        raise NotAQuantity(f"a resistor has three to six bands, not {len(colours)}")
    count = 2 if len(colours) <= 4 else 3
    figures = _figures(colours[:count])
    multiplier = _power(colours[count], _PLACES[count])
    tolerance = _tolerance(colours[count + 1] if len(colours) > 3 else "none", TOLERANCES)
    if len(colours) == 6 and colours[5] not in _TEMPERATURE:
        raise NotAQuantity(f"{colours[5]} says no temperature coefficient as sixth band")
    return _quantity(figures, multiplier, tolerance)


def _body(colours: list[str]) -> Quantity:
    if len(colours) not in (3, 4):
        raise NotAQuantity("say body, end and dot, and the tolerance mark if there is one")
    figures = _figures(colours[:2])
    tolerance = _tolerance(colours[3] if len(colours) == 4 else "none", _OLD_TOLERANCES)
    return _quantity(figures, _power(colours[2], "dot"), tolerance)


def _figures(colours: list[str]) -> int:
    for place, each in zip(_PLACES, colours, strict=False):
        if each not in DIGITS:
            raise NotAQuantity(f"{each} is no {place} band: it stands for no figure")
    if colours[0] == "black":
        raise NotAQuantity("black is no first band: no value begins with 0")
    return int("".join(str(DIGITS.index(each)) for each in colours))


def _power(each: str, place: str) -> int:
    if each not in MULTIPLIERS:
        raise NotAQuantity(f"{each} is no multiplier as {place} band")
    return MULTIPLIERS[each]


def _tolerance(each: str, table: dict[str, float]) -> float:
    if each not in table:
        raise NotAQuantity(f"{each} is no tolerance; it is one of {', '.join(table)}")
    return table[each]


def _quantity(figures: int, power: int, tolerance: float) -> Quantity:
    return Quantity(float(Decimal(figures).scaleb(power)), "ohm", tolerance, tolerance)


def _from_the_other_end(colours: list[str]) -> str:
    """A hint where the bands make sense the other way round."""
    try:
        turned = _read(colours[::-1])
    except NotAQuantity:
        return ""
    return f"; from the other end it reads {printed(turned.value, 'ohm')}"


def bands_for(value: float, tolerance: float | None = None) -> tuple[str, ...]:
    """Bands for a resistance [ohm] and a tolerance as a fraction (0.05 is 5 %); None is unmarked.

    >>> bands_for(4700, 0.05)
    ('yellow', 'violet', 'red', 'gold')

    Raises
    ------
    NotAQuantity
        If the value has too many figures, is out of reach, or the tolerance has no colour.
    """
    wanted = 0.2 if tolerance is None else tolerance
    last = next((c for c, t in TOLERANCES.items() if abs(t - wanted) < 1e-9), None)
    if last is None:
        raise NotAQuantity(f"there is no colour for a tolerance of {wanted:.4%}")
    count = 3 if wanted < 0.05 else 2
    figures, power = _split(value, count)
    if figures % 1 and count == 2 and last != "none":
        figures, power = _split(value, 3)
    if figures % 1 or power not in MULTIPLIERS.values():
        raise NotAQuantity(f"{printed(value, 'ohm')} cannot be shown in bands")
    multiplier = next(c for c, p in MULTIPLIERS.items() if p == power)
    shown = [DIGITS[int(figure)] for figure in str(int(figures))]
    return (*shown, multiplier) if last == "none" else (*shown, multiplier, last)


def _split(value: float, count: int) -> tuple[Decimal, int]:
    """A value as figures (`count` of them before the point) and a power of ten."""
    if not value > 0:
        raise NotAQuantity(f"{value:g} ohm has no bands")
    exact = Decimal(f"{value:.9g}")
    power = exact.adjusted() - count + 1
    return exact.scaleb(-power), power
