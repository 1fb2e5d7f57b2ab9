"""What findings add: wrong lines as they are, lines that lack, each with the finding's number."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from buzzout.circuit import CHASSIS, Point
from buzzout.report.drawing import symbols
from buzzout.report.drawing.bands import Band
from buzzout.report.drawing.blocks import Pin
from buzzout.report.drawing.canvas import Canvas, Pen, Spot
from buzzout.report.drawing.curves import Room, bowed
from buzzout.report.drawing.flags import Flags, symbol_room
from buzzout.report.drawing.ink import Placed
from buzzout.report.drawing.marks import Mark, Marks, Wire
from buzzout.report.drawing.palette import PAPER

BESIDE = ((30.0, 26.0), (-30.0, 26.0), (44.0, 8.0), (-44.0, 8.0), (30.0, 50.0), (-30.0, 50.0))


def draw_overlay(
    paper: Canvas, laid_out: Sequence[Band], laid: Marks, words: Iterable[Room] = ()
) -> None:
    """Lines of findings over the drawing, then all their flags; `words` stand beside its lines."""
    flags = Flags(laid_out, laid.leads)
    for room in words:
        flags.keep_off(room)
    overlay = _Overlay(paper, laid_out, flags)
    for wire in laid.wires:
        overlay.wire(wire)
    for point, mark in laid.leads.items():
        overlay.right_place(point, mark)
    overlay.flags.draw(paper)


class _Overlay:
    """Lines and flags while they are being drawn."""

    def __init__(self, paper: Canvas, laid_out: Sequence[Band], flags: Flags) -> None:
        """Over one set of bands; flags that stand there already are left free."""
        self._paper = paper
        self._bands = laid_out
        placed = [each for band in laid_out for each in band.placed.values()]
        self._rooms = [each.room for each in placed]
        self.flags = flags
        paper.layer()

    def wire(self, wire: Wire) -> None:
        """A bowed line between two points, with rings at its ends."""
        (a, row), (b, other_row) = self._spot(wire.a), self._spot(wire.b)
        if a is not None and row != other_row:
            b = None  # not across the page: its name is enough
        if a is not None:
            b = b or self._beside(a, wire.b)
        elif b is not None:
            a = self._beside(b, wire.a)
        if a is None or b is None:
            return
        curve, mark = bowed(a, b, self._rooms, self.flags.words), wire.mark
        self._paper.curve(a, curve.bend, b, mark.pen)
        for end in (a, b):
            self._paper.ring(end, 6, Pen(mark.look.colour, 2, classes=mark.classes), PAPER)
        self.flags.put([curve.at(t) for t in (0.5, 0.35, 0.65, 0.22, 0.78)], mark)

    def right_place(self, point: Point, mark: Mark) -> None:
        """The number at a lead that belongs here and is elsewhere."""
        for band in self._bands:
            if (known := _pin(band, point)) is None:
                continue
            x, y = known[0].spot(known[1])
            node = band.sheet.circuit.node(point)
            if node in band.trunks:
                middle = (y + band.height(node)) / 2
                self.flags.put([(x - 13, middle), (x + 13, middle), (x, y)], mark)
            else:  # the lead ends in a symbol
                self.flags.put([(x + 16, y), (x - 16, y)], mark)

    def _beside(self, other: Spot, point: Point) -> Spot:
        """A symbol near the other end, for what is drawn nowhere else: chassis, a free tag."""
        name = self._bands[0].sheet.symbol(point) if point == CHASSIS else str(point)
        spots = [(other[0] + dx, other[1] + dy) for dx, dy in BESIDE]
        rooms = [symbol_room(spot, name, "s") for spot in spots]
        free = self.flags.clear_of_words(rooms)
        self.flags.keep_off(rooms[free])
        symbols.named(self._paper, spots[free], name, "s")
        return spots[free]

    def _spot(self, point: Point) -> tuple[Spot | None, int]:
        """Where a point is on the paper, and in which band."""
        for row, band in enumerate(self._bands):
            if (known := _pin(band, point)) is not None:
                return known[0].spot(known[1]), row
        for row, band in enumerate(self._bands):
            node = band.sheet.circuit.node_of.get(point)
            if node in band.trunks:
                return (band.trunks[node].left, band.height(node)), row
        return None, -1


def _pin(band: Band, point: Point) -> tuple[Placed, Pin] | None:
    block, pin = band.sheet.pin_at.get(point, (None, None))
    if block is None or pin is None or block.id not in band.placed:
        return None
    return band.placed[block.id], pin
