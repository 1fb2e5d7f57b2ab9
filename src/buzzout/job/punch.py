"""The punch list: findings in the order in which a careful person would take them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from buzzout.compare import Comparison, Finding
from buzzout.job.confirm import confirm
from buzzout.job.danger import SEVERITIES, judge
from buzzout.language.coverage import Coverage
from buzzout.language.departures import Departure

REFUSED = "Not fit for power: {count} open that can hurt or burn."
DAMAGE = "Not fit for power as it is: {count} open that can destroy a part."
OPEN = "Nothing dangerous was found by this comparison; {count} open that keep it from working."
CLEAR = "Nothing dangerous was found by this comparison. It compared what was typed in, no more."


@dataclass(frozen=True)
class Item:
    """One line of the punch list."""

    number: int
    finding: Finding
    severity: str
    why: str
    confirm: str


@dataclass(frozen=True)
class PunchList:
    """The items in order, with the verdict on power and what they rest on."""

    comparison: Comparison
    items: tuple[Item, ...]
    verdict: str
    coverage: Coverage | None = None
    departures: tuple[Departure, ...] = ()

    @property
    def open(self) -> tuple[Item, ...]:
        """The items that are real differences."""
        return tuple(item for item in self.items if not item.finding.harmless)

    @property
    def dangerous(self) -> bool:
        """Whether power must not go on."""
        return any(item.severity in ("danger", "damage") for item in self.items)


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
    judged = [
        (finding, verdict)
        for finding, verdict in zip(comparison.findings, judge(comparison), strict=True)
        if notes or not finding.harmless
    ]
    ranked = sorted(judged, key=lambda pair: SEVERITIES.index(pair[1][0]))
    items = tuple(
        Item(
            number, replace(finding, severity=severity), severity, why, confirm(finding, comparison)
        )
        for number, (finding, (severity, why)) in enumerate(ranked, 1)
    )
    return PunchList(comparison, items, _verdict(items), coverage, tuple(departures))


def _verdict(items: Sequence[Item]) -> str:
    count = {s: sum(item.severity == s for item in items) for s in SEVERITIES}
    if count["danger"]:
        return REFUSED.format(count=count["danger"])
    if count["damage"]:
        return DAMAGE.format(count=count["damage"])
    return OPEN.format(count=count["fault"]) if count["fault"] else CLEAR
