"""The work plan: what is to be done, by place on the chassis and by kind of work."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from buzzout.bench.care import unplugged
from buzzout.bench.decisions import UNSEEN, Settled, open_lines
from buzzout.bench.guide import still_unseen, unseen
from buzzout.bench.meter import check, ohms, round_trip
from buzzout.circuit import (
    CHASSIS,
    Change,
    Cut,
    Edit,
    Fit,
    Join,
    Move,
    Point,
    Remove,
    Rewire,
    listed,
)
from buzzout.compare import Comparison, Finding
from buzzout.electrics.checks import Advice, Check
from buzzout.electrics.resistance import Range, resistances
from buzzout.job import Item, PunchList
from buzzout.job.danger import SEVERITIES
from buzzout.job.readings import Turned

# Kinds of work, in the order in which they are done at one place: what nobody has seen yet before
# all, then what is taken away, what is soldered last. Common practice.
KINDS = ("see", "take out", "move", "replace", "fit", "wire", "valve", "look")
TITLES = {
    "see": "look first",
    "take out": "take out and cut",
    "move": "unsolder and move",
    "replace": "replace a part",
    "fit": "fit a part",
    "wire": "add a wire",
    "valve": "change a valve",
    "look": "look and decide",
}


_SPOILT = (
    " It was under voltage the wrong way round and is not trusted again: fit a new one"
    " (common practice)."
)


@dataclass(frozen=True, slots=True)
class Work:
    """One piece of work. `settled` is false while nobody decided; then it is only proposed.

    `todo` says what to do.
    """

    item: Item
    kind: str
    place: str
    settled: bool
    advice: Advice
    todo: str


@dataclass(frozen=True, slots=True)
class Place:
    """All the work at one place of the chassis, worst first, then by kind of work."""

    name: str
    severity: str
    works: tuple[Work, ...]


@dataclass(frozen=True, slots=True)
class Cold:
    """One reading between two points, and how the switches that it hangs on must stand. [ohm]."""

    at: Point
    to: Point
    ohms: Range
    stands: str = ""


@dataclass(frozen=True)
class Plan:
    """The places in the order of their worst finding, then as the chassis goes.

    `left` are findings that stay as they are by decision; `readings` the fewest resistance readings
    that bear on all the work, with the set as `cold` has it; `unseen` what seems to be missing
    where nobody has looked yet.
    """

    places: tuple[Place, ...]
    left: tuple[Item, ...]
    readings: tuple[Cold, ...]
    unseen: tuple[Item, ...] = ()

    @property
    def cold(self) -> str:
        """How the set must stand for the readings, in words."""
        return unplugged("", "valves out")

    @property
    def waits(self) -> str:
        """That what nobody has looked at is no work yet, in one sentence; "" where all is seen."""
        return still_unseen(len(self.unseen))


def plan(punch: PunchList, settled: Settled) -> Plan:
    """Group what is to be restored; accepted findings and departures are `left`."""
    works: list[Work] = []
    left: list[Item] = []
    waits: list[Item] = []
    for item in open_lines(punch):
        decision = settled.of.get(item.finding.id)
        if decision is not None and decision.word != "restore":
            left.append(item)
        elif unseen(item, punch):
            waits.append(item)
        else:
            works.append(_work(item, decision is not None, punch.comparison))
    places: dict[str, list[Work]] = {}
    for work in works:
        places.setdefault(work.place, []).append(work)
    order = {name: i for i, name in enumerate(punch.comparison.found.parts)}
    found = [_place(name, own) for name, own in places.items()]
    found.sort(key=lambda p: (SEVERITIES.index(p.severity), order.get(p.name, len(order))))
    checks = round_trip(punch.comparison, tuple(work.item.finding for work in works))
    return Plan(tuple(found), tuple(left), _cold(checks, punch.comparison), tuple(waits))


def _cold(checks: tuple[Check, ...], comparison: Comparison) -> tuple[Cold, ...]:
    """The readings with the switches and controls as they were computed with."""
    turned = Turned(resistances(comparison.found).network)
    return tuple(
        Cold(c.at, c.to, c.found, listed([*turned.needed(c.found, c.at, c.to)])) for c in checks
    )


def _place(name: str, works: list[Work]) -> Place:
    ranked = sorted(
        works, key=lambda w: (SEVERITIES.index(w.item.severity), KINDS.index(w.kind), w.item.number)
    )
    return Place(name, ranked[0].item.severity, tuple(ranked))


def _work(item: Item, decided: bool, comparison: Comparison) -> Work:
    finding = item.finding
    where = _where(finding, comparison)
    todo = finding.action
    if finding.kind == "reversed":
        parts = (comparison.reference.parts.get(name) for name in finding.parts)
        todo += _SPOILT if any(part and part.kind == "electrolytic" for part in parts) else ""
    return Work(item, _kind(finding), where, decided, check(finding, comparison), todo)


def _where(finding: Finding, comparison: Comparison) -> str:
    """The piece of furniture that the first point belongs to, else the part itself."""
    for point in finding.points:
        if point != CHASSIS:
            return point.owner
    names = [*finding.found, *finding.parts]
    known = [n for n in names if n in comparison.found.parts]
    return known[0] if known else (names[0] if names else "chassis")


def _kind(finding: Finding) -> str:
    if finding.kind == UNSEEN:
        return "see"
    if not finding.remedy:
        return "look"
    if finding.kind == "wrong-valve":
        return "valve"
    if finding.kind in ("values-exchanged", "reversed"):
        return "move"
    kinds: tuple[tuple[type[Edit], str], ...] = (
        (Change, "replace"), (Fit, "fit"), (Rewire, "move"), (Move, "move"), (Remove, "take out"),
        (Cut, "take out"), (Join, "wire"),
    )  # fmt: skip
    if {Remove, Fit} <= {type(edit) for edit in finding.remedy}:
        return "replace"
    return next((w for t, w in kinds if any(isinstance(e, t) for e in finding.remedy)), "move")


def told(made: Plan) -> list[str]:
    """The plan as lines of text."""
    lines: list[str] = []
    if made.readings:
        lines += [
            "",
            "Before any iron is hot these readings bear on it all:",
            f"  {made.cold}",
        ]
        lines += [
            f"  [ ] {c.at} to {c.to}{f', {c.stands}' if c.stands else ''}: {ohms(c.ohms)} if the"
            " transcription is right"
            for c in made.readings
        ]
    for place in made.places:
        lines += ["", f"{place.name}  ({place.severity})"]
        for work in place.works:
            lines += list(_lines(work))
    if made.left:
        lines += ["", f"left as it is, decided: {len(made.left)}"]
        lines += [f"  {i.number}. {i.finding.title}: {i.finding.text}" for i in made.left]
    if made.waits:
        lines += ["", made.waits]
    return lines[1:] if lines else ["Nothing to do."]


def _lines(work: Work) -> Iterator[str]:
    item = work.item
    undecided = "" if work.settled or work.kind == "see" else "  UNDECIDED"
    yield f"  [ ] {item.number}. {item.severity}, {TITLES[work.kind]}{undecided}"
    yield f"      {item.finding.text}"
    yield f"      id      {item.finding.id}"
    yield from _block("before", [item.confirm])
    yield from _block("do", [work.todo])
    yield from _block("after", [*_after(work)])


def _block(word: str, sentences: Iterable[str]) -> Iterator[str]:
    text = " ".join(s for s in sentences if s)
    if text:
        yield f"      {word:<7} {text}"


def _after(work: Work) -> Iterator[str]:
    reading = work.advice.check
    if reading is not None:
        was = ohms(reading.found)
        yield f"{reading.at} to {reading.to} reads {ohms(reading.repaired)}, before it {was}."
    elif work.kind == "valve":
        yield "Read the type on the valve again, in the socket."
    elif work.kind not in ("look", "see"):
        yield f"To test it, {work.advice.instead}."
    yield "Write what is there now into the chassis file and compare again."
