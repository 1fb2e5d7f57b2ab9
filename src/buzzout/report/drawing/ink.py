"""Blocks on the sheet: small parts as symbols, valves and furniture as outlines with their pins."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from buzzout.circuit import Point
from buzzout.report.drawing import symbols
from buzzout.report.drawing.blocks import Block, Pin
from buzzout.report.drawing.canvas import Canvas, Pen, Spot
from buzzout.report.drawing.marks import Mark
from buzzout.report.drawing.palette import BLACK, GREY, PAPER
from buzzout.report.drawing.rooms import LACKING, Extent, SymbolOf, flag_half, flag_room, upright


@dataclass(frozen=True, slots=True)
class Placed:
    """A block at its place, with the findings on it."""

    block: Block
    at: Spot
    extent: Extent
    found: tuple[Mark, ...]

    @property
    def room(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom of it."""
        (left, top), (right, bottom) = _corners(self)
        return left, top, right, bottom

    def spot(self, pin: Pin) -> Spot:
        """Where the line of a pin begins."""
        dx, dy = self.extent.pins[pin]
        return self.at[0] + dx, self.at[1] + dy


def said_by(found: Sequence[Mark]) -> list[str]:
    """What findings say about a block."""
    return [line for mark in found for line in mark.lines]


def draw(paper: Canvas, placed: Placed, symbol_of: SymbolOf, leads: Mapping[Point, Mark]) -> None:
    """A block with its words, the symbols on its pins and the flags of its findings."""
    if upright(placed.block):
        _small(paper, placed)
    else:
        _outline(paper, placed)
    _words(paper, placed)
    for pin in placed.block.pins:
        if name := symbol_of(pin):
            spot = placed.spot(pin)
            if pin.point in leads:
                spot = _lacking(paper, spot, pin, leads[pin.point])
            symbols.named(paper, spot, name, pin.side)
    for spot, mark in flag_spots(placed):
        flag(paper, spot, mark)


def _lacking(paper: Canvas, spot: Spot, pin: Pin, mark: Mark) -> Spot:
    """A piece of dashed lead between a pin and its symbol; where it ends."""
    end = beyond(spot, pin.side)
    paper.layer()
    paper.line([spot, end], mark.pen)
    return end


def beyond(spot: Spot, side: str) -> Spot:
    """Where a lead that lacks ends, from a pin at one side of its block."""
    dx, dy = {"n": (0, -1), "s": (0, 1), "w": (-1, 0)}.get(side, (1, 0))
    return spot[0] + LACKING * dx, spot[1] + LACKING * dy


def flag_spots(placed: Placed) -> list[tuple[Spot, Mark]]:
    """Where the flags of a block stand: at the upper left corner of its frame."""
    x, y = _corners(placed)[0]
    spots = []
    for mark in placed.found:
        room = flag_room(mark.number)
        spots.append(((x + room / 2, y + 3), mark))
        x += room
    return spots


def flag(paper: Canvas, at: Spot, mark: Mark) -> None:
    """The number of a finding in a frame; the same number stands in the list."""
    x, y = at
    pen = Pen(mark.look.colour, 2, classes=mark.classes)
    wide = flag_half(mark.number)
    paper.box((x - wide, y - 8), (x + wide, y + 8), pen, PAPER, rounded=True)
    paper.text(at, str(mark.number), size=11, bold=True)


def _small(paper: Canvas, placed: Placed) -> None:
    block, (x, y) = placed.block, placed.at
    pen = Pen()
    if placed.found and placed.found[0].look.line != "solid":
        pen = Pen(placed.found[0].look.colour, 1.6, placed.found[0].look.line)
    elif placed.found and placed.found[0].look.name == "there":
        pen = Pen(placed.found[0].look.colour, 2.4)
    kind = "resistor" if block.shape == "pot" else block.shape
    symbols.upright(paper, placed.at, kind, block.pins[0].role, pen)
    for pin in block.pins:
        if pin.side == "e":  # a wiper
            paper.shape((x + 10, y), "triangle", (6, 8), BLACK)
            paper.line([(x + 8, y), (x + 22, y)])
        elif pin.side == "w":  # a tap
            paper.line([(x - 22, y), (x - 5.5, y)])


def _outline(paper: Canvas, placed: Placed) -> None:
    """A valve or a box, the leads at its sides and the windings in it."""
    (x, y), (half, high) = placed.at, placed.extent.outline
    valve = placed.block.shape == "valve"
    pen = Pen(width=1.8 if valve else 1.0)
    paper.box((x - half, y - high), (x + half, y + high), pen, PAPER, rounded=valve)
    paper.layer()
    for pin in placed.block.pins:
        if pin.side in "we":
            px, py = placed.spot(pin)
            paper.line([(px, py), (x - half if pin.side == "w" else x + half, py)])
    for left, right, down in placed.extent.strokes:
        paper.line([(x + left, y + down), (x + right, y + down)], Pen(width=2.4))


def _words(paper: Canvas, placed: Placed) -> None:
    x, y = placed.at
    for word in placed.extent.words:
        colour = GREY if word.grey else BLACK
        spot = (x + word.x, y + word.y)
        paper.text(spot, word.text, word.align, word.size, bold=word.bold, colour=colour)


def frame(paper: Canvas, placed: Placed) -> None:
    """A frame in the look of the first finding, to lie under the lines."""
    if not placed.found:
        return
    mark, (a, b) = placed.found[0], _corners(placed)
    paper.box(a, b, mark.pen, PAPER, rounded=True)
    if mark.look.name == "differs":
        inner = (a[0] + 3, a[1] + 3), (b[0] - 3, b[1] - 3)
        paper.box(*inner, Pen(mark.look.colour), rounded=True)


def _corners(placed: Placed) -> tuple[Spot, Spot]:
    (x, y), room = placed.at, placed.extent
    return (x - room.left, y - room.up - 2), (x + room.right - 2, y + room.down + 2)
