"""How much room a block takes and where its pins come out, in points round its middle."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil

from buzzout.report.drawing.canvas import Spot
from buzzout.report.drawing.labels import wide, widest
from buzzout.report.drawing.sheet import Block, Pin

SymbolOf = Callable[[Pin], str]

LEAD = 21.0  # middle of a small symbol to the end of its drawn leads
TEXT = 10.0  # size of names and values
SMALL = 8.0  # size of pin names
PITCH = 12.0  # line to line
CHASSIS_ROOM, NAME_ROOM = 17.0, 15.0
VALVE = (46.0, 31.0)  # half width, half height
FLAG = 18.0
SAID = 7.0  # outline to the words of a finding


@dataclass(frozen=True, slots=True)
class Extent:
    """`left` … `down` are distances from the middle; `pins` tells where each pin comes out."""

    left: float
    right: float
    up: float
    down: float
    pins: Mapping[Pin, Spot]


def extent(block: Block, symbol_of: SymbolOf, lines: Sequence[str], flags: int) -> Extent:
    """Room for a block with the lines beside or in it and the flags at its left."""
    if upright(block):
        found = _small(block, symbol_of, lines)
    else:
        found = _valve(block, symbol_of) if block.shape == "valve" else _box(block, symbol_of)
        said = lines[1 + len(block.lines) :]
        room = SAID + widest(said, TEXT) + 4 if said else 0.0
        found = replace(found, right=max(found.right, _half(block, symbol_of) + room))
    return _whole(replace(found, left=found.left + FLAG * flags))


def _whole(found: Extent) -> Extent:
    """In whole points, so that leads which should be in line are."""
    return Extent(
        ceil(found.left),
        ceil(found.right),
        ceil(found.up),
        ceil(found.down),
        {pin: (float(round(x)), float(round(y))) for pin, (x, y) in found.pins.items()},
    )


def _half(block: Block, symbol_of: SymbolOf) -> float:
    """Half the width of an outline."""
    return VALVE[0] if block.shape == "valve" else box_size(block, symbol_of)[0]


def upright(block: Block) -> bool:
    """Whether it is drawn as a symbol with one lead above and one below."""
    return block.shape not in ("valve", "box", "heater")


def text_at(block: Block) -> float:
    """Where the words beside an upright symbol start."""
    return 34.0 if any(pin.side == "e" for pin in block.pins) else 15.0


def reach(symbol: str) -> float:
    """How far a symbol sticks out above or below a pin."""
    return 0.0 if not symbol else CHASSIS_ROOM if symbol == "chassis" else NAME_ROOM


def _small(block: Block, symbol_of: SymbolOf, lines: Sequence[str]) -> Extent:
    pins: dict[Pin, Spot] = {}
    room = {"n": 0.0, "s": 0.0}
    for pin in block.pins:
        pins[pin] = {"n": (0.0, -LEAD), "s": (0.0, LEAD)}.get(pin.side, (22.0, 0.0))
        room[pin.side] = reach(symbol_of(pin))
    names = max((wide(symbol_of(p), TEXT) / 2 for p in block.pins), default=0.0)
    right = max(text_at(block) + widest(lines, TEXT), names) + 6
    half = PITCH * len(lines) / 2
    return Extent(
        max(15.0, names + 2), right, max(LEAD + room["n"], half), max(LEAD + room["s"], half), pins
    )


def _valve(block: Block, symbol_of: SymbolOf) -> Extent:
    half, high = VALVE
    pins: dict[Pin, Spot] = {}
    left = right = half + 8
    for side, sign in (("w", -1), ("e", 1)):
        mine = [p for p in block.pins if p.side == side]
        for i, pin in enumerate(mine):
            y = (i - (len(mine) - 1) / 2) * 14
            pins[pin] = (sign * (half + 10.0 * (i + 1)), y)
            name = symbol_of(pin)
            out = half + 10 * (i + 1) + (wide(name, TEXT) + 4 if name else 4)
            left, right = (max(left, out), right) if sign < 0 else (left, max(right, out))
    ups = {"n": high, "s": high}
    for side, sign in (("n", -1), ("s", 1)):
        mine = [p for p in block.pins if p.side == side]
        for i, pin in enumerate(mine):
            pins[pin] = ((i - (len(mine) - 1) / 2) * 2 * half / max(len(mine), 1), sign * high)
            ups[side] = max(ups[side], high + reach(symbol_of(pin)))
    return Extent(left, right, ups["n"], ups["s"], pins)


def box_size(block: Block, symbol_of: SymbolOf) -> tuple[float, float, float]:
    """Half width, half height and pin to pin of a box."""
    names = [wide(pin.name, SMALL) + 10 for pin in block.pins]
    names += [wide(symbol_of(pin), TEXT) + 10 for pin in block.pins if symbol_of(pin) != "chassis"]
    pitch = max(24.0, *names) if names else 24.0
    most = max(sum(p.side == side for p in block.pins) for side in "ns") if block.pins else 0
    lines = [block.title, *block.lines]
    half = max(most * pitch / 2, widest(lines, TEXT) / 2 + 8)
    rows = len(lines) * PITCH + sum(12 for side in "ns" if any(p.side == side for p in block.pins))
    return half, rows / 2 + 5, pitch


def _box(block: Block, symbol_of: SymbolOf) -> Extent:
    half, high, pitch = box_size(block, symbol_of)
    pins: dict[Pin, Spot] = {}
    ups = {"n": high, "s": high}
    for side, sign in (("n", -1), ("s", 1)):
        mine = [p for p in block.pins if p.side == side]
        for i, pin in enumerate(mine):
            pins[pin] = ((i - (len(mine) - 1) / 2) * pitch, sign * high)
            ups[side] = max(ups[side], high + reach(symbol_of(pin)))
    return Extent(half + 4, half + 4, ups["n"], ups["s"], pins)
