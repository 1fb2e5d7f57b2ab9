"""The symbols of parts on the sheet: in outline what IEC 60617 draws.

A resistor is an open rectangle, a winding a filled one, a capacitor two plates, an electrolytic an
open plate (+) and a filled one.
"""

from __future__ import annotations

from buzzout.report.drawing.canvas import INK, Canvas, Pen, Spot
from buzzout.report.drawing.nodes import LIVE, is_chassis
from buzzout.report.drawing.palette import BLACK, PAPER
from buzzout.report.drawing.rooms import LEAD, TEXT

HALF = 15.0  # half the length of a body


def chassis(paper: Canvas, at: Spot, way: int = 1) -> None:
    """Three bars, each shorter than the one before, down (1) or up (-1) from the end of a lead."""
    x, y = at
    paper.line([at, (x, y + 5 * way)])
    for i, width in enumerate((18, 11, 4)):
        paper.bar((x, y + way * (6 + 4 * i)), width, 1.6)


def warning(paper: Canvas, at: Spot) -> None:
    """A triangle with a mark of exclamation, 14 points wide."""
    x, y = at
    paper.shape(at, "triangle", (14, 13), BLACK)
    paper.layer()
    paper.bar((x, y + 0.5), 1.8, 5, PAPER)
    paper.bar((x, y + 5), 1.8, 1.6, PAPER)


def named(paper: Canvas, at: Spot, name: str, side: str) -> None:
    """The symbol of a line that is drawn at each use: chassis, or its name at the end of a lead."""
    if is_chassis(name):
        way = -1 if side == "n" else 1
        chassis(paper, at, way)
        if name == LIVE:
            warning(paper, (at[0] + 17, at[1] + 9 * way))
        return
    x, y = at
    if side in "we":
        away = 3 if side == "e" else -3
        paper.text((x + away, y), name, "start" if side == "e" else "end", TEXT, bold=True)
        return
    up = -1 if side == "n" else 1
    paper.bar((x, y), 16, 2)
    paper.text((x, y + up * 8), name, size=TEXT, bold=True)


def upright(paper: Canvas, at: Spot, kind: str, upper: str, pen: Pen = INK) -> None:
    """A part with two leads; `upper` is what the upper one is marked with, such as + or a.

    The pen's line is used for the outline.
    """
    x, y = at
    inner = _body(paper, at, kind, upper, pen)
    lead = Pen(pen.colour, pen.width, "solid")
    paper.line([(x, y - LEAD), (x, y - inner)], lead)
    paper.line([(x, y + inner), (x, y + LEAD)], lead)


def _body(paper: Canvas, at: Spot, kind: str, upper: str, pen: Pen) -> float:
    """Draws the body; how far it reaches up and down."""
    x, y = at
    if kind == "capacitor":
        paper.bar((x, y - 4), 22, 2.4, pen.colour)
        paper.bar((x, y + 4), 22, 2.4, pen.colour)
        return 4.0
    if kind == "electrolytic":
        sign = -1 if upper == "+" else 1
        paper.box((x - 11, y + sign * 8), (x + 11, y + sign * 3), pen, PAPER)
        paper.bar((x, y - sign * 4), 22, 3.5, pen.colour)
        paper.text((x - 15, y + sign * 12), "+", size=TEXT, bold=True)
        return 6.0
    if kind == "diode":
        down = upper == "a"
        paper.shape(at, "invtriangle" if down else "triangle", (16, 12), pen.colour)
        paper.bar((x, y + (6 if down else -6)), 16, 2, pen.colour)
        return 6.0
    return _outline(paper, at, kind, pen)


def _outline(paper: Canvas, at: Spot, kind: str, pen: Pen) -> float:
    x, y = at
    if kind in ("lamp", "neon"):
        paper.ring(at, 20, pen, PAPER)
        paper.text((x, y), "×" if kind == "lamp" else "•", size=16)
        return 10.0
    if kind == "switch":
        paper.line([(x, y + 8), (x - 9, y - 9)], Pen(pen.colour, 1.6))
        for end in (y - 8, y + 8):
            paper.ring((x, end), 4, pen, PAPER)
        return 10.0
    if kind == "fuse":
        paper.box((x - 5, y - HALF), (x + 5, y + HALF), pen, PAPER)
        paper.layer()
        paper.line([(x, y - HALF), (x, y + HALF)], Pen(pen.colour))
        return HALF
    filled = kind in ("inductor", "choke")
    paper.box((x - 5.5, y - HALF), (x + 5.5, y + HALF), pen, pen.colour if filled else PAPER)
    if kind == "thermistor":
        paper.text((x, y), "t°", size=8)
    if kind == "speaker":
        cone = [(x - 5.5, y - 8), (x - 15, y - 16), (x - 15, y + 16), (x - 5.5, y + 8)]
        paper.line(cone, pen)
    return HALF
