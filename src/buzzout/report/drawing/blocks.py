"""What stands on the sheet: blocks with pins."""

from __future__ import annotations

from dataclasses import dataclass

from buzzout.circuit import Part, Point


@dataclass(frozen=True, slots=True)
class Pin:
    """A pin of a block: `side` is n, s, w or e; `role` what it is, printed behind its name."""

    point: Point
    side: str
    role: str = ""

    @property
    def name(self) -> str:
        """What is printed at it."""
        return f"{self.point.pin} {self.role}" if self.role else self.point.pin


@dataclass(frozen=True, slots=True)
class Group:
    """Pins of a box that belong together, side by side: a winding, with what is printed of it."""

    side: str
    pins: tuple[Pin, ...]
    label: str = ""


@dataclass(frozen=True, slots=True)
class Block:
    """One thing with pins; furniture may be several of them.

    `shape` is "valve", "heater", "box", "pole", "pot" or the kind of a part with two ends; `lines`
    stand below the title. `groups` are those of the pins of a box that belong together.
    """

    id: str
    part: Part
    shape: str
    title: str
    lines: tuple[str, ...]
    pins: tuple[Pin, ...]
    groups: tuple[Group, ...] = ()


def small(part: Part, terminals: tuple[str, str], lines: tuple[str, ...]) -> Block:
    """The block of a part with two ends, the terminal that is drawn above first."""
    marked = part.swap == "reversed"
    pins = tuple(
        Pin(part.point(t), side, t if marked else "")
        for t, side in zip(terminals, "ns", strict=True)
    )
    return Block(part.name, part, part.kind, called(part), lines, pins)


def called(part: Part) -> str:
    """The name to print: nothing for a part that nobody named but the line it stands on."""
    return f"line {part.name.lstrip('@')}" if part.anonymous else part.name
