"""Places for the blocks of one stage, and of the stages side by side.

Every lead runs straight up or down from its pin to the channel of its node. A block goes to the
nearest place to what it hangs on where neither it nor its leads meet another block or a lead of
another node; so lines cross but never lie on one another.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from buzzout.report.drawing.blocks import Block, Pin
from buzzout.report.drawing.levels import Levels, exits
from buzzout.report.drawing.rooms import Extent, mirrored
from buzzout.report.drawing.sheet import Sheet

STEP, AIR, LANE = 6.0, 7.0, 7.0  # search step, room between blocks, room between lines
TRIES = 400


@dataclass(frozen=True, slots=True)
class Drop:
    """A lead on its way: at `x`, through the levels from `top` to `bottom`.

    Channel c is level 2c, row r level 2r + 1. `below` tells that its block is below the channel.
    """

    x: float
    top: int
    bottom: int
    below: bool
    node: int
    block: str
    pin: Pin


@dataclass
class Plan:
    """Blocks of one stage or band with their places; x is that of the middle of a block."""

    sheet: Sheet
    levels: Levels
    extents: dict[str, Extent]
    x: dict[str, float] = field(default_factory=dict)
    drops: list[Drop] = field(default_factory=list)

    def place(self, blocks: Sequence[Block]) -> None:
        """Places for all blocks: valves first, then what hangs on something placed."""
        waiting = sorted(blocks, key=lambda b: b.shape != "valve")
        while waiting:
            block = max(waiting, key=lambda b: (len(self._anchors(b)) > 0, b.shape == "valve"))
            waiting.remove(block)
            self._settle(block)

    def _anchors(self, block: Block) -> list[float]:
        """Where this block would stand if each of its leads ran straight."""
        pins = self.extents[block.id].pins
        wanted = {self.sheet.circuit.node(p.point): pins[p][0] for p in block.pins}
        return [
            drop.x - wanted[drop.node] for drop in self.drops if drop.node in wanted
        ]  # fmt: skip

    def _settle(self, block: Block) -> None:
        """The nearest free place; a heater may turn round, so that a chain of them runs on."""
        straight = self.extents[block.id]
        ways = (straight, mirrored(straight)) if block.shape == "heater" else (straight,)
        tried: list[tuple[float, int, float, Extent]] = []
        for way in ways:
            self.extents[block.id] = way
            x = next(x for x in self._candidates(block) if self._free(block, x))
            pulls = (abs(anchor - x) for anchor in self._anchors(block))
            tried.append((sum(pulls), len(tried), x, way))
        _pull, _number, x, self.extents[block.id] = min(tried, key=lambda t: t[:2])
        self.x[block.id] = x
        self.drops += self.leads(block, x)

    def _candidates(self, block: Block) -> Iterator[float]:
        anchors = self._anchors(block)
        if not anchors:
            right = self._row_edge(block) + self.extents[block.id].left + AIR
            yield from (right + STEP * i for i in range(TRIES))
        else:
            yield from dict.fromkeys(anchors)
            home = sorted(anchors)[len(anchors) // 2]
            for i in range(1, TRIES):
                yield home + STEP * i
                yield home - STEP * i
        yield self.edge + self.extents[block.id].left + AIR  # nothing is there

    def _row_edge(self, block: Block) -> float:
        """Where a block that nothing holds may begin: right of its row, or of all it is tied to."""
        row = self.levels.row[block.id]
        tied = any(True for _ in self.leads(block, 0.0))
        ends = [
            x + self.extents[b].right
            for b, x in self.x.items()
            if tied or self.levels.row[b] == row
        ]
        return max(ends, default=0.0)

    @property
    def edge(self) -> float:
        """The right edge of everything placed."""
        return max((x + self.extents[b].right for b, x in self.x.items()), default=0.0)

    def leads(self, block: Block, x: float) -> Iterator[Drop]:
        """The leads of a block that stands at x."""
        row = self.levels.row[block.id]
        for pin in block.pins:
            node = self.sheet.circuit.node(pin.point)
            channel = self.levels.channel.get(node)
            if channel is None or node in self.sheet.symbols:
                continue
            at = x + self.extents[block.id].pins[pin][0]
            first, last = 2 * row + 1, 2 * channel
            if pin.side in "ns":
                first += exits(pin, row, channel)
            below = channel <= row
            yield Drop(at, min(first, last), max(first, last), below, node, block.id, pin)

    def _free(self, block: Block, x: float) -> bool:
        drops = list(self.leads(block, x))
        mine, level = self.extents[block.id], 2 * self.levels.row[block.id] + 1
        for name, other in self.x.items():
            theirs, theirs_level = self.extents[name], 2 * self.levels.row[name] + 1
            near = (x - mine.left - AIR < other + theirs.right
                    and other - theirs.left - AIR < x + mine.right)  # fmt: skip
            if near and level == theirs_level:
                return False
            if any(
                d.top <= theirs_level <= d.bottom
                and other - theirs.left - 2 < d.x < other + theirs.right + 2
                for d in drops
            ):
                return False  # fmt: skip
        for drop in self.drops:
            if drop.top <= level <= drop.bottom and x - mine.left - 2 < drop.x < x + mine.right + 2:
                return False
            if any(_clash(drop, d) for d in drops):
                return False
        return True


def _clash(a: Drop, b: Drop) -> bool:
    overlap = a.top <= b.bottom and b.top <= a.bottom
    return a.node != b.node and overlap and abs(a.x - b.x) < LANE


def moved(plan: Plan, by: float) -> None:
    """The whole plan further to the right."""
    plan.x = {block: x + by for block, x in plan.x.items()}
    plan.drops = [replace(drop, x=drop.x + by) for drop in plan.drops]
