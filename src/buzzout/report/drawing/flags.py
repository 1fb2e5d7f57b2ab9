"""Places for the flags of findings: at the line they are about, on no word and no other flag."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence

from buzzout.circuit import Point
from buzzout.report.drawing.bands import Band
from buzzout.report.drawing.canvas import Canvas, Spot
from buzzout.report.drawing.curves import Room
from buzzout.report.drawing.ink import Placed, beyond, flag, flag_spots
from buzzout.report.drawing.marks import Mark
from buzzout.report.drawing.rooms import SymbolOf, flag_room, half_name, reach, sideways

HIGH, STEP, FAR = 9.0, 6.0, 54.0  # half the height of a flag; search step and its end, in points
AROUND = sorted(
    (
        (STEP * i, STEP * j)
        for i in range(-int(FAR / STEP), int(FAR / STEP) + 1)
        for j in range(-int(FAR / STEP), int(FAR / STEP) + 1)
    ),
    key=lambda d: (d[0] ** 2 + d[1] ** 2, d),
)


class Flags:
    """Flags that wait until all lines are drawn, so that they lie on top."""

    def __init__(self, laid_out: Iterable[Band], lacking: Collection[Point]) -> None:
        """On paper with these bands; `lacking` are points whose lead is drawn longer."""
        self.words: list[Room] = []
        self._taken: list[Room] = []
        self._waiting: list[tuple[Spot, Mark]] = []
        for band in laid_out:
            for placed in band.placed.values():
                self.words += words_of(placed, band.symbol_of, lacking)
                self._taken += [_room(spot, mark) for spot, mark in flag_spots(placed)]

    def put(self, wanted: Sequence[Spot], mark: Mark) -> None:
        """A flag at the first of the wanted spots that is free, else as near as can be."""
        x, y = wanted[0]
        spots = [*wanted, *((x + dx, y + dy) for dx, dy in AROUND)]
        spot = next(
            (s for s in spots if self._free(s, mark, (*self._taken, *self.words))),
            next((s for s in spots if self._free(s, mark, self._taken)), wanted[0]),
        )
        self._taken.append(_room(spot, mark))
        self._waiting.append((spot, mark))

    def clear_of_words(self, rooms: Iterable[Room]) -> int:
        """The number of the first room that covers no word and no flag; 0 where all do."""
        filled = (*self.words, *self._taken)
        return next((i for i, room in enumerate(rooms) if not _any_meets(room, filled)), 0)

    def keep_off(self, room: Room) -> None:
        """Words that were added; flags shall not lie on them."""
        self.words.append(room)

    def draw(self, paper: Canvas) -> None:
        """All flags, on top of all lines."""
        paper.layer()
        for spot, mark in self._waiting:
            flag(paper, spot, mark)

    @staticmethod
    def _free(spot: Spot, mark: Mark, filled: Iterable[Room]) -> bool:
        return not _any_meets(_room(spot, mark), filled)


def words_of(placed: Placed, symbol_of: SymbolOf, lacking: Collection[Point]) -> Iterator[Room]:
    """The room of each word of a block and of each symbol at its pins."""
    x, y = placed.at
    for word in placed.extent.words:
        left, right = word.sides
        half = word.size / 2
        yield x + left, y + word.y - half, x + right, y + word.y + half
    for pin in placed.block.pins:
        if name := symbol_of(pin):
            spot = placed.spot(pin)
            end = beyond(spot, pin.side) if pin.point in lacking else spot
            yield symbol_room(end, name, pin.side)


def symbol_room(at: Spot, name: str, side: str) -> Room:
    """The room of a symbol at the end of a lead."""
    x, y = at
    if side in "we":
        far = sideways(name)
        return (x, y - 6, x + far, y + 6) if side == "e" else (x - far, y - 6, x, y + 6)
    half, far = half_name(name), reach(name)
    return (x - half, y - far, x + half, y) if side == "n" else (x - half, y, x + half, y + far)


def _room(spot: Spot, mark: Mark) -> Room:
    half = flag_room(mark.number) / 2
    return spot[0] - half, spot[1] - HIGH, spot[0] + half, spot[1] + HIGH


def _any_meets(room: Room, filled: Iterable[Room]) -> bool:
    left, top, right, bottom = room
    return any(left < r and le < right and top < b and t < bottom for le, t, r, b in filled)
