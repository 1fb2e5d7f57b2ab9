"""The room of every shape of block: small symbols, valves, boxes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from buzzout.report.drawing.blocks import Block, Group, Pin
from buzzout.report.drawing.canvas import Spot
from buzzout.report.drawing.labels import wide, widest
from buzzout.report.drawing.rooms import (
    LEAD,
    PITCH,
    SAID,
    SMALL,
    TEXT,
    Extent,
    SymbolOf,
    Word,
    half_name,
    reach,
    sideways,
    titled,
    upright,
    whole,
)

VALVE = (46.0, 31.0)  # half width and half height at least
SIDE_PITCH, SIDE_STEP = 14.0, 10.0  # pins at the side of a valve: down, and further out
MANY_LINES = 4  # more would stand beside the symbols above and below


def extent(block: Block, symbol_of: SymbolOf, said: Sequence[str], flags: float) -> Extent:
    """Room for a block with what findings say beside it, and `flags` points at its left."""
    if upright(block):
        return whole(_small(block, symbol_of, said), flags)
    found = _valve(block, symbol_of) if block.shape == "valve" else _box(block, symbol_of)
    return whole(_with_said(found, said), flags)


def _with_said(found: Extent, said: Sequence[str]) -> Extent:
    """The words of findings at the right of an outline, from its upper corner."""
    if not said:
        return found
    half, high = found.outline
    x = half + SAID if found.right <= half + 8 else found.right + 2
    words = tuple(
        Word(x, 9 - high + PITCH * i, line, "start", bold=True) for i, line in enumerate(said)
    )
    return replace(
        found,
        words=(*found.words, *words),
        right=max(word.sides[1] for word in words) + 4,
        down=max(found.down, words[-1].y + PITCH / 2),
    )


def _small(block: Block, symbol_of: SymbolOf, said: Sequence[str]) -> Extent:
    at = {"n": (0.0, -LEAD), "s": (0.0, LEAD), "e": (22.0, 0.0), "w": (-22.0, 0.0)}
    pins = {pin: at[pin.side] for pin in block.pins}
    told = {pin.side: symbol_of(pin) for pin in block.pins}
    names = max(half_name(told.get(side, "")) for side in "ns")
    lines = (block.title, *block.lines, *said)
    x = 22 + sideways(told["e"]) + 4 if "e" in told else 15.0
    x = max(x, names + 4) if len(lines) > MANY_LINES else x
    top, plain = PITCH * (1 - len(lines)) / 2, 1 + len(block.lines)
    words = tuple(
        Word(x, top + PITCH * i, line, "start", bold=i == 0 or i >= plain)
        for i, line in enumerate(lines)
    )
    left = 22 + sideways(told["w"]) if "w" in told else 19.0
    right = max(word.sides[1] for word in words)
    half = PITCH * len(lines) / 2
    up, down = (max(LEAD + reach(told.get(side, "")), half) for side in "ns")
    return Extent(max(left, names + 2), max(right, names) + 6, up, down, pins, words)


# ---- valves -------------------------------------------------------------------------------------


def _valve(block: Block, symbol_of: SymbolOf) -> Extent:
    """Pins of anode and cathode above and below, grids at the left, screens at the right."""
    sides = {side: [p for p in block.pins if p.side == side] for side in "nswe"}
    west, east = (max((wide(p.name, SMALL) + 8 for p in sides[s]), default=4.0) for s in "we")
    middle = widest((block.title, *block.lines), TEXT)
    slots = {side: max(map(_slot(symbol_of), sides[side]), default=0.0) for side in "ns"}
    half = max(
        VALVE[0], (west + middle + east) / 2 + 2, *(len(sides[s]) * slots[s] / 2 + 2 for s in "ns")
    )
    rows = max(PITCH * (1 + len(block.lines)), *(SIDE_PITCH * len(sides[s]) for s in "we"))
    high = max(VALVE[1], (rows + 12 * sum(bool(sides[s]) for s in "ns") + 8) / 2)
    down = 6.0 * (bool(sides["n"]) - bool(sides["s"]))
    pins: dict[Pin, Spot] = {}
    words = list(titled(block, (west - east) / 2, down))
    for side, sign in (("n", -1), ("s", 1)):
        slot = 2 * half / max(len(sides[side]), 1)
        for i, pin in enumerate(sides[side]):
            pins[pin] = ((i - (len(sides[side]) - 1) / 2) * slot, sign * high)
            words.append(Word(pins[pin][0], sign * (high - 8), pin.name, size=SMALL, grey=True))
    for side, sign, align in (("w", -1, "start"), ("e", 1, "end")):
        for i, pin in enumerate(sides[side]):
            y = down + (i - (len(sides[side]) - 1) / 2) * SIDE_PITCH
            pins[pin] = (sign * (half + SIDE_STEP * (i + 1)), y)
            words.append(Word(sign * (half - 4), y, pin.name, align, SMALL, grey=True))
    left, right = (
        max([half + 8.0, *(abs(pins[p][0]) + sideways(symbol_of(p)) for p in sides[side])])
        for side in "we"
    )
    up, low = (high + max((reach(symbol_of(p)) for p in sides[s]), default=0.0) for s in "ns")
    return Extent(left, right, up, low, pins, tuple(words), (half, high))


def _slot(symbol_of: SymbolOf) -> Callable[[Pin], float]:
    """Room that a pin above or below wants: for its own name and for that of its symbol."""
    return lambda pin: max(wide(pin.name, SMALL) + 8, 2 * half_name(symbol_of(pin)) + 8)


# ---- boxes --------------------------------------------------------------------------------------


def _box(block: Block, symbol_of: SymbolOf) -> Extent:
    """Pins above and below, in groups with a label where they have one."""
    groups = block.groups or tuple(Group(pin.side, (pin,)) for pin in block.pins)
    rows = {side: _Row([g for g in groups if g.side == side], symbol_of) for side in "ns"}
    half = max(*(row.width / 2 for row in rows.values()), widest(_lines(block), TEXT) / 2 + 8)
    inner = PITCH * (1 + len(block.lines)) + sum(row.height for row in rows.values())
    high = inner / 2 + 5
    pins: dict[Pin, Spot] = {}
    words = list(titled(block, 0, (rows["n"].height - rows["s"].height) / 2))
    strokes: list[tuple[float, float, float]] = []
    for side, sign in (("n", -1), ("s", 1)):
        for group, left, slot in rows[side].places():
            xs = [left + slot * (i + 0.5) for i in range(len(group.pins))]
            pins |= {pin: (x, sign * high) for pin, x in zip(group.pins, xs, strict=True)}
            words += [
                Word(x, sign * (high - 7), pin.name, size=SMALL, grey=True)
                for pin, x in zip(group.pins, xs, strict=True)
            ]
            if group.label:
                middle = left + slot * max(len(xs), 1) / 2
                words.append(Word(middle, sign * (high - 21), group.label, size=SMALL))
                strokes.append((left + 4, left + slot * max(len(xs), 1) - 4, sign * (high - 14)))
    up, down = (high + rows[side].reach for side in "ns")
    return Extent(half + 4, half + 4, up, down, pins, tuple(words), (half, high), tuple(strokes))


def _lines(block: Block) -> Iterable[str]:
    return (block.title, *block.lines)


class _Row:
    """The groups of pins at one side of a box."""

    def __init__(self, groups: Sequence[Group], symbol_of: SymbolOf) -> None:
        pins = [pin for group in groups for pin in group.pins]
        self._pitch = max([24.0, *map(_slot(symbol_of), pins)])
        self._groups = groups
        self.width = sum(map(self._room, groups))
        self.height = 0.0 if not groups else 26.0 if any(g.label for g in groups) else 12.0
        self.reach = max((reach(symbol_of(pin)) for pin in pins), default=0.0)

    def _room(self, group: Group) -> float:
        return max(self._pitch * len(group.pins), wide(group.label, SMALL) + 12)

    def places(self) -> Iterable[tuple[Group, float, float]]:
        """Each group with its left edge and the room of each of its pins."""
        left = -self.width / 2
        for group in self._groups:
            room = self._room(group)
            yield group, left, room / max(len(group.pins), 1)
            left += room
