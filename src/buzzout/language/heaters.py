"""`heaters V1 V2 from T1.h1 T1.h2`, `heaters series V5 V4 from R9.2 chassis`: implied wiring."""

from __future__ import annotations

from collections.abc import Iterator

from lark import Token, Tree

from buzzout.catalogue import device
from buzzout.circuit import Link, Point, article
from buzzout.language.gather import Statement
from buzzout.language.grammar import Node
from buzzout.language.names import Names
from buzzout.language.problems import ProblemList
from buzzout.language.values import FactReader, designation

_USUAL_VOLTS = 6.3
Ends = tuple[tuple[Point, ...], tuple[Point, ...]]


def heater_links(statement: Statement, names: Names, problems: ProblemList) -> Iterator[Link]:
    """Joints between two supply points and the heater pins of valves, in parallel or in series.

    In parallel the voltage is the stated one or 6.3 V [common practice]; it decides how a
    centre-tapped heater is joined. In series each heater is taken at its highest voltage.
    """
    trees = [c for c in statement.tree.children if isinstance(c, Tree)]
    spots = [names.find(tree, statement) for tree in trees if tree.data == "spot"]
    series = any(isinstance(c, Token) for c in statement.tree.children)
    reader = FactReader("lamp", statement.line, problems)
    stated = [reader.quantity(tree) for tree in trees if tree.data == "quantity"]
    volts = next((q.value for q in stated if q is not None), None if series else _USUAL_VOLTS)
    for quantity in stated:
        if quantity is not None and quantity.unit not in ("", "V"):
            message = f"{quantity} is no heater voltage"
            problems.error(statement.span, message, "heaters V1 V2 from T1.h1 T1.h2 6.3 V")
            return
    valves = [tree for tree in trees if tree.data == "name"]
    ends = [_ends(tree, volts, statement, names, problems) for tree in valves]
    start: tuple[Point, ...]
    start, stop = (tuple(p for p in [spot] if p is not None) for spot in spots)
    for pins in ends:
        if pins is not None and series:
            yield from _joints(statement, start, pins[0])
            start = pins[1]
        elif pins is not None:
            yield from _joints(statement, start, pins[0])
            yield from _joints(statement, stop, pins[1])
    if series:
        yield from _joints(statement, start, stop)


def _ends(
    tree: Node, volts: float | None, statement: Statement, names: Names, problems: ProblemList
) -> Ends | None:
    """The pins at the two ends of one heater, or None after noting why there are none."""
    name = names.scoped(designation(tree), statement.scope)
    part = names.parts.get(name)
    span = statement.line.span(tree)
    if part is None or part.kind not in ("socket", "lamp"):
        problems.error(span, f"{name} is no socket or lamp", "heaters V1 V2 from T1.h1 T1.h2")
        return None
    if part.kind == "lamp":
        return (Point(name, "1"),), (Point(name, "2"),)
    valve = device(part.type)
    heaters = valve.heaters if valve is not None else ()
    if not heaters:
        message = f"I do not know the heater pins of {part.type or name}"
        problems.error(span, message, "join them by hand: node …")
        return None
    for heater in sorted(heaters, key=lambda h: -h.volts):
        if volts is None or abs(heater.volts - volts) <= 0.1 * heater.volts:
            one, other = heater.one, heater.other
            return tuple(Point(name, p) for p in one), tuple(Point(name, p) for p in other)
    known = " or ".join(f"{heater.volts:g} V" for heater in heaters)
    message = f"{article(part.type)} has no {volts:g} V heater but {known}"
    problems.error(span, message, f"say the voltage at the end of the line: {heaters[0].volts:g} V")
    return None


def _joints(
    statement: Statement, start: tuple[Point, ...], to: tuple[Point, ...]
) -> Iterator[Link]:
    """Join every point of one group with those of another."""
    for a in start:
        for b in to:
            yield Link(a, b, "joint", span=statement.span)
