"""May power go on? Three answers, with what they rest on and what nobody has looked at."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from buzzout.circuit import Part, listed
from buzzout.compare import Comparison
from buzzout.job.discharge import Discharge, discharges
from buzzout.job.fuses import fuses
from buzzout.job.rails import Rails
from buzzout.job.rulebook import Judgement, questions
from buzzout.language.coverage import Coverage

if TYPE_CHECKING:
    from buzzout.job.punch import Item

REFUSED, LIMITED, NOTHING_FOUND = "do not power", "behind a limiter only", "nothing dangerous found"
VERDICTS: Mapping[str, str] = {
    REFUSED: "Not fit for power: {count} open that can hurt, burn or destroy.",
    LIMITED: "Power only behind a lamp limiter, with the points below watched: {why}.",
    NOTHING_FOUND: (
        "Nothing dangerous was found by this comparison. It compared what was typed in, no more."
    ),
}
LIMITER = "the lamp of the limiter: bright and staying bright is a short, switch off"
ISOLATING = "an isolating transformer before the set, nothing earthed near it: its chassis is live"


@dataclass(frozen=True)
class Gate:
    """The answer on power.

    `state` is one of the three of `VERDICTS`; `verdict` the sentence. `because` are the numbers of
    the items that stand in the way; `watch` what to watch behind a limiter; `checked` and
    `unchecked` say what the answer rests on and what it does not; `asked` are questions that only
    the person can answer; `accepted` the items that somebody accepted, with who and why;
    `discharge` the reservoirs with their times; `fuses` what each fuse carries and stands.
    """

    state: str
    verdict: str
    because: tuple[int, ...]
    watch: tuple[str, ...]
    checked: tuple[str, ...]
    unchecked: tuple[str, ...]
    asked: tuple[str, ...]
    accepted: tuple[str, ...] = ()
    discharge: tuple[Discharge, ...] = ()
    fuses: tuple[str, ...] = ()


def gate(
    items: Sequence[Item],
    board: Judgement,
    coverage: Coverage | None,
    comparison: Comparison,
    lent: Sequence[str] = (),
) -> Gate:
    """Decide from the items, the rules and the coverage of the transcription.

    `lent` are transformers with winding figures of the drawing.
    """
    facts = Gate(
        REFUSED,
        "",
        (),
        (),
        tuple(_checked(board, coverage, comparison, lent)),
        tuple(_unchecked(items, board, coverage, comparison)),
        tuple(q.asks for q in questions() if q.when in board.features),
        discharge=discharges(board.rails or Rails(comparison.found)),
        fuses=tuple(told for each in fuses(board.side) for told in each.told) if board.side else (),
    )
    return decided(facts, items, {})


def decided(facts: Gate, items: Sequence[Item], accepted: Mapping[str, str]) -> Gate:
    """The answer once somebody accepted some findings.

    `accepted` gives who and why by the id of a finding. An accepted fault no longer stands in the
    way; an accepted danger to a part keeps the set behind the limiter; a danger to a person is
    never lifted by a decision. A set that is made without a transformer is the one exception: no
    departure changes that, so whoever accepts it works behind an isolating transformer.
    """
    barred = [i for i in items if _bad(i) and not (_in(i, accepted) and can_be_accepted(i))]
    open_ = [i for i in items if i.severity == "fault" and not _in(i, accepted)]
    eased = [i for i in items if _bad(i) and i not in barred]
    reasons = _reasons(open_, eased, facts.unchecked)
    state = REFUSED if barred else LIMITED if reasons else NOTHING_FOUND
    watched = [*eased, *open_]
    return replace(
        facts,
        state=state,
        verdict=VERDICTS[state].format(count=len(barred), why=listed(reasons)),
        because=tuple(item.number for item in (barred or watched)),
        watch=tuple(_watch(watched)) if state == LIMITED else (),
        accepted=tuple(
            f"number {i.number}, {i.finding.title}: {accepted[i.finding.id]}"
            for i in items
            if _in(i, accepted)
        ),
    )


def _bad(item: Item) -> bool:
    return item.severity in ("danger", "damage")


def _in(item: Item, accepted: Mapping[str, str]) -> bool:
    return item.finding.id in accepted


def can_be_accepted(item: Item) -> bool:
    """Whether accepting a finding takes it out of the way of power; of a danger it does not."""
    return item.severity != "danger" or item.rule == "live-chassis"


def _reasons(faults: Sequence[Item], eased: Sequence[Item], unchecked: Sequence[str]) -> list[str]:
    """What keeps a set behind the limiter."""
    told = []
    if faults:
        keep = "keep" if len(faults) > 1 else "keeps"
        told.append(f"{len(faults)} open that {keep} it from working")
    if eased:
        told.append(f"{len(eased)} accepted that can still do harm")
    if unchecked:
        told.append("not everything was looked at")
    return told


def _watch(items: Sequence[Item]) -> Iterator[str]:
    """Points to keep a meter or an eye on while it comes up."""
    yield LIMITER
    if any(item.rule == "live-chassis" for item in items):
        yield ISOLATING
    for item in items:
        where = listed([str(p) for p in item.finding.points[:2]]) or "see the list"
        yield f"{where} (number {item.number}, {item.finding.title})"


def _checked(
    board: Judgement, coverage: Coverage | None, comparison: Comparison, lent: Sequence[str]
) -> Iterator[str]:
    if comparison.proof.sufficient:
        yield "with every line of the list done, the chassis as typed in equals the drawing"
    if coverage is not None:
        sure = f"{coverage.confirmed} of {coverage.total} leads and wires"
        yield f"{sure} were seen from both ends"
    sides = {"cord": "the mains side", "reservoir": "the HT"}
    ruled = [words for feature, words in sides.items() if feature in board.features]
    if ruled:
        yield f"the rules of {listed(ruled)}, on the drawing and on the chassis as typed in"
    if lent:
        whose = (
            "the drawing's figures (volts, amperes, ohms, henries) where the chassis file has none"
        )
        yield f"the windings of {listed(lent)}: {whose}"


def _unchecked(
    items: Sequence[Item], board: Judgement, coverage: Coverage | None, comparison: Comparison
) -> Iterator[str]:
    """Everything that the answer does not rest on, one sentence each."""
    if not comparison.proof.sufficient:
        yield "the list may be incomplete: " + "; ".join(comparison.proof.why)
    doubtful = [i.number for i in items if i.finding.kind == "not-verified"]
    if doubtful:
        yield f"not verified: number {listed(doubtful)}"
    yield from (f"not judged: {each}" for each in board.unjudged)
    if coverage is None:
        yield "how much of the chassis was written down is not known"
    else:
        yield from _gaps(coverage)


def _gaps(coverage: Coverage) -> Iterator[str]:
    if coverage.contradictions:
        yield f"pairs of lines that contradict each other: {len(coverage.contradictions)}"
    if coverage.once:
        yield f"leads and wires seen from one end only: {coverage.once}"
    if coverage.unvisited:
        owners = dict.fromkeys(point.owner for point in coverage.unvisited)
        yield f"points that no line speaks of: {len(coverage.unvisited)}, on {_few(list(owners))}"
    if coverage.unread:
        yield f"parts with something unread: {_few([_name(p) for p in coverage.unread])}"
    if coverage.unseen:
        yield f"parts with an end nobody saw: {_few([_name(p) for p in coverage.unseen])}"
    if coverage.unlooked:
        yield f"taken from the drawing, not looked at: {_few([p.name for p in coverage.unlooked])}"


def _name(part: Part) -> str:
    return f"line {part.span.line}" if part.anonymous else part.name


def _few(names: Sequence[str], most: int = 8) -> str:
    if len(names) <= most:
        return listed(names)
    return f"{', '.join(names[:most])} and {len(names) - most} more"
