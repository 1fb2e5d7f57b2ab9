"""The punch list: findings in the order in which a careful person would take them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from buzzout.compare import Comparison, Finding
from buzzout.job.confirm import confirm
from buzzout.job.danger import judge
from buzzout.job.gate import Gate, gate
from buzzout.job.rulebook import Verdict, Violation
from buzzout.job.weigh import Weighed, weigh
from buzzout.language.coverage import Coverage
from buzzout.language.departures import Departure


@dataclass(frozen=True)
class Item:
    """One line of the punch list.

    `why` says why it ranks so, `consequence` what it would do under power where that was computed.
    `rule` is the id of the rule that a line rests on when no difference does, `source` where that
    rule comes from.
    """

    number: int
    finding: Finding
    severity: str
    why: str
    confirm: str
    consequence: str = ""
    rule: str = ""
    source: str = ""


@dataclass(frozen=True)
class PunchList:
    """The items in order, with the verdict on power and what they rest on.

    `items` are the differences between drawing and chassis; `rules` are lines that a rule of the
    trade adds, because the drawing is unsafe itself or the chassis breaks what no drawing says.
    Both are numbered together, in the order of `everything`.
    """

    comparison: Comparison
    items: tuple[Item, ...]
    verdict: str
    coverage: Coverage | None = None
    departures: tuple[Departure, ...] = ()
    rules: tuple[Item, ...] = ()
    gate: Gate | None = None

    @property
    def everything(self) -> tuple[Item, ...]:
        """Differences and rules in one list, most dangerous first."""
        return tuple(sorted((*self.items, *self.rules), key=lambda item: item.number))

    @property
    def open(self) -> tuple[Item, ...]:
        """The items that are real differences."""
        return tuple(item for item in self.items if not item.finding.harmless)

    @property
    def dangerous(self) -> bool:
        """Whether power must not go on."""
        return any(item.severity in ("danger", "damage") for item in self.everything)


def punch_list(
    comparison: Comparison,
    coverage: Coverage | None = None,
    departures: Sequence[Departure] = (),
    *,
    notes: bool = True,
) -> PunchList:
    """Order the findings: danger, damage, fault, note; within each as the drawing goes.

    Without `notes` harmless differences are left out.
    """
    weighed = weigh(comparison)
    lines = [*_differences(comparison, weighed, notes=notes), *map(_by_rule, weighed.alone)]
    ranked = sorted(lines, key=lambda line: line[0].urgency)
    numbered = [replace(item, number=number) for number, (_, item) in enumerate(ranked, 1)]
    items = tuple(item for item in numbered if not item.rule)
    rules = tuple(item for item in numbered if item.rule)
    told = gate(numbered, weighed.board, coverage, comparison)
    return PunchList(comparison, items, told.verdict, coverage, tuple(departures), rules, told)


def _differences(
    comparison: Comparison, weighed: Weighed, *, notes: bool
) -> Iterator[tuple[Verdict, Item]]:
    """The findings with the worse of two verdicts: by place, and by the rules that they break."""
    rows = zip(comparison.findings, judge(comparison), weighed.broken, strict=True)
    for finding, placed, broken in rows:
        if notes or not finding.harmless:
            verdict = _worst(placed, broken)
            told = replace(finding, severity=verdict.severity)
            yield (
                verdict,
                Item(0, told, verdict.severity, verdict.why, confirm(finding, comparison)),
            )


def _worst(placed: Verdict, broken: Sequence[Violation]) -> Verdict:
    """A rule that is broken says more than the place alone."""
    verdicts = sorted((_of_rule(v) for v in broken), key=lambda verdict: verdict.urgency)
    if not verdicts or placed.urgency[0] < verdicts[0].urgency[0]:
        return placed
    why = "; ".join(verdict.why for verdict in verdicts[:2])
    return Verdict(verdicts[0].severity, why, verdicts[0].reaches)


def _of_rule(broken: Violation) -> Verdict:
    why = f"{broken.text}: {broken.rule.why}"
    return Verdict(broken.level, why, broken.rule.reaches)


def _by_rule(broken: Violation) -> tuple[Verdict, Item]:
    rule = broken.rule
    verdict = Verdict(broken.level, rule.why, rule.reaches)
    told = replace(broken, severity=broken.level)
    return verdict, Item(
        0, told, broken.level, rule.why, rule.confirm, rule=broken.kind, source=rule.source
    )
