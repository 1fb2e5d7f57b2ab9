"""How much of a chassis has been written down, and how surely."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import groupby

from buzzout.circuit import CHASSIS, Circuit, Link, Part, Point, Span
from buzzout.language.load import Loaded
from buzzout.language.problems import excerpt
from buzzout.language.sightings import Contradiction, Sighting

_CONTACTS = ("jack", "connector", "bond")


@dataclass(frozen=True)
class Coverage:
    """The state of a transcription.

    `confirmed` and `once` count leads and wires by the ends they were seen from. `unmatched` are
    things seen once although the point at their far end has a heading too. `unvisited` are points
    of furniture that nothing speaks of. `unread` are parts of which something could not be read,
    `unlooked` is furniture taken over from the drawing that nobody has looked at; of a jack, a
    connector and a bolt the contacts are all there is to see, and a lead on one shows it. `unseen`
    are parts with an end that goes where nobody could see. `single` are the lines of what was seen
    once, without the unmatched and the unseen.
    """

    confirmed: int
    once: int
    contradictions: tuple[Contradiction, ...]
    unmatched: tuple[tuple[Sighting, Span], ...]
    unvisited: tuple[Point, ...]
    unread: tuple[Part, ...]
    unlooked: tuple[Part, ...]
    unseen: tuple[Part, ...]
    single: tuple[Span, ...] = ()

    @property
    def total(self) -> int:
        """All leads and wires."""
        return self.confirmed + self.once


def written(found: Circuit) -> set[Point]:
    """The points of a chassis at which somebody wrote down what is there, or of a wire to there."""
    wired = (link for link in found.links if link.how != "joint" or not link.touches(CHASSIS))
    return {*found.visited, *(end for link in wired for end in (link.a, link.b))} - {CHASSIS}


def coverage(loaded: Loaded) -> Coverage:
    """Coverage of a found file."""
    circuit = loaded.circuit
    inherited = {
        name for name, part in circuit.parts.items()
        if part.furniture and loaded.drawing and name in loaded.drawing.parts
        and part.span == loaded.drawing.parts[name].span
    }  # fmt: skip
    things: dict[tuple[str, int, str], Link] = {}
    for link in circuit.links:
        if link.how != "joint":
            owner = link.a.owner if link.how == "lead" else f"{link.a} {link.b}"
            things[link.span.file, link.span.line, owner] = link
    seen = [link.seen for link in things.values()]
    parts = circuit.parts.values()
    listed = {sighting.span for sighting, _ in loaded.entered.unmatched}
    listed |= {part.span for part in parts if part.unseen}
    single = (x.span for x in things.values() if x.seen == 1 and x.span not in listed)
    return Coverage(
        confirmed=seen.count(2),
        once=seen.count(1),
        contradictions=loaded.entered.contradictions,
        unmatched=loaded.entered.unmatched,
        unvisited=tuple(_unvisited(circuit)),
        unread=tuple(p for p in parts if p.unread and p.name not in inherited),
        unlooked=tuple(p for p in parts if p.name in inherited and not _shown(p, circuit)),
        unseen=tuple(p for p in parts if p.unseen),
        single=tuple(dict.fromkeys(single)),
    )


def _shown(part: Part, circuit: Circuit) -> bool:
    """Whether a lead or a heading at one of its contacts shows all there is to see of a part."""
    leads = {end for x in circuit.links if x.how != "joint" for end in (x.a, x.b)}
    return part.kind in _CONTACTS and any(p in leads or p in circuit.visited for p in part.points)


def _unvisited(circuit: Circuit) -> list[Point]:
    """Points of furniture without a heading and without any link."""
    touched = {end for link in circuit.links for end in (link.a, link.b)} | {CHASSIS}
    return [
        point
        for part in circuit.parts.values()
        if part.furniture and part.kind != "bond"
        for point in part.points
        if point not in circuit.visited and point not in touched
    ]


def told(covered: Coverage, sources: Mapping[str, tuple[str, ...]], most: int | None) -> list[str]:
    """The coverage as lines of text; lists longer than `most` are cut and say so."""
    sure = f"{covered.confirmed} of {covered.total} leads and wires are confirmed from both ends"
    lines = [f"{sure}, {covered.once} were seen once"]
    for doubt in covered.contradictions:
        lines.append(f"CONTRADICTION: {doubt.reason}")
        for span in (doubt.first, doubt.second):
            lines += [f"  {span}", *excerpt(span, sources)]
    lines += _listed(
        "not looked at, taken from the drawing",
        _names(covered.unlooked),
        most,
        len(covered.unlooked),
    )
    lines += _listed("could not be read", map(_unread, covered.unread), most)
    lines += _listed("an end that nobody saw", map(_located, covered.unseen), most)
    lines += _listed(
        "points never visited", _by_owner(covered.unvisited), most, len(covered.unvisited)
    )
    missing = [
        f"{s.here} (line {s.span.line}) leads to {s.far}, whose list (line {at.line}) lacks it"
        for s, at in covered.unmatched
    ]
    lines += _listed("seen from one end although both were visited", missing, most)
    single = [f"{span.line:>5} | {_typed(span, sources)}" for span in covered.single]
    lines += _listed("seen from one end, no heading (at …) at the other yet", single, most)
    return lines


def _listed(
    title: str, things: Iterable[str], most: int | None, count: int | None = None
) -> list[str]:
    """A title with how many there are, and a row for each; `count` where rows hold several."""
    rows = list(things)
    if not rows:
        return []
    shown = rows if most is None else rows[:most]
    more = [f"  … and {len(rows) - len(shown)} more (--all)"] if len(shown) < len(rows) else []
    return [
        f"{title}: {len(rows) if count is None else count}",
        *(f"  {row}" for row in shown),
        *more,
    ]


def _typed(span: Span, sources: Mapping[str, tuple[str, ...]]) -> str:
    """A line as it stands in its file."""
    return sources[span.file][span.line - 1].strip()


def _names(parts: Iterable[Part]) -> Iterable[str]:
    names = ", ".join(part.name for part in parts)
    return [names] if names else []


def _located(part: Part) -> str:
    name = "" if part.anonymous else f"{part.name}, "
    return f"{name}{part.kind} on line {part.span.line}"


def _unread(part: Part) -> str:
    return f"{_located(part)}: {', '.join(sorted(part.unread))}"


def _by_owner(points: Iterable[Point]) -> Iterable[str]:
    """`V2: 1 2 9` instead of a line for each pin."""
    for owner, group in groupby(points, key=lambda point: point.owner):
        yield f"{owner}: {' '.join(point.pin for point in group)}"
