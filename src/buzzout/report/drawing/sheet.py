"""A circuit as blocks with pins, and the nodes that join them: what is to be drawn, not how."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from buzzout.circuit import CHASSIS, Circuit, Part, Point
from buzzout.report.drawing.blocks import Block, Pin, called, small
from buzzout.report.drawing.draft import Draft
from buzzout.report.drawing.facts import Facts, Ratings, usual
from buzzout.report.drawing.furniture import furniture
from buzzout.report.drawing.heights import heights
from buzzout.report.drawing.mains import chassis_live
from buzzout.report.drawing.nodes import LIVE, symbols
from buzzout.report.drawing.valves import valve


@dataclass(frozen=True)
class Sheet:
    """What is drawn. `symbols` gives nodes that are told by a symbol at each use.

    `goes_on` tells where the line of such a node is taken up again, point by point.
    `usual` are the ratings that go without saying; `live` tells that the mains is joined to the
    chassis.
    """

    circuit: Circuit
    blocks: tuple[Block, ...]
    symbols: Mapping[int, str] = field(default_factory=dict)
    usual: Ratings = field(default_factory=dict)
    live: bool = False
    goes_on: Mapping[Point, str] = field(default_factory=dict)

    @cached_property
    def pin_at(self) -> Mapping[Point, tuple[Block, Pin]]:
        """Where each point is drawn."""
        return {pin.point: (block, pin) for block in self.blocks for pin in block.pins}

    @cached_property
    def ends(self) -> Mapping[int, tuple[tuple[Block, Pin], ...]]:
        """The drawn pins of every node."""
        table: dict[int, list[tuple[Block, Pin]]] = {}
        for block in self.blocks:
            for pin in block.pins:
                table.setdefault(self.circuit.node(pin.point), []).append((block, pin))
        return {node: tuple(pins) for node, pins in table.items()}

    def symbol(self, point: Point) -> str:
        """The symbol at a point: chassis, a name, or "" where a line is drawn."""
        name = self.symbols.get(self.circuit.node_of.get(point, -1), "")
        return f"{name} {self.goes_on[point]}" if point in self.goes_on else name


def sheet(circuit: Circuit, unsaid: Ratings | None = None) -> Sheet:
    """Blocks and symbols of a circuit; `unsaid` are ratings to leave out, else its usual ones."""
    facts = Facts(
        usual(circuit) if unsaid is None else unsaid,
        found=circuit.kind == "found",
        file=circuit.file,
    )
    draft = Draft(circuit, heights(circuit), facts)
    blocks = tuple(block for part in circuit.parts.values() for block in _blocks(part, draft))
    live = chassis_live(circuit, blocks)
    return Sheet(circuit, blocks, symbols(circuit, blocks, live=live), facts.usual, live)


def warned(drawn: Sheet) -> Sheet:
    """The same sheet with the chassis told as live, as it is on the board that was found."""
    chassis = drawn.circuit.node(CHASSIS)
    return replace(drawn, symbols={**drawn.symbols, chassis: LIVE}, live=True)


def _blocks(part: Part, draft: Draft) -> Iterator[Block]:
    if part.kind == "socket":
        yield from valve(part, draft)
    elif part.furniture:
        yield from furniture(part, draft)
    elif len(part.terminals) == 2:
        yield small(part, draft.upper_first(part, part.terminals), draft.facts.of(part))
    else:
        pins = (Pin(p, "n" if p.pin.startswith("~") else "s") for p in part.points)
        yield Block(part.name, part, "box", called(part), draft.facts.of(part), tuple(pins))
