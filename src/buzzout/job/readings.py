"""What an ohmmeter shows now and what it shows once a finding is put right.

Both circuits are solved cold with the valves out, every resistor over its tolerance; a pair of
points is told only where the two readings cannot be taken for one another. A switch or a control
that the reading depends on is told as it stands in the file, a control fully clockwise.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from buzzout.circuit import CHASSIS, CannotApply, Part, Point, apply, printed
from buzzout.compare import Comparison, Finding
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.inside import contents
from buzzout.electrics.linear import Solver, solver
from buzzout.electrics.network import Network, network
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
            mended = apply(self.comparison.found, finding.remedy)
        except CannotApply:
            return ""
        right = resistances(mended, like=self.now)
        points = finding.points[:_POINTS]
        told = [*self._pairs((*points, CHASSIS), right)]
        told = told or [*self._pairs((*points[:2], *self._mains), right)]
        if not told:
            return ""
        _, a, b, now, then = max(told, key=lambda row: row[0])
        both = ((self._turned, now), (_Turned(right.network), then))
        needed = dict.fromkeys(
            each for turned, reads in both for each in turned.needed(reads, a, b)
        )
        stands = "".join(f", {each}" for each in needed)
        return (
            f"Unplugged, discharged, valves out{stands}: {a} to {b} reads {_reads(now)} now and"
            f" {_reads(then)} once this is put right."
        )

    @cached_property
    def _turned(self) -> _Turned:
        return _Turned(self.now.network)

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
        mended = right.among(tried)
        for (a, b), now in self.now.among(tried).items():
            then = mended[a, b]
            if now.apart(then):
                yield abs(math.log(_size(now) / _size(then))), a, b, now, then


@dataclass(frozen=True)
class _Turned:
    """A network with each switch and control in turn as it does not stand in the file."""

    net: Network

    @cached_property
    def _ways(self) -> list[tuple[str, list[tuple[Network, Solver]]]]:
        ways = []
        for name, stands in self.net.inside.items():
            for told, others in _settings(stands.part):
                turned = (o for o in others if contents(stands.part, o) != stands.contents)
                nets = [network(self.net.circuit, other, self.net) for other in turned]
                solved = [(net, solver(net.edges(lambda b: b.value))) for net in nets]
                ways.append((f"{name} {told}", solved))
        return ways

    def needed(self, reads: Range, a: Point, b: Point) -> Iterator[str]:
        """The switches and controls that a reading depends on, as they must stand for it."""
        for told, solved in self._ways:
            ohms = [s.between([(net.of[a], net.of[b])])[0] for net, s in solved]
            if any(not _alike(reads.nominal, float(each)) for each in ohms):
                yield told


def _settings(part: Part) -> Iterator[tuple[str, tuple[Conditions, ...]]]:
    """How a switch or a control stands in the file, and the other ways in which it may stand."""
    contacts = (Conditions(contacts={part.name: True}), Conditions(contacts={part.name: False}))
    if part.kind == "switch":
        way = f"set to {part.setting}" if part.setting.isdigit() else part.setting
        yield way or "off", contacts
    elif part.kind == "pot":
        turned = Conditions(rotations={part.name: 0.0})
        switched = any(element.kind == "contact" for element in part.elements)
        yield "fully clockwise", (turned, *(contacts if switched else ()))


def _alike(one: float, other: float) -> bool:
    """Whether a meter shows the same."""
    return one == other or math.isclose(one, other, rel_tol=0.02, abs_tol=0.5)


def _size(ohms: Range) -> float:
    return min(max(ohms.nominal, 0.1), _OPEN)


def _reads(ohms: Range) -> str:
    """`about 470k`, `less than 1R`, `open`."""
    if math.isinf(ohms.nominal):
        return "open"
    if ohms.nominal < 1:
        return "less than 1R"
    return f"about {printed(float(f'{ohms.nominal:.2g}'), 'ohm')}"
