"""The order list: what to buy, with value, tolerance and ratings that the circuit really needs."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from buzzout.bench.decisions import Decision, Settled
from buzzout.bench.fitness import fitness
from buzzout.bench.guide import unseen
from buzzout.bench.sizes import Sized, size
from buzzout.catalogue import device
from buzzout.catalogue.codes import bands_for
from buzzout.circuit import Circuit, NotAQuantity, Part, Quantity, article, printed
from buzzout.electrics.branch import Branch
from buzzout.electrics.draft import STARTING, Power
from buzzout.electrics.limited import within_supply
from buzzout.electrics.operating import operate
from buzzout.electrics.ratings import audit_states
from buzzout.electrics.stress import (
    HIGH_MAINS,
    States,
    Stress,
    across,
    alternating_across,
    shop_volts,
)
from buzzout.job import Item, PunchList
from buzzout.job.fuses import fuse_for
from buzzout.job.places import Places
from buzzout.job.told import amps
from buzzout.language.coverage import written

# Findings that a new part answers. A reversed electrolytic is not trusted again: common practice.
_NEW_PART = ("part-missing", "value-wrong", "value-drifted", "under-rated", "wrong-type")
_SPOILT = "the one that is there was under voltage the wrong way round (common practice)"
_TRIFLE = 1e-3  # a power that is not worth telling [W]
_FUSES = ("fuse-too-large", "fuse-too-small", "fuse-stays", "fuse-inrush")
# Kinds that are bought by value; everything else by its type.
_BY_VALUE = ("resistor", "capacitor", "electrolytic", "inductor", "thermistor")


@dataclass(frozen=True)
class Line:
    """One thing to buy.

    `parts` are the names on the drawing that it is for; `what` the thing in words; `figures` its
    value, tolerance and ratings in the order in which one asks for them; `fit` what kind it must be
    for its place; `why` each figure's margin and where it comes from; `bands` the colours to check
    on arrival; `settled` is false while nobody decided on it.
    """

    parts: tuple[str, ...]
    kind: str
    figures: tuple[str, ...]
    fit: tuple[str, ...] = ()
    why: tuple[str, ...] = ()
    bands: tuple[str, ...] = ()
    settled: bool = True

    @property
    def quantity(self) -> int:
        """How many."""
        return len(self.parts)

    @property
    def what(self) -> str:
        """In the words in which one orders it."""
        return " ".join([self.kind, *self.figures])


@dataclass(frozen=True, slots=True)
class Valve:
    """A valve of the set: what the drawing has, what may stand for it, what to do about it."""

    name: str
    wanted: str
    equivalents: tuple[str, ...]
    todo: str


@dataclass(frozen=True)
class Order:
    """The list, the valves to test or replace, and what could not be computed or is not known."""

    lines: tuple[Line, ...]
    valves: tuple[Valve, ...]
    remarks: tuple[str, ...] = ()


def order(punch: PunchList, settled: Settled) -> Order:
    """What the open findings need that nobody accepted or turned into a departure."""
    drawing = punch.comparison.reference
    stresses, remarks = _stresses(drawing)
    places = Places(drawing)
    lines: list[Line] = []
    waits: list[str] = []
    for item in punch.open:
        decision = settled.of.get(item.finding.id)
        if decision is not None and decision.word != "restore":
            continue
        if unseen(item, punch):
            waits += item.finding.parts
            continue
        for part in _wanted(item, drawing):
            line = _line(part, stresses, places)
            why = (*line.why, _SPOILT) if item.finding.kind == "reversed" else line.why
            lines.append(replace(line, why=why, settled=decision is not None))
    fuses = list(_fuses(punch, settled))
    looked = {point.owner for point in written(punch.comparison.found)}
    waits += [name for line in fuses for name in line.parts if name not in looked]
    lines += [line for line in fuses if not looked.isdisjoint(line.parts)]
    if waits:
        names = ", ".join(dict.fromkeys(waits))
        remarks += (f"Not on the list, because nobody has looked there yet: {names}",)
    return Order(tuple(_summed(lines)), tuple(_valves(punch, settled)), remarks)


@dataclass(frozen=True, slots=True)
class Borne:
    """What one part has to stand: the worst, and in words when running and at the surge."""

    stress: Stress
    both: str = ""


def _stresses(drawing: Circuit) -> tuple[dict[str, Borne], tuple[str, ...]]:
    """What each part has to stand, and why nothing is known where nothing is."""
    states = States(operate(drawing), operate(drawing, Power(heat=STARTING, fraction=HIGH_MAINS)))
    if not states.warm.settled:
        why = ", ".join(states.warm.unsettled)
        return {}, (f"ratings are as drawn: the drawing could not be computed ({why})",)
    if states.warm.side is None:
        return {}, ("ratings are as drawn: nothing feeds the set in the drawing",)
    return by_part(states), ()


def by_part(states: States) -> dict[str, Borne]:
    """Power and voltage by the name of the part or section that bears them."""
    states = within_supply(states)
    branches = {b.name: b for b in states.warm.net.branches}
    return {
        s.part: Borne(s, _both(states, branches[s.part]) if s.part in branches else "")
        for s in audit_states(states)
        if s.what in ("power", "voltage")
    }


def _both(states: States, branch: Branch) -> str:
    """Voltage of a capacitor, power in a resistor, when running and at the surge."""
    volts = [
        math.hypot(across(state, branch), alternating_across(state, branch))
        for state in (states.warm, states.surge)
    ]
    if any(math.isnan(v) for v in volts) or max(volts) < 1:
        return ""
    if branch.kind == "capacitor":
        return f"{volts[0]:.0f} V running, {volts[1]:.0f} V at the surge"
    watts = [v * v / max(branch.value, 1e-3) for v in volts]
    if max(watts) < _TRIFLE:
        return ""
    told = [f"{w:.2g} W" if w >= _TRIFLE else "nothing" for w in watts]
    return f"{told[0]} running, {told[1]} at the surge"


def _wanted(item: Item, drawing: Circuit) -> Iterator[Part]:
    """Parts of the drawing to be bought for a finding; a can is bought by its sections."""
    finding = item.finding
    parts = [drawing.parts[name] for name in finding.parts if name in drawing.parts]
    for part in parts:
        turned = finding.kind == "reversed" and part.kind == "electrolytic"
        if part.kind in ("socket", "strip", "jack", "connector", "cord", "bond"):
            continue
        if finding.kind in _NEW_PART or turned:
            yield from _sections(part)


def _sections(part: Part) -> Iterator[Part]:
    if part.kind != "can":
        yield part
        return
    for element in part.elements:
        name = f"{part.name}.{element.label or element.terminals[0]}"
        yield Part(name, "electrolytic", ("+", "-"), element.value, voltage=element.voltage)


def _line(part: Part, stresses: dict[str, Borne], places: Places) -> Line:
    borne = stresses.get(part.name)
    if part.kind not in _BY_VALUE or part.value is None:
        return _as_drawn(part)
    sized = size(part, borne.stress if borne else None)
    fit = fitness(part, places, sized)
    figures = [_value(sized.value), f"{sized.tolerance:.0%}"]
    figures += [f"{sized.watts:g}W"] if sized.watts else []
    if fit.mains:
        return replace(_mains(part, figures[:2], places), fit=fit.words, why=fit.why)
    figures += [f"{sized.volts:g}V"] if sized.volts else []
    both = (borne.both,) if borne and borne.both else ()
    why = (*sized.why, *both, *fit.why)
    return Line((part.name,), part.kind, tuple(figures), fit.words, why, _bands(part, sized))


def _mains(part: Part, figures: list[str], places: Places) -> Line:
    """A capacitor on the mains is rated in alternating volts, by its class."""
    told = places.circuit.mains
    drawn = part.voltage.value if part.voltage and part.mains_class else 0
    volts = shop_volts(max(told.voltage.value if told else 275, drawn), mains=True)
    return Line((part.name,), part.kind, (*figures, f"{volts:g}V ac"))


def _value(quantity: Quantity) -> str:
    return printed(quantity.value, quantity.unit)


def _bands(part: Part, sized: Sized) -> tuple[str, ...]:
    if part.kind != "resistor":
        return ()
    try:
        return bands_for(sized.value.value, sized.tolerance)
    except NotAQuantity:
        return ()


def _as_drawn(part: Part) -> Line:
    """Furniture and diodes: by type and by what the drawing prints."""
    told = [part.type, *(str(q) for q in (part.value, part.voltage, part.current, part.power) if q)]
    why = ("as drawn; nothing is computed for it",)
    return Line((part.name,), part.kind, tuple(w for w in told if w), part.style, why)


def _summed(lines: Iterable[Line]) -> Iterator[Line]:
    """Equal lines as one, in the order of their first part."""
    same: dict[tuple[object, ...], list[Line]] = {}
    for line in lines:
        key = (line.kind, line.figures, line.fit, line.settled)
        if not any(line.parts == other.parts for other in same.get(key, ())):
            same.setdefault(key, []).append(line)
    for group in same.values():
        parts = tuple(name for line in group for name in line.parts)
        why = tuple(dict.fromkeys(w for line in group for w in line.why))
        yield replace(group[0], parts=parts, why=why)


def _fuses(punch: PunchList, settled: Settled) -> Iterator[Line]:
    """A fuse for each that a rule tells to change, by what the primary of this chassis draws."""
    side = punch.weighed.board.side if punch.weighed else None
    for item in punch.rules:
        decision = settled.of.get(item.finding.id)
        if item.rule not in _FUSES or (decision is not None and decision.word != "restore"):
            continue
        current, told = side.draws.most if side is not None else (0.0, "")
        value = (printed(fuse_for(current), "A"),) if current > 0 else ()
        words = told.format(amps(current)) if value else "nothing tells what the set draws"
        why = (f"{words}; {item.source}",)
        bought = decision is not None
        yield Line(item.finding.parts, "fuse", (*value, "slow"), why=why, settled=bought)


def _valves(punch: PunchList, settled: Settled) -> Iterator[Valve]:
    """Every valve of the drawing: replace what is wrong, test the rest before it is blamed."""
    comparison = punch.comparison
    wrong = {
        name: settled.of.get(item.finding.id)
        for item in punch.open if item.finding.kind == "wrong-valve"
        for name in item.finding.parts
    }  # fmt: skip
    for part in comparison.reference.parts.values():
        if part.kind != "socket" or not part.type:
            continue
        known = device(part.type)
        names = [*part.accepts, *(known.designations if known else ())]
        equivalents = tuple(dict.fromkeys(n for n in names if n.lower() != part.type.lower()))
        todo = _todo(part, comparison.found.parts.get(part.name), wrong)
        yield Valve(part.name, part.type, equivalents, todo)


def _todo(part: Part, fitted: Part | None, wrong: Mapping[str, Decision | None]) -> str:
    """What to do about one valve; `wrong` are those that are not as drawn, with the decision."""
    if fitted is None or "type" in fitted.unread:
        return "read its type"
    if fitted.type == "none":
        return f"buy {article(part.type)} or an equivalent"
    decision = wrong.get(part.name)
    if part.name in wrong and (decision is None or decision.word == "restore"):
        return f"{fitted.type} is fitted: buy {article(part.type)} or an equivalent"
    stays = " and stays by decision" if decision is not None else ""
    return f"{fitted.type} is fitted{stays}: test it before it is blamed or trusted"


def as_csv(made: Order) -> str:
    """The order list as a table for a spreadsheet."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(["quantity", "what", "figures", "kind", "for", "bands", "why", "decided"])
    for line in made.lines:
        table.writerow(
            [line.quantity, line.kind, " ".join(line.figures), "; ".join(line.fit),
             " ".join(line.parts), " ".join(line.bands), "; ".join(line.why),
             "yes" if line.settled else "no"]
        )  # fmt: skip
    return out.getvalue()


def told(made: Order) -> list[str]:
    """The order list as lines of text."""
    lines = ["To buy"] if made.lines else ["Nothing to buy for what is open."]
    for line in made.lines:
        undecided = "" if line.settled else "  (nobody decided yet)"
        lines.append(f"  {line.quantity} x {line.what}{undecided}")
        lines.append(f"      for    {', '.join(line.parts)}")
        lines += [f"      kind   {words}" for words in line.fit]
        lines += [f"      why    {words}" for words in line.why]
        if line.bands:
            lines.append(f"      bands  {' '.join(line.bands)}; measure it on arrival as well")
    lines += ["", "Valves"] if made.valves else []
    for valve in made.valves:
        same = f" (also sold as {', '.join(valve.equivalents)})" if valve.equivalents else ""
        lines.append(f"  {valve.name}  {valve.wanted}{same}: {valve.todo}")
    return [*lines, *([""] if made.remarks else []), *made.remarks]
