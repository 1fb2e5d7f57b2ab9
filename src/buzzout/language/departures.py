"""Wanted changes to a drawing: each a few edits with the reason that somebody gave."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

from lark import Token, Tree

from buzzout.catalogue import device
from buzzout.circuit import (
    CannotApply,
    Change,
    Circuit,
    Cut,
    Edit,
    Fit,
    Join,
    Part,
    Point,
    Remove,
    Span,
    apply,
    article,
)
from buzzout.language.builder import Builder
from buzzout.language.gather import Gathered, Statement
from buzzout.language.grammar import Node
from buzzout.language.load import EDITS, Loaded, load
from buzzout.language.names import Names
from buzzout.language.problems import ProblemList
from buzzout.language.slips import QUOTES
from buzzout.language.values import SPELLINGS, FactReader, designation


@dataclass(frozen=True)
class Departure:
    """One line of a departures file."""

    text: str
    reason: str
    edits: tuple[Edit, ...]
    span: Span


@dataclass(frozen=True)
class Departed:
    """A drawing with its departures made, and what they were."""

    circuit: Circuit
    departures: tuple[Departure, ...]


def depart(drawing: Circuit, path: Path | str) -> Departed:
    """Make the departures of one file in a drawing.

    Raises
    ------
    Unreadable
        If the file has errors, or names what the drawing does not have.
    """
    loaded = load(path, drawing, wanted="departures").sound()
    problems = ProblemList()
    made: list[Departure] = []
    for statement in loaded.statements:
        reason = _reason(statement.tree)
        if statement.rule in EDITS and not reason:
            problems.error(statement.span, "no reason given", 'end the line with: because "…"')
        before = len(problems.items)
        edits = tuple(_Reader(drawing, statement, problems).edits())
        if len(problems.items) > before or not edits:
            continue
        try:
            drawing = apply(drawing, edits)
        except CannotApply as error:
            problems.error(statement.span, str(error), "the drawing is as the lines above left it")
            continue
        text = " ".join(statement.line.text.split("#")[0].split(" because ")[0].split())
        made.append(Departure(text, reason, edits, statement.span))
    _sound(loaded, problems)
    return Departed(drawing, tuple(made))


def _sound(loaded: Loaded, problems: ProblemList) -> None:
    """Complain of everything at once."""
    replace(loaded, problems=problems.sorted()).sound()


def _reason(tree: Node) -> str:
    for child in tree.iter_subtrees():
        if child.data == "because":
            return str(child.children[0]).strip(QUOTES)
    return ""


@dataclass
class _Reader:
    """Turns one statement into edits on the drawing as it is by then."""

    drawing: Circuit
    statement: Statement
    problems: ProblemList

    def edits(self) -> Iterator[Edit]:
        handlers: dict[str, Callable[[], Iterator[Edit]]] = {
            "add": self._add,
            "remove": self._remove,
            "change": self._change,
            "move": self._move,
            "lift": self._lift,
            "join": self._join,
            "cut": self._cut,
        }
        handler = handlers.get(self.statement.rule)
        if handler is not None:
            yield from handler()

    def _names(self) -> Names:
        names = Names(self.problems, parts=dict(self.drawing.parts))
        names.nodes = dict.fromkeys(self.drawing.names)
        return names

    def _spots(self) -> list[Point | None]:
        trees = [
            c for c in self.statement.tree.children if isinstance(c, Tree) and c.data == "spot"
        ]
        names = self._names()
        return [names.find(tree, self.statement) for tree in trees]

    def _named(self) -> Part | None:
        """The part that the statement is about."""
        tree = self.statement.tree.children[0]
        name = designation(tree).partition(".")[0]
        part = self.drawing.parts.get(name)
        if part is None:
            self._names().find(tree, self.statement)
        return part

    def _add(self) -> Iterator[Edit]:
        inner = self.statement.tree.children[0]
        if not isinstance(inner, Tree):
            return
        gathered = Gathered("reference", statements=[Statement(inner, self.statement.line)])
        known = self.drawing.parts
        circuit = Builder(gathered, self.problems, self._names()).build()
        leads = [link for link in circuit.links if link.how == "lead"]
        for name, part in circuit.parts.items():
            if part is known.get(name):
                continue
            if name not in known or not part.furniture:
                yield Fit(part, tuple((x.a.pin, x.b) for x in leads if x.a.owner == name))
            else:
                yield Change(name, part)
        yield from (Join(x.a, x.b, x.colour) for x in circuit.links if x.how != "lead")

    def _remove(self) -> Iterator[Edit]:
        part = self._named()
        if part is not None:
            yield Remove(part.name)

    def _change(self) -> Iterator[Edit]:
        part = self._named()
        if part is None:
            return
        pin = designation(self.statement.tree.children[0]).partition(".")[2]
        if pin:
            yield from self._change_section(part, pin)
            return
        items = list(self.statement.tree.children[1:])
        if part.kind in ("socket", "diode", "bridge"):
            yield from self._change_type(part, items)
            return
        for item in items:
            if isinstance(item, Tree) and item.data == "name":
                span = self.statement.line.span(item)
                self.problems.error(span, f"{designation(item)!r} is not a value", SPELLINGS)
        told = FactReader(part.kind, self.statement.line, self.problems).read(items).settled()
        told.pop("note", None)
        yield Change(part.name, replace(part, **told))

    def _change_type(self, part: Part, items: list[Node | Token]) -> Iterator[Edit]:
        trees = [c for c in items if isinstance(c, Tree) and c.data in ("quantity", "name")]
        if not trees:
            return
        word = " ".join(str(token) for token in trees[0].children)
        valve = device(word) if part.kind == "socket" else None
        if valve is not None and valve.base != part.base:
            span = self.statement.line.span(trees[0])
            message = f"{article(word)} has {article(valve.base)} base; {part.name} is {part.base}"
            self.problems.error(span, message)
        yield Change(part.name, replace(part, type=word, accepts=()))

    def _cut(self) -> Iterator[Edit]:
        spots = self._spots()
        if len(spots) == 2 and spots[0] is not None and spots[1] is not None:
            yield Cut(spots[0], spots[1])

    def _change_section(self, part: Part, pin: str) -> Iterator[Edit]:
        reader = FactReader("electrolytic", self.statement.line, self.problems)
        told = reader.read(list(self.statement.tree.children[1:])).settled()
        elements = [
            replace(e, value=told.get("value", e.value), voltage=told.get("voltage", e.voltage))
            if e.kind == "capacitor" and pin in e.terminals else e
            for e in part.elements
        ]  # fmt: skip
        if tuple(elements) == part.elements:
            self.problems.error(self.statement.span, f"{part.name} has no section {pin}")
            return
        yield Change(part.name, replace(part, elements=tuple(elements)))

    def _detached(self, point: Point) -> Iterator[Edit]:
        """Take one point out of its node; whatever it held together stays together."""
        links = self.drawing.links_at.get(point, ())
        for link in links:
            yield Cut(link.a, link.b)
        others = [link.other(point) for link in links]
        yield from (Join(a, b) for a, b in pairwise(others))

    def _move(self) -> Iterator[Edit]:
        spots = self._spots()
        if len(spots) == 2 and spots[0] is not None and spots[1] is not None:
            yield from self._detached(spots[0])
            yield Join(spots[0], spots[1])

    def _lift(self) -> Iterator[Edit]:
        for spot in self._spots():
            if spot is not None:
                yield from self._detached(spot)

    def _join(self) -> Iterator[Edit]:
        spots = self._spots()
        if len(spots) == 2 and spots[0] is not None and spots[1] is not None:
            yield Join(spots[0], spots[1])
