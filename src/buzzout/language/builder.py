"""Statements to a circuit, in two passes: first what exists, then what it is joined to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from lark import Token, Tree

from buzzout.catalogue import device
from buzzout.circuit import KINDS, Circuit, Link, Mains, Part, Point, Quantity, Reading
from buzzout.language.furniture import FURNITURE, Furnisher
from buzzout.language.gather import Gathered, Statement
from buzzout.language.grammar import Node
from buzzout.language.names import Names, inherited
from buzzout.language.problems import ProblemList
from buzzout.language.sightings import Entered, Sighting, enter
from buzzout.language.values import FactReader, Facts, designation

_SIGNS = {
    "electrolytic": {"+": "+", "-": "-"},
    # common practice: the cathode of a rectifier is its + end
    "diode": {"a": "a", "k": "k", "+": "k", "-": "a"},
    "bridge": {"+": "+", "-": "-"},
}


@dataclass
class Place:
    """One end of a part or wire as it was typed."""

    item: Node
    sign: str = ""
    through: list[Node] = field(default_factory=list)


@dataclass
class Builder:
    """The circuit of one file, as it grows."""

    gathered: Gathered
    problems: ProblemList
    drawing: Circuit | None = None
    links: list[Link] = field(default_factory=list)
    made: list[Part] = field(default_factory=list)
    sightings: list[Sighting] = field(default_factory=list)
    visited: dict[Point, Any] = field(default_factory=dict)
    defaults: dict[str, Facts] = field(default_factory=dict)
    expected: list[Reading] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    mains: Mains | None = None
    here: Point | None = None
    entered: Entered | None = None

    def __post_init__(self) -> None:
        """Begin with the furniture of the drawing, where the file is of one."""
        self.names = Names(self.problems)
        if self.drawing is not None:
            self.names.parts = inherited(self.drawing.parts)
            self.names.drawing_nodes = frozenset(self.drawing.names)
            self.links += [x for x in self.drawing.links if self._own_joint(x)]
        self.fresh: dict[str, Statement] = {}

    def _own_joint(self, link: Link) -> bool:
        """Tell a bond's own joint with the chassis, which comes with the bolt."""
        part = self.names.parts.get(link.a.owner)
        return link.how == "joint" and part is not None and part.kind == "bond"

    def build(self) -> Circuit:
        """Run both passes and put the result together."""
        for statement in self.gathered.statements:
            self._declare(statement)
        for statement in self.gathered.statements:
            handler = getattr(self, f"_on_{statement.rule}", None)
            if handler is not None:
                handler(statement)
        self.entered = enter(self.sightings, self.visited)
        parts = [*self.names.parts.values(), *self.made, *self.entered.parts]
        return Circuit(
            kind=self.gathered.kind,
            title=self.gathered.title,
            file=next(iter(self.gathered.sources), ""),
            parts={part.name: part for part in parts},
            links=(*self.links, *self.entered.links),
            names=tuple(self.names.nodes),
            mains=self.mains or (self.drawing.mains if self.drawing else None),
            expected=tuple(self.expected),
            readings=tuple(self.readings),
            visited=self.visited,
            notes=tuple(self.notes),
        )

    # -- first pass: names ---------------------------------------------------------------------

    def _declare(self, statement: Statement) -> None:
        if statement.rule in FURNITURE:
            self._furnish(statement)
        elif statement.rule == "winding":
            self._wind(statement)
        elif statement.rule == "part":
            name = _own_name(statement.tree)
            if name:
                self._small(self.names.scoped(name, statement.scope), statement)
        elif statement.rule == "node":
            first = designation(statement.tree.children[0])
            if "." not in first and first.lower() not in ("chassis", "ground", "gnd"):
                self.names.nodes[self.names.scoped(first, statement.scope)] = None
        elif statement.rule == "default":
            kind = str(statement.tree.children[0]).lower()
            reader = FactReader(kind, statement.line, self.problems)
            self.defaults[kind] = reader.read(list(statement.tree.children[1:]))

    def _furnish(self, statement: Statement) -> None:
        child = next(c for c in statement.tree.children if isinstance(c, Tree))
        name = self.names.scoped(designation(child), statement.scope)
        tree = statement.tree
        if isinstance(tree.children[0], Token):  # `strip` and `board` keep their word
            tree = Tree(tree.data, tree.children[1:], tree.meta)
        furnisher = Furnisher(statement.line, tree, name, self.problems)
        part = furnisher.part()
        if part is None:
            return
        earlier = self.fresh.get(name)
        if earlier is not None:
            self._twice(name, statement, earlier)
            return
        self.fresh[name] = statement
        known = self.names.parts.get(name)
        if known is not None and known.kind != part.kind:
            self.problems.error(
                statement.span, f"{name} is a {known.kind} on the drawing, here a {part.kind}",
                "use another name, or mend one of the two", (known.span, "the drawing"),
            )  # fmt: skip
            return
        if part.kind == "transformer" and known is not None:
            part = replace(known, unread=frozenset())
        self.names.parts[name] = part
        if known is None or part.kind != "bond":
            self.links += furnisher.links()

    def _twice(self, name: str, statement: Statement, earlier: Statement) -> None:
        same = earlier.rule == statement.rule
        what = "declared twice" if same else f"both a {earlier.rule} and a {statement.rule}"
        self.problems.error(
            statement.span, f"{name} is {what}",
            "give one of them another name" if not same else "keep one of the two lines",
            (earlier.span, "first here"),
        )  # fmt: skip

    def _small(self, name: str, statement: Statement) -> None:
        kind = _kind(statement.tree)
        earlier = self.fresh.get(name)
        if earlier is not None and not (self.gathered.kind == "found" and earlier.rule == "part"):
            self._twice(name, statement, earlier)
            return
        if earlier is not None and _kind(earlier.tree) != kind:
            self.problems.error(
                statement.span, f"{name} is a {_kind(earlier.tree)} on one line, here a {kind}",
                "one part has one name and one kind", (earlier.span, "first here"),
            )  # fmt: skip
        self.fresh.setdefault(name, statement)
        self.names.small[name] = KINDS[kind].terminals

    def _wind(self, statement: Statement) -> None:
        name = self.names.scoped(designation(statement.tree.children[0]), statement.scope)
        part = self.names.parts.get(name)
        if part is None or part.kind != "transformer":
            self.problems.error(
                statement.line.span(statement.tree.children[0]),
                f"{name} is no transformer", f"declare it above: transformer {name}",
            )  # fmt: skip
            return
        element = Furnisher(statement.line, statement.tree, name, self.problems).winding()
        if element is None:
            return
        others = tuple(e for e in part.elements if e.label != element.label)
        if len(others) < len(part.elements) and name not in self.fresh:
            others = ()  # the found file describes a transformer anew
        taken = {t for e in others for t in e.terminals} & set(element.terminals)
        if taken:
            self.problems.error(
                statement.span, f"{name} has a terminal {', '.join(sorted(taken))} already",
                "each lead of a transformer has its own name: red1, red2",
            )  # fmt: skip
        elements = (*others, element)
        terminals = tuple(dict.fromkeys(t for e in elements for t in e.terminals))
        self.names.parts[name] = replace(part, elements=elements, terminals=terminals)

    # -- second pass: connections --------------------------------------------------------------

    def _on_mains(self, statement: Statement) -> None:
        reader = FactReader("", statement.line, self.problems)
        found: dict[str, Quantity] = {}
        for child in statement.tree.children:
            if isinstance(child, Tree) and child.data == "quantity":
                quantity = reader.quantity(child)
                if quantity is not None:
                    found[quantity.unit] = quantity
        region = [designation(c) for c in statement.tree.children
                  if isinstance(c, Tree) and c.data == "name"]  # fmt: skip
        if "V" not in found:
            self.problems.error(statement.span, "which mains voltage?", "mains 230 V 50 Hz")
            return
        self.mains = Mains(found["V"], found.get("Hz"), region[0] if region else "")

    def _on_remark(self, statement: Statement) -> None:
        word, text = (str(child) for child in statement.tree.children)
        self.notes.append(f"{word.lower()}: {text.strip(chr(34))}")

    def _on_date(self, statement: Statement) -> None:
        self.notes.append(f"date: {statement.tree.children[0]}")

    def _on_fitted(self, statement: Statement) -> None:
        name = designation(statement.tree.children[0])
        part = self.names.parts.get(self.names.scoped(name, statement.scope))
        if part is None or part.kind != "socket":
            self.problems.error(
                statement.line.span(statement.tree.children[0]), f"{name} is no socket here"
            )
            return
        what = statement.tree.children[1]
        if isinstance(what, Token):
            gone = what.type == "NONE"
            part = replace(
                part, type="none" if gone else "", unread=frozenset(() if gone else ("type",))
            )
        else:
            word = designation(what)
            if device(word) is None:
                self.problems.warn(statement.line.span(what), f"I know no valve {word!r}")
            part = replace(part, type=word, unread=frozenset())
        self.names.parts[part.name] = replace(part, span=statement.span)

    def _on_at(self, statement: Statement) -> None:
        self.here = None
        if self.gathered.kind != "found":
            self.problems.error(
                statement.span, "at belongs in a found file; this is a " + self.gathered.kind,
                "in a drawing each part stands on one line with both its ends",
            )  # fmt: skip
        point = self.names.find(statement.tree.children[0], statement)
        if point is not None:
            self.here = point
            self.visited.setdefault(point, statement.span)

    def _on_nothing(self, statement: Statement) -> None:
        if self.here is None:
            self.problems.error(statement.span, "nothing where?", "first a line: at V1.9")

    def _on_node(self, statement: Statement) -> None:
        spots = [c for c in statement.tree.children if _is_spot(c)]
        points = [self.names.find(spot, statement) for spot in spots]
        known = [point for point in points if point is not None]
        self.links += [Link(known[0], point, "joint", span=statement.span) for point in known[1:]]

    def _on_heaters(self, statement: Statement) -> None:
        from buzzout.language.heaters import heater_links  # noqa: PLC0415  (rare)

        self.links += heater_links(statement, self.names, self.problems)

    def _on_expect(self, statement: Statement) -> None:
        self.expected += self._figure(statement)

    def _on_reads(self, statement: Statement) -> None:
        self.readings += self._figure(statement)

    def _figure(self, statement: Statement) -> Iterator[Reading]:
        from buzzout.language.figures import figure  # noqa: PLC0415  (rare)

        reading = figure(statement, self.names, self.problems)
        if reading is not None:
            yield reading

    def _on_wire(self, statement: Statement) -> None:
        colours = [c for c in statement.tree.children if isinstance(c, Token)]
        colour = str(colours[0]).lower() if colours else ""
        items = [c for c in statement.tree.children if isinstance(c, Tree)]
        facts = FactReader("bond", statement.line, self.problems).read(list(items))
        places, far = _places(items[0])
        told = {k: facts.fields.get(k, "") for k in ("note", "photo")}
        if far:
            self._sight(
                statement, places[0], Sighting(None, None, statement.span, colour=colour, **told)
            )
            return
        if len(places) < 2:
            self._one_end(statement, "wire")
            return
        points = self._resolved(places, statement)
        for a, b in zip(points, points[1:], strict=False):
            if a is None or b is None:
                continue
            self.sightings.append(Sighting(a, b, statement.span, colour=colour, whole=True, **told))

    def _resolved(self, places: list[Place], statement: Statement) -> list[Point | None]:
        """Find the points of places; what a lead passes through is joined to where it lands."""
        points = []
        for place in places:
            point = self._spot(place.item, statement)
            points.append(point)
            for item in place.through:
                passed = self._spot(item, statement)
                if point is not None and passed is not None:
                    self.links.append(Link(point, passed, "wire", "", note="the same lead",
                                           span=statement.span))  # fmt: skip
        return points

    def _spot(self, item: Node, statement: Statement) -> Point | None:
        return None if _unseen(item) else self.names.find(item, statement)

    def _sight(self, statement: Statement, place: Place, sighting: Sighting) -> None:
        """Enter a sighting from the heading above to one far place."""
        if self.here is None:
            self.problems.error(
                statement.span, "to where from? No at line stands above",
                "write at TS1.3 above it, or give both ends: from TS1.3 to V1.2",
            )  # fmt: skip
            return
        point = self._resolved([place], statement)[0]
        if point is None and not _unseen(place.item):
            return
        self.sightings.append(replace(sighting, here=self.here, far=point))

    def _one_end(self, statement: Statement, kind: str) -> None:
        hint = "add the far end: to V1.2; or to ? where it cannot be seen"
        if self.gathered.kind != "found":
            hint = f"a {kind} has two ends: V1.2 chassis"
        self.problems.error(statement.span, f"this {kind} has one end only", hint)

    def _on_part(self, statement: Statement) -> None:
        kind = _kind(statement.tree)
        reader = FactReader(kind, statement.line, self.problems)
        facts = reader.read(list(statement.tree.children))
        ends = [c for c in statement.tree.children if isinstance(c, Tree) and c.data == "ends"]
        places, far = _places(ends[0]) if ends else ([], False)
        places = self._without_type(kind, places, facts)
        part = self._part(statement, kind, facts)
        if far:
            self._sight_part(statement, part, places, far_sign=ends[0])
        elif not places:
            self._loose(statement, part)
        else:
            self._whole(statement, part, places)

    def _part(self, statement: Statement, kind: str, facts: Facts) -> Part:
        name = _own_name(statement.tree)
        told = self._with_defaults(kind, facts)
        if KINDS[kind].unit and "value" not in told and not told.get("measured"):
            told["unread"] = told.get("unread", frozenset()) | {"value"}
        if self.gathered.kind == "reference" and "value" in told.get("unread", ()):
            self.problems.warn(
                statement.span, f"no value for {name or 'this ' + kind}: it will match any"
            )
        full = self.names.scoped(name, statement.scope) if name else f"@{statement.line.number}"
        main = next(iter(self.gathered.sources), "")
        if not name and statement.line.file != main:
            full = f"@{statement.line.file}:{statement.line.number}"
        return Part(full, kind, KINDS[kind].terminals, span=statement.span, **told)

    def _with_defaults(self, kind: str, facts: Facts) -> dict[str, Any]:
        told = facts.settled()
        default = self.defaults.get(kind)
        if default is None:
            return told
        merged = {**default.fields, **told}
        value = merged.get("value")
        if value is not None and default.tolerance and value.minus is None:
            merged["value"] = value.within(*default.tolerance)
        return merged

    def _without_type(self, kind: str, places: list[Place], facts: Facts) -> list[Place]:
        """`diode OA81 V1.3 a TS2.4 k`: what stands before the two ends is the type."""
        most = 4 if kind == "bridge" else 2
        if kind in ("diode", "bridge", "neon", "thermistor") and len(places) == most + 1:
            word = designation(places[0].item)
            if "." not in word and not places[0].sign:
                facts.fields["type"] = word
                return places[1:]
        return places

    def _loose(self, statement: Statement, part: Part) -> None:
        """A named part whose ends are told elsewhere, as `R5.1` in a node."""
        if part.anonymous:
            self._one_end_or_none(statement, part.kind)
        else:
            self.made.append(part)

    def _one_end_or_none(self, statement: Statement, kind: str) -> None:
        self.problems.error(
            statement.span, f"this {kind} has no ends",
            "add: to V1.2 under an at line, or both ends: from TS1.3 to V1.2",
        )  # fmt: skip

    def _whole(self, statement: Statement, part: Part, places: list[Place]) -> None:
        if len(places) != len(part.terminals):
            self._wrong_number(statement, part, places)
            return
        ends = self._terminals(statement, part, [place.sign for place in places])
        if ends is None:
            return
        if ends == ():
            part, ends = replace(part, unread=part.unread | {"polarity"}), part.terminals
        points = self._resolved(places, statement)
        lost = [
            p
            for p, place in zip(points, places, strict=True)
            if p is None and not _unseen(place.item)
        ]
        if lost:
            return
        if self.gathered.kind == "found" and len(points) == 2:
            self.sightings.append(
                Sighting(points[0], points[1], statement.span, part, ends[0], ends[1], whole=True)
            )
            return
        self.made.append(part)
        self.links += [
            Link(part.point(end), point, "lead", span=statement.span)
            for end, point in zip(ends, points, strict=True)
            if point is not None
        ]

    def _wrong_number(self, statement: Statement, part: Part, places: list[Place]) -> None:
        """Complain of a part with one lead or three; a word that is no point is told as such."""
        if len(places) > len(part.terminals):
            for place in places:
                if not _unseen(place.item):
                    before = len(self.problems.items)
                    self.names.find(place.item, statement)
                    if len(self.problems.items) > before:
                        return
            told = ", ".join(designation(place.item) for place in places)
            self.problems.error(
                statement.span,
                f"a {part.kind} has {len(part.terminals)} ends; here are {len(places)}: {told}",
            )
        elif len(part.terminals) == 2:
            self._one_end(statement, part.kind)
        else:
            self.problems.error(
                statement.span, f"a {part.kind} has {len(part.terminals)} ends, each with its sign",
                "D1 bridge T1.red1 ~ T1.red2 ~ C1.square + chassis -",
            )  # fmt: skip

    def _terminals(
        self, statement: Statement, part: Part, signs: list[str]
    ) -> tuple[str, ...] | None:
        """Which terminal each place is; () when the polarity was not read, None when wrong."""
        if part.kind == "bridge":
            return self._bridge(statement, signs)
        table = _SIGNS.get(part.kind)
        given = [sign for sign in signs if sign]
        if table is None:
            if given:
                self.problems.error(
                    statement.span, f"a {part.kind} has no {given[0]} end",
                    "leave the sign out" if part.kind != "capacitor" else "is it an electrolytic?",
                )  # fmt: skip
                return None
            return part.terminals
        if not given:
            if self.gathered.kind == "found":
                return ()
            ends = " and ".join(f"{e}" for e in part.terminals)
            self.problems.error(
                statement.span, f"which end of this {part.kind} is which?",
                f"put {ends} behind the two ends: V1.3 {part.terminals[0]} chassis {part.terminals[1]}",
            )  # fmt: skip
            return None
        known = [table.get(sign, "") for sign in signs]
        other = dict(zip(part.terminals, reversed(part.terminals), strict=True))
        if len(known) == 2:
            known = [a or other.get(b, "") for a, b in zip(known, reversed(known), strict=True)]
        if len(set(known)) < len(known) or "" in known:
            self.problems.error(
                statement.span, f"the signs {' '.join(given)} do not make sense on a {part.kind}",
                f"its ends are {' and '.join(part.terminals)}",
            )  # fmt: skip
            return None
        return tuple(known)

    def _bridge(self, statement: Statement, signs: list[str]) -> tuple[str, ...] | None:
        if sorted(signs) != ["+", "-", "~", "~"]:
            self.problems.error(
                statement.span, "a bridge has four ends, marked ~ ~ + -",
                "D1 bridge T1.red1 ~ T1.red2 ~ C1.square + chassis -",
            )  # fmt: skip
            return None
        free = iter(("~1", "~2"))
        return tuple(next(free) if sign == "~" else sign for sign in signs)

    def _sight_part(
        self, statement: Statement, part: Part, places: list[Place], far_sign: Node
    ) -> None:
        if len(part.terminals) != 2:
            self._wrong_number(statement, part, [])
            return
        inner = far_sign.children[0]
        near = (
            [str(c) for c in inner.children if isinstance(c, Token)]
            if isinstance(inner, Tree)
            else []
        )
        signs = [near[0] if near else "", places[0].sign]
        ends = self._terminals(statement, part, signs)
        if ends is None:
            return
        if ends == ():
            part, ends = replace(part, unread=part.unread | {"polarity"}), part.terminals
        sighting = Sighting(None, None, statement.span, part, ends[0], ends[1])
        self._sight(statement, places[0], sighting)


