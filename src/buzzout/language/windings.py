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

_OHMS = re.compile(r"[\d.]+\s*(R|ohms?|k)|\d+[Rk]\d*")


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
        texts = [words_of(c) for c in self.tree.children if isinstance(c, Tree) and is_ohms(c)]
        texts += [words_of(tree) for tree in self._trees("dcr")]
        return tuple(value for text in texts[:1] for value in self._sum(text))

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

    def _words(self) -> tuple[list[str], list[str]]:
        """Tell terminals, which may be bare numbers, from quantities, which have units."""
        words: list[str] = []
        quantities: list[str] = []
        for item in self.tree.children[1:]:
            if not isinstance(item, Tree):
                continue
            if item.data == "pin":
                words.append(designation(item))
            elif item.data == "quantity":
                text = words_of(item).replace(" ", "")
                bare = re.fullmatch(r"\d+[a-z]?", text) is not None and not quantities
                (words if bare else quantities).append(text)
        return words, quantities

    def _facts(self, pins: list[str], quantities: list[str]) -> dict[str, Any]:
        told: dict[str, Any] = {"resistance": self.ohms()}
        for text in quantities:
            if re.search(r"\d-\d|\+\d", text) or re.fullmatch(r"[\d.]+V", text, re.IGNORECASE):
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
            load = self._quantity(words_of(tree), "ohm")
            told["load"] = load.value if load else None
        return told

    def _quantity(self, text: str, unit: str = "") -> Quantity | None:
        try:
            return parse(text, unit)
        except NotAQuantity as slip:
            self._error(str(slip))
            return None

    def _dot(self, tree: Node, pins: list[str]) -> str:
        dot = words_of(tree)
        if dot not in pins:
            self._error(f"this winding has no terminal {dot!r} to carry the dot", ", ".join(pins))
        return dot

    def _taps(self, text: str, pins: list[str]) -> tuple[float, ...]:
        """`6.3V`, `270-0-270V`, `0-210-230V`: volts of each terminal against the zero."""
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
