"""What the makers of blocks share: the circuit, how high its nodes are, what is worth saying."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from buzzout.circuit import Circuit, Part, Point
from buzzout.report.drawing.blocks import Block, Pin
from buzzout.report.drawing.facts import Facts


@dataclass(frozen=True, slots=True)
class Draft:
    """A circuit about to be drawn. `heights` go by node."""

    circuit: Circuit
    heights: Mapping[int, float]
    facts: Facts

    def height(self, point: Point) -> float:
        """How high on the sheet a point wants to be, from 0 to 1."""
        return self.heights[self.circuit.node(point)]

    def wired(self, point: Point) -> bool:
        """Whether anything is on a point."""
        return point in self.circuit.links_at

    def upper_first(self, part: Part, ends: tuple[str, ...]) -> tuple[str, str]:
        """Two terminals of a part, the one whose node is higher first."""
        a, b = ends
        higher = self.height(part.point(b)) > self.height(part.point(a)) + 1e-6
        return (b, a) if higher else (a, b)

    def upright(
        self, part: Part, ends: tuple[str, ...], shape: str, name: str, *lines: str
    ) -> Block:
        """A piece of furniture, or of one, with one end above and one below."""
        above = self.upper_first(part, ends)
        pins = tuple(Pin(part.point(t), side) for t, side in zip(above, "ns", strict=True))
        return Block(name, part, shape, name, tuple(line for line in lines if line), pins)
