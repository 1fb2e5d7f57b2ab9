"""The punch list: findings in the order in which a careful person would take them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

from buzzout.compare import Comparison, Finding
from buzzout.job.confirm import confirm
from buzzout.job.gate import Gate, decided, gate
from buzzout.job.lent import lent
from buzzout.job.phase import phased
from buzzout.job.readings import Meter, Reading
from buzzout.job.rulebook import Verdict, Violation
from buzzout.job.unchanged import Unchanged, unchanged
from buzzout.job.verdicts import verdicts
from buzzout.job.weigh import Weighed, weigh
from buzzout.language.coverage import Coverage
from buzzout.language.departures import Departure

if TYPE_CHECKING:
    from buzzout.job.consequence import Consequence


@dataclass(frozen=True)
class Item:
    """One line of the punch list.

    `why` says why it ranks so, `consequence` what it would do under power where that is known.
    `breaks` are the ids of the rules that the difference breaks. `rule` is the id of the rule that
    a line rests on when no difference does. `source` is where the rule that ranked it comes from.
    """

    number: int
    finding: Finding
    severity: str
    why: str
    confirm: str
    consequence: str = ""
    rule: str = ""
    source: str = ""
    breaks: tuple[str, ...] = ()


@dataclass(frozen=True)
class PunchList:
    """The items in order, with the verdict on power and what they rest on.

    `items` are the differences between drawing and chassis; `rules` are lines that a rule of the
    trade adds, because the drawing is unsafe itself or the chassis breaks what no drawing says.
    Both are numbered together, in the order of `everything`. `whole` is what the chassis would do
    as it stands, and `computed` what each finding does, by its id, where that was computed. What
    the rules made of it is `weighed`.
    """

    comparison: Comparison
    items: tuple[Item, ...]
    verdict: str
    coverage: Coverage | None = None
    departures: tuple[Departure, ...] = ()
    rules: tuple[Item, ...] = ()
    gate: Gate | None = None
    whole: str = ""
    computed: Mapping[str, Consequence | None] = field(default_factory=dict)
    weighed: Weighed | None = field(default=None, compare=False, repr=False)

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


@dataclass(frozen=True)
class Listing:
    """A comparison on its way to the list; each step is worked out once, when it is asked for.

    `before` is a list made before of the same drawing: what it says is not asked anew at once.
    """

    comparison: Comparison
    coverage: Coverage | None = None
    departures: Sequence[Departure] = ()
    notes: bool = True
    before: PunchList | None = None

    @cached_property
    def _compared(self) -> Comparison:
        return phased(self._lent[0])

    @cached_property
    def _lent(self) -> tuple[Comparison, tuple[str, ...]]:
        """The comparison with what the drawing tells of silent windings, and of which parts."""
        return lent(self.comparison)

    @cached_property
    def _weighed(self) -> Weighed:
        return weigh(self._compared, lent=bool(self._lent[1]))

    @cached_property
    def _readings(self) -> Mapping[str, Reading | None]:
        """What an ohmmeter tells of each finding, by its id."""
        meter = Meter(self._compared)
        return {each.id: meter.tells(each) for each in self._compared.findings}

    @cached_property
    def _unchanged(self) -> Unchanged:
        """What the list before says of findings that are what they were."""
        before = self.before
        if before is None or before.weighed is None:
            return Unchanged()
        return unchanged(before.comparison, before.weighed, before.computed, self._compared)

    def first(self) -> PunchList:
        """The list before anything is asked of it: what the list before says still stands.

        Findings that are new rank by place alone, and there is no gate.
        """
        known = self._unchanged.computed
        computed = [known.get(each.id) for each in self._compared.findings]
        return self._list(computed, self._unchanged.weighed(self._compared))

    def early(self) -> PunchList:
        """The list by places and rules, without readings to confirm with."""
        known = self._unchanged.computed
        computed = [known.get(each.id) for each in self._compared.findings]
        return self._gated(self._list(computed, self._weighed))

    def plain(self) -> PunchList:
        """The list with readings to confirm with; nothing is computed under power."""
        return self._made((None,) * len(self._compared.findings))

    def whole(self, progress: Callable[[str, float], None] | None = None) -> PunchList:
        """The list with what each finding and all of them together would do under power."""
        from buzzout.job.consequence import Bench  # noqa: PLC0415 - heavy libraries, on demand

        bench, findings = Bench(self._compared), self._compared.findings
        computed = []
        for index, finding in enumerate(findings):
            if progress is not None:
                progress("what each would do under power", index / len(findings))
            computed.append(bench.of(finding))
        return self._made(computed, bench.whole())

    def _made(self, computed: Sequence[Consequence | None], whole: str = "") -> PunchList:
        """The list with everything that was asked."""
        made = self._list(computed, self._weighed, whole)
        numbers = {item.finding.id: item.number for item in made.items}
        return self._gated(replace(made, items=tuple(self._confirmed(made.items, numbers))))

    def _list(
        self, computed: Sequence[Consequence | None], weighed: Weighed, whole: str = ""
    ) -> PunchList:
        """The lines in their order, with neither readings nor gate."""
        differences = _differences(self._compared, weighed, computed)
        lines = [
            line
            for line in (*differences, *map(_by_rule, weighed.alone))
            if self.notes or not line[1].finding.harmless
        ]
        ranked = sorted(lines, key=lambda line: line[0].urgency)
        numbered = _warned(
            [replace(item, number=number) for number, (_, item) in enumerate(ranked, 1)]
        )
        ids = (finding.id for finding in self._compared.findings)
        return PunchList(
            self._compared,
            tuple(item for item in numbered if not item.rule),
            "",
            self.coverage,
            tuple(self.departures),
            tuple(item for item in numbered if item.rule),
            whole=whole,
            computed=dict(zip(ids, computed, strict=True)),
            weighed=weighed,
        )

    def _gated(self, made: PunchList) -> PunchList:
        """With the answer on power."""
        board, lent = self._weighed.board, self._lent[1]
        told = gate(made.everything, board, self.coverage, self._compared, lent)
        return replace(made, gate=told, verdict=told.verdict)

    def _confirmed(self, items: Sequence[Item], numbers: Mapping[str, int]) -> Iterator[Item]:
        """Each difference with how to confirm it; a reading may name other lines by number."""
        for item in items:
            read = self._readings[item.finding.id]
            words = read.words(numbers) if read else ""
            yield replace(item, confirm=confirm(item.finding, self._compared, words))


def punch_list(
    comparison: Comparison,
    coverage: Coverage | None = None,
    departures: Sequence[Departure] = (),
    *,
    notes: bool = True,
    consequences: bool = False,
) -> PunchList:
    """Order the findings: danger, damage, fault, note; what can reach a person first within each.

    Without `notes` harmless differences are left out. With `consequences` the operating point of
    each finding is computed; severity and order then follow the limits that are passed.
    """
    listing = Listing(comparison, coverage, departures, notes)
    return listing.whole() if consequences else listing.plain()


_FUSE_VALUE = ("fuse-too-large", "fuse-too-small", "fuse-stays", "fuse-inrush")


def _warned(items: Sequence[Item]) -> list[Item]:
    """No line tells to fit what another line tells to take out, to leave or to fit otherwise.

    A part that the drawing has against a rule may also differ from the drawing: putting it right
    as drawn would put the danger back.
    """
    against = {
        (name, item.rule in _FUSE_VALUE): f"Number {item.number} comes first: {better}"
        for item in items
        if item.rule and (better := _better(item))
        for name in item.finding.parts
    }
    told = []
    for item in items:
        valued = (False, True) if item.finding.kind == "value-wrong" else (False,)
        keys = ((name, value) for value in valued for name in item.finding.parts)
        first = next((against[key] for key in keys if key in against), None)
        if first is not None and not item.rule:
            action = item.finding.action
            action = f"{first}. Only to be as drawn: {action[:1].lower()}{action[1:]}"
            item = replace(item, finding=replace(item.finding, action=action))  # noqa: PLW2901
        told.append(item)
    return told


def _better(item: Item) -> str:
    """What a line by rule makes of its part as the drawing has it, "" where it stays."""
    action = item.finding.action
    if action.startswith("Take it out"):
        return "the part is better gone"
    if item.rule not in _FUSE_VALUE:
        return ""
    return "it is better as it is" if action.startswith("Keep it") else "another value is better"


def _differences(
    comparison: Comparison,
    weighed: Weighed,
    computed: Sequence[Consequence | None],
) -> Iterator[tuple[Verdict, Item]]:
    """The findings as lines of the list, not yet in order."""
    told = verdicts(comparison, weighed, computed)
    rows = zip(comparison.findings, told, weighed.broken, strict=True)
    for finding, (verdict, text), broken in rows:
        marked = replace(finding, severity=verdict.severity)
        ids = tuple(dict.fromkeys(v.kind for v in broken))
        yield (
            verdict,
            Item(
                0, marked, verdict.severity, verdict.why, "", text,
                source=verdict.source, breaks=ids,
            ),
        )  # fmt: skip


def _by_rule(broken: Violation) -> tuple[Verdict, Item]:
    """A violation as a line of the list."""
    rule, level = broken.rule, broken.level
    marked = replace(broken, severity=level)
    item = Item(0, marked, level, rule.why, rule.confirm, rule=broken.kind, source=rule.source)
    return Verdict(level, rule.why, rule.reaches), item


def accepting(punch: PunchList, accepted: Mapping[str, str]) -> PunchList:
    """The same list once somebody accepted findings: who and why, by the id of the finding."""
    if punch.gate is None:
        return punch
    told = decided(punch.gate, punch.everything, accepted)
    return replace(punch, gate=told, verdict=told.verdict)
