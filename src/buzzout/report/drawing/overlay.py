"""What findings add: wrong lines as they are, lines that lack, each with the finding's number."""

from __future__ import annotations

from collections.abc import Sequence

from buzzout.circuit import CHASSIS, Point
from buzzout.report.drawing import symbols
from buzzout.report.drawing.bands import Band
from buzzout.report.drawing.canvas import Canvas, Pen, Spot
from buzzout.report.drawing.ink import Placed, flag
from buzzout.report.drawing.marks import Mark, Marks, Wire
from buzzout.report.drawing.sheet import Pin

APART = 17.0  # flags keep this distance, in points


def draw_overlay(paper: Canvas, laid_out: Sequence[Band], laid: Marks) -> None:
    """Lines of findings, curved so that none is taken for a line of the drawing."""
    paper.layer()
    flags: list[tuple[Spot, Mark]] = []
    for wire in laid.wires:
        _wire(paper, laid_out, wire, flags)
    for point, mark in laid.leads.items():
        _right_place(laid_out, point, mark, flags)
    paper.layer()
    for at, mark in flags:
        flag(paper, at, mark)


def _wire(
    paper: Canvas, laid_out: Sequence[Band], wire: Wire, flags: list[tuple[Spot, Mark]]
) -> None:
    (a, row), (b, other_row) = (_spot(laid_out, p) for p in (wire.a, wire.b))
    if a is not None and row != other_row:
        b = None  # not across the page: its name is enough
    if a is not None:
        b = b or _beside(paper, a, wire.b)
    elif b is not None:
        a = _beside(paper, b, wire.a)
    if a is None or b is None:
        return
    bend = _bend(a, b)
    paper.curve(a, bend, b, wire.mark.pen)
    for end in (a, b):
        paper.ring(end, 6, Pen(wire.mark.look.colour, 2, classes=wire.mark.classes), "#FFFFFF")
    flags.append(
        (_clear([_along(a, bend, b, t) for t in (0.5, 0.35, 0.65, 0.22, 0.78)], flags), wire.mark)
    )


def _beside(paper: Canvas, other: Spot, point: Point) -> Spot:
    """A symbol near the other end, for what is drawn nowhere else: chassis, a free tag."""
    spot = (other[0] + 30, other[1] + 26)
    symbols.named(paper, spot, "chassis" if point == CHASSIS else str(point), "s")
    return spot


def _bend(a: Spot, b: Spot) -> tuple[Spot, Spot]:
    """Two spots beside the straight way, so that the line is bowed."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    length = max((dx * dx + dy * dy) ** 0.5, 1.0)
    bow = min(max(0.16 * length, 12.0), 60.0)
    ox, oy = -dy / length * bow, dx / length * bow
    return (a[0] + dx / 3 + ox, a[1] + dy / 3 + oy), (
        a[0] + dx * 2 / 3 + ox,
        a[1] + dy * 2 / 3 + oy,
    )


def _along(a: Spot, bend: tuple[Spot, Spot], b: Spot, t: float) -> Spot:
    """A spot on the curve, `t` from 0 to 1."""
    weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
    corners = (a, *bend, b)
    x, y = (sum(w * corner[i] for w, corner in zip(weights, corners, strict=True)) for i in (0, 1))
    return x, y


def _clear(wanted: Sequence[Spot], flags: Sequence[tuple[Spot, Mark]]) -> Spot:
    """The first of the wanted spots that no other flag covers, else one above the first."""

    def covered(spot: Spot) -> bool:
        return any(abs(spot[0] - x) < APART and abs(spot[1] - y) < APART for (x, y), _m in flags)

    free = next((spot for spot in wanted if not covered(spot)), None)
    if free is not None:
        return free
    x, y = wanted[0]
    while covered((x, y)):
        y -= APART
    return x, y


def _right_place(
    laid_out: Sequence[Band], point: Point, mark: Mark,
    flags: list[tuple[Spot, Mark]],
) -> None:  # fmt: skip
    """The number at a lead that belongs here and is elsewhere."""
    for band in laid_out:
        if (known := _pin(band, point)) is None:
            continue
        placed, pin = known
        x, y = placed.spot(pin)
        node = band.sheet.circuit.node(point)
        if node in band.trunks:
            middle = (y + band.height(node)) / 2
            flags.append((_clear([(x - 13, middle), (x + 13, middle), (x, y)], flags), mark))
        else:  # the lead ends in a symbol
            flags.append((_clear([(x + 16, y), (x - 16, y)], flags), mark))


def _spot(laid_out: Sequence[Band], point: Point) -> tuple[Spot | None, int]:
    """Where a point is on the paper, and in which band."""
    for row, band in enumerate(laid_out):
        if (known := _pin(band, point)) is not None:
            return known[0].spot(known[1]), row
    for row, band in enumerate(laid_out):
        node = band.sheet.circuit.node_of.get(point)
        if node in band.trunks:
            return (band.trunks[node].left, band.height(node)), row
    return None, -1


def _pin(band: Band, point: Point) -> tuple[Placed, Pin] | None:
    block, pin = band.sheet.pin_at.get(point, (None, None))
    if block is None or pin is None or block.id not in band.placed:
        return None
    return band.placed[block.id], pin
