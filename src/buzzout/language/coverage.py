"""How much of a chassis has been written down, and how surely."""

from __future__ import annotations

from dataclasses import dataclass

from buzzout.circuit import CHASSIS, Circuit, Part, Point, Span
from buzzout.language.load import Loaded
from buzzout.language.sightings import Contradiction, Sighting


@dataclass(frozen=True)
class Coverage:
    """The state of a transcription.

    `confirmed` and `once` count leads and wires by the ends they were seen from. `unmatched` are
    things seen once although the point at their far end has a heading too. `unvisited` are points
    of furniture that nothing speaks of. `unread` are parts of which something could not be read,
    `unlooked` furniture taken over from the drawing that nobody has looked at, `unseen` parts with
    an end that goes where nobody could see.
    """

    confirmed: int
    once: int
    contradictions: tuple[Contradiction, ...]
    unmatched: tuple[tuple[Sighting, Span], ...]
    unvisited: tuple[Point, ...]
    unread: tuple[Part, ...]
    unlooked: tuple[Part, ...]
    unseen: tuple[Part, ...]

    @property
    def total(self) -> int:
        """All leads and wires."""
        return self.confirmed + self.once


def coverage(loaded: Loaded) -> Coverage:
    """Coverage of a found file."""
    circuit = loaded.circuit
    inherited = {
        name for name, part in circuit.parts.items()
        if part.furniture and loaded.drawing and name in loaded.drawing.parts
        and part.span == loaded.drawing.parts[name].span
    }  # fmt: skip
    things: dict[tuple[str, int, str], int] = {}
    for link in circuit.links:
        if link.how != "joint":
            owner = link.a.owner if link.how == "lead" else f"{link.a} {link.b}"
            things[link.span.file, link.span.line, owner] = link.seen
    seen = list(things.values())
    parts = circuit.parts.values()
    return Coverage(
        confirmed=seen.count(2),
        once=seen.count(1),
        contradictions=loaded.entered.contradictions,
        unmatched=loaded.entered.unmatched,
        unvisited=tuple(_unvisited(circuit)),
        unread=tuple(p for p in parts if p.unread and p.name not in inherited),
        unlooked=tuple(p for p in parts if p.unread and p.name in inherited),
        unseen=tuple(p for p in parts if p.unseen),
    )


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
