"""Stages side by side in two bands: the signal, and under it the supply."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace

from buzzout.circuit import Point
from buzzout.report.drawing.blocks import Block, Pin
from buzzout.report.drawing.canvas import Spot
from buzzout.report.drawing.extents import extent
from buzzout.report.drawing.ink import Placed, said_by
from buzzout.report.drawing.layout import Drop, Plan, moved
from buzzout.report.drawing.levels import Levels, levels
from buzzout.report.drawing.marks import Mark, Marks, on_block
from buzzout.report.drawing.nodes import name_of
from buzzout.report.drawing.rooms import LACKING, Extent, flag_room
from buzzout.report.drawing.routes import MARGIN, TRACK, Trunk, tracks_in, trunks
from buzzout.report.drawing.sheet import Sheet
from buzzout.report.drawing.stages import SPARE, SUPPLY, Stage

BETWEEN, HEAD = 30.0, 20.0  # room between stages, and above them for their name
BELOW = (SUPPLY, SPARE)
WIDE = 2400.0  # a longer row of stages goes on in the next one, so that it can be read on paper
ROUNDS = 8  # how often nodes that no line can draw are taken out and the rest is laid again


@dataclass
class Band:
    """Stages side by side, with the lines between them.

    `channels` gives the y of the first track of each channel, `bounds` the corners of each stage.
    """

    sheet: Sheet
    stages: tuple[Stage, ...]
    levels: Levels
    placed: dict[str, Placed] = field(default_factory=dict)
    drops: list[Drop] = field(default_factory=list)
    trunks: dict[int, Trunk] = field(default_factory=dict)
    channels: dict[int, float] = field(default_factory=dict)
    bounds: dict[str, tuple[Spot, Spot]] = field(default_factory=dict)
    bottom: float = 0.0

    @property
    def right(self) -> float:
        """The right edge of the last stage."""
        return max((corner[0] for _a, corner in self.bounds.values()), default=0.0)

    def height(self, node: int) -> float:
        """The y of the level stretch of a node."""
        trunk = self.trunks[node]
        return self.channels[trunk.channel] + TRACK * trunk.track

    def symbol_of(self, pin: Pin) -> str:
        """The symbol that stands at a pin, or ""."""
        return self.sheet.symbol(pin.point)


def bands(drawn: Sheet, every: Sequence[Stage], laid: Marks) -> list[Band]:
    """The bands of a sheet, laid out; each begins where the one above ends."""
    signal = tuple(stage for stage in every if stage.name not in BELOW)
    supply = tuple(stage for stage in every if stage.name in BELOW)
    found = _laid(drawn, laid, [group for group in (signal, supply) if group])
    if signal and found[0].right > WIDE:
        groups = [*_split(found[0]), supply]
        found = _laid(drawn, laid, [group for group in groups if group])
    return found


def _laid(drawn: Sheet, laid: Marks, groups: Sequence[tuple[Stage, ...]]) -> list[Band]:
    drawn, levelled = _drawable(drawn, groups)
    result: list[Band] = []
    for group, level in levelled:
        band = Band(drawn, group, level)
        _lay(band, laid, result[-1].bottom + BETWEEN if result else 0.0)
        result.append(band)
    return result


def _split(band: Band) -> list[tuple[Stage, ...]]:
    """The stages of one long row as two or more of about the same length."""
    rows = -(-band.right // WIDE)
    parts: dict[int, list[Stage]] = {}
    for stage in band.stages:
        (left, _top), (right, _bottom) = band.bounds[stage.name]
        parts.setdefault(int((left + right) / 2 / band.right * rows), []).append(stage)
    return [tuple(part) for _row, part in sorted(parts.items())]


def _drawable(
    drawn: Sheet, groups: Sequence[tuple[Stage, ...]]
) -> tuple[Sheet, list[tuple[tuple[Stage, ...], Levels]]]:
    """Levels of every band, with nodes that no line can draw told by their names."""
    found: list[tuple[tuple[Stage, ...], Levels]] = []
    for _ in range(ROUNDS):
        found = [
            (group, levels(drawn, _blocks(group), one_row=group[0].name not in BELOW))
            for group in groups
        ]
        loose = _across(drawn, groups).union(*(level.loose for _group, level in found))
        loose -= set(drawn.symbols)
        if not loose:
            break
        names = {node: name_of(drawn.circuit, node) for node in sorted(loose)}
        goes_on = {**drawn.goes_on, **_taken_up(drawn, groups, loose)}
        drawn = replace(drawn, symbols={**drawn.symbols, **names}, goes_on=goes_on)
    return drawn, found


def _taken_up(
    drawn: Sheet, groups: Sequence[tuple[Stage, ...]], nodes: Collection[int]
) -> dict[Point, str]:
    """For lines that a new row cuts: the stage in another row where they go on, or the two."""
    row = {b.id: n for n, group in enumerate(groups) for b in _blocks(group)}
    stage = {b.id: each.name for group in groups for each in group for b in each.blocks}
    found = {}
    for node in nodes:
        ends = drawn.ends[node]
        for block, pin in ends:
            there = {stage[b.id] for b, _pin in ends if row[b.id] != row[block.id]}
            if 0 < len(there) < 3:
                found[pin.point] = f"to {' and '.join(sorted(there))}"
    return found


def _blocks(group: Iterable[Stage]) -> list[Block]:
    return [block for stage in group for block in stage.blocks]


def _across(drawn: Sheet, groups: Sequence[tuple[Stage, ...]]) -> set[int]:
    """Nodes with ends in more than one band."""
    where: dict[int, set[int]] = {}
    for number, group in enumerate(groups):
        for block in _blocks(group):
            for pin in block.pins:
                where.setdefault(drawn.circuit.node(pin.point), set()).add(number)
    return {node for node, numbers in where.items() if len(numbers) > 1}


def _lay(band: Band, laid: Marks, top: float) -> None:
    """Places, lines and heights of one band that begins at `top`."""
    blocks = _blocks(band.stages)
    found = {block.id: on_block(block, laid) for block in blocks}
    extents = {block.id: _room(band, block, found[block.id], laid) for block in blocks}
    across: dict[str, float] = {}
    left = 0.0
    reach: dict[str, tuple[float, float]] = {}
    for stage in band.stages:
        plan = Plan(band.sheet, band.levels, extents)
        plan.place(stage.blocks)
        moved(plan, left - min(x - extents[b].left for b, x in plan.x.items()))
        reach[stage.name] = (left, plan.edge)
        left = plan.edge + BETWEEN
        across |= plan.x
        band.drops += plan.drops
    band.trunks = trunks(band.drops, band.levels.channel)
    rows = _heights(band, {b: (e.up, e.down) for b, e in extents.items()}, top + HEAD)
    for block in blocks:
        spot = (across[block.id], rows[band.levels.row[block.id]])
        band.placed[block.id] = Placed(block, spot, extents[block.id], found[block.id])
    _bound(band, reach, top)


def _room(band: Band, block: Block, found: Sequence[Mark], laid: Marks) -> Extent:
    """Room of a block with its findings; leads that lack are longer before their symbol."""
    flags = sum(flag_room(mark.number) for mark in found)
    room = extent(block, band.symbol_of, said_by(found), flags)
    lacking = {p.side for p in block.pins if p.point in laid.leads and band.symbol_of(p)}
    return replace(
        room,
        up=room.up + LACKING * ("n" in lacking),
        down=room.down + LACKING * ("s" in lacking),
        left=room.left + LACKING * ("w" in lacking),
        right=room.right + LACKING * ("e" in lacking),
    )


def _heights(band: Band, rooms: dict[str, tuple[float, float]], top: float) -> dict[int, float]:
    """The y of the middle of each row; fills in the channels."""
    tracks = tracks_in(band.trunks)
    last = max([*band.levels.row.values(), *(c - 1 for c in tracks)])
    rows, y = {}, top
    for row in range(last + 1):
        band.channels[row] = y + MARGIN
        y += MARGIN * 2 + TRACK * max(0, tracks.get(row, 0) - 1) if row in tracks else 9
        here = [rooms[b] for b, r in band.levels.row.items() if r == row]
        up, down = max((r[0] for r in here), default=0), max((r[1] for r in here), default=0)
        rows[row] = y + up
        y += up + down
    band.channels[last + 1] = y + MARGIN
    y += MARGIN * 2 + TRACK * tracks[last + 1] if last + 1 in tracks else 6
    band.bottom = y
    return rows


def _bound(band: Band, reach: dict[str, tuple[float, float]], top: float) -> None:
    for name, (left, right) in reach.items():
        band.bounds[name] = ((left - 8, top), (right + 8, band.bottom))
