"""`expect` and `reads` lines: figures between two points and the circumstances they hold in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import inf

from lark import Token, Tree

from buzzout.catalogue import nearest
from buzzout.circuit import CHASSIS, NotAQuantity, Quantity, Reading, Tone, parse
from buzzout.language.gather import Statement
from buzzout.language.names import Names
from buzzout.language.problems import ProblemList
from buzzout.language.remarks import joined
from buzzout.language.slips import QUOTES
from buzzout.language.values import FactReader, designation, rotation


def figure(statement: Statement, names: Names, problems: ProblemList) -> Reading | None:
    """One reading; None after noting what is wrong. Points are against chassis unless said."""
    trees = [c for c in statement.tree.children if isinstance(c, Tree)]
    at = names.find(trees[0], statement)
    seconds = [tree for tree in trees if tree.data == "second"]
    other = names.find(seconds[0].children[0], statement) if seconds else CHASSIS
    value = _value(statement, trees, problems)
    if at is None or other is None or value is None:
        return None
    told = _Circumstances(statement, problems)
    for tree in trees:
        if tree.data == "circumstance":
            told.take(tree)
    if told.ac and value.value < 0:
        problems.error(statement.span, "an alternating voltage has no sign", "leave the - away")
        return None
    if told.tolerance is not None:
        value = value.within(told.tolerance)
    meter = (told.meter, told.per_volt)
    return Reading(at, other, value, *meter, told.supply, told.ac, told.note, statement.span)


@dataclass(frozen=True, slots=True)
class Standing:
    """What holds for the readings below: step, meter and measured mains; a tone; pots as set.

    The first three are of the last `step` line. How pots stand holds beyond it.
    """

    step: int = 0
    meter: float | None = None
    per_volt: bool = False
    supply: Quantity | None = None
    sitting: int = 0
    tone: Tone | None = None
    turned: tuple[tuple[str, str], ...] = ()

    def over(self, reading: Reading) -> Reading:
        """The reading with what its own line does not say; nothing loads or feeds a resistance."""
        reading = replace(reading, step=self.step, sitting=self.sitting, turned=self.turned)
        if reading.value.unit == "ohm":
            return reading
        own = (reading.meter, reading.per_volt)
        meter, per_volt = own if reading.meter is not None else (self.meter, self.per_volt)
        supply = reading.supply or self.supply
        tone = self.tone if reading.alternating else None
        return replace(reading, tone=tone, meter=meter, per_volt=per_volt, supply=supply)

    def after(self, last: Standing) -> Standing:
        """A new `step`: pots stay as they were left."""
        return replace(self, sitting=last.sitting + 1, turned=last.turned)

    def set(self, pots: Mapping[str, str]) -> Standing:
        """With pots turned: where one stands otherwise now, the step begins anew."""
        turned = tuple(sorted({**dict(self.turned), **pots}.items()))
        if turned == self.turned:
            return self
        return replace(self, sitting=self.sitting + 1, turned=turned)


def standing(statement: Statement, problems: ProblemList) -> Standing:
    """The readings below a `step` line; what is wrong with it is noted."""
    told = _Circumstances(statement, problems)
    number = str(statement.tree.children[0])
    if not number.isdecimal():
        span = statement.line.span(statement.tree.children[0])
        problems.error(span, f"{number!r} is no step", "a whole number, as in the plan: step 5")
        return Standing()
    trees = [tree for tree in statement.tree.children[1:] if isinstance(tree, Tree)]
    figures = [t for t in trees if isinstance(i := t.children[0], Tree) and i.data == "quantity"]
    for tree in trees:
        if tree not in figures:
            told.take(tree)
    if figures or told.ac:
        fix = f"step {number} meter 10M mains 228 V"
        problems.error(statement.span, "a step says which meter and which mains", fix)
    return Standing(int(number), told.meter, told.per_volt, told.supply)


def pots_set(statement: Statement, names: Names, problems: ProblemList) -> Mapping[str, str]:
    """How each pot of a `set` line stands; what is wrong with one is noted."""
    made: dict[str, str] = {}
    trees = [tree for tree in statement.tree.children if isinstance(tree, Tree)]
    called = [tree for tree in trees if tree.data == "name"]
    for tree, turn in zip(called, (tree for tree in trees if tree.data == "turn"), strict=True):
        name, span = designation(tree), statement.line.span(tree)
        part = names.furniture(name, statement)
        pots = [p.name for p in names.parts.values() if p.kind == "pot"]
        if part is None:
            close = nearest(name, pots, 1)
            known = f"pots here: {', '.join(pots)}" if pots else f"declare it: pot {name} 22k lin"
            hint = f"did you mean {close[0]}?" if close else known
            problems.error(span, f"there is no pot {name!r}", hint)
        elif part.kind != "pot":
            hint = "a switch tells its position on its own line: switch S1 on-off set on"
            message = f"{part.name} is a {part.kind}: only how a pot stands is told with readings"
            problems.error(span, message, hint if part.kind == "switch" else "")
        elif part.name in made:
            problems.error(span, f"{part.name} is set twice on one line", "keep one")
        elif told := rotation(turn.children[0], statement.line, problems):
            made[part.name] = told
    return made


def tone(statement: Statement, names: Names, problems: ProblemList) -> Tone | None:
    """The test tone of a `tone` line; None for `tone off` and after noting what is wrong."""
    trees = [c for c in statement.tree.children if isinstance(c, Tree)]
    if not trees:
        word = str(statement.tree.children[0]).lower()
        if word != "off":
            problems.error(statement.span, f"tone {word}?", "tone J1.tip 5 mV 1000 Hz, or tone off")
        return None
    at = names.find(trees[0], statement)
    reader = FactReader("", statement.line, problems)
    told = {q.unit: q for tree in trees[1:] if (q := reader.quantity(tree)) is not None}
    level, frequency = told.get("V"), told.get("Hz")
    if level is None or frequency is None or len(told) != 2 or len(trees) != 3:
        message = "a tone has a point, a level and a frequency"
        problems.error(statement.span, message, "tone J1.tip 5 mV 1000 Hz")
        return None
    if level.value <= 0 or frequency.value <= 0:
        problems.error(statement.span, "level and frequency are above zero")
        return None
    return Tone(at, level, frequency) if at is not None else None


# Voltmeters: moving-coil ones had from 100 ohm/V to 100 kohm/V, electronic ones 1 Mohm and more in
# all. Mains: a variable transformer at a quarter of it is low, 240 V 20 % high is high. Common
# practice; beyond that it is asked.
_LEAST_INPUT, _LEAST_PER_VOLT, _MOST_PER_VOLT = 200e3, 100.0, 1e6
_FEWEST_VOLTS, _MOST_VOLTS = 25.0, 300.0
_NOTE = 'note "…"'
_NOTED = re.compile(r"\s*step\s+(\d+)", re.IGNORECASE)


def noted_step(text: str) -> int | None:
    """The step that a note names: `note "step 5"`, as files had it before there was `step`."""
    named = _NOTED.match(text)
    return int(named[1]) if named else None


def _value(
    statement: Statement, trees: list[Tree[Token]], problems: ProblemList
) -> Quantity | None:
    """The figure itself, in volts, ohms or amperes."""
    words = [str(c) for c in statement.tree.children if isinstance(c, Token)]
    if words:  # open, or more than the meter's range
        return Quantity(inf, "ohm", text=words[0] if words[0][0] == ">" else "open")
    reader = FactReader("", statement.line, problems)
    tree = next(tree for tree in trees if tree.data in ("quantity", "below"))
    below = tree.data == "below"
    value = reader.quantity(_unsigned(tree) if below else tree)
    if value is None:
        return None
    if re.fullmatch(r"[.\d]+", value.text):
        problems.error(statement.span, f"{value.text} what?", f"{value.text} V, or {value.text}R")
        return None
    if value.unit not in ("", "V", "ohm", "A"):
        problems.error(statement.span, f"{value} is neither volts, ohms nor amperes")
        return None
    if below and value.unit not in ("V", "A"):
        problems.error(statement.span, "a resistance is never below zero", "exchange the probes")
        return None
    if below:
        return replace(value, value=-value.value, text=f"-{value.text}")
    return replace(value, unit=value.unit or "ohm")


def _unsigned(tree: Tree[Token]) -> Tree[Token]:
    """A figure below zero without its sign."""
    first, *unit = tree.scan_values(lambda child: isinstance(child, Token))
    return Tree("quantity", [Token.new_borrow_pos("QUANTITY", first[1:], first), *unit])


def doubted(supply: Quantity) -> tuple[str, str] | None:
    """Why a mains voltage may be a slip of the pen, with the hint; None where it may stand."""
    if _FEWEST_VOLTS <= supply.value <= _MOST_VOLTS:
        return None
    return f"a mains of {supply}?", "for instance 228 V, as measured at the primary or the plug"


def voltmeter(text: str) -> tuple[float, bool]:
    """A voltmeter as it is named: ohms, and whether they are for each volt of full scale.

    Raises
    ------
    NotAQuantity
        With a sentence; also for what is no voltmeter, as 20k with /V forgotten.
    """
    per_volt = text.lower().endswith("/v")
    try:
        ohms = parse(text[:-2] if per_volt else text, "ohm").value
    except NotAQuantity:
        raise NotAQuantity(f"{text!r} is no meter") from None
    if not per_volt and ohms < _LEAST_INPUT:
        raise NotAQuantity(f"no voltmeter has {text} in all: is it {_per_volt(text)}?")
    if per_volt and not _LEAST_PER_VOLT <= ohms <= _MOST_PER_VOLT:
        raise NotAQuantity(f"no voltmeter has {text}")
    return ohms, per_volt


def _per_volt(text: str) -> str:
    """What somebody means who forgets /V, and perhaps the k before it: 20k/V."""
    return f"{text}/V" if parse(text, "ohm").value >= _LEAST_PER_VOLT else f"{text.rstrip('R')}k/V"


class _Circumstances:
    """Meter, supply, kind of current, tolerance."""

    def __init__(self, statement: Statement, problems: ProblemList) -> None:
        self.statement = statement
        self.problems = problems
        self.reader = FactReader("", statement.line, problems)
        self.meter: float | None = None
        self.per_volt = False
        self.supply: Quantity | None = None
        self.ac = False
        self.tolerance: float | None = None
        self.note = ""

    def take(self, tree: Tree[Token]) -> None:
        inner = tree.children[0]
        if isinstance(inner, Token):
            self._word(inner)
        elif inner.data == "meter":
            self._once(inner, "meter", self.meter)
            self._meter(str(inner.children[0]))
        elif inner.data == "supply" and isinstance(inner.children[0], Tree):
            self._once(inner, "mains voltage", self.supply)
            self.supply = self.reader.quantity(inner.children[0])
            if self.supply is not None and self.supply.unit not in ("", "V"):
                self._odd(inner, f"{self.supply} is no mains voltage", "mains 228 V")
            elif self.supply is not None and (doubt := doubted(self.supply)):
                self.problems.warn(self.statement.line.span(inner), *doubt)
        elif inner.data == "quantity":
            self._figure(inner)
        elif inner.data in ("note", "photo", "unsure"):
            text = str(inner.children[0]).strip(QUOTES)
            text = f"photo {text}" if inner.data == "photo" else text
            self.note = joined(self.note, text)
        elif inner.data != "because":
            self._odd(inner, f"{inner.data} says nothing about a figure", _NOTE)

    def _word(self, word: Token) -> None:
        self.ac = self.ac or word.lower() == "ac"
        if word.lower() == "lifted":
            message = "with a lead lifted it is the part that is read, not the circuit"
            hint = "on the line of the part: resistor 22k reads 28k"
            self.problems.error(self.statement.line.span(word), message, hint)

    def _figure(self, tree: Tree[Token]) -> None:
        quantity = self.reader.quantity(tree)
        if quantity is not None and quantity.unit == "%":
            self._once(tree, "tolerance", self.tolerance)
            self.tolerance = quantity.value / 100
        elif quantity is not None:
            hint = f"meter 20k/V for the meter, mains 230 V for the supply, {_NOTE} for a remark"
            self._odd(tree, f"what is {quantity} for?", hint)

    def _once(self, tree: Tree[Token], called: str, earlier: object) -> None:
        if earlier is not None:
            self._odd(tree, f"a second {called} on one line", "keep one")

    def _odd(self, tree: Tree[Token], message: str, hint: str) -> None:
        self.problems.error(self.statement.line.span(tree), message, hint)

    def _meter(self, text: str) -> None:
        try:
            self.meter, self.per_volt = voltmeter(text)
        except NotAQuantity as why:
            self.problems.error(self.statement.span, str(why), "meter 20k/V or meter 10M")
