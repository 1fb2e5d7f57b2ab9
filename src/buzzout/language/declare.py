"""First pass over the statements: which names there are."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from lark import Token, Tree

from buzzout.circuit import CHASSIS, KINDS, Circuit, Link, article
from buzzout.language.furniture import FURNITURE, Furnisher
from buzzout.language.gather import Statement
from buzzout.language.grammar import Node
from buzzout.language.names import CHASSIS_WORDS, Names, inherited
from buzzout.language.problems import ProblemList
from buzzout.language.remarks import joined, remarks
from buzzout.language.values import FactReader, Facts, designation
from buzzout.language.windings import WindingReader

_REMARKS = ("note", "photo", "unsure", "optional")


@dataclass
class Declarations:
    """What a file declares: names, furniture with its own joints, defaults.

    `fresh` tells the statement behind each name that this file itself declares.
    """

    kind: str
    names: Names
    problems: ProblemList
    links: list[Link] = field(default_factory=list)
    fresh: dict[str, Statement] = field(default_factory=dict)
    defaults: dict[str, Facts] = field(default_factory=dict)

    def inherit(self, drawing: Circuit) -> None:
        """Take over the furniture of the drawing, bolts with their joint to the chassis.

        A bolt that a departure added was joined to the chassis by an edit, as by a wire.
        """
        self.names.parts = inherited(drawing.parts)
        self.names.drawing_nodes = frozenset(drawing.names)
        bolts = {name for name, part in self.names.parts.items() if part.kind == "bond"}
        self.links += [
            replace(link, how="joint")
            for link in drawing.links
            if link.a.owner in bolts and link.b == CHASSIS
        ]

    def take(self, statements: Iterable[Statement]) -> None:
        """Run over all statements."""
        for statement in statements:
            rule = statement.rule
            if rule in FURNITURE:
                self._furnish(statement)
            elif rule == "winding":
                self._wind(statement)
            elif rule == "part":
                self._small(statement)
            elif rule == "node":
                self._node(statement)
            elif rule == "default":
                kind = str(statement.tree.children[0]).lower()
                reader = FactReader(kind, statement.line, self.problems)
                self.defaults[kind] = reader.read(list(statement.tree.children[1:]))

    def _node(self, statement: Statement) -> None:
        first = designation(statement.tree.children[0])
        if "." not in first and first.lower() not in CHASSIS_WORDS:
            self.names.nodes[self.names.scoped(first, statement.scope)] = None

    def _furnish(self, statement: Statement) -> None:
        tree = statement.tree
        if isinstance(tree.children[0], Token):  # `strip` and `board` keep their word
            tree = Tree(tree.data, tree.children[1:])
        name = self.names.scoped(designation(tree.children[0]), statement.scope)
        furnisher = Furnisher(statement.line, tree, name, self.problems)
        part = furnisher.part()
        if part is None or self._taken(name, statement):
            return
        self.fresh[name] = statement
        known = self.names.parts.get(name)
        if known is not None and known.kind != part.kind:
            self.problems.error(
                statement.span,
                f"{name} is a {known.kind} on the drawing, here a {part.kind}",
                "use another name, or mend one of the two",
                (known.span, "the drawing"),
            )
            return
        if part.kind == "transformer" and known is not None:
            told = {name: getattr(part, name) or getattr(known, name) for name in _REMARKS}
            part = replace(known, unread=frozenset(), span=part.span, **told)
        self.names.parts[name] = part
        if known is None or part.kind != "bond":
            self.links += furnisher.links()

    def _taken(self, name: str, statement: Statement) -> bool:
        """Complain of a name that this file gave to something else."""
        earlier = self.fresh.get(name)
        if earlier is None:
            return False
        same = earlier.rule == statement.rule
        kinds = [_called(earlier), _called(statement)]
        what = "declared twice" if same else f"both {article(kinds[0])} and {article(kinds[1])}"
        hint = "keep one of the two lines" if same else "give one of them another name"
        message = f"{name} is {what}"
        self.problems.error(statement.span, message, hint, (earlier.span, "first here"))
        return True

    def _small(self, statement: Statement) -> None:
        name = own_name(statement.tree)
        if not name:
            return
        name = self.names.scoped(name, statement.scope)
        kind = part_kind(statement.tree)
        earlier = self.fresh.get(name)
        if earlier is not None and earlier.rule == "part" and self.kind == "found":
            if part_kind(earlier.tree) != kind:
                self.problems.error(
                    statement.span,
                    f"{name} is a {part_kind(earlier.tree)} on one line, here a {kind}",
                    "one part has one name and one kind",
                    (earlier.span, "first here"),
                )
        elif self._taken(name, statement):
            return
        self.fresh.setdefault(name, statement)
        self.names.small[name] = KINDS[kind].terminals

    def _wind(self, statement: Statement) -> None:
        name = self.names.scoped(designation(statement.tree.children[0]), statement.scope)
        part = self.names.parts.get(name)
        if part is None or part.kind != "transformer":
            self.problems.error(
                statement.line.span(statement.tree.children[0]),
                f"{name} is no transformer",
                f"declare it above: transformer {name}",
            )
            return
        element = WindingReader(statement.line, statement.tree, name, self.problems).winding()
        if element is None:
            return
        others = tuple(e for e in part.elements if e.label != element.label)
        taken = {t for e in others for t in e.terminals} & set(element.terminals)
        if taken:
            self.problems.error(
                statement.span,
                f"{name} has a terminal {', '.join(sorted(taken))} already",
                "each lead of a transformer has its own name: red1, red2",
            )
        elements = (*others, element)
        terminals = tuple(dict.fromkeys(t for e in elements for t in e.terminals))
        part = replace(part, elements=elements, terminals=terminals)
        told = remarks(statement.line, statement.tree, self.problems)
        if told.text:
            note = joined(part.note, f"{element.label}: {told.note}" if told.note else "")
            part = replace(part, note=note, photo=joined(part.photo, told.photo))
        self.names.parts[name] = part


def _called(statement: Statement) -> str:
    return part_kind(statement.tree) if statement.rule == "part" else statement.rule


def own_name(tree: Node) -> str:
    """The name that a `part` statement gives, "" for an anonymous one."""
    first = tree.children[0]
    return designation(first) if isinstance(first, Tree) and first.data == "name" else ""


def part_kind(tree: Node) -> str:
    """The kind of a `part` statement."""
    kinds = (c for c in tree.children if isinstance(c, Token) and c.type == "PART_KIND")
    return next(kinds).lower()
