"""Bowed lines: a curve that is taken for no line of the drawing, past as few blocks as can be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buzzout.report.drawing.canvas import Spot

Room = tuple[float, float, float, float]  # left, top, right, bottom
SAMPLES = tuple(i / 12 for i in range(1, 12))


@dataclass(frozen=True, slots=True)
class Curve:
    """A cubic curve from a to b that leans to the two spots of its bend."""

    a: Spot
    bend: tuple[Spot, Spot]
    b: Spot

    def at(self, t: float) -> Spot:
        """A spot on it, `t` from 0 to 1."""
        weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
        spots = list(zip(weights, (self.a, *self.bend, self.b), strict=True))
        return sum(w * x for w, (x, _y) in spots), sum(w * y for w, (_x, y) in spots)


def bowed(a: Spot, b: Spot, rooms: Sequence[Room]) -> Curve:
    """The curve of a few bows to either side that touches the fewest blocks."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    length = max((dx * dx + dy * dy) ** 0.5, 1.0)
    small = min(max(0.16 * length, 12.0), 60.0)
    curves = [_bow(a, b, size / length) for size in (small, -small, 2.5 * small, -2.5 * small)]
    return min(curves, key=lambda curve: _touched(curve, rooms))


def _bow(a: Spot, b: Spot, size: float) -> Curve:
    """A curve beside the straight way, by `size` times its length."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    first, last = (
        (a[0] + dx * part - dy * size, a[1] + dy * part + dx * size) for part in (1 / 3, 2 / 3)
    )
    return Curve(a, (first, last), b)


def _touched(curve: Curve, rooms: Sequence[Room]) -> int:
    """How many spots of the curve lie on blocks."""
    spots = [curve.at(t) for t in SAMPLES]
    return sum(
        left < x < right and top < y < bottom
        for x, y in spots
        for left, top, right, bottom in rooms
    )
