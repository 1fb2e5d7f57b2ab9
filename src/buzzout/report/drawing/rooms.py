"""How much room a block takes, where its pins come out and where its words stand.

All lengths are in points round the middle of the block, y grows downwards.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from math import ceil

from buzzout.report.drawing.blocks import Block, Pin
from buzzout.report.drawing.canvas import Spot
from buzzout.report.drawing.labels import wide
from buzzout.report.drawing.nodes import LIVE, is_chassis

SymbolOf = Callable[[Pin], str]

LEAD = 21.0  # middle of a small symbol to the end of its drawn leads
TEXT = 10.0  # size of names and values
SMALL = 8.0  # size of pin names
PITCH = 12.0  # line to line
CHASSIS_ROOM, NAME_ROOM = 17.0, 15.0
LACKING = 14.0  # a lead that is missing is drawn so much longer before its symbol
SAID = 7.0  # outline to the words of a finding
BOLD = 1.08  # bold words are so much wider
WARNED = 24.0  # middle of a live chassis symbol to the far edge of its warning


@dataclass(frozen=True, slots=True)
class Word:
    """A line of words of a block; `align` tells which part of it is at (x, y)."""

    x: float
    y: float
    text: str
    align: str = "middle"
    size: float = TEXT
    bold: bool = False
    grey: bool = False

    @property
    def width(self) -> float:
        """How wide it is."""
        return wide(self.text, self.size) * (BOLD if self.bold else 1.0)

    @property
    def sides(self) -> tuple[float, float]:
        """Its left and right end."""
        start = {"start": 0.0, "end": self.width}.get(self.align, self.width / 2)
        return self.x - start, self.x - start + self.width


@dataclass(frozen=True, slots=True)
class Extent:
    """`left` … `down` are distances from the middle; `pins` tells where each pin comes out.

    `outline` is half the width and half the height of a box or valve; `strokes` are level lines in
    it: from, to, and at which y.
    """

    left: float
    right: float
    up: float
    down: float
    pins: Mapping[Pin, Spot]
    words: tuple[Word, ...] = ()
    outline: Spot = (0.0, 0.0)
    strokes: tuple[tuple[float, float, float], ...] = ()


def upright(block: Block) -> bool:
    """Whether it is drawn as a symbol with one lead above and one below."""
    return block.shape not in ("valve", "box", "heater", "pole")


def reach(symbol: str) -> float:
    """How far a symbol sticks out above or below a pin."""
    return 0.0 if not symbol else CHASSIS_ROOM if is_chassis(symbol) else NAME_ROOM


def half_name(symbol: str) -> float:
    """Half the width of a symbol above or below a pin."""
    if is_chassis(symbol):
        return WARNED if symbol == LIVE else 9.0
    return wide(symbol, TEXT) * BOLD / 2


def sideways(symbol: str) -> float:
    """How far a symbol sticks out beside a pin at the side of a block."""
    if is_chassis(symbol):
        return WARNED if symbol == LIVE else 9.0
    return wide(symbol, TEXT) * BOLD + 4 if symbol else 4.0


def flag_room(number: int) -> float:
    """How much of a line the flag of a finding takes."""
    return 2 * flag_half(number) + 3.0


def flag_half(number: int) -> float:
    """Half the width of the flag of a finding."""
    return 7.0 + 3.0 * len(str(number))


def titled(block: Block, x: float, y: float) -> Iterable[Word]:
    """The title of a block and the lines below it, about a middle."""
    lines = (block.title, *block.lines)
    top = y - PITCH * (len(lines) - 1) / 2
    for i, line in enumerate(lines):
        yield Word(x, top + PITCH * i, line, bold=i == 0)


def whole(found: Extent, flags: float) -> Extent:
    """In whole points, so that leads which should be in line are; with `flags` more at the left."""
    return replace(
        found,
        left=ceil(found.left + flags),
        right=ceil(found.right),
        up=ceil(found.up),
        down=ceil(found.down),
        pins={pin: (float(round(x)), float(round(y))) for pin, (x, y) in found.pins.items()},
    )


def mirrored(found: Extent) -> Extent:
    """A box with its pins in the opposite order."""
    return replace(
        found,
        pins={pin: (-x, y) for pin, (x, y) in found.pins.items()},
        words=tuple(replace(word, x=-word.x) for word in found.words),
    )
