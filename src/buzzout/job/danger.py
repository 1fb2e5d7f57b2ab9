"""How bad a finding is, from what it is and where it sits; every verdict says why.

The rules are common practice, in order: the first that fits decides.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from buzzout.circuit import Circuit, Point
from buzzout.compare import Comparison, Finding
from buzzout.job.places import Places
from buzzout.job.rulebook import SEVERITIES, Verdict

__all__ = ["RULES", "SEVERITIES", "Case", "Rule", "judge"]

_WHOLE_SOCKET = ("socket-mirrored", "socket-shifted", "sockets-exchanged")
_JOINS = ("bridge", "wrong-point", "leads-exchanged", "pins-exchanged", "part-extra")


@dataclass(frozen=True)
class Case:
    """One finding with the places it touches on the drawing and on the board."""

    finding: Finding
    drawn: frozenset[str]
    there: frozenset[str]
    reference: Circuit

    @property
    def places(self) -> frozenset[str]:
        """Everything that it touches on either side."""
        return self.drawn | self.there

    def kinds(self) -> set[str]:
        """Kinds of the drawn parts that it is about."""
        parts = self.reference.parts
        return {parts[name].kind for name in self.finding.parts if name in parts}

    def electrolytic(self) -> bool:
        """Whether it is about an electrolytic."""
        return bool(self.kinds() & {"electrolytic", "can"})


@dataclass(frozen=True)
class Rule:
    """A verdict and when it holds; a `fallback` gives way to a computation."""

    severity: str
    why: str
    holds: Callable[[Case], bool]
    fallback: bool = False


RULES: tuple[Rule, ...] = (
    Rule(
        "danger",
        "it could not be verified, and it is on the mains side",
        lambda c: c.finding.kind == "not-verified" and bool(c.places & {"mains", "earth"}),
    ),
    Rule("note", "it could not be verified", lambda c: c.finding.kind == "not-verified"),
    Rule("note", "it makes no difference to how the set works", lambda c: c.finding.harmless),
    Rule(
        "danger",
        "the mains side and the chassis or something that can be touched come together here",
        lambda c: "mains" in c.places and bool(c.there & {"chassis", "outside"}),
    ),
    Rule(
        "damage",
        "a fuse of another value protects less, or blows and is then replaced by a larger one",
        lambda c: c.finding.kind == "value-wrong" and c.kinds() == {"fuse"},
    ),
    Rule("danger", "it is on the mains side of the set", lambda c: "mains" in c.places),
    Rule("danger", "the protective earth depends on it", lambda c: "earth" in c.places),
    Rule(
        "danger",
        "a reversed electrolytic on the HT heats up and can burst",
        lambda c: c.finding.kind == "reversed" and c.electrolytic() and "ht" in c.places,
    ),
    Rule(
        "danger",
        "HT can reach something that is touched from outside",
        lambda c: c.finding.kind in _JOINS and {"ht", "outside"} <= c.places,
    ),
    Rule(
        "damage",
        "HT can land on electrodes that are not made for it",
        lambda c: c.finding.kind in _WHOLE_SOCKET,
        fallback=True,
    ),
    Rule(
        "damage",
        "another type has limits, currents and perhaps pins of its own",
        lambda c: c.finding.kind == "wrong-valve",
        fallback=True,
    ),
    Rule(
        "damage",
        "it can fail under the voltage or power that it gets",
        lambda c: c.finding.kind == "under-rated",
        fallback=True,
    ),
    Rule(
        "damage",
        "it decides the current of an output valve",
        lambda c: "output" in c.places,
        fallback=True,
    ),
    Rule(
        "damage",
        "it is on the HT: a wrong current there can burn a part or the transformer",
        lambda c: "ht" in c.places,
        fallback=True,
    ),
    Rule("fault", "the set will not work as drawn", lambda _: True, fallback=True),
)


def judge(comparison: Comparison) -> list[Verdict]:
    """Severity and reason for each finding by its place, in the order of the comparison."""
    drawn, there = Places(comparison.reference), Places(comparison.found)
    return [_verdict(_case(f, comparison, drawn, there)) for f in comparison.findings]


def _verdict(case: Case) -> Verdict:
    rule = next(rule for rule in RULES if rule.holds(case))
    reaches = bool(case.places & {"mains", "earth", "outside"})
    return Verdict(rule.severity, rule.why, reaches, fallback=rule.fallback)


def _case(finding: Finding, comparison: Comparison, drawn: Places, there: Places) -> Case:
    reference, found = comparison.reference, comparison.found
    points = [*finding.points]
    on_drawing = [*points, *_terminals(reference, finding.parts)]
    on_board = [*points, *_terminals(found, finding.found)]
    return Case(finding, drawn.of(on_drawing), there.of(on_board), reference)


def _terminals(circuit: Circuit, names: tuple[str, ...]) -> list[Point]:
    """Ends of the small parts among these; furniture has its points told one by one."""
    parts = [circuit.parts[name] for name in names if name in circuit.parts]
    return [
        p for part in parts if not part.furniture or len(part.terminals) == 2 for p in part.points
    ]
