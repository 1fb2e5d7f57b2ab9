"""The work plan: what is to be done, by place on the chassis and by kind of work."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from buzzout.bench.decisions import Settled, open_lines
from buzzout.bench.meter import Check, Meter, meter, ohms
from buzzout.circuit import CHASSIS, Change, Cut, Edit, Fit, Join, Move, Remove, Rewire
from buzzout.compare import Comparison, Finding
from buzzout.job import Item, PunchList
from buzzout.job.danger import SEVERITIES

# Kinds of work, in the order in which they are done at one place: what is taken away first, what
# is soldered last. Common practice.
KINDS = ("take out", "move", "replace", "fit", "wire", "valve", "look")
TITLES = {
    "take out": "take out and cut",
    "move": "unsolder and move",
    "replace": "replace a part",
    "fit": "fit a part",
    "wire": "add a wire",
    "valve": "change a valve",
    "look": "look and decide",
}


@dataclass(frozen=True, slots=True)
class Work:
    """One piece of work. `settled` is false while nobody decided; then it is only proposed."""

    item: Item
    kind: str
    place: str
    settled: bool
    check: Check | None


@dataclass(frozen=True, slots=True)
class Place:
    """All the work at one place of the chassis, worst first, then by kind of work."""

    name: str
    severity: str
    works: tuple[Work, ...]


@dataclass(frozen=True)
class Plan:
    """The places in the order of their worst finding, then as the chassis goes."""

    places: tuple[Place, ...]
    left: tuple[Item, ...]


def plan(punch: PunchList, settled: Settled) -> Plan:
    """Group what is to be restored; accepted findings and departures are `left`."""
    tool = meter(punch.comparison)
    works: list[Work] = []
    left: list[Item] = []
    for item in open_lines(punch):
        decision = settled.of.get(item.finding.id)
        if decision is not None and decision.word != "restore":
            left.append(item)
        else:
            works.append(_work(item, decision is not None, punch.comparison, tool))
    places: dict[str, list[Work]] = {}
    for work in works:
        places.setdefault(work.place, []).append(work)
    order = {name: i for i, name in enumerate(punch.comparison.found.parts)}
    found = [_place(name, own) for name, own in places.items()]
    found.sort(key=lambda p: (SEVERITIES.index(p.severity), order.get(p.name, len(order))))
    return Plan(tuple(found), tuple(left))


def _place(name: str, works: list[Work]) -> Place:
    ranked = sorted(
        works, key=lambda w: (SEVERITIES.index(w.item.severity), KINDS.index(w.kind), w.item.number)
    )
    return Place(name, ranked[0].item.severity, tuple(ranked))


def _work(item: Item, decided: bool, comparison: Comparison, tool: Meter) -> Work:
    finding = item.finding
    check = None if finding.kind == "not-verified" else tool.check(finding)
    return Work(item, _kind(finding), _where(finding, comparison), decided, check)


def _where(finding: Finding, comparison: Comparison) -> str:
    """The piece of furniture that the first point belongs to, else the part itself."""
    for point in finding.points:
        if point != CHASSIS:
            return point.owner
    names = [*finding.found, *finding.parts]
    known = [n for n in names if n in comparison.found.parts]
    return known[0] if known else (names[0] if names else "chassis")


def _kind(finding: Finding) -> str:
    if finding.kind == "not-verified" or not finding.remedy:
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
    for place in made.places:
        lines += ["", f"{place.name}  ({place.severity})"]
        for work in place.works:
            lines += list(_lines(work))
    if made.left:
        lines += ["", f"left as it is, decided: {len(made.left)}"]
        lines += [f"  {i.number}. {i.finding.title}: {i.finding.text}" for i in made.left]
    return lines[1:] if lines else ["Nothing to do."]


def _lines(work: Work) -> Iterator[str]:
    item = work.item
    undecided = "" if work.settled else "  UNDECIDED"
    yield f"  [ ] {item.number}. {item.severity}, {TITLES[work.kind]}{undecided}"
    yield f"      {item.finding.text}"
    yield f"      id      {item.finding.id}"
    before = [item.confirm] if item.confirm else []
    check = work.check
    if check is not None and check.tells:
        before.append(f"Power off, valves out: {check} reads {ohms(check.before)}.")
    yield from _block("before", before)
    yield from _block("do", [item.finding.action])
    yield from _block("after", [*_after(work)])


def _block(word: str, sentences: Iterable[str]) -> Iterator[str]:
    text = " ".join(s for s in sentences if s)
    if text:
        yield f"      {word:<7} {text}"


def _after(work: Work) -> Iterator[str]:
    check = work.check
    if check is not None and check.tells:
        yield f"{check} reads {ohms(check.after)}, once the whole list is worked off."
    elif work.kind == "valve":
        yield "Read the type on the valve again, in the socket."
    elif work.kind != "look":
        yield "No ohmmeter tells: read the part again from both its ends."
    yield "Write what is there now into the chassis file and compare again."