def _own_name(tree: Node) -> str:
    first = tree.children[0]
    return designation(first) if isinstance(first, Tree) and first.data == "name" else ""


def _kind(tree: Node) -> str:
    return next(
        str(c).lower() for c in tree.children if isinstance(c, Token) and c.type == "PART_KIND"
    )


def _is_spot(item: Node | Token) -> bool:
    return isinstance(item, Tree) and item.data == "spot"


def _unseen(item: Node) -> bool:
    return designation(item) == "?"


def _places(ends: Node) -> tuple[list[Place], bool]:
    """The places of an `ends` tree, and whether only the far one is told."""
    inner = ends.children[0]
    far = isinstance(inner, Tree) and inner.data == "far"
    holder = inner if far and isinstance(inner, Tree) else ends
    places = []
    for place in holder.children:
        if not isinstance(place, Tree):
            continue
        spot = place.children[0]
        assert isinstance(spot, Tree)
        signs = [str(c) for c in place.children[1:] if isinstance(c, Token)]
        passed = [c.children[0] for c in place.children[1:] if isinstance(c, Tree)]
        places.append(Place(spot, signs[0].lower() if signs else "",
                            [p for p in passed if isinstance(p, Tree)]))  # fmt: skip
    return places, far


def built(
    gathered: Gathered, problems: ProblemList, drawing: Circuit | None
) -> tuple[Circuit, Entered, Mapping[str, Statement]]:
    """The circuit of gathered statements, with what double entry found."""
    builder = Builder(gathered, problems, drawing)
    circuit = builder.build()
    assert builder.entered is not None
    return circuit, builder.entered, builder.fresh
