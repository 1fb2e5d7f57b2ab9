"""The pair of points at which an ohmmeter tells a finding from its remedy."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

from buzzout.circuit import CHASSIS, Point, printed
from buzzout.compare import Comparison, Finding
from buzzout.electrics.resistance import Range, Resistances, resistances


@dataclass(frozen=True, slots=True)
class Check:
    """What a meter shows between two points as found and once the list is worked off. [ohm].

    Power off, valves out. `tells` is false where no pair of points of this finding tells the two
    apart by resistance; the ranges are then those of the first pair.
    """

    at: Point
    to: Point
    before: Range
    after: Range
    tells: bool

    def __str__(self) -> str:
        return f"{self.at} to {self.to}"


@dataclass(frozen=True)
class Meter:
    """Both states of a chassis, ready to be asked."""

    found: Resistances
    repaired: Resistances

    def check(self, finding: Finding) -> Check | None:
        """The first pair of the finding's points that tells; None where it has no points."""
        first: Check | None = None
        for at, to in self._pairs(finding):
            before, after = self.found.between(at, to), self.repaired.between(at, to)
            check = Check(at, to, before, after, _apart(before, after))
            if check.tells:
                return check
            first = first or check
        return first

    def _pairs(self, finding: Finding) -> Iterator[tuple[Point, Point]]:
        known = [p for p in finding.points if p in self.found.network.of and p != CHASSIS]
        yield from combinations(known[:6], 2)
        yield from ((p, CHASSIS) for p in known[:9])


def meter(comparison: Comparison) -> Meter:
    """Prepare the chassis as found and as it will be."""
    return Meter(resistances(comparison.found), resistances(comparison.repaired))


def _apart(before: Range, after: Range) -> bool:
    if math.isinf(before.low) and math.isinf(after.low):
        return False
    return before.apart(after)


def ohms(span: Range) -> str:
    """A range as a person reads it on a meter.

    >>> ohms(Range(100e3, 90e3, 110e3)), ohms(Range(0.0, 0.0, 0.0))
    ('90k to 110k', 'less than 1R')
    """
    low, high = span.widened()
    if math.isinf(low):
        return "open"
    if high < 1:
        return "less than 1R"
    shown = "open" if math.isinf(high) else printed(float(f"{high:.3g}"), "ohm")
    if low < 0.5:
        return f"at most {shown}"
    return f"{printed(float(f'{low:.3g}'), 'ohm')} to {shown}"
