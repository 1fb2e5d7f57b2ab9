"""Furniture statements: what is fixed to the chassis, with its points and what lies inside."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from lark import Token, Tree

from buzzout.catalogue import base, base_names, device, device_names, nearest
from buzzout.circuit import CHASSIS, Element, Link, Part, Point
from buzzout.language.grammar import Line, Node
from buzzout.language.problems import ProblemList
from buzzout.language.values import FactReader, designation, rotation
from buzzout.language.windings import WindingReader, is_ohms

_POLES = "abcdefgh"
_GANG = {1: "", 2: "2", 3: "3", 4: "4"}

# The marks beside the tags of a multi-section can by which its drawing names the sections, common
# practice. Others (colours, letters) are as good; one that is nearly one of these is a slip.
MARKS = ("square", "triangle", "half-round", "plain")


@dataclass(frozen=True)
class Furnisher:
    """Turns one furniture statement into a part; `name` is the name it goes by."""

    line: Line
    tree: Node
    name: str
    problems: ProblemList

    def part(self) -> Part | None:
        """The part, or None after noting what is wrong."""
        made: Part | None = getattr(self, f"_{self.tree.data}")()
        return made and replace(made, span=self.line.span(self.tree.children[0]))

    def links(self) -> Iterable[Link]:
        """Joints that come with it: earthed tags, a bond."""
        span = self.line.span(self.tree)
        if self.tree.data == "bond":
            yield Link(Point(self.name), CHASSIS, "joint", span=span)
        for earthed in self._trees("earthed"):
            for tag in earthed.children:
                yield Link(Point(self.name, str(tag)), CHASSIS, "joint", span=span)

    # -- small helpers -----------------------------------------------------------------------

    def _trees(self, *rules: str) -> list[Node]:
        return [c for c in self.tree.children if isinstance(c, Tree) and c.data in rules]

    def _tokens(self, *types: str) -> list[Token]:
        return [c for c in self.tree.children if isinstance(c, Token) and c.type in types]

    def _has(self, *types: str) -> bool:
        return bool(self._tokens(*types))

    def _count(self, token: Token, what: str, most: int = 200) -> int | None:
        if re.fullmatch(r"\d+", token) and 1 <= int(token) <= most:
            return int(token)
        self.problems.error(
            self.line.span(token), f"{str(token)!r} is no number of {what}", f"from 1 to {most}"
        )
        return None

    def _facts(self, kind: str) -> dict[str, Any]:
        items = [c for c in self.tree.children if c is not self.tree.children[0]]
        return FactReader(kind, self.line, self.problems).read(items).settled()

    def _plain(self, kind: str, terminals: Iterable[str], **more: Any) -> Part:
        return Part(self.name, kind, tuple(terminals), **{**self._facts(kind), **more})

    # -- one method a statement ----------------------------------------------------------------

    def _socket(self) -> Part | None:
        words = [designation(tree) for tree in self._trees("designation")]
        trees = self._trees("designation")
        if not words:
            self._error("which base is it?", f"for instance: socket {self.name} B9A ECC83")
            return None
        found = base(words[0])
        fitted = words[1] if len(words) > 1 else ""
        if found is None:
            valve = device(words[0])
            if valve is None or len(words) > 1:
                self._unknown_base(trees[0], words[0])
                return None
            found, fitted = base(valve.base), words[0]
            if found is None:
                self._unknown_base(trees[0], valve.base)
                return None
        if len(words) > 2:
            self._error(f"{words[2]!r} is one word too many", "alternatives follow the word or")
        cap = self._cap(found.name, fitted, trees[-1])
        return self._plain("socket", (*found.pins, *cap), base=found.name, type=fitted)

    def _cap(self, base_name: str, fitted: str, tree: Node) -> tuple[str, ...]:
        """Work out whether there is a top cap; complain of a valve that does not fit the base."""
        valve = device(fitted) if fitted else None
        if not fitted:
            return ()
        if valve is None:
            close = nearest(fitted, device_names())
            self.problems.warn(
                self.line.span(tree),
                f"I know no valve {fitted!r}: its pins are not checked",
                f"did you mean {close[0]}?" if close else "",
            )
            return ("cap",)
        if valve.base != base_name:
            self.problems.error(
                self.line.span(tree),
                f"an {fitted} has a {valve.base} base, not {base_name}",
                f"socket {self.name} {valve.base} {fitted}",
            )
        return ("cap",) if valve.cap else ()

    def _unknown_base(self, tree: Node, word: str) -> None:
        close = nearest(word, base_names())
        known = ", ".join(base_names())
        self.problems.error(
            self.line.span(tree),
            f"I know no base {word!r}",
            f"did you mean {close[0]}? Known: {known}" if close else f"known: {known}",
        )

    def _strip(self) -> Part | None:
        count = self._count(self._tokens("QUANTITY")[0], "tags")
        if count is None:
            return None
        pins = [str(n + 1) for n in range(count)]
        for earthed in self._trees("earthed"):
            for tag in earthed.children:
                if str(tag) not in pins:
                    self.problems.error(
                        self.line.span(tag), f"{self.name} has {count} tags, no tag {tag}"
                    )
        return self._plain("strip", pins)

    def _pot(self) -> Part:
        gangs = 2 if self._has("GANGED") else 1
        facts = self._facts("pot")
        value = facts.get("value")
        pins, elements = [], []
        for gang in range(1, gangs + 1):
            own = [end + _GANG[gang] for end in ("ccw", "wiper", "cw")]
            own += ["tap" + _GANG[gang]] if self._has("TAP") else []
            elements.append(Element("track", f"track{_GANG[gang]}", tuple(own), value))
            pins += own
        for contact in range(self._switches()):
            ends = (f"sw{2 * contact + 1}", f"sw{2 * contact + 2}")
            elements.append(Element("contact", f"switch {contact + 1}", ends))
            pins += ends
        rotation = self._rotation()
        return Part(
            self.name, "pot", tuple(pins), elements=tuple(elements), setting=rotation, **facts
        )

    def _rotation(self) -> str:
        """How it stands, from 0% to 100% (fully clockwise); "" where nobody says."""
        items = [tree.children[0] for tree in self._trees("setting")]
        return rotation(items[0], self.line, self.problems) if items else ""

    def _switches(self) -> int:
        tokens = self._tokens("WITH_SWITCH")
        return (2 if tokens[0].lower().startswith("double") else 1) if tokens else 0

    def _switch(self) -> Part | None:
        numbers = self._tokens("QUANTITY")
        poles: int | None = 1
        ways: int | None = 1
        if numbers:
            poles = self._count(numbers[0], "poles", 8)
        if len(numbers) > 1:  # else on-off stands behind the poles
            ways = self._count(numbers[1], "ways", 24)
        if poles is None or ways is None:
            return None
        setting = self._setting(poles, ways)
        pins, elements = [], []
        for letter in _POLES[:poles]:
            throws = [f"{letter}{way + 1}" for way in range(ways)]
            pins += [letter, *throws]
            for way, throw in enumerate(throws, 1):
                closed = setting == str(way) or (setting == "on" and ways == 1)
                elements.append(Element("contact", throw, (letter, throw), closed=closed))
        return self._plain("switch", pins, elements=tuple(elements), setting=setting)

    def _setting(self, poles: int, ways: int) -> str:
        """The position it was found or drawn in, "" where nobody says; complain of any other."""
        for token in self._tokens("ON_OFF"):
            if token.lower() != "on-off":
                message = f"is {self.name} an on-off switch, or is this its position?"
                count = f"{poles} poles " if poles > 1 else ""
                hint = f"switch {self.name} {count}on-off set {token.lower()}"
                self.problems.error(self.line.span(token), message, hint)
        items = [tree.children[0] for tree in self._trees("setting")]
        setting = designation(items[0]).lower() if items else ""
        known = ["off", *(str(way + 1) for way in range(ways)), *(["on"] if ways == 1 else [])]
        if setting and setting not in known:
            told = "set on or set off" if ways == 1 else f"set 1 to set {ways}"
            message = f"{self.name} has no position {setting!r}"
            self.problems.error(self.line.span(items[0]), message, told)
        return setting

    def _jack(self) -> Part:
        contacts = [str(token).lower() for token in self._tokens("CONTACT")]
        elements = []
        for rest, moving in (("break", "tip"), ("break-ring", "ring")):
            if rest in contacts and moving in contacts:
                elements.append(Element("contact", rest, (moving, rest), closed=True))
        if len(set(contacts)) < len(contacts):
            self._error("the same contact is named twice")
        return self._plain("jack", dict.fromkeys(contacts), elements=tuple(elements))

    def _transformer(self) -> Part:
        return self._plain("transformer", ())

    def _choke(self) -> Part:
        items = self.tree.children[1:]
        others = [
            c for c in items if not is_ohms(c) and not (isinstance(c, Tree) and c.data == "dcr")
        ]
        facts = FactReader("choke", self.line, self.problems).read(others).settled()
        ohms = WindingReader(self.line, self.tree, self.name, self.problems).ohms()
        inner = Element("winding", "choke", ("1", "2"), facts.get("value"), resistance=ohms)
        return Part(self.name, "choke", ("1", "2"), elements=(inner,), **facts)

    def _can(self) -> Part:
        pins, elements = [], []
        for tree in self._trees("section"):
            mark = designation(tree.children[0])
            if mark in pins:
                self.problems.error(self.line.span(tree), f"two sections called {mark!r}")
            reader = FactReader("electrolytic", self.line, self.problems)
            facts = reader.read(list(tree.children[1:])).settled()
            value, volts = facts.pop("value", None), facts.pop("voltage", None)
            if facts:
                message = f"a section of {self.name} has its capacitance and its volts, no more"
                self.problems.error(self.line.span(tree), message, 'any other remark: note "…"')
            if mark.lower() not in MARKS and (close := nearest(mark, MARKS, 1)):
                message = f"a section of {self.name} is marked {mark!r}"
                self.problems.warn(self.line.span(tree), message, f"did you mean {close[0]!r}?")
            elements.append(Element("capacitor", mark, (mark, "can"), value, volts))
            pins.append(mark)
        return self._plain("can", (*dict.fromkeys(pins), "can"), elements=tuple(elements))

    def _fuse(self) -> Part:
        speed = ["slow" if t.lower() in ("slow", "t") else "fast" for t in self._tokens("SPEED")]
        return self._plain("fuse", ("1", "2"), style=tuple(speed))

    def _lamp(self) -> Part:
        return self._plain("lamp", ("1", "2"))

    def _speaker(self) -> Part:
        fields = self._trees("field")
        reader = FactReader("speaker", self.line, self.problems)
        ohms = reader.quantity(fields[0].children[0]) if fields else None  # type: ignore[arg-type]
        if not fields:
            return self._plain("speaker", ("1", "2"))
        coil = Element(
            "winding", "field", ("field1", "field2"), resistance=(ohms.value,) if ohms else ()
        )
        return self._plain("speaker", ("1", "2", "field1", "field2"), elements=(coil,))

    def _connector(self) -> Part | None:
        count = self._count(self._tokens("QUANTITY")[0], "pins")
        return self._plain("connector", [str(n + 1) for n in range(count)]) if count else None

    def _cord(self) -> Part:
        pins, elements = [], []
        for tree in self._trees("conductor"):
            letter = str(tree.children[0])
            colour = str(tree.children[1]).lower() if len(tree.children) > 1 else ""
            if letter in pins:
                self.problems.error(self.line.span(tree), f"two conductors called {letter}")
            pins.append(letter)
            elements.append(Element("conductor", colour, (letter,)))
        return self._plain("cord", dict.fromkeys(pins), elements=tuple(elements))

    def _bond(self) -> Part:
        return self._plain("bond", ("",))

    def _error(self, message: str, hint: str = "") -> None:
        self.problems.error(self.line.span(self.tree), message, hint)


FURNITURE: tuple[str, ...] = (
    "socket", "strip", "pot", "switch", "jack", "transformer", "choke", "can", "fuse", "lamp",
    "speaker", "connector", "cord", "bond",
)  # fmt: skip
