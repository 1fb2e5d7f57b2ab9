"""Valve bases: names, pins, and where each pin sits.

Pins are numbered clockwise seen from below (the wiring side), from the key or the gap. Every
picture and every mirror or shift test comes from the one table here. Angles are nominal: they give
the order and the spacing that the eye sees, not a drawing for a tool maker.

Numbering and the place of the mark: "Tube base numbering", Segal and Associates (bottom views; key
between 1 and 8 on an octal; gap on 7 and 9 pins; between the thick pins on 4 and 6 pins; the
solitary pin of five is 3). Spacing of B7G, B9A and octal: equal steps with one place left out for
the gap, one eighth of a turn for the octal (common practice).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

from buzzout.catalogue.names import plain


@dataclass(frozen=True)
class Base:
    """A valve base seen from below.

    `mark` is what one counts from: "key", "gap", "pip", "thick pins" (the middle between them) or,
    on five pins, the middle between 5 and 1, across from the solitary pin. `angles` are degrees
    clockwise from the mark, seen from below.
    """

    name: str
    pins: tuple[str, ...]
    mark: str
    aliases: tuple[str, ...]
    angles: Mapping[str, float]
    about: str = ""

    def mirrored(self) -> dict[str, str]:
        """Pin taken for which when somebody counts from above: 1 for 9, 2 for 8 on a B9A."""
        return dict(zip(self.pins, reversed(self.pins), strict=True))

    def shifted(self, n: int) -> dict[str, str]:
        """Pin taken for which when somebody counts from the wrong place by `n` pins, clockwise."""
        size = len(self.pins)
        return {pin: self.pins[(i + n) % size] for i, pin in enumerate(self.pins)}

    @cached_property
    def number(self) -> int:
        """How many pins it has."""
        return len(self.pins)


def _round(count: int, *, left_out: float = 0.0) -> Mapping[str, float]:
    """Equal steps all round; `left_out` places more than the pins are spaced in at the mark."""
    step = 360 / (count + left_out)
    start = step * (1 + left_out) / 2
    return MappingProxyType({str(i + 1): round(start + i * step, 3) for i in range(count)})


def _base(name: str, angles: Mapping[str, float], mark: str, aliases: str, about: str) -> Base:
    return Base(name, tuple(angles), mark, tuple(aliases.split()), angles, about)


def _with_gap(count: int) -> Mapping[str, float]:
    return _round(count, left_out=1)


_BASES = (
    _base("B7G", _with_gap(7), "gap", "miniature 7-pin-miniature", "miniature, seven pins"),
    _base("B9A", _with_gap(9), "gap", "noval 9-pin-miniature", "noval, nine pins"),
    _base("octal", _round(8), "key", "IO international-octal K8A", "octal, key between 8 and 1"),
    _base("B8A", _round(8), "pip", "rimlock", "rimlock, guide pip between 8 and 1"),
    _base("B8G", _round(8), "key", "loctal loktal", "loctal, keyed spigot between 8 and 1"),
    _base("B9D", _with_gap(9), "gap", "magnoval", "magnoval, nine thick pins"),
    _base("UX4", _round(4), "thick pins", "4-pin", "four pins; 1 and 4 are the thick ones"),
    _base("UX5", _round(5), "pins 5 and 1", "5-pin UY", "five pins; the solitary one is 3"),
    _base("UX6", _round(6), "thick pins", "6-pin", "six pins; 1 and 6 are the thick ones"),
    _base("UX7", _round(7), "thick pins", "7-pin", "seven pins; 1 and 7 are the thick ones"),
)
# Outlines of single types by their American code all sit on one of these: "9A" is a B9A.
_BY_NAME = {plain(key): base for base in _BASES for key in (base.name, *base.aliases)}
_BY_NAME |= {"9A": _BY_NAME["B9A"], "NOVAL": _BY_NAME["B9A"], "8PIN": _BY_NAME["OCTAL"]}


def base(name: str) -> Base | None:
    """The base of that name or alias (`noval`, `B9A`), whatever the case; None if unknown."""
    return _BY_NAME.get(plain(name))


def base_names() -> tuple[str, ...]:
    """Main names of all bases."""
    return tuple(each.name for each in _BASES)
