"""As left against as found: what is closed, what is still open, what is new.

Nothing counts as done because somebody ticked it: both states are compared with the same drawing,
and a finding is closed when the later comparison no longer shows it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from buzzout.bench.decisions import open_lines
from buzzout.circuit import CHASSIS, Point
from buzzout.job import Item, PunchList


@dataclass(frozen=True, slots=True)
class Pair:
    """The same finding before and after. `changed` says that it reads otherwise now."""

    before: Item
    after: Item

    @property
    def changed(self) -> bool:
        """Whether it is told otherwise now: another value, another place."""
        return _words(self.before) != _words(self.after)


@dataclass(frozen=True, slots=True)
class New:
    """A finding that was not there before. `right` are points where nothing was wrong before."""

    item: Item
    right: tuple[Point, ...]


@dataclass(frozen=True)
class AsLeft:
    """What became of a punch list."""

    closed: tuple[Item, ...]
    still: tuple[Pair, ...]
    new: tuple[New, ...]

    @property
    def dangerous(self) -> bool:
        """Whether something that can hurt or destroy is open now."""
        items = [pair.after for pair in self.still] + [new.item for new in self.new]
        return any(item.severity in ("danger", "damage") for item in items)


def as_left(before: PunchList, after: PunchList) -> AsLeft:
    """Compare two punch lists of the same drawing, harmless differences left out."""
    old, now = list(open_lines(before)), list(open_lines(after))
    pairs: list[Pair] = []
    for same in (_same_id, _same_parts):
        for item in list(old):
            match = [other for other in now if same(item, other)]
            if len(match) == 1:
                pairs.append(Pair(item, match[0]))
                old.remove(item)
                now.remove(match[0])
    pairs.sort(key=lambda pair: pair.after.number)
    touched = {p for item in open_lines(before) for p in item.finding.points}
    return AsLeft(tuple(old), tuple(pairs), tuple(New(i, _right(i, touched)) for i in now))


def _same_id(a: Item, b: Item) -> bool:
    return a.finding.id == b.finding.id


def _same_parts(a: Item, b: Item) -> bool:
    """The same kind of finding on the same parts, at other points."""
    mine, other = a.finding, b.finding
    return mine.kind == other.kind and bool(mine.parts) and mine.parts == other.parts


def _right(item: Item, touched: set[Point]) -> tuple[Point, ...]:
    return tuple(p for p in item.finding.points if p not in touched and p != CHASSIS)


def _words(item: Item) -> str:
    """The sentence without the numbers of lines, which move with every edit."""
    words = item.finding.text.replace(",", "").replace(")", "").split()
    return " ".join(w for i, w in enumerate(words) if not (i and words[i - 1] in _LINES))


_LINES = ("line", "(line")


def told(made: AsLeft) -> list[str]:
    """As lines of text: new ones first, because they were right before."""
    return [
        f"closed {len(made.closed)}, still open {len(made.still)}, new {len(made.new)}",
        *_block("NEW", (_new(new) for new in made.new)),
        *_block("still open", (_still(pair) for pair in made.still)),
        *_block("closed", (f"{i.severity}: {i.finding.text}" for i in made.closed)),
    ]


def _block(title: str, rows: Iterable[str]) -> list[str]:
    listed = list(rows)
    return [title, *(f"  {row}" for row in listed)] if listed else []


def _new(new: New) -> str:
    where = f" ({', '.join(map(str, new.right))} right before)" if new.right else ""
    return f"{new.item.severity}: {new.item.finding.text}{where}"


def _still(pair: Pair) -> str:
    now = f"{pair.after.severity}: {pair.after.finding.text}"
    return f"{now} Before: {pair.before.finding.text}" if pair.changed else now
