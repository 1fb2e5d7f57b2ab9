"""What to look at next: the places where one more look settles most."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from buzzout.circuit import CHASSIS, NOWHERE, Circuit, Link, Part, Point, Span
from buzzout.compare import compare
from buzzout.job import Item, Listing, PunchList
from buzzout.job.places import Places
from buzzout.language import Loaded
from buzzout.language.coverage import Coverage, coverage, written

# How much a look is worth. Only the order counts: what can hurt, then what is contradicted, then
# what the comparison waits for, then what nobody saw, then what nobody visited. Common practice.
_WORTH = {
    "contradiction": 12,
    "not verified, and it can hurt": 10,
    "not verified": 6,
    "not in the other end's list": 5,
    "an end that nobody saw": 4,
    "could not be read": 4,
    "seen from one end only": 2,
    "not looked at": 2,
    "never visited": 1,
}


@dataclass(frozen=True, slots=True)
class Task:
    """One thing to look at, and why: `why` is one of the reasons that `worth` ranks."""

    at: Point
    why: str
    words: str
    span: Span = NOWHERE

    @property
    def worth(self) -> int:
        """How much a look settles."""
        return _WORTH[self.why]


@dataclass(frozen=True, slots=True)
class Look:
    """One place on the chassis (a socket, a strip, a part) with all that is open there."""

    place: str
    tasks: tuple[Task, ...]

    @property
    def worth(self) -> int:
        """What one visit to this place settles."""
        return sum(task.worth for task in self.tasks)

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why, a line for each point and reason; what waits for a first visit is in one line."""
        words: dict[tuple[Point, str], list[str]] = {}
        for task in self.tasks:
            words.setdefault((task.at, task.why), []).append(task.words)
        lines = [
            ("" if at == Point(self.place) else f"{at}: ")
            + ": ".join(filter(None, (why, "; ".join(filter(None, told)))))
            for (at, why), told in words.items() if why != "never visited"
        ]  # fmt: skip
        unvisited = [at.pin or at.owner for at, why in words if why == "never visited"]
        return (*lines, *([f"never visited: {' '.join(unvisited)}"] if unvisited else []))


def looks(loaded: Loaded, punch: PunchList | None = None) -> tuple[Look, ...]:
    """All places with something open, the one that settles most first.

    A contradiction stands before everything else: what rests on it is not worth comparing. Then
    comes what the comparison could not verify and can hurt, then the mains side and its earth.
    """
    tasks = list(_tasks(loaded, coverage(loaded)))
    if punch is not None:
        tasks += _waiting(punch)
    places: dict[str, list[Task]] = {}
    for task in tasks:
        places.setdefault(task.at.owner, []).append(task)
    found = [Look(place, _ordered(own)) for place, own in places.items()]
    mains = _on_mains(loaded)
    return tuple(sorted(found, key=lambda look: (_rank(look, mains), -look.worth)))


def glance(
    drawing: Circuit, chassis: Loaded, progress: Callable[[str, float], None] | None = None
) -> PunchList:
    """A list to look by: nothing is computed under power, and no readings are asked for."""
    compared = compare(drawing, chassis.circuit, progress=progress)
    return Listing(compared, coverage(chassis)).early()


def unseen(item: Item, punch: PunchList) -> bool:
    """Whether a line tells of something missing only because nobody has written the place down.

    A part or a connection is missing for sure where at least one of its ends was looked at.
    """
    if item.finding.kind not in ("part-missing", "connection-missing"):
        return False
    return written(punch.comparison.found).isdisjoint(item.finding.points)


def still_unseen(count: int) -> str:
    """That so many lines are about places that nobody has written down; "" for none."""
    if not count:
        return ""
    lines, seem = ("1 line", "seems") if count == 1 else (f"{count} lines", "seem")
    return (
        f"{lines} of the list only {seem} to miss something: nobody has written down what is at"
        " those places (buzzout job next tells which)."
    )


def _ordered(tasks: list[Task]) -> tuple[Task, ...]:
    return tuple(sorted(dict.fromkeys(tasks), key=lambda t: -t.worth))


