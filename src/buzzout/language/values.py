"""Facts about a part: values, ratings, bands, markings, readings, remarks."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

from lark import Token, Tree

from buzzout.catalogue import codes
from buzzout.circuit import KINDS, Element, NotAQuantity, Quantity, article, parse
from buzzout.language.grammar import Line, Node
from buzzout.language.problems import ProblemList
from buzzout.language.slips import QUOTES

# Which field of a part a unit speaks of, when it is not the unit of the part's own value.
RATINGS = {"V": "voltage", "W": "power", "A": "current"}
SPELLINGS = "values are written as printed: 4k7, 22n, .022, 450V, 2W, 10%"
_TAKES_TYPE = ("diode", "bridge", "thermistor", "neon")
_SMALL_PRINT = ("DC", "AC", "VDC", "VAC", "D.C.", "A.C.", "WKG")
_AMBIGUOUS_CODE = re.compile(r"\d\d0$")


@dataclass
class Facts:
    """What a statement says of its part; `fields` are those of `circuit.Part`."""

    fields: dict[str, Any] = field(default_factory=dict)
    tolerance: tuple[float, float] | None = None
    implied: set[str] = field(default_factory=set)  # fields that only a marking gave
    unread: set[str] = field(default_factory=set)
    because: str = ""

    def imply(self, name: str, quantity: Quantity) -> None:
        """Take what a marking says, unless the same was typed out."""
        if name not in self.fields:
            self.fields[name] = replace(quantity, text="")
            self.implied.add(name)

    def settled(self) -> dict[str, Any]:
        """The fields, the tolerance put on the value."""
        told = dict(self.fields)
        value = told.get("value")
        if value is not None and self.tolerance and value.minus is None:
            told["value"] = value.within(*self.tolerance)
        if self.unread:
            told["unread"] = frozenset(self.unread)
        return told


@dataclass(frozen=True)
class FactReader:
    """Reads facts of one line for a part of one kind."""

    kind: str
    line: Line
    problems: ProblemList

    def read(self, items: list[Node | Token]) -> Facts:
        """All facts among `items`; other trees are left alone."""
        facts = Facts()
        for item in items:
            inner = item.children[0] if isinstance(item, Tree) and item.data == "fact" else item
            self._one(inner, facts)
        return facts

    def _one(self, item: Node | Token, facts: Facts) -> None:
        if isinstance(item, Token):
            if item.type in ("STYLE", "TAPER"):
                styles = facts.fields.get("style", ())
                facts.fields["style"] = (*styles, _style(item))
            return
        handler = getattr(self, f"_on_{item.data}", None)
        if handler is not None:
            handler(item, facts)

    def _on_quantity(self, item: Node, facts: Facts) -> None:
        quantity = self.quantity(item, facts)
        if quantity is None:
            return
        if quantity.unit == "%":
            if facts.tolerance is not None:
                self._second(item, "tolerance")
            facts.tolerance = (quantity.value / 100, quantity.value / 100)
        elif quantity.unit == KINDS[self.kind].unit and not (
            "value" in facts.fields and quantity.unit in RATINGS
        ):
            self._set(item, facts, "value", quantity)
        elif quantity.unit in RATINGS:
            self._set(item, facts, RATINGS[quantity.unit], quantity)
        else:
            self._odd_unit(item, quantity)

    def _odd_unit(self, item: Node, quantity: Quantity) -> None:
        wanted = KINDS[self.kind].unit
        told = {"ohm": "ohms", "F": "farads (22n, 0.1u)", "H": "henries"}.get(wanted, wanted)
        hint = f"{article(self.kind)} has its value in {told}" if wanted else ""
        self.problems.error(
            self.line.span(item), f"{quantity.text!r} does not belong on {article(self.kind)}", hint
        )

    def _set(self, item: Node, facts: Facts, name: str, quantity: Quantity) -> None:
        if name in facts.fields and name not in facts.implied:
            self.problems.error(
                self.line.span(item),
                f"a second {name} for the same {self.kind}: {facts.fields[name]} and {quantity}",
                "is a dot or a unit missing, or are these two parts?",
            )
        facts.fields[name] = quantity
        facts.implied.discard(name)

    def _keep(self, item: Node, facts: Facts, name: str, what: object, called: str = "") -> None:
        """Keep what is said once; of two neither is the right one."""
        if name in facts.fields and name not in facts.implied:
            self._second(item, called or name)
        facts.fields[name] = what
        facts.implied.discard(name)

    def _second(self, item: Node, called: str) -> None:
        self.problems.error(self.line.span(item), f"a second {called} on one line", "keep one")

    def quantity(self, item: Node, facts: Facts | None = None) -> Quantity | None:
        """One value with the unit behind it; None after noting what is wrong with it."""
        text = " ".join(str(token) for token in item.children)
        try:
            return self._parsed(text)
        except NotAQuantity as slip:
            if facts is not None and self.kind in _TAKES_TYPE and "type" not in facts.fields:
                facts.fields["type"] = text
                return None
            message, _, hint = str(slip).partition("; ")
            self.problems.error(self.line.span(item), message, hint or SPELLINGS)
            return None

    def _parsed(self, text: str) -> Quantity:
        unit = KINDS[self.kind].unit if self.kind in KINDS else ""
        try:
            plain = parse(text)
        except NotAQuantity:
            coded = _attempt(codes.rkm, text, unit) if unit in ("ohm", "F") else None
            if coded is None:
                raise
            return coded
        if plain.unit or not unit:
            return plain
        if self.kind == "electrolytic" and re.fullmatch(r"[.\d]+", text):
            return replace(parse(text + "u", unit), text=text)  # bare numbers are microfarads
        return parse(text, unit)

    def _on_bands(self, item: Node, facts: Facts) -> None:
        words = [str(token).lower() for token in item.children]
        self._banded(item, facts, words, body=False)

    def _on_dotted(self, item: Node, facts: Facts) -> None:
        words = [str(token).lower() for token in item.children]
        self._banded(item, facts, words, body=True)

    def _on_dots(self, item: Node, facts: Facts) -> None:
        words = [str(token).lower() for token in item.children]
        if self.kind != "capacitor":
            self.problems.error(self.line.span(item), f"dots on {article(self.kind)}: mica only")
            return
        try:
            read = codes.mica(words)
        except NotAQuantity as slip:
            message, _, hint = str(slip).partition("; ")
            self.problems.error(self.line.span(item), message, hint)
            return
        facts.fields["marked"] = "dots " + " ".join(words)
        facts.imply("value", read.value)
        if read.volts:
            facts.imply("voltage", Quantity(read.volts, "V"))

    def _banded(self, item: Node, facts: Facts, words: list[str], *, body: bool) -> None:
        if self.kind != "resistor":
            self.problems.error(
                self.line.span(item), f"bands on a {self.kind}: only resistors here"
            )
            return
        try:
            quantity = codes.bands(words, body=body)
        except NotAQuantity as slip:
            message, _, hint = str(slip).partition("; ")
            self.problems.error(self.line.span(item), message, hint)
            return
        places = ("body", "end", "dot", "ring") if body else ()
        text = " ".join(f"{at} {word}" for at, word in zip(places, words, strict=False))
        text = text or "bands " + " ".join(words)
        facts.fields["marked"] = text
        self._set(item, facts, "value", replace(quantity, text=""))

    def _on_marked(self, item: Node, facts: Facts) -> None:
        text = str(item.children[0]).strip(QUOTES)
        self._keep(item, facts, "marked", text, "marking")
        if self.kind in _TAKES_TYPE:
            if "type" not in facts.fields:
                facts.fields["type"] = text
                facts.implied.add("type")
            return
        told = read_marking(self.kind, text)
        for name, quantity in told.items():
            facts.imply(name, quantity)
        if "value" not in told and "value" not in facts.fields:
            facts.unread.add("value")

    def _on_dcr(self, item: Node, facts: Facts) -> None:
        inner = item.children[0]
        if self.kind != "inductor":
            message = f"dcr does not belong on {article(self.kind)}"
            self.problems.error(self.line.span(item), message, "it is the resistance of a coil")
        elif isinstance(inner, Tree):
            ohms = FactReader("resistor", self.line, self.problems).quantity(inner)
            rest = (ohms.value,) if ohms is not None else ()
            coil = Element("winding", self.kind, ("1", "2"), resistance=rest)
            self._keep(item, facts, "elements", (coil,), "resistance")

    def _on_reading(self, item: Node, facts: Facts) -> None:
        first = item.children[0]
        if isinstance(first, Tree):
            quantity = self.quantity(first)
            if quantity is not None:
                self._keep(item, facts, "measured", quantity, "reading")
                facts.fields["in_circuit"] = any(
                    str(c).lower() == "in-circuit" for c in item.children[1:]
                )

    def _on_alternative(self, item: Node, facts: Facts) -> None:
        facts.fields["accepts"] = (*facts.fields.get("accepts", ()), designation(item.children[0]))

    def _on_type(self, item: Node, facts: Facts) -> None:
        self._keep(item, facts, "type", designation(item.children[0]))

    def _on_note(self, item: Node, facts: Facts) -> None:
        self._keep(item, facts, "note", _quoted(item))

    def _on_photo(self, item: Node, facts: Facts) -> None:
        self._keep(item, facts, "photo", _quoted(item))

    def _on_because(self, item: Node, facts: Facts) -> None:
        facts.because = _quoted(item)

    def _on_unsure(self, _item: Node, facts: Facts) -> None:
        facts.fields["unsure"] = True

    def _on_optional(self, _item: Node, facts: Facts) -> None:
        facts.fields["optional"] = True

    def _on_unread(self, _item: Node, facts: Facts) -> None:
        facts.unread.add("value" if KINDS[self.kind].unit else "type")


def _quoted(item: Node) -> str:
    return str(item.children[0]).strip(QUOTES)


def _style(token: Token) -> str:
    word = str(token)
    return word.upper() if re.fullmatch(r"[xy][12]", word.lower()) else word.lower()


def designation(item: Any) -> str:
    """The text of a `designation`, `name` or `pin` tree."""
    return str(item.children[0]) if isinstance(item, Tree) else str(item)


def rotation(item: Node | Token, line: Line, problems: ProblemList) -> str:
    """How a control stands, from 0% to 100% (fully clockwise); "" after noting what is wrong."""
    told = designation(item)
    share = re.fullmatch(r"(\d+(?:[.,]\d+)?)%", told)
    if share is None or float(share[1].replace(",", ".")) > 100:
        message = f"{told!r} is no rotation of a control"
        hint = "set 0% is fully anticlockwise, set 50% the middle, set 100% fully clockwise"
        problems.error(line.span(item), message, hint)
        return ""
    return told.replace(",", ".")


def read_marking(kind: str, text: str) -> dict[str, Quantity]:
    """What a printed marking says: value, voltage, power. What can be read in two ways is left out.

    >>> {name: str(q) for name, q in read_marking("capacitor", "104K 630V").items()}
    {'value': '104K', 'voltage': '630V'}
    """
    told: dict[str, Quantity] = {}
    words = [word for word in re.split(r"[\s/]+", text) if word.upper() not in _SMALL_PRINT]
    for index, word in enumerate(words):
        rating = _attempt(parse, word.rstrip("-~="))
        if index and rating is not None and rating.unit in RATINGS:
            told[RATINGS[rating.unit]] = rating
        elif index and "/" in text and re.fullmatch(r"\d+", word):
            told["voltage"] = parse(word, "V")
        elif "value" not in told:
            behind = words[index + 1] if index + 1 < len(words) else ""
            letters = behind if behind.isalpha() else ""  # a unit, or a tolerance letter
            value = _marked_value(kind, word + letters) or _marked_value(kind, word)
            told |= {"value": value} if value is not None else {}
    return told


def _marked_value(kind: str, text: str) -> Quantity | None:
    unit = KINDS[kind].unit
    if kind == "capacitor" and re.fullmatch(r"\d{3}[A-Z]?|\d{2,3}[A-Z]", text):
        # "100" is 100 pF on an old part and 10 pF on a new one
        return None if _AMBIGUOUS_CODE.fullmatch(text) else _attempt(codes.capacitor_code, text)
    return _attempt(parse, text, unit) or _attempt(codes.rkm, text, unit)


def _attempt(read: Callable[..., Quantity], *words: str) -> Quantity | None:
    try:
        return read(*words)
    except NotAQuantity:
        return None
