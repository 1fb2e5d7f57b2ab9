"""From rules, places and computations to one verdict for each finding."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from buzzout.compare import Comparison, Finding
from buzzout.job.danger import judge
from buzzout.job.rulebook import SEVERITIES, Verdict, Violation
from buzzout.job.weigh import Weighed

if TYPE_CHECKING:
    from buzzout.job.consequence import Consequence


def verdicts(
    comparison: Comparison, weighed: Weighed, computed: Sequence[Consequence | None]
) -> Iterator[tuple[Verdict, str]]:
    """For each finding, in their order, its verdict and what it does under power in words."""
    rows = zip(comparison.findings, judge(comparison), weighed.broken, computed, strict=True)
    for finding, placed, broken, result in rows:
        verdict = _computed(_worst(placed, broken), result)
        yield verdict, _told(finding, verdict, result, weighed)


def _worst(placed: Verdict, broken: Sequence[Violation]) -> Verdict:
    """The worse of place and rules; a rule that is broken says more than the place alone."""
    by_rule = sorted((_of_rule(v) for v in broken), key=lambda verdict: verdict.urgency)
    if not by_rule:
        return placed
    why = "; ".join(verdict.why for verdict in by_rule[:2])
    if placed.rank < by_rule[0].rank:
        return placed._replace(why=f"{why}; {placed.why}", fallback=False)
    return by_rule[0]._replace(why=why)


def _of_rule(broken: Violation) -> Verdict:
    why = f"{broken.text}: {broken.rule.why}"
    return Verdict(broken.level, why, broken.rule.reaches, source=broken.rule.source)


def _computed(verdict: Verdict, computed: Consequence | None) -> Verdict:
    """A verdict after the computation.

    Limits that are passed raise it; where only the lack of a computation had set it, a clean one
    eases it, and a reason of its own stands for that of the place. What cannot be computed ranks
    high.
    """
    if computed is None:
        return verdict
    if not computed.severity:
        unknown = "what it does under power could not be computed, so it ranks high"
        high = verdict.rank <= 1 or not verdict.fallback
        return verdict if high else Verdict("damage", unknown, verdict.reaches)
    rank = SEVERITIES.index(computed.severity)
    telling = verdict.fallback and computed.why and rank == verdict.rank
    if computed.severity != "fault" and (rank < verdict.rank or telling):
        why = f"computed: {computed.why or 'it drives a part past its limit'}"
        return Verdict(computed.severity, why, verdict.reaches, computed.worst)
    if verdict.fallback and computed.severity == "fault" and computed.eases:
        why = "it is not as the drawing has it; computed, no limit is passed"
        return Verdict("fault", why, verdict.reaches)
    return verdict._replace(times=computed.worst)


def _told(
    finding: Finding, verdict: Verdict, computed: Consequence | None, weighed: Weighed
) -> str:
    """What a line says of power: a current to the chassis, else what was computed.

    A danger is not played down by a computation that looked at something else, and of a note there
    is nothing to tell.
    """
    ways = [
        v.text
        for v in weighed.board.violations
        if v.kind.startswith("path-to") and set(v.parts) & set(finding.found)
    ]
    if ways:
        return f"As it stands, {ways[0]}."
    mild = computed is None or computed.severity == "fault"
    if computed is None or (mild and verdict.severity in ("danger", "note")):
        return ""
    return computed.text
