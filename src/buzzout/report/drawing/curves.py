"""Bowed lines: a curve that is taken for no line of the drawing, past as few blocks as can be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buzzout.report.drawing.canvas import Spot

Room = tuple[float, float, float, float]  # left, top, right, bottom
BOWS = (1.0, -1.0, 2.5, -2.5, 0.4, -0.4, 4.0, -4.0)  # in parts of the smallest that is seen as one
STEP = 5.0  # between the spots that are looked at, in points
WORD = 20  # spots on blocks that a curve rather touches than one on a word


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


def bowed(a: Spot, b: Spot, rooms: Sequence[Room], words: Sequence[Room] = ()) -> Curve:
    """The curve of a few bows to either side that touches the fewest words and blocks."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    length = max((dx * dx + dy * dy) ** 0.5, 1.0)
    small = min(max(0.16 * length, 12.0), 60.0)
    curves = [_bow(a, b, small * bow / length) for bow in BOWS]
    count = max(12, round(length / STEP))

    def cost(curve: Curve) -> int:
        spots = [curve.at(i / count) for i in range(1, count)]
        return WORD * _touched(spots, words) + _touched(spots, rooms)

    return min(curves, key=cost)


def _bow(a: Spot, b: Spot, size: float) -> Curve:
    """A curve beside the straight way, by `size` times its length."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    first, last = (
        (a[0] + dx * part - dy * size, a[1] + dy * part + dx * size) for part in (1 / 3, 2 / 3)
    )
    return Curve(a, (first, last), b)


def _touched(spots: Sequence[Spot], rooms: Sequence[Room]) -> int:
    """How many of these spots lie in a room."""
    return sum(
        left < x < right and top < y < bottom
        for x, y in spots
        for left, top, right, bottom in rooms
    )
