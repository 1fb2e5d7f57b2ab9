"""Furniture statements: what is fixed to the chassis, with its points and what lies inside."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from lark import Token, Tree

from buzzout.catalogue import base, base_names, device, device_names, nearest
from buzzout.circuit import CHASSIS, Element, Link, NotAQuantity, Part, Point, Quantity, parse
from buzzout.language.grammar import Line, Node
from buzzout.language.problems import ProblemList
from buzzout.language.values import FactReader, designation

_POLES = "abcdefgh"
_GANG = {1: "", 2: "2", 3: "3", 4: "4"}


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
        return Part(self.name, "pot", tuple(pins), elements=tuple(elements), **facts)

    def _switches(self) -> int:
        tokens = self._tokens("WITH_SWITCH")
        return (2 if tokens[0].lower().startswith("double") else 1) if tokens else 0

    def _switch(self) -> Part | None:
        numbers = self._tokens("QUANTITY")
        poles = ways = 1
        if numbers:
            counted = self._count(numbers[0], "poles", 8), self._count(numbers[1], "ways", 24)
            if counted[0] is None or counted[1] is None:
                return None
            poles, ways = counted
        settings = self._trees("setting")
        setting = designation(settings[0]).lower() if settings else ""
        pins, elements = [], []
        for letter in _POLES[:poles]:
            throws = [f"{letter}{way + 1}" for way in range(ways)]
            pins += [letter, *throws]
            for way, throw in enumerate(throws, 1):
                closed = setting == str(way) or (setting == "on" and ways == 1)
                elements.append(Element("contact", throw, (letter, throw), closed=closed))
        return self._plain("switch", pins, elements=tuple(elements), setting=setting)

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
        facts = self._facts_without_ohms("choke")
        ohms = self._ohms()
        inner = Element("winding", "choke", ("1", "2"), facts.get("value"), resistance=ohms)
        return Part(self.name, "choke", ("1", "2"), elements=(inner,), **facts)

    def _facts_without_ohms(self, kind: str) -> dict[str, Any]:
        """Keep the winding's resistance (`200R`) from passing for the value."""
        items = [c for c in self.tree.children[1:] if not self._is_ohms(c)]
        return FactReader(kind, self.line, self.problems).read(items).settled()

    def _is_ohms(self, item: Node | Token) -> bool:
        return (
            isinstance(item, Tree)
            and item.data == "quantity"
            and re.fullmatch(r"[\d.]+\s*(R|ohms?|k)|\d+[Rk]\d*", " ".join(item.children))
            is not None  # type: ignore[arg-type]
        )

    def _ohms(self) -> tuple[float, ...]:
        texts = [" ".join(c.children) for c in self.tree.children if self._is_ohms(c)]  # type: ignore[union-attr,arg-type]
        for tree in self._trees("dcr"):
            texts.append(" ".join(str(t) for t in tree.children[0].children))  # type: ignore[union-attr]
        return tuple(value for text in texts[:1] for value in self._sum(text))

    def _sum(self, text: str) -> list[float]:
        """`120R+125R`: the resistances of a tapped winding, tap by tap."""
        try:
            return [parse(piece, "ohm").value for piece in text.split("+")]
        except NotAQuantity as slip:
            self._error(str(slip), "resistances are written as 120R or, tap by tap, 120R+125R")
            return []

    def _can(self) -> Part:
        pins, elements = [], []
        for tree in self._trees("section"):
            mark = designation(tree.children[0])
            if mark in pins:
                self.problems.error(self.line.span(tree), f"two sections called {mark!r}")
            reader = FactReader("electrolytic", self.line, self.problems)
            facts = reader.read(list(tree.children[1:])).settled()
            value, volts = facts.get("value"), facts.get("voltage")
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

    # -- windings ---------------------------------------------------------------------------------

    def winding(self) -> Element | None:
        """One `winding` line: label, terminals, then voltages, resistances and the rest."""
        words, quantities = self._winding_words()
        if len(words) < 3:
            self._error(
                "a winding has a label and two or more terminals",
                f"for instance: winding {self.name} heater h1 h2 6.3V 3A",
            )
            return None
        label, *pins = words
        if len(set(pins)) < len(pins):
            self._error("the same terminal twice on one winding", "call them red1 and red2")
            return None
        return Element("winding", label, tuple(pins), **self._winding_facts(pins, quantities))

    def _winding_words(self) -> tuple[list[str], list[str]]:
        """Part terminals, which may be bare numbers, from quantities, which have units."""
        words: list[str] = []
        quantities: list[str] = []
        for item in self.tree.children[1:]:
            if not isinstance(item, Tree):
                continue
            if item.data == "pin":
                words.append(designation(item))
            elif item.data == "quantity":
                text = "".join(str(token) for token in item.children)
                bare = re.fullmatch(r"\d+[a-z]?", text) is not None and not quantities
                (words if bare else quantities).append(text)
        return words, quantities

    def _winding_facts(self, pins: list[str], quantities: list[str]) -> dict[str, Any]:
        told: dict[str, Any] = {"resistance": self._ohms()}
        for text in quantities:
            if re.search(r"\d-\d|\+\d", text) or text.upper().endswith("V"):
                told["taps"] = self._taps(text, pins)
                continue
            quantity = self._quantity(text)
            if quantity is not None and quantity.unit == "A":
                told["current"] = quantity
            elif quantity is not None and quantity.unit == "H":
                told["value"] = quantity
        for tree in self._trees("dot"):
            told["dot"] = self._dot(tree, pins)
        for tree in self._trees("load"):
            load = FactReader("resistor", self.line, self.problems).quantity(tree.children[0])  # type: ignore[arg-type]
            told["load"] = load.value if load else None
        return told

    def _quantity(self, text: str) -> Quantity | None:
        try:
            return parse(text)
        except NotAQuantity as slip:
            self._error(str(slip))
            return None

    def _dot(self, tree: Node, pins: list[str]) -> str:
        dot = designation(tree.children[0])
        if dot not in pins:
            self._error(f"this winding has no terminal {dot!r} to carry the dot", ", ".join(pins))
        return dot

    def _taps(self, text: str, pins: list[str]) -> tuple[float, ...]:
        """`6.3V`, `270-0-270V`, `0-210-230V`: voltage of each terminal against the zero."""
        figures = [float(figure) for figure in re.findall(r"\d+(?:\.\d+)?", text)]
        if len(figures) == 1 and len(pins) == 2:
            figures = [0.0, figures[0]]
        if len(figures) != len(pins):
            self._error(
                f"{text} gives {len(figures)} voltages for {len(pins)} terminals",
                "one figure for each terminal: 270-0-270V, 0-210-230V; or one for two terminals",
            )
            return ()
        if 0.0 not in figures:
            self._error(f"{text} has no zero", "write 0-210-230V or 270-0-270V")
            return ()
        zero = figures.index(0.0)
        return tuple(-v if i < zero else v for i, v in enumerate(figures))


FURNITURE: tuple[str, ...] = (
    "socket", "strip", "pot", "switch", "jack", "transformer", "choke", "can", "fuse", "lamp",
    "speaker", "connector", "cord", "bond",
)  # fmt: skip
