"""Findings about furniture: which pins were taken for which."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace

from buzzout.circuit import (
    CannotApply,
    Circuit,
    Cut,
    Edit,
    Join,
    Link,
    Move,
    Part,
    Point,
    Rewire,
    apply,
)
from buzzout.compare.findings import Finding
from buzzout.compare.furniture import Turn
from buzzout.compare.model import same_pins
from buzzout.compare.story import Story, tell
from buzzout.compare.words import both, found_part, lead, listed, sentence, wire


def turned(story: Story) -> Iterator[Finding]:
    """Pins taken for other pins: harmless exchanges are notes, the others are to be rewired.

    These come after leads and parts, whose remedies speak of the points as they were found.
    """
    where = {
        name: target
        for ring in story.match.crossed
        for name, target in zip(ring, ring[1:] + ring[:1], strict=True)
    }
    for name, turns in story.match.turns.items():
        used = _Socket(story, where.get(name, name))
        for turn in (*turns[1:], turns[0]):
            if turn.kind:
                yield used.told(turn)


def as_rewired(story: Story, findings: Iterable[Finding]) -> Iterator[Finding]:
    """The findings, with what their points on furniture that is to be rewired are called then.

    Their remedies speak of the points as they are wired now. A lead that lands where it will belong
    is to be left there.
    """
    after = _after_rewiring(story)
    for finding in findings:
        names = [p for p in dict.fromkeys(finding.points) if p in after]
        if not names or not finding.action:
            yield finding
            continue
        then = listed([f"{p} is then {after[p]}" for p in names])
        action = (
            f"{finding.action} {sentence(f'{listed(_owners(names))} is to be rewired: {then}')}"
        )
        text = finding.text
        move = finding.remedy[0] if len(finding.remedy) == 1 else None
        if isinstance(move, Move) and after.get(move.new) == move.old:
            rewired = f"{move.old.owner} is to be rewired, and then that is {move.old}"
            text = f"{text} {sentence(f'{rewired}: it may stay')}"
            action = sentence(f"leave it on {move.old} when {move.old.owner} is rewired")
        yield replace(finding, text=text, action=action)


def _owners(points: Iterable[Point]) -> list[str]:
    return list(dict.fromkeys(p.owner for p in points))


def _after_rewiring(story: Story) -> dict[Point, Point]:
    """Each point of furniture with wrong numbering, and what what is on it goes to."""
    table = {}
    for name, turns in story.match.turns.items():
        if all(turn.harmless for turn in turns) or any(name in c for c in story.match.crossed):
            continue
        there = _Socket(story, name)
        for pin in there.wanted.terminals:
            used = pin
            for turn in turns:
                used = turn(used)
            kept = story.match.harmless(name, pin)
            if used != kept:
                table[there.point(used)] = there.point(kept)
    return table


@dataclass(frozen=True)
class _Socket:
    """A piece of furniture on which the wiring of itself, or of a twin, was found."""

    story: Story
    name: str

    @property
    def wanted(self) -> Part:
        return self.story.drawing.circuit.parts[self.name]

    @property
    def fitted(self) -> Part:
        return self.story.found.parts[self.story.board.called[self.name]]

    def point(self, pin: str) -> Point:
        return Point(self.fitted.name, same_pins(self.wanted, self.fitted)[pin])

    def told(self, turn: Turn) -> Finding:
        pins = sorted(turn.moved, key=self.wanted.terminals.index)
        points = tuple(self.point(p) for p in pins)
        if turn.harmless:
            text = _harmless_words(self.wanted, turn, points)
            return tell(
                turn.kind,
                text,
                about=(self.wanted,),
                seen=(self.fitted,),
                points=points,
                harmless=True,
            )
        kind, text, action = self._words(turn, points)
        about, seen = self._concerned(kind, points)
        return tell(
            kind,
            text,
            action,
            about=about,
            seen=seen,
            points=points,
            remedy=(self._rewire(turn),),
        )

    def _concerned(self, kind: str, points: tuple[Point, ...]) -> tuple[list[Part], list[Part]]:
        """The drawn and the found part: of a single lead on the wrong pin its own, if it has one.

        A single wire on the wrong pin concerns no part.
        """
        links = [link for p in points for link in self.story.found.links_at.get(p, ())]
        if kind != "wrong-point" or len(links) != 1:
            return [self.wanted], [self.fitted]
        ends = {links[0].a.owner, links[0].b.owner}
        for fit in self.story.match.fits:
            if self.story.there(fit.j).part.name in ends:
                return [self.story.drawn(fit.i).part], [self.story.there(fit.j).part]
        return [], []

    def _rewire(self, turn: Turn) -> Edit:
        table = tuple(
            (self.point(used).pin, self.point(meant).pin) for meant, used in turn.moved.items()
        )
        return Rewire(self.fitted.name, table)

    def _words(self, turn: Turn, points: tuple[Point, ...]) -> tuple[str, str, str]:
        rewire = f"rewire {self.name} pin by pin from the drawing"
        if turn.kind == "socket-mirrored":
            text = (
                f"{self.name} is wired mirror-wise: its pins were counted the wrong way round"
                + (", and from the wrong pin" if turn.words.lstrip("-").isdigit() else "")
                + " (pins count clockwise seen from below)"
            )
            return turn.kind, text, rewire
        if turn.kind == "socket-shifted":
            return turn.kind, self._shifted(turn), rewire
        if turn.kind == "strip-reversed":
            text = f"{self.name} was wired from its other end: tag {points[0].pin} is used for "
            return turn.kind, text + f"tag {points[-1].pin} and so on", rewire
        if turn.kind == "pot-ends-exchanged":
            text = f"the ends of {self.name} are exchanged: what is on {points[0]} belongs on "
            return turn.kind, text + f"{points[1]}, and the other way round", "exchange the two"
        if turn.kind == "winding-reversed":
            text = f"{turn.words} on {self.name} are exchanged against the phase mark"
            return turn.kind, text, f"exchange {listed(points)}"
        return self._pins(turn, points)

    def _shifted(self, turn: Turn) -> str:
        steps, way = abs(int(turn.words)), "clockwise" if int(turn.words) > 0 else "anticlockwise"
        plural = "pin" if steps == 1 else "pins"
        return f"the wiring of {self.name} is shifted by {steps} {plural} {way}, seen from below"

    def _pins(self, turn: Turn, points: tuple[Point, ...]) -> tuple[str, str, str]:
        """Two pins exchanged or three in a ring; one of two empty is a lead on a wrong point."""
        if len(points) == 2:
            links = {p: self.story.found.links_at.get(p, ()) for p in points}
            full = [p for p in points if links[p]]
            if len(full) == 1:
                return self._one_moved(turn, full[0], points)
            kind = "leads-exchanged" if turn.kind == "wrong-tap" else turn.kind
            if kind == "sections-exchanged":
                text = f"the sections {turn.words} of {self.name} are exchanged"
                return kind, text, f"exchange {points[0]} and {points[1]}"
            text = f"{points[0]} and {points[1]} are exchanged: "
            text += "what is wired to one belongs on the other"
            return kind, text, f"exchange everything on {points[0]} and {points[1]}"
        pairs = listed(
            [
                f"what is on {self.point(q)} belongs on {self.point(p)}"
                for p, q in turn.moved.items()
            ]
        )
        return turn.kind, f"{listed(points)} are exchanged in a ring: {pairs}", "move them round"

    def _lead_of(self, fitted_part: Part, terminal: Point) -> str:
        """The lead of a small part by the name of the drawn part that it was taken for."""
        story = self.story
        for fit in story.match.fits:
            if story.there(fit.j).part is fitted_part:
                drawn = story.drawn(fit.i).part
                return f"{lead(terminal.pin)} of {both(drawn, story.found, fitted_part)}"
        return f"{lead(terminal.pin)} of {found_part(story.found, fitted_part)}"

    def _one_moved(self, turn: Turn, old: Point, points: tuple[Point, ...]) -> tuple[str, str, str]:
        new = points[0] if points[1] == old else points[1]
        kind = "wrong-tap" if turn.kind == "wrong-tap" else "wrong-point"
        links = self.story.found.links_at[old]
        what = f"everything on {old}"
        if len(links) == 1:
            far = links[0].other(old)
            what = wire(links[0], far)
            owner = self.story.found.parts.get(far.owner)
            if links[0].how == "lead" and owner and not owner.furniture:
                what = self._lead_of(owner, far)
            return kind, f"{what} lands on {old}; it belongs on {new}", f"move it to {new}"
        return kind, f"{what} belongs on {new}", f"move it to {new}"


def _harmless_words(part: Part, turn: Turn, points: tuple[Point, ...]) -> str:
    name = part.name
    if part.kind == "fuse":  # common practice
        text = f"{turn.words} on {name} ({listed(points)}); electrically it is the same"
        return (
            f"{text}, but in a holder with a cap the supply belongs on the contact at the far end"
        )
    if turn.words.startswith("the ends"):
        text = f"{turn.words} on {name} are turned round ({listed(points)})"
        return f"{text}; it makes no difference"
    if turn.kind == "turned":
        return f"{turn.words} on {name} ({listed(points)}); it makes no difference"
    return f"{turn.words} on {name}; they are alike, so it makes no difference"


def crossed(story: Story, now: Circuit) -> Iterator[Finding]:
    """Sockets, controls, cans or coils wired in each other's place: every link end moves across.

    These come last: `now` is the board after all other remedies.
    """
    for ring in story.match.crossed:
        wanted = [story.drawing.circuit.parts[name] for name in ring]
        there = [story.board.called[name] for name in ring]
        table = {
            Point(on, pin): Point(own, pin)
            for own, on in zip(there, there[1:] + there[:1], strict=True)
            for pin in wanted[0].terminals
        }
        names, after = listed(ring), listed(there[1:] + there[:1])
        text = f"{names} are wired in each other's place"
        action = f"exchange the wiring of {names}, or their names on the plan"
        if len(ring) > 2:
            text = f"{names} are wired in one another's places: what belongs there is on {after}"
            action = f"move the wiring round, or the names of {names} on the plan"
        remedy = _across(story, now, table)
        yield tell(
            "sockets-exchanged" if wanted[0].kind == "socket" else "wiring-exchanged",
            text,
            action,
            about=wanted,
            seen=[story.found.parts[name] for name in there],
            remedy=remedy,
        )
        with suppress(CannotApply):  # the self-check meets it again and says so
            now = apply(now, remedy)  # a wire may lead from one such pair to another


def _across(story: Story, now: Circuit, table: Mapping[Point, Point]) -> list[Edit]:
    """Every link end moved across.

    Wires are taken off first and put on after, so that no wire is mistaken for one that has moved
    already; a wire to both sockets alike stays.
    """
    moves: list[Edit] = []
    off: list[Link] = []
    on: list[Link] = []
    for link in now.links:
        a, b = table.get(link.a, link.a), table.get(link.b, link.b)
        if (a, b) == (link.a, link.b):
            continue
        owner = story.found.parts.get(link.a.owner)
        if link.how == "lead" and owner and not owner.furniture:
            moves.append(Move(link.a, link.b, b))
        else:
            off.append(link)
            on.append(replace(link, a=a, b=b))
    for link in list(off):
        twin = next((x for x in on if {x.a, x.b} == {link.a, link.b}), None)
        if twin:
            off.remove(link)
            on.remove(twin)
    cuts = [Cut(x.a, x.b) for x in off]
    return [*moves, *cuts, *(Join(x.a, x.b, x.colour) for x in on)]