def _rank(look: Look, mains: frozenset[str]) -> int:
    """The smaller, the earlier."""
    whys = {task.why for task in look.tasks}
    if "contradiction" in whys:
        return 0
    if "not verified, and it can hurt" in whys:
        return 1
    return 2 if look.place in mains else 3


def _on_mains(loaded: Loaded) -> frozenset[str]:
    """The furniture that the drawing has on the mains, or on the protective earth."""
    if loaded.drawing is None:
        return frozenset()
    places = Places(loaded.drawing)
    furniture = (part for part in loaded.drawing.parts.values() if part.furniture)
    return frozenset(p.name for p in furniture if places.of(p.points) & {"mains", "earth"})


def _tasks(loaded: Loaded, covered: Coverage) -> Iterator[Task]:
    circuit = loaded.circuit
    for doubt in covered.contradictions:
        at = _heading(circuit, doubt.first)
        yield Task(at, "contradiction", doubt.reason, doubt.first)
    for sighting, listed in covered.unmatched:
        if sighting.far is not None:
            words = f"line {sighting.span.line} comes here from {sighting.here}"
            yield Task(sighting.far, "not in the other end's list", words, listed)
    for part in covered.unseen:
        yield Task(_somewhere(circuit, part), "an end that nobody saw", _called(part), part.span)
    for part in covered.unread:
        words = f"{_called(part)}: {', '.join(sorted(part.unread))}"
        yield Task(_somewhere(circuit, part), "could not be read", words, part.span)
    yield from _seen_once(circuit, {s.span for s, _ in covered.unmatched})
    for part in covered.unlooked:
        words = ": ".join(filter(None, (part.kind, ", ".join(sorted(part.unread)))))
        yield Task(Point(part.name), "not looked at", words)
    for point in covered.unvisited:
        yield Task(point, "never visited", "")


def _seen_once(circuit: Circuit, told: set[Span]) -> Iterator[Task]:
    """Leads whose far end has no heading of its own yet."""
    for link in circuit.links:
        if link.how == "joint" or link.seen != 1 or link.span in told:
            continue
        far = link.b
        if far == CHASSIS or far in circuit.visited or far.owner.startswith("@"):
            continue
        if link.how == "lead" and circuit.parts[link.a.owner].furniture:
            continue
        yield Task(far, "seen from one end only", _lead(circuit, link), link.span)


def _lead(circuit: Circuit, link: Link) -> str:
    what = circuit.parts[link.a.owner].kind if link.how == "lead" else f"{link.colour} wire".strip()
    return f"{what} of line {link.span.line}"


def _waiting(punch: PunchList) -> Iterator[Task]:
    """Findings that say not verified: they wait for a look."""
    for item in punch.items:
        if item.finding.kind != "not-verified":
            continue
        hurts = item.severity in ("danger", "damage")
        why = "not verified, and it can hurt" if hurts else "not verified"
        points = item.finding.points or tuple(Point(name) for name in item.finding.parts[:1])
        for point in points[:1]:
            yield Task(point, why, item.finding.text)


def _heading(circuit: Circuit, span: Span) -> Point:
    """The heading that a line stands under."""
    above = [(at.line, p) for p, at in circuit.visited.items()
             if at.file == span.file and at.line <= span.line]  # fmt: skip
    return max(above)[1] if above else CHASSIS


def _somewhere(circuit: Circuit, part: Part) -> Point:
    """A point where the part can be found."""
    landings = [circuit.landing(p) for p in part.points]
    return next((at for at in landings if at.owner != part.name), Point(part.name))


def _called(part: Part) -> str:
    name = "" if part.anonymous else f"{part.name}, "
    return f"{name}{part.kind} on line {part.span.line}"


def told(found: Iterable[Look], most: int | None = None) -> list[str]:
    """The guide as lines of text; `most` places, the rest counted."""
    rows = list(found)
    if not rows:
        return ["Nothing is open: every point was visited and every lead seen from both ends."]
    lines: list[str] = []
    for number, look in enumerate(rows[:most], 1):
        lines.append(f"{number}. {look.place}")
        lines += [f"     {row}" for row in look.reasons]
    if most is not None and len(rows) > most:
        lines.append(f"… and {len(rows) - most} more places (--all)")
    return lines
