"""`heaters V1 V2 V3 from T1.h1 T1.h2`: the wiring that a drawing leaves out."""

from __future__ import annotations

from collections.abc import Iterator

from lark import Tree

from buzzout.catalogue import device
from buzzout.circuit import Link, Point
from buzzout.language.gather import Statement
from buzzout.language.names import Names
from buzzout.language.problems import ProblemList
from buzzout.language.values import FactReader, designation

_USUAL_VOLTS = 6.3


def heater_links(statement: Statement, names: Names, problems: ProblemList) -> Iterator[Link]:
    """Joints between two supply points and the heater pins of each valve, in parallel.

    The voltage is the stated one or 6.3 V [common practice]; it decides how a centre-tapped
    heater is joined.
    """
    trees = [c for c in statement.tree.children if isinstance(c, Tree)]
    valves = [tree for tree in trees if tree.data == "name"]
    ends = [names.find(tree, statement) for tree in trees if tree.data == "spot"]
    volts = _USUAL_VOLTS
    for tree in trees:
        if tree.data == "quantity":
            quantity = FactReader("lamp", statement.line, problems).quantity(tree)
            volts = quantity.value if quantity else volts
    for tree in valves:
        name = names.scoped(designation(tree), statement.scope)
        part = names.parts.get(name)
        span = statement.line.span(tree)
        if part is None or part.kind not in ("socket", "lamp"):
            problems.error(span, f"{name} is no socket or lamp", "heaters V1 V2 from T1.h1 T1.h2")
            continue
        pins: tuple[tuple[str, ...], tuple[str, ...]]
        if part.kind == "lamp":
            pins = (("1",), ("2",))
        else:
            valve = device(part.type)
            if valve is None:
                problems.error(span, f"I do not know the heater pins of {part.type or name}",
                               "join them by hand: node …")  # fmt: skip
                continue
            pins = valve.heater_pins(volts)
        for end, group in zip(ends, pins, strict=False):
            if end is not None:
                for pin in group:
                    yield Link(end, Point(name, pin), "joint", span=statement.span)
