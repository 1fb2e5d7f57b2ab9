"""Windings: terminals, open-circuit voltages, resistances, phase mark."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from lark import Token, Tree

from buzzout.circuit import Element, NotAQuantity, Quantity, parse
from buzzout.language.grammar import Line, Node
from buzzout.language.problems import ProblemList
from buzzout.language.values import designation

_OHMS = re.compile(r"[\d.,]+\s*(R|ohms?|k)|\d+[Rk]\d*", re.IGNORECASE)
_FIELDS = {"A": "current", "H": "value"}
_VOLTS = "one figure for each terminal: 270-0-270V, 0-210-230V"
_KNOWN = "a winding has volts, amperes, ohms and henries; anything else goes into a note"


def words_of(tree: Node) -> str:
    """The words of a subtree with single blanks."""
    return " ".join(str(token) for token in tree.scan_values(lambda x: isinstance(x, Token)))


def is_ohms(item: Node | Token) -> bool:
    """Tell a resistance (`200R`) that could pass for a main value."""
    return (
        isinstance(item, Tree)
        and item.data == "quantity"
        and _OHMS.fullmatch(words_of(item)) is not None
    )


@dataclass(frozen=True)
class WindingReader:
    """Reads one `winding` line, or the ohms of a `choke` line, of the furniture `name`."""

    line: Line
    tree: Node
    name: str
    problems: ProblemList

    def winding(self) -> Element | None:
        """Label, terminals, then voltages, resistances and the rest; None when that is wrong."""
        words, quantities = self._words()
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
        return Element("winding", label, tuple(pins), **self._facts(pins, quantities))

    def ohms(self) -> tuple[float, ...]:
        """Resistance in ohms between each terminal and the next."""
        told = [c for c in self.tree.children if isinstance(c, Tree) and is_ohms(c)]
        told += [c for tree in self._trees("dcr") for c in tree.children if isinstance(c, Tree)]
        for second in told[1:]:
            message = f"a second resistance: {words_of(told[0])} and {words_of(second)}"
            hint = "tap by tap it is written as one: dcr 120R+125R"
            self.problems.error(self.line.span(second), message, hint)
        return tuple(value for tree in told[:1] for value in self._sum(words_of(tree)))

    def _trees(self, rule: str) -> list[Node]:
        return [c for c in self.tree.children if isinstance(c, Tree) and c.data == rule]

    def _error(self, message: str, hint: str = "") -> None:
        self.problems.error(self.line.span(self.tree), message, hint)

    def _sum(self, text: str) -> list[float]:
        """`120R+125R`: the resistances of a tapped winding, tap by tap."""
        try:
            return [parse(piece, "ohm").value for piece in text.split("+")]
        except NotAQuantity as slip:
            self._error(str(slip), "resistances are written as 120R or, tap by tap, 120R+125R")
            return []

    def _words(self) -> tuple[list[str], list[Node]]:
        """Tell terminals, which may be bare numbers, from quantities, which have units."""
        words: list[str] = []
        quantities: list[Node] = []
        for item in self.tree.children[1:]:
            if not isinstance(item, Tree):
                continue
            if item.data == "pin":
                words.append(designation(item))
            elif item.data == "quantity":
                text = words_of(item).replace(" ", "")
                pin = re.fullmatch(r"\d+[a-z]?", text) is not None and not is_ohms(item)
                if pin and not quantities:
                    words.append(text)
                else:
                    quantities.append(item)
        return words, quantities

    def _facts(self, pins: list[str], quantities: list[Node]) -> dict[str, Any]:
        """What stands behind the terminals: every figure is kept or complained of."""
        told: dict[str, Any] = {"resistance": self._resistances(pins)}
        for tree in quantities:
            text = re.sub(r"(?<=\d)v", "V", words_of(tree).replace(" ", ""))
            if re.search(r"\d[A-Za-z]*-\d|\+\d", text):
                self._once(told, "taps", self._taps(text, pins), tree)
                continue
            quantity = self._quantity(text, tree)
            if quantity is None:
                continue
            if is_ohms(tree):
                hint = f"load {text} for the impedance, dcr {text} for the resistance of the wire"
                self.problems.error(self.line.span(tree), f"{text} of what?", hint)
            elif quantity.unit == "V":
                self._once(told, "taps", self._taps(text, pins), tree)
            elif quantity.unit in _FIELDS:
                self._once(told, _FIELDS[quantity.unit], quantity, tree)
            else:
                span = self.line.span(tree)
                self.problems.error(span, f"{text!r} does not belong on a winding", _KNOWN)
        for tree in self._trees("dot"):
            self._once(told, "dot", self._dot(tree, pins), tree)
        for tree in self._trees("load"):
            load = self._quantity(words_of(tree), tree, "ohm")
            self._once(told, "load", load.value if load else None, tree)
        return told

    def _once(self, told: dict[str, Any], name: str, what: object, tree: Node) -> None:
        """Keep one fact; of two of a kind neither is the right one."""
        if name in told:
            called = "voltage" if name == "taps" else "inductance" if name == "value" else name
            hint = "one line for each winding; the volts of a tapped one as 0-210-230V"
            self.problems.error(self.line.span(tree), f"a second {called} for one winding", hint)
        told[name] = what

    def _resistances(self, pins: list[str]) -> tuple[float, ...]:
        ohms = self.ohms()
        if len(ohms) not in (0, 1, len(pins) - 1):
            message = f"{len(ohms)} resistances for {len(pins)} terminals"
            self._error(message, "one between each terminal and the next: dcr 120R+125R")
        return ohms

    def _quantity(self, text: str, tree: Node, unit: str = "") -> Quantity | None:
        try:
            return parse(text, unit)
        except NotAQuantity as slip:
            message, _, hint = str(slip).partition("; ")
            self.problems.error(self.line.span(tree), message, hint or _KNOWN)
            return None

    def _dot(self, tree: Node, pins: list[str]) -> str:
        dot = words_of(tree)
        if dot not in pins:
            self._error(f"this winding has no terminal {dot!r} to carry the dot", ", ".join(pins))
        return dot

    def _taps(self, text: str, pins: list[str]) -> tuple[float, ...]:
        """`6.3V`, `0-6V3`, `270-0-270V`: volts of each terminal against the zero."""
        *rest, last = re.split("[-+]", text)
        unit = re.search("[A-Za-z]*$", last)
        tail = unit[0] if unit else ""  # the unit stands once, behind the last figure
        try:
            end = parse(last, "V").value
            pieces = [p if p[-1:].isalpha() else f"{p}{tail}" for p in rest]
            figures = [*(parse(piece, "V").value for piece in pieces), end]
        except NotAQuantity as slip:
            self._error(str(slip), f"{_VOLTS}; resistances stand behind dcr: dcr 120R+125R")
            return ()
        if len(figures) == 1 and len(pins) == 2:
            figures = [0.0, figures[0]]
        if len(figures) != len(pins):
            self._error(
                f"{text} gives {len(figures)} voltages for {len(pins)} terminals",
                f"{_VOLTS}; or one for two terminals",
            )
            return ()
        if 0.0 not in figures:
            self._error(f"{text} has no zero", "write 0-210-230V or 270-0-270V")
            return ()
        zero = figures.index(0.0)
        return tuple(-v if i < zero else v for i, v in enumerate(figures))
