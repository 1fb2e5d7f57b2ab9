"""What an ohmmeter shows now and what it shows once a finding is put right.

Both circuits are solved cold with the valves out, every resistor over its tolerance; a pair of
points is told only where the two readings cannot be taken for one another. Points that read the
same whether this finding alone is put right or everything come first; where there are none, the
findings that the reading hangs on are told with it. A switch or a control that the reading depends
on is told as it stands in the file, a control fully clockwise.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from buzzout.circuit import CHASSIS, CannotApply, Part, Point, apply, listed, printed
from buzzout.compare import Comparison, Finding
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.inside import contents
from buzzout.electrics.linear import Solver, solver
from buzzout.electrics.network import Network, network
from buzzout.electrics.resistance import Range, Resistances, resistances

_POINTS = 6  # points of a finding that are tried
_STEPS = 16  # boards that are tried to find the findings a reading hangs on
_NAMED = 3  # of those, so many are named
_OPEN = 1e9  # what an open circuit counts as when readings are compared [ohm]


@dataclass(frozen=True)
class Reading:
    """What an ohmmeter shows between the two points that tell a finding best.

    `alone` is the reading once the finding is put right and nothing else; `whole` that of the
    mended board where it is another one, else None. `others` are the ids of the findings that have
    to be put right for it, none where they are many.
    """

    stands: str
    a: Point
    b: Point
    now: Range
    alone: Range
    whole: Range | None = None
    others: tuple[str, ...] = ()

    def words(self, numbers: Mapping[str, int]) -> str:
        """The reading as a sentence; `numbers` are those of the list, by the id of a finding."""
        start = (
            f"Unplugged, discharged, valves out{self.stands}: {self.a} to {self.b}"
            f" reads {_reads(self.now)} now"
        )
        if self.whole is None:
            return f"{start} and {_reads(self.alone)} once this is put right."
        rest = sorted(numbers[each] for each in self.others)
        called = f"number{'s' * (len(rest) > 1)} {listed(rest)}" if rest else "everything else"
        return (
            f"{start}, {_reads(self.alone)} once this alone is put right, and"
            f" {_reads(self.whole)} once {called} {'are' if len(rest) > 1 else 'is'} too."
        )


@dataclass(frozen=True)
class Meter:
    """An ohmmeter at a comparison."""

    comparison: Comparison

    @cached_property
    def now(self) -> Resistances:
        """The chassis as it is."""
        return resistances(self.comparison.found)

    @cached_property
    def whole(self) -> Resistances:
        """The chassis with everything put right."""
        return resistances(self.comparison.repaired, like=self.now)

    def tells(self, finding: Finding) -> Reading | None:
        """The reading that tells best, None where no ohmmeter tells."""
        alone = None if finding.harmless else self._mended([finding])
        if alone is None:
            return None
        points = finding.points[:_POINTS]
        told = [*self._pairs((*points, CHASSIS), alone)]
        told = told or [*self._pairs((*points[:2], *self._mains), alone)]
        if not told:
            return None
        # Rounded: of readings that tell as well one to chassis is taken, on every processor.
        best = max(told, key=lambda row: (row[0], round(row[1], 6), CHASSIS in row))
        stays, _, a, b, now, then = best
        both = ((self._turned, now), (Turned(alone.network), then))
        needed = dict.fromkeys(
            each for turned, reads in both for each in turned.needed(reads, a, b)
        )
        stands = "".join(f", {each}" for each in needed)
        if stays:
            return Reading(stands, a, b, now, then)
        whole = self.whole.between(a, b)
        return Reading(stands, a, b, now, then, whole, self._others(finding, a, b, whole))

    def _mended(self, findings: Iterable[Finding]) -> Resistances | None:
        """The chassis with some findings put right, in their order; None where it cannot be."""
        edits = [edit for finding in findings for edit in finding.remedy]
        if not edits:
            return None
        try:
            return resistances(apply(self.comparison.found, edits), like=self.now)
        except CannotApply:
            return None

    def _others(self, finding: Finding, a: Point, b: Point, whole: Range) -> tuple[str, ...]:
        """Findings without which the mended board does not read as it should; none if many.

        What can be spared is left out, half of the rest at a time, then a quarter, then less.
        """
        kept = [f for f in self.comparison.findings if f.remedy and f is not finding]
        size, steps = -(-len(kept) // 2), 0
        while size:
            at = 0
            while at < len(kept):
                if (steps := steps + 1) > _STEPS:
                    return ()
                fewer = [*kept[:at], *kept[at + size :]]
                if self._agrees([finding, *fewer], a, b, whole):
                    kept = fewer
                else:
                    at += size
            size //= 2
        return tuple(f.id for f in kept) if len(kept) <= _NAMED else ()

    def _agrees(self, mended: Sequence[Finding], a: Point, b: Point, whole: Range) -> bool:
        """Whether two points read as on the mended board with only some findings put right."""
        after = self._mended(f for f in self.comparison.findings if f in mended)
        return after is not None and not after.between(a, b).apart(whole)

    @cached_property
    def _turned(self) -> Turned:
        return Turned(self.now.network)

    @cached_property
    def _mains(self) -> tuple[Point, ...]:
        """Where else a conductor of the mains lead is looked for: fuses, switches."""
        parts = self.comparison.found.parts.values()
        return tuple(p for part in parts if part.kind in ("fuse", "switch") for p in part.points)

    def _pairs(
        self, points: Iterable[Point], alone: Resistances
    ) -> Iterator[tuple[bool, float, Point, Point, Range, Range]]:
        """Pairs of points whose readings differ beyond tolerance.

        First whether the later reading is that of the mended board, then how far apart they are.
        [1].
        """
        known = (self.now.network.of, alone.network.of, self.whole.network.of)
        tried = [p for p in dict.fromkeys(points) if all(p in each for each in known)]
        then, whole = alone.among(tried), self.whole.among(tried)
        for pair, now in self.now.among(tried).items():
            if now.apart(then[pair]):
                far = abs(math.log(_size(now) / _size(then[pair])))
                yield not then[pair].apart(whole[pair]), far, *pair, now, then[pair]


@dataclass(frozen=True)
class Turned:
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
