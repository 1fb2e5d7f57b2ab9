"""Second pass over the statements: what is joined to what. The result is a circuit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

from lark import Token, Tree

from buzzout.catalogue import device
from buzzout.circuit import (
    KINDS,
    Circuit,
    Link,
    Mains,
    Part,
    Point,
    Reading,
    Span,
    article,
)
from buzzout.language.declare import Declarations, own_name, part_kind
from buzzout.language.doubts import doubt
from buzzout.language.ends import Ends, Place, ends_missing, ends_of, signed
from buzzout.language.figures import Standing, figure, noted_step, pots_set, standing, tone
from buzzout.language.gather import Gathered, Statement
from buzzout.language.heaters import heater_links
from buzzout.language.mains import mains
from buzzout.language.names import Names
from buzzout.language.problems import ProblemList
from buzzout.language.remarks import joined, remarks
from buzzout.language.sightings import Entered, Sighting, enter
from buzzout.language.slips import QUOTES
from buzzout.language.values import FactReader, Facts, designation

_NOT_FITTED = {
    "missing": "none",
    "empty": "none",
    "absent": "none",
    "unreadable": "unread",
    "illegible": "unread",
    "unknown": "unread",
}
_TYPED = ("diode", "bridge", "neon", "thermistor")


@dataclass
class Builder:
    """The circuit of one file, as it grows."""

    gathered: Gathered
    problems: ProblemList
    names: Names
    links: list[Link] = field(default_factory=list)
    made: list[Part] = field(default_factory=list)
    sightings: list[Sighting] = field(default_factory=list)
    visited: dict[Point, Span] = field(default_factory=dict)
    empty: dict[Point, Span] = field(default_factory=dict)
    expected: list[Reading] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    mains: Mains | None = None
    here: Point | None = None
    standing: Standing = field(default_factory=Standing)
    lost: bool = False  # the heading above could not be read; what stands below it waits
    entered: Entered = field(default_factory=lambda: Entered((), (), (), ()))
    declared: Declarations = field(init=False)

    def __post_init__(self) -> None:
        """Begin with no names of its own."""
        self.declared = Declarations(self.gathered.kind, self.names, self.problems)

    def build(self, drawing: Circuit | None = None) -> Circuit:
        """Run both passes; `drawing` lends a found file its furniture."""
        if drawing is not None:
            self.declared.inherit(drawing)
        self.declared.take(self.gathered.statements)
        for statement in self.gathered.statements:
            handler: Callable[[Statement], None] | None
            handler = getattr(self, f"_on_{statement.rule}", None)
            if handler is not None:
                handler(statement)
        self.entered = enter(self.sightings, self.visited, self.empty)
        parts = [*self.names.parts.values(), *self.made, *self.entered.parts]
        return Circuit(
            kind=self.gathered.kind,
            title=self.gathered.title,
            file=next(iter(self.gathered.sources), ""),
            parts={part.name: part for part in parts},
            links=(*self.declared.links, *self.links, *self.entered.links),
            names=tuple(self.names.nodes),
            mains=self.mains or (drawing.mains if drawing else None),
            expected=tuple(self.expected),
            readings=tuple(self.readings),
            visited=self.visited,
            notes=tuple(self.notes),
        )

    @property
    def _found(self) -> bool:
        return self.gathered.kind == "found"

    # -- what stands once in a file ------------------------------------------------------------

    def _on_mains(self, statement: Statement) -> None:
        self.mains = mains(statement, self.problems) or self.mains

    def _on_remark(self, statement: Statement) -> None:
        word, text = (str(child) for child in statement.tree.children)
        self.notes.append(f"{word.lower()}: {text.strip(QUOTES)}")
        step = noted_step(text.strip(QUOTES))
        if step is not None:
            self._sit(Standing(step))

    def _remarks(self, statement: Statement, where: str) -> None:
        """Keep the remarks on a line that makes no part among those of the whole file."""
        told = remarks(statement.line, statement.tree, self.problems).text
        if told:
            self.notes.append(f"note: {where}: {told}")

    def _on_date(self, statement: Statement) -> None:
        self.notes.append(f"date: {statement.tree.children[0]}")

    def _on_fitted(self, statement: Statement) -> None:
        name, what = statement.tree.children[:2]
        part = self.names.parts.get(self.names.scoped(designation(name), statement.scope))
        if part is None or part.kind not in ("socket", "fuse", "lamp", "can"):
            message = f"{designation(name)} is no socket here, nor a fuse, lamp or can"
            self.problems.error(statement.line.span(name), message)
            return
        unread: frozenset[str] = frozenset()
        if isinstance(what, Token):
            word = "none" if what.type == "NONE" else ""
            unseen = "type" if part.kind == "socket" else "value"
            unread = frozenset() if word else frozenset({unseen})
        else:
            word = designation(what)
            if meant := _NOT_FITTED.get(word.lower()):
                hint = f"did you mean: fitted {part.name} {meant}?"
                self.problems.error(statement.line.span(what), f"{word!r} is no valve", hint)
            elif part.kind == "socket" and device(word) is None:
                self.problems.warn(statement.line.span(what), f"I know no valve {word!r}")
        fitted = replace(part, type=word, unread=unread, span=statement.span)
        told = remarks(statement.line, statement.tree, self.problems)
        note, photo = joined(fitted.note, told.note), told.photo or fitted.photo
        fitted = replace(fitted, note=note, photo=photo)
        self.names.parts[part.name] = fitted

    def _on_expect(self, statement: Statement) -> None:
        reading = figure(statement, self.names, self.problems)
        self.expected += [reading] if reading else []

    def _on_reads(self, statement: Statement) -> None:
        reading = figure(statement, self.names, self.problems)
        self.readings += [self.standing.over(reading)] if reading else []

    def _on_step(self, statement: Statement) -> None:
        step = standing(statement, self.problems)
        self._sit(step)
        self._remarks(statement, f"step {step.step}")

    def _on_tone(self, statement: Statement) -> None:
        self.standing = replace(self.standing, tone=tone(statement, self.names, self.problems))

    def _on_set(self, statement: Statement) -> None:
        if not self._found:
            self.problems.error(
                statement.span,
                f"set stands above readings, in a found file; this is a {self.gathered.kind}",
                "here a pot tells on its own line how it stands: pot P6 22k lin set 25%",
            )
            return
        pots = pots_set(statement, self.names, self.problems)
        self.standing = self.standing.set(pots)
        self._remarks(statement, f"set {', '.join(pots)}")

    def _sit(self, new: Standing) -> None:
        self.standing = new.after(self.standing)

    # -- joints ----------------------------------------------------------------------------------

    def _on_node(self, statement: Statement) -> None:
        spots = [c for c in statement.tree.children if isinstance(c, Tree) and c.data == "spot"]
        points = [self.names.find(spot, statement) for spot in spots]
        known = [point for point in points if point is not None]
        self.links += [Link(known[0], p, "joint", span=statement.span) for p in known[1:]]
        self._remarks(statement, f"node {known[0]}" if known else "node")

    def _on_heaters(self, statement: Statement) -> None:
        self.links += heater_links(statement, self.names, self.problems)

    def _on_at(self, statement: Statement) -> None:
        self.here = None
        if not self._found:
            self.problems.error(
                statement.span,
                f"at belongs in a found file; this is a {self.gathered.kind}",
                "in a drawing each part stands on one line with both its ends",
            )
        self.here = self.names.find(statement.tree.children[0], statement)
        self.lost = self.here is None
        if self.here is not None:
            self._remarks(statement, str(self.here))
            self.visited.setdefault(self.here, statement.span)
            if any(isinstance(c, Token) for c in statement.tree.children[1:]):
                self.empty.setdefault(self.here, statement.span)

    def _on_nothing(self, statement: Statement) -> None:
        if self.here is not None:
            self.empty.setdefault(self.here, statement.span)
        elif not self.lost:
            self.problems.error(statement.span, "nothing where?", "first a line: at V1.9")

    def _on_wire(self, statement: Statement) -> None:
        items = statement.tree.children
        words = [c for c in items if isinstance(c, Token)]
        colour = "/".join(str(c).lower() for c in words if c.type == "COLOUR")
        looks = [str(c).lower() for c in words if c.type != "COLOUR"]
        told = remarks(statement.line, statement.tree, self.problems)
        note = ", ".join(filter(None, (*looks, told.note)))
        base = Sighting(None, None, statement.span, colour=colour, note=note, photo=told.photo)
        ends = ends_of(statement.tree)
        if ends.far_only:
            self._sight(statement, ends.places[0], base)
        elif len(ends.places) < 2:
            self._too_few(statement, "wire", 1)
        else:
            points = self._resolved(ends.places, statement)
            both = [(a, b) for a, b in pairwise(points) if a is not None and b is not None]
            self.sightings += [replace(base, here=a, far=b, whole=True) for a, b in both]

    # -- parts -----------------------------------------------------------------------------------

    def _on_part(self, statement: Statement) -> None:
        kind = part_kind(statement.tree)
        before = len(self.problems.items)
        reader = FactReader(kind, statement.line, self.problems)
        facts = reader.read(list(statement.tree.children))
        ends = _without_type(kind, ends_of(statement.tree), facts)
        part = self._part(statement, kind, facts)
        count = len(ends.signs)
        if count == 0 and not part.anonymous:
            self.made.append(part)  # its ends are told elsewhere, as R5.1 in a node
        elif count != len(part.terminals):
            self._wrong_number(statement, part, ends)
        else:
            self._connect(statement, part, ends)
        if not self._found and "value" in part.unread and len(self.problems.items) == before:
            what = f"this {kind}" if part.anonymous else part.name
            self.problems.warn(statement.span, f"no value for {what}: it will match any")

    def _connect(self, statement: Statement, part: Part, ends: Ends) -> None:
        signs = signed(part.kind, ends.signs, must=not self._found)
        if signs.error:
            self.problems.error(statement.span, signs.error, signs.hint)
            return
        if signs.unread:
            part = replace(part, unread=part.unread | {"polarity"})
        if ends.far_only:
            near, far = signs.terminals
            sighting = Sighting(None, None, statement.span, part, near, far)
            self._sight(statement, ends.places[0], sighting)
            return
        points = self._resolved(ends.places, statement)
        pairs = list(zip(points, ends.places, strict=True))
        if any(p is None and not (e.unseen or e.loose) for p, e in pairs):
            return
        if len(points) == 2 and points[0] is not None and points[0] == points[1]:
            self.problems.warn(statement.span, f"both ends of this {part.kind} are on {points[0]}")
        if self._found and len(points) == 2 and not any(e.loose for e in ends.places):
            here, there = points
            near, far = signs.terminals
            sighting = Sighting(here, there, statement.span, part, near, far, whole=True)
            self.sightings.append(sighting)
            return
        self.made.append(part)
        landed = zip(signs.terminals, points, strict=True)
        self.links += [
            Link(part.point(end), at, "lead", span=statement.span)
            for end, at in landed
            if at is not None
        ]

    def _part(self, statement: Statement, kind: str, facts: Facts) -> Part:
        name = own_name(statement.tree)
        told = self._with_defaults(kind, facts)
        if KINDS[kind].unit and "value" not in told and "measured" not in told:
            told["unread"] = told.get("unread", frozenset()) | {"value"}
        full = self.names.scoped(name, statement.scope) if name else self._serial(statement)
        return Part(full, kind, KINDS[kind].terminals, span=statement.span, **told)

    def _serial(self, statement: Statement) -> str:
        """Name a part that nobody named by the line it stands on."""
        main = next(iter(self.gathered.sources), "")
        number = statement.scope.prefix + str(statement.line.number)
        included = statement.line.file not in ("", main)
        return f"@{statement.line.file}:{number}" if included else f"@{number}"

    def _with_defaults(self, kind: str, facts: Facts) -> dict[str, Any]:
        told = facts.settled()
        default = self.declared.defaults.get(kind)
        if default is None:
            return told
        merged = {**default.fields, **told}
        value = merged.get("value")
        if value is not None and default.tolerance and value.minus is None:
            merged["value"] = value.within(*default.tolerance)
        return merged

    # -- ends ------------------------------------------------------------------------------------

    def _resolved(self, places: tuple[Place, ...], statement: Statement) -> list[Point | None]:
        """Find the points of places; what a lead passes through is joined to where it lands."""
        points = []
        for place in places:
            nowhere = place.unseen or place.loose
            point = None if nowhere else self.names.find(place.item, statement)
            points.append(point)
            for item in place.through:
                passed = self.names.find(item, statement)
                if point is not None and passed is not None:
                    same = Link(point, passed, note="the same lead", span=statement.span)
                    self.links.append(same)
        return points

    def _sight(self, statement: Statement, place: Place, sighting: Sighting) -> None:
        """Enter a sighting from the heading above to one far place."""
        if self.lost:
            return
        if self.here is None:
            self.problems.error(
                statement.span,
                "to where from? No at line stands above",
                "write at TS1.3 above it, or give both ends: from TS1.3 to V1.2",
            )
            return
        if self.here in self.empty:
            self.problems.error(
                statement.span,
                f"something at {self.here}, which was said to have nothing",
                "take away the word nothing, or this line",
                (self.empty[self.here], "said here"),
            )
        point = self._resolved((place,), statement)[0]
        if point is not None or place.unseen or place.loose:
            seen = replace(sighting, here=self.here, far=point, loose=place.loose)
            self.sightings.append(seen)

    def _wrong_number(self, statement: Statement, part: Part, ends: Ends) -> None:
        """Complain of a part with one lead or three; a word that is no point is told as such."""
        count = len(ends.signs)
        before = len(self.problems.items)
        self._resolved(ends.places, statement)
        if len(self.problems.items) > before:
            return
        if count < len(part.terminals):
            self._too_few(statement, part.kind, count)
        else:
            told = ", ".join(designation(place.item) for place in ends.places)
            message = (
                f"{article(part.kind)} has {len(part.terminals)} ends; here are {count}: {told}"
            )
            self.problems.error(statement.span, message)

    def _too_few(self, statement: Statement, kind: str, count: int) -> None:
        under = str(self.here) if self.here is not None else ""
        self.problems.error(statement.span, *ends_missing(kind, count, under))


def _without_type(kind: str, ends: Ends, facts: Facts) -> Ends:
    """`diode OA81 V1.3 a TS2.4 k`: what stands before the ends is the type."""
    first = ends.places[0] if ends.places else None
    if first is None or kind not in _TYPED or first.sign:
        return ends
    word = designation(first.item)
    if len(ends.places) == len(KINDS[kind].terminals) + 1 and "." not in word:
        facts.fields["type"] = word
        return replace(ends, places=ends.places[1:])
    return ends


def built(
    gathered: Gathered, problems: ProblemList, drawing: Circuit | None
) -> tuple[Circuit, Entered, Mapping[str, Statement]]:
    """The circuit of gathered statements, with what double entry found."""
    builder = Builder(gathered, problems, Names(problems))
    circuit = builder.build(drawing)
    doubt(circuit, builder.declared.fresh, problems)
    return circuit, builder.entered, builder.declared.fresh
