"""Rows and channels: parts stand in rows, the lines between them lie in the channels.

Channel 0 is above row 0, channel 1 between rows 0 and 1, and so on. A node lies in one channel;
a part stands below the node of its upper lead and above that of its lower one. All valves of the
signal stand in one row, as on a drawing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from buzzout.report.drawing.blocks import Block, Pin
from buzzout.report.drawing.sheet import Sheet

ABREAST = 9  # so many blocks that nothing ties stand in one row


@dataclass(frozen=True)
class Levels:
    """The channel of each node, the row of each block by id, and nodes that no line can draw."""

    channel: Mapping[int, int]
    row: Mapping[str, int]
    loose: frozenset[int]


@dataclass(frozen=True, slots=True)
class _Span:
    """A block with the nodes above and below it."""

    block: Block
    above: tuple[int, ...]
    below: tuple[int, ...]
    beside: tuple[int, ...]


def levels(sheet: Sheet, blocks: Sequence[Block], *, one_row: bool) -> Levels:
    """Levels of some blocks of a sheet; `one_row` puts all valves in the same row."""
    spans = [_span(sheet, block) for block in blocks]
    under, loose = _order(spans)
    least = {n: 1 for span in spans for n in span.below}
    for span in spans:
        least |= {n: least.get(n, 0) for n in (*span.above, *span.beside)}
    channel = _valves_in_one_row(spans, under, least) if one_row else _longest(under, least)
    rows = {span.block.id: _row(span, channel, loose) for span in spans}
    if one_row:
        line = max((rows[s.block.id] for s in spans if s.block.shape == "valve"), default=0)
        rows |= {s.block.id: line for s in spans if s.block.shape == "valve"}
    _spread(spans, rows)
    for span in spans:
        row = rows[span.block.id]
        loose |= {n for n in span.above if channel[n] > row}
        loose |= {n for n in span.below if channel[n] <= row}
    return Levels(channel, rows, frozenset(loose))


def _span(sheet: Sheet, block: Block) -> _Span:
    def nodes(sides: str) -> tuple[int, ...]:
        found = (sheet.circuit.node(p.point) for p in block.pins if p.side in sides)
        return tuple(n for n in found if n not in sheet.symbols and len(sheet.ends[n]) > 1)

    return _Span(block, nodes("n"), nodes("s"), nodes("we"))


def _order(spans: Iterable[_Span]) -> tuple[dict[int, dict[int, None]], set[int]]:
    """Which node lies above which; a node that would close a ring is told by its name instead."""
    under: dict[int, dict[int, None]] = {}
    loose: set[int] = set()
    for span in spans:
        for upper in span.above:
            for lower in span.below:
                if upper == lower or _leads(under, lower, upper):
                    loose.add(lower)
                else:
                    under.setdefault(upper, {})[lower] = None
    return under, loose


def _leads(under: Mapping[int, Mapping[int, None]], start: int, goal: int) -> bool:
    queue, seen = [start], {start}
    while queue:
        here = queue.pop()
        if here == goal:
            return True
        more = [n for n in under.get(here, ()) if n not in seen]
        seen.update(more)
        queue += more
    return False


def _longest(under: Mapping[int, Mapping[int, None]], least: Mapping[int, int]) -> dict[int, int]:
    """Each node at least one channel below those above it."""
    channel = dict(least)
    for _ in channel:
        changed = False
        for upper, lowers in under.items():
            for lower in lowers:
                if channel[lower] <= channel[upper]:
                    channel[lower] = channel[upper] + 1
                    changed = True
        if not changed:
            break
    return channel


def _valves_in_one_row(
    spans: Sequence[_Span],
    under: Mapping[int, Mapping[int, None]],
    least: Mapping[int, int],
) -> dict[int, int]:
    """Nodes of anodes and grids sink until they hang just above the row of the valves."""
    valves = [span for span in spans if span.block.shape == "valve"]
    feet = {n for span in valves for n in span.below}
    heads = {n for span in valves for n in (*span.above, *span.beside)} - feet
    between = {a: {b: None for b in lower if b not in feet} for a, lower in under.items()}
    bound = _longest({a: lower for a, lower in between.items() if a not in feet}, least)
    row = max((bound[n] for n in heads), default=0)
    latest = _sunk(between, heads, row)
    low = {n: max(least[n], latest.get(n, 0)) for n in least} | {
        n: max(least[n], row + 1) for n in feet
    }
    return _longest(under, low)


def _sunk(under: Mapping[int, Mapping[int, None]], heads: set[int], row: int) -> dict[int, int]:
    """The lowest channel each node may have so that every head stays above the row."""
    latest = dict.fromkeys(heads, row)
    for _ in range(len(under) + 1):
        changed = False
        for upper, lowers in under.items():
            bounds = [latest[n] - 1 for n in lowers if n in latest]
            if bounds and min(bounds) < latest.get(upper, row + 1):
                latest[upper] = min(bounds)
                changed = True
        if not changed:
            break
    return latest


def _row(span: _Span, channel: Mapping[int, int], loose: set[int]) -> int:
    """Just under the upper node; with none above, just over the lower one."""
    above = [channel[n] for n in span.above if n not in loose]
    below = [channel[n] for n in span.below if n not in loose]
    if above:
        return max(above)
    return min(below) - 1 if below else 0


def _spread(spans: Sequence[_Span], rows: dict[str, int]) -> None:
    """Blocks that only symbols join fill all rows alike."""
    free = [s.block.id for s in spans if not (s.above or s.below or s.beside)]
    tied = [row for block, row in rows.items() if block not in free]
    each = min(-(-len(free) // (max(tied, default=0) + 1)), ABREAST)
    for i, block in enumerate(free):
        rows[block] = i // each


def exits(pin: Pin, row: int, channel: int) -> int:
    """-1 where the line of a pin goes up to its channel, 1 where it goes down."""
    if pin.side in "ns":
        return -1 if pin.side == "n" else 1
    return -1 if channel <= row else 1
