"""The drawing itself: grounds of the stages, lines with their joints, then the blocks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from buzzout.circuit import Point
from buzzout.report.drawing import ink
from buzzout.report.drawing.bands import Band
from buzzout.report.drawing.canvas import INK, Canvas, Pen
from buzzout.report.drawing.curves import Room
from buzzout.report.drawing.labels import wide
from buzzout.report.drawing.layout import Drop
from buzzout.report.drawing.marks import Marks
from buzzout.report.drawing.palette import GREY, TINT
from buzzout.report.drawing.routes import joints
from buzzout.report.drawing.tags import SIZE, placed_tags


def draw_bands(paper: Canvas, laid_out: Iterable[Band], laid: Marks) -> None:
    """Everything that stands in the bands."""
    for band in laid_out:
        _grounds(paper, band)
        for placed in band.placed.values():
            ink.frame(paper, placed)
        paper.layer()
        for node in band.trunks:
            _node(paper, band, node, laid)
        paper.layer()
        for placed in band.placed.values():
            ink.draw(paper, placed, band.symbol_of, laid.leads)


def _grounds(paper: Canvas, band: Band) -> None:
    for name, (a, b) in band.bounds.items():
        paper.box(a, b, Pen(TINT, 0), TINT, rounded=True)
        paper.text((a[0] + 8, a[1] + 10), name, "start", 11, bold=True, colour=GREY)


def _node(paper: Canvas, band: Band, node: int, laid: Marks) -> None:
    """The level stretch of a node, its leads and joints; a misplaced lead in its own pen."""
    trunk, y = band.trunks[node], band.height(node)
    drops = [drop for drop in band.drops if drop.node == node]
    if trunk.right - trunk.left > 0.01:
        paper.line([(trunk.left, y), (trunk.right, y)])
    for drop in drops:
        _lead(paper, band, drop, y, laid)
    for x in joints(trunk, drops):
        paper.dot((x, y))


def _lead(paper: Canvas, band: Band, drop: Drop, y: float, laid: Marks) -> None:
    placed = band.placed[drop.block]
    mark = laid.leads.get(drop.pin.point)
    pen = mark.pen if mark else INK
    if not mark and placed.found and drop.block in laid.extra_names:
        pen = placed.found[0].pen
    paper.line([placed.spot(drop.pin), (drop.x, y)], pen)


def draw_tags(
    paper: Canvas, laid_out: Iterable[Band], tags: Mapping[Point, tuple[str, ...]]
) -> list[Room]:
    """The tags of each node, small, over its line; the room that each takes."""
    taken = []
    for band in laid_out:
        for (x, y), text in placed_tags(band, tags):
            paper.text((x, y), text, "start", SIZE, colour=GREY)
            taken.append((x, y - SIZE / 2, x + wide(text, SIZE), y + SIZE / 2))
    return taken
