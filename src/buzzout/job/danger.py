"""How bad a finding is, from what it is and where it sits; every verdict says why.

The rules are data, in `references/rules/places.yaml`: the first that fits decides.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from buzzout.catalogue import device, plain
from buzzout.catalogue.shelf import near_relatives
from buzzout.circuit import Circuit, Point
from buzzout.compare import Comparison, Finding
from buzzout.job.phase import coil, oscillates, unmarked
from buzzout.job.places import Places
from buzzout.job.rulebook import SEVERITIES, PlaceRule, Verdict, place_rules
from buzzout.job.supplyline import SupplyLine

__all__ = ["SEVERITIES", "TRAITS", "Case", "judge"]


@dataclass(frozen=True)
class Case:
    """One finding with the places it touches on the drawing and on the board."""

    finding: Finding
    drawn: frozenset[str]
    there: frozenset[str]
    comparison: Comparison

    def fits(self, rule: PlaceRule) -> bool:
        """Whether everything that a rule asks holds."""
        places = self.drawn | self.there
        asked = (
            (rule.kinds, {self.finding.kind}),
            (rule.at, places),
            (rule.and_at, places),
            (rule.there, self.there),
            (rule.parts, self.kinds()),
        )
        met = all(not wanted or wanted & found for wanted, found in asked)
        return met and (not rule.trait or TRAITS[rule.trait](self))

    def kinds(self) -> frozenset[str]:
        """Kinds of the drawn parts that it is about."""
        parts = self.comparison.reference.parts
        return frozenset(parts[name].kind for name in self.finding.parts if name in parts)


def _same_primary(case: Case) -> bool:
    """A lead that belongs on one terminal of a mains primary and sits on another of it."""
    moved = frozenset(p for p in case.finding.points if p.owner in case.comparison.found.parts)
    if case.finding.kind not in ("wrong-point", "wrong-tap") or len(moved) < 2:
        return False
    primaries = SupplyLine(case.comparison.reference).primaries
    wound = (frozenset(map(part.point, each.terminals)) for part, each in primaries)
    return any(moved <= terminals for terminals in wound)


def _same_type(case: Case) -> bool:
    """Sockets that hold one type of valve, as drawn and as fitted."""
    names, sides = case.finding.parts, (case.comparison.reference, case.comparison.found)
    types = {plain(side.parts[n].type) for side in sides for n in names if n in side.parts}
    return len(types) == 1 and types != {""}


def _near_relative(case: Case) -> bool:
    """A fitted type without a sheet whose name is that of the drawn type with another suffix."""
    drawn, found = case.comparison.reference.parts, case.comparison.found.parts
    pairs = (
        (drawn[name].type, found[other].type)
        for name in case.finding.parts
        for other in case.comparison.matching.parts.get(name, (name,))
        if name in drawn and other in found
    )
    return any(_version(wanted, fitted) for wanted, fitted in pairs)


def _version(wanted: str, fitted: str) -> bool:
    """`6SN7GTB` for `6SN7GT`, or a type that the sheet of the drawn one calls its relative."""
    if not wanted or not fitted or device(fitted) is not None:
        return False
    known = device(wanted)
    names = known.designations if known else (wanted,)
    relative = f" of {known.name}" if known else ""
    if relative and any(told.endswith(relative) for told, _ in near_relatives(fitted)):
        return True
    stems = (plain(name) for name in names)
    return any(len(s) > 2 and plain(fitted).startswith(s) for s in stems if s[-1].isalpha())


def _only_capacitors(case: Case) -> bool:
    """It is about capacitors and nothing else, on the drawing and on the board."""
    found = case.comparison.found.parts
    kinds = {found[name].kind for name in case.finding.found if name in found}
    told = case.kinds() | kinds
    return bool(case.kinds()) and told <= {"capacitor", "electrolytic", "can"}


TRAITS: Mapping[str, Callable[[Case], bool]] = {
    "harmless": lambda case: case.finding.harmless,
    "phase-unmarked": lambda case: unmarked(case.finding),
    "oscillator-unmarked": lambda case: oscillates(case.finding),
    "coil-turned": lambda case: coil(case.finding),
    "unknown-load": lambda case: SupplyLine(case.comparison.found).draws.most[0] == 0,
    "same-primary": _same_primary,
    "same-type": _same_type,
    "near-relative": _near_relative,
    "only-capacitors": _only_capacitors,
}


def judge(comparison: Comparison) -> list[Verdict]:
    """Severity and reason for each finding by its place, in the order of the comparison."""
    drawn, there = Places(comparison.reference), Places(comparison.found)
    return [_verdict(_case(f, comparison, drawn, there)) for f in comparison.findings]


def _verdict(case: Case) -> Verdict:
    rule = next(rule for rule in place_rules() if case.fits(rule))
    reaches = bool((case.drawn | case.there) & {"mains", "earth", "outside"})
    return Verdict(rule.severity, rule.why, reaches, fallback=bool(rule.until), source=rule.source)


def _case(finding: Finding, comparison: Comparison, drawn: Places, there: Places) -> Case:
    reference, found = comparison.reference, comparison.found
    points = [*finding.points]
    on_drawing = [*points, *_terminals(reference, finding.parts)]
    on_board = [*points, *_terminals(found, finding.found)]
    return Case(finding, drawn.of(on_drawing), there.of(on_board), comparison)


def _terminals(circuit: Circuit, names: tuple[str, ...]) -> list[Point]:
    """Ends of the small parts among these; furniture has its points told one by one."""
    parts = [circuit.parts[name] for name in names if name in circuit.parts]
    return [
        p for part in parts if not part.furniture or len(part.terminals) == 2 for p in part.points
    ]
