"""What an ohmmeter shows now and what it shows once a finding is put right.

Both circuits are solved cold with the valves out, every resistor over its tolerance; a pair of
points is told only where the two readings cannot be taken for one another.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

from buzzout.circuit import CHASSIS, CannotApply, Point, apply, printed
from buzzout.compare import Comparison, Finding
from buzzout.electrics.resistance import Range, Resistances, resistances

_POINTS = 6  # points of a finding that are tried
_OPEN = 1e9  # what an open circuit counts as when readings are compared [ohm]


@dataclass(frozen=True)
class Meter:
    """An ohmmeter at a comparison."""

    comparison: Comparison

    @cached_property
    def now(self) -> Resistances:
        """The chassis as it is."""
        return resistances(self.comparison.found)

    def confirm(self, finding: Finding) -> str:
        """A sentence with the two points that tell best, "" where no ohmmeter tells."""
        if finding.harmless or not finding.remedy:
            return ""
        try:
            right = resistances(apply(self.comparison.found, finding.remedy))
        except CannotApply:
            return ""
        points = finding.points[:_POINTS]
        told = [*self._pairs((*points, CHASSIS), right)]
        told = told or [*self._pairs((*points[:2], *self._mains), right)]
        if not told:
            return ""
        _, a, b, now, then = max(told, key=lambda row: row[0])
        return (
            f"Unplugged, discharged, valves out: {a} to {b} reads {_reads(now)} now and"
            f" {_reads(then)} once this is put right."
        )

    @cached_property
    def _mains(self) -> tuple[Point, ...]:
        """Where else a conductor of the mains lead is looked for: fuses, switches."""
        parts = self.comparison.found.parts.values()
        return tuple(p for part in parts if part.kind in ("fuse", "switch") for p in part.points)

    def _pairs(
        self, points: Iterable[Point], right: Resistances
    ) -> Iterator[tuple[float, Point, Point, Range, Range]]:
        """Pairs of points whose readings differ beyond tolerance, with how much. [1]."""
        known = self.now.network.of
        tried = [p for p in dict.fromkeys(points) if p in known and p in right.network.of]
        for a, b in combinations(tried, 2):
            now, then = self.now.between(a, b), right.between(a, b)
            if now.apart(then):
                yield abs(math.log(_size(now) / _size(then))), a, b, now, then


def _size(ohms: Range) -> float:
    return min(max(ohms.nominal, 0.1), _OPEN)


def _reads(ohms: Range) -> str:
    """`about 470k`, `less than 1R`, `open`."""
    if math.isinf(ohms.nominal):
        return "open"
    if ohms.nominal < 1:
        return "less than 1R"
    return f"about {printed(float(f'{ohms.nominal:.2g}'), 'ohm')}"
