"""Blocks on the sheet: small parts as symbols, valves and furniture as outlines with their pins."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from buzzout.circuit import Point
from buzzout.report.drawing import symbols
from buzzout.report.drawing.canvas import Canvas, Pen, Spot
from buzzout.report.drawing.extents import (
    FLAG,
    PITCH,
    SAID,
    SMALL,
    TEXT,
    VALVE,
    Extent,
    SymbolOf,
    box_size,
    text_at,
    upright,
)
from buzzout.report.drawing.marks import Mark
from buzzout.report.drawing.palette import BLACK, GREY, PAPER
from buzzout.report.drawing.sheet import Block, Pin


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


def lines_of(block: Block, found: Sequence[Mark]) -> list[str]:
    """The words of a block, the name first, what findings say about it last."""
    lines = [block.title, *block.lines]
    return lines + [line for mark in found for line in mark.lines]


def draw(paper: Canvas, placed: Placed, symbol_of: SymbolOf, leads: Mapping[Point, Mark]) -> None:
    """A block with its words, the symbols on its pins and the flags of its findings."""
    if placed.block.shape == "valve":
        _valve(paper, placed)
    elif upright(placed.block):
        _small(paper, placed)
    else:
        _box(paper, placed, symbol_of)
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
    dx, dy = {"n": (0, -14), "s": (0, 14), "w": (-14, 0)}.get(pin.side, (14, 0))
    end = spot[0] + dx, spot[1] + dy
    paper.layer()
    paper.line([spot, end], mark.pen)
    return end


def flag_spots(placed: Placed) -> list[tuple[Spot, Mark]]:
    """Where the flags of a block stand: at the upper left corner of its frame."""
    x, y = _corners(placed)[0]
    return [((x + FLAG / 2 + FLAG * i, y + 3), mark) for i, mark in enumerate(placed.found)]


def flag(paper: Canvas, at: Spot, mark: Mark) -> None:
    """The number of a finding in a frame; the same number stands in the list."""
    x, y = at
    pen = Pen(mark.look.colour, 2, classes=mark.classes)
    wide = 7 + 3 * len(str(mark.number))
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
    symbols.upright(paper, placed.at, kind, block.pins[0].point.pin, pen)
    for pin in block.pins:
        if pin.side == "e":
            paper.shape((x + 10, y), "triangle", (6, 8), BLACK)
            paper.line([(x + 8, y), (x + 22, y)])
    lines = lines_of(block, placed.found)
    top = y - PITCH * (len(lines) - 1) / 2
    plain = 1 + len(block.lines)
    for i, line in enumerate(lines):
        spot = (x + text_at(block), top + PITCH * i)
        paper.text(spot, line, "start", TEXT, bold=i == 0 or i >= plain)


def _valve(paper: Canvas, placed: Placed) -> None:
    block, (x, y) = placed.block, placed.at
    half, high = VALVE
    paper.box((x - half, y - high), (x + half, y + high), Pen(width=1.8), PAPER, rounded=True)
    paper.layer()
    for pin in block.pins:
        px, py = placed.spot(pin)
        sideways = {"w": 1, "e": -1}.get(pin.side, 0)
        if sideways:
            edge = x - half * sideways
            paper.line([(px, py), (edge, py)])
            spot = (edge + 3 * sideways, py)
            paper.text(spot, pin.name, "start" if sideways > 0 else "end", SMALL, colour=GREY)
        else:
            spot = (px, py + (8 if pin.side == "n" else -8))
            paper.text(spot, pin.name, size=SMALL, colour=GREY)
    for i, line in enumerate((block.title, *block.lines)):
        paper.text((x, y - 7 + PITCH * i), line, size=TEXT, bold=i == 0)
    _said(paper, placed, (x + half, y - high))


def _box(paper: Canvas, placed: Placed, symbol_of: SymbolOf) -> None:
    block, (x, y) = placed.block, placed.at
    half, high, _pitch = box_size(block, symbol_of)
    paper.box((x - half, y - high), (x + half, y + high), Pen(), PAPER)
    for pin in block.pins:
        px, py = placed.spot(pin)
        spot = (px, py + (7 if pin.side == "n" else -7))
        paper.text(spot, pin.name, size=SMALL, colour=GREY)
    lines = (block.title, *block.lines)
    north = any(pin.side == "n" for pin in block.pins)
    south = any(pin.side == "s" for pin in block.pins)
    top = y - PITCH * (len(lines) - 1) / 2 + 6 * (north - south)
    for i, line in enumerate(lines):
        paper.text((x, top + PITCH * i), line, size=TEXT, bold=i == 0)
    _said(paper, placed, (x + half, y - high))


def _said(paper: Canvas, placed: Placed, corner: Spot) -> None:
    """What findings say, at the right of an outline from its upper corner."""
    lines = lines_of(placed.block, placed.found)[1 + len(placed.block.lines) :]
    for i, line in enumerate(lines):
        paper.text((corner[0] + SAID, corner[1] + 9 + PITCH * i), line, "start", TEXT, bold=True)


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
