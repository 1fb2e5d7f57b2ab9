"""A sheet of paper in the DOT language: every stroke has its place, the renderer only draws it.

Lengths are in points, y grows downwards. A node is a box or a text, a stroke an edge whose way is
given. Strokes need ends, so each layer has an invisible node that they hang on; the renderer draws
layer after layer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import graphviz  # type: ignore[import-untyped]

from buzzout.report.drawing.labels import label, room
from buzzout.report.drawing.palette import BLACK, PAPER

FONT = "Helvetica"  # one whose widths the renderer knows
Spot = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Pen:
    """How a stroke looks. `classes` are names that a page can find it by."""

    colour: str = BLACK
    width: float = 1.0
    line: str = "solid"
    classes: str = ""


INK = Pen()


@dataclass
class Canvas:
    """Strokes, boxes and words at their places."""

    graph: graphviz.Graph = field(default_factory=lambda: graphviz.Graph("sheet"))
    count: int = 0

    def __post_init__(self) -> None:
        self.graph.attr(layout="neato", fontname=FONT, bgcolor=PAPER, pad="0.15")
        self.graph.attr("node", shape="plain", fontname=FONT, label="", fixedsize="true")
        self.layer()

    def layer(self) -> None:
        """What comes now lies on what was there before."""
        self.count += 1
        self._hook = f"layer{self.count}"
        self.graph.node(self._hook, style="invis", width="0", height="0", pos="0,0")

    def line(self, spots: Sequence[Spot], pen: Pen = INK) -> None:
        """Straight strokes from spot to spot."""
        way = [spots[0]]
        for a, b in pairwise(spots):
            way += [a, b, b]
        self._stroke(way, pen)

    def curve(self, a: Spot, bend: tuple[Spot, Spot], b: Spot, pen: Pen) -> None:
        """A curve from a to b; `bend` are the two spots that it leans to."""
        self._stroke([a, *bend, b], pen)

    def _stroke(self, way: Sequence[Spot], pen: Pen) -> None:
        look = {"color": pen.colour, "penwidth": f"{pen.width:g}", "style": pen.line}
        if pen.classes:
            look["class"] = pen.classes
        self.graph.edge(self._hook, self._hook, pos=" ".join(map(_at, way)), **look)

    def box(
        self, a: Spot, b: Spot, pen: Pen = INK, fill: str = "", *, rounded: bool = False
    ) -> None:
        """A rectangle from corner to corner; `fill` is a colour or "" for none."""
        style = ",".join(
            [pen.line, *(["filled"] if fill else []), *(["rounded"] if rounded else [])]
        )
        look = {"color": pen.colour, "penwidth": f"{pen.width:g}", "style": style}
        if fill:
            look["fillcolor"] = fill
        if pen.classes:
            look["class"] = pen.classes
        self._node(
            ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), shape="box",
            width=_inches(abs(b[0] - a[0])), height=_inches(abs(b[1] - a[1])), **look,
        )  # fmt: skip

    def bar(self, middle: Spot, width: float, height: float, colour: str = BLACK) -> None:
        """A filled rectangle round a spot."""
        x, y = middle[0] - width / 2, middle[1] - height / 2
        self.box((x, y), (x + width, y + height), Pen(colour, 0), colour)

    def dot(self, at: Spot, pen: Pen = INK) -> None:
        """A soldered crossing."""
        self._node(at, shape="circle", width=_inches(4.5), height=_inches(4.5), style="filled",
                   color=pen.colour, fillcolor=pen.colour)  # fmt: skip

    def ring(self, at: Spot, size: float, pen: Pen = INK, fill: str = "") -> None:
        """A circle round a spot."""
        style = {"style": "filled", "fillcolor": fill} if fill else {}
        self._node(at, shape="circle", width=_inches(size), height=_inches(size),
                   color=pen.colour, penwidth=f"{pen.width:g}", **style)  # fmt: skip

    def shape(self, at: Spot, name: str, size: Spot, fill: str) -> None:
        """One of the renderer's shapes, filled: "triangle", "invtriangle"."""
        self._node(at, shape=name, width=_inches(size[0]), height=_inches(size[1]),
                   style="filled", color=fill, fillcolor=fill)  # fmt: skip

    def text(  # noqa: PLR0913 - a place and a face
        self, at: Spot, text: str, align: str = "middle", size: float = 10,
        *, bold: bool = False, colour: str = BLACK,
    ) -> None:  # fmt: skip
        """A line of words; `align` tells which part of it is at the spot: start, middle, end."""
        if not text:
            return
        half = room(text, size) / 2
        x = at[0] + {"start": half, "end": -half}.get(align, 0.0)
        markup = label(text, size, align, bold=bold, colour=colour)
        y = at[1] + (0.17 * size if bold else 0.0)  # the renderer sets bold words higher
        self._node((x, y), fixedsize="false", label=markup)

    def _node(self, at: Spot, **look: str) -> None:
        self.count += 1
        self.graph.node(f"n{self.count}", pos=_at(at), **look)

    @property
    def source(self) -> str:
        """The sheet in the DOT language."""
        return str(self.graph.source)


def _at(spot: Spot) -> str:
    return f"{spot[0]:.1f},{-spot[1]:.1f}"


def _inches(points: float) -> str:
    return f"{points / 72:.4f}"
