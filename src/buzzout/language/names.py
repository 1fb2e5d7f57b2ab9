"""Which names and points a file may speak of, and what was probably meant by any other."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from lark import Token

from buzzout.catalogue import nearest
from buzzout.circuit import CHASSIS, NotAQuantity, Part, Point, Span, article, parse
from buzzout.language.gather import Scope, Statement
from buzzout.language.grammar import Node
from buzzout.language.problems import ProblemList
from buzzout.language.slips import COLOURS, MEANT
from buzzout.language.values import designation

CHASSIS_WORDS = ("chassis", "ground", "gnd")


@dataclass
class Names:
    """The names declared so far. `parts` holds furniture whole; small parts by their terminals."""

    problems: ProblemList
    parts: dict[str, Part] = field(default_factory=dict)
    small: dict[str, tuple[str, ...]] = field(default_factory=dict)
    nodes: dict[str, None] = field(default_factory=dict)
    drawing_nodes: frozenset[str] = frozenset()
    told: dict[str, Span] = field(default_factory=dict)  # where the hint on a name was given

    def scoped(self, name: str, scope: Scope) -> str:
        """The full name of something declared inside a block."""
        return scope.prefix + name if name in scope.local else name

    def terminals(self, name: str) -> tuple[str, ...] | None:
        """The terminals that go with a name, or None."""
        if name in self.parts:
            return self.parts[name].terminals
        return self.small.get(name)

    def furniture(self, name: str, statement: Statement) -> Part | None:
        """The furniture of that name, None where there is none."""
        return self.parts.get(self._same(self.scoped(name, statement.scope), self.parts))

    def find(self, item: Node | Token, statement: Statement) -> Point | None:
        """The point that a word stands for; None after noting why there is none."""
        word = designation(item)
        if word in statement.scope.ports:
            word = statement.scope.ports[word]
        elif "." not in word:
            word = self.scoped(word, statement.scope)
        else:
            owner, _, pin = word.partition(".")
            word = f"{self.scoped(owner, statement.scope)}.{pin}"
        if "." in word:
            return self._point(word, item, statement)
        return self._bare(word, item, statement)

    def _bare(self, word: str, item: Node | Token, statement: Statement) -> Point | None:
        if word.lower() in CHASSIS_WORDS:
            return CHASSIS
        known = self._same(word, self.nodes, self.parts, self.small)
        if known in self.nodes:
            return Point(known)
        terminals = self.terminals(known) if known else None
        if terminals == ("",):
            return Point(known)
        span = statement.line.span(item)
        if terminals:
            shown = f"{known}.{terminals[0]} to {known}.{terminals[-1]}"
            self.problems.error(span, f"{known} has several points; which one?", f"from {shown}")
            return None
        colours = COLOURS if statement.rule == "wire" else []
        first = self.told.setdefault(word, span) == span
        hint = self._likely(word, colours) if first else ""
        self.problems.error(span, f"I do not know {word!r}", hint)
        return None

    def _likely(self, word: str, colours: Collection[str]) -> str:
        try:
            parse(word)
        except NotAQuantity as slip:
            if "did you mean" in str(slip):
                return str(slip).partition("; ")[2]
        if re.fullmatch(r"[A-Za-z]+\d*[-:/]\w+", word):
            return f"points are written with a dot: {re.sub('[-:/]', '.', word, count=1)}"
        if word.lower() in ("earth", "pe", "minus"):
            return "say chassis, the name of the bolt (bond PE1), or the lead's conductor (M1.E)"
        if word in self.drawing_nodes:
            return f"{word} is a node of the drawing; here, name the tag or pin where the lead sits"
        words = MEANT["STYLE"] if word.islower() else []
        ours = nearest(word, ["chassis", *colours, *words], 1)
        if ours:
            return f"did you mean {ours[0]}?"
        node = f"a node has a line of its own: node {word}"
        close = nearest(word, [*self.parts, *self.small, *self.nodes], 1)
        if close:
            return f"{node}; or did you mean {close[0]}?"
        return f'{node}; a remark goes in quotes: note "{word}"'

    def _point(self, word: str, item: Node | Token, statement: Statement) -> Point | None:
        owner, _, pin = word.partition(".")
        known = self._same(owner, self.parts, self.small)
        span = statement.line.span(item)
        if not known:
            self.problems.error(span, f"nothing here is called {owner!r}", self._owner(owner))
            return None
        terminals = self.terminals(known) or ()
        right = self._same(pin, terminals)
        if right:
            return Point(known, right)
        self.problems.error(span, self._no_pin(known, pin), self._pins(known, pin))
        return None

    def _owner(self, owner: str) -> str:
        close = nearest(owner, [*self.parts, *self.small], 1)
        meant = f"did you mean {close[0]}? Else declare it" if close else "declare it"
        if re.fullmatch(r"V\d+", owner, re.IGNORECASE):
            return f"{meant}: socket {owner} B9A ECC83"
        if re.fullmatch(r"(TS|TB|B)\d+", owner, re.IGNORECASE):
            return f"{meant}: strip {owner} 12 tags"
        return f"{meant}: socket, strip, pot, can, fuse …"

    def _no_pin(self, owner: str, pin: str) -> str:
        part = self.parts.get(owner)
        if part is None or not part.furniture:
            return f"{owner} has no end {pin!r}"
        if part.kind == "socket":
            return f"{owner} is {article(part.base)} socket: it has no pin {pin}"
        what = {"strip": "tag", "transformer": "lead", "can": "section"}.get(part.kind, "point")
        return f"{owner} has no {what} {pin!r}"

    def _pins(self, owner: str, pin: str) -> str:
        terminals = self.terminals(owner) or ()
        part = self.parts.get(owner)
        if part is not None and part.kind == "pot" and pin.isdigit():
            return f"a pot's ends go by rotation: {owner}.ccw, {owner}.wiper, {owner}.cw"
        if terminals and all(t.isdigit() for t in terminals):
            return f"{owner} has {terminals[0]} to {terminals[-1]}"
        close = nearest(pin, terminals, 1)
        told = ", ".join(terminals)
        return f"did you mean {owner}.{close[0]}?" if close else f"it has {told}" if told else ""

    @staticmethod
    def _same(word: str, *among: Collection[str]) -> str:
        """Match the name exactly, else the only one that differs in capitals alone, else ""."""
        if any(word in names for names in among):
            return word
        folded = [name for names in among for name in names if name.lower() == word.lower()]
        return folded[0] if len(folded) == 1 else ""


_HAS_VALUE = ("pot", "choke", "fuse", "lamp", "can", "speaker", "transformer")


def inherited(parts: Mapping[str, Part]) -> dict[str, Part]:
    """Furniture of the drawing as a found file sees it: there, but not looked at yet."""
    unread = {"socket": frozenset({"type"})} | dict.fromkeys(_HAS_VALUE, frozenset({"value"}))
    return {
        name: replace(part, unread=part.unread | unread.get(part.kind, frozenset()))
        for name, part in parts.items()
        if part.furniture and part.kind != "strip"
    }
