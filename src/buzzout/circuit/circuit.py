"""A circuit: parts, the links that join their points, and the nodes that follow from them."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple, TypeVar

from buzzout.circuit.parts import CHASSIS, NOWHERE, Part, Point, Span
from buzzout.circuit.quantity import Quantity

_Any = TypeVar("_Any", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Link:
    """Two points that touch.

    `how` is "lead" (a part's own lead: `a` is its terminal, `b` the point it lands on), "wire", or
    "joint" (a node statement, an earthed tag, a bond: nobody says which wire makes it).
    `seen` counts the ends it was seen from: 2 is confirmed, 1 is open.
    """

    a: Point
    b: Point
    how: str = "wire"
    colour: str = ""
    seen: int = 1
    note: str = ""
    photo: str = ""
    span: Span = field(default=NOWHERE, compare=False)
    also: tuple[Span, ...] = field(default=(), compare=False)

    def touches(self, point: Point) -> bool:
        """Whether one end of it lands on this point."""
        return point in (self.a, self.b)

    def other(self, point: Point) -> Point:
        """The far end."""
        return self.b if self.a == point else self.a


@dataclass(frozen=True, slots=True)
class Node:
    """Points that are electrically one. `name` is one that the file gave it, else "" ."""

    index: int
    points: tuple[Point, ...]
    name: str = ""


class Tone(NamedTuple):
    """A test tone that is fed in: where, its level (r.m.s.) and its frequency."""

    at: Point
    level: Quantity
    frequency: Quantity


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured or expected figure between two points.

    `voltage` and `resistance` tell by the unit of `value`. `meter` is the meter's loading in ohms,
    or in ohms per volt where `per_volt`; `supply` is the mains voltage at that moment; `step` the
    step of the bring-up plan, 0 for the whole set at full mains; `sitting` counts the `step` lines
    above it: the same step may be read again later. `tone` is the
    tone that an alternating voltage was read with. `turned` are pots, by name, and how they stood
    at that moment where that is told with the readings: 25%.
    """

    at: Point
    to: Point
    value: Quantity
    meter: float | None = None
    per_volt: bool = False
    supply: Quantity | None = None
    alternating: bool = False
    note: str = ""
    span: Span = field(default=NOWHERE, compare=False)
    step: int = 0
    tone: Tone | None = None
    turned: tuple[tuple[str, str], ...] = ()
    sitting: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Mains:
    """The supply the set is made for."""

    voltage: Quantity
    frequency: Quantity | None = None
    region: str = ""


@dataclass(frozen=True)
class Circuit:
    """Everything one file says.

    `kind` is "reference" or "found". `parts` go by name. `names` are the node names that the file
    uses, as points without a pin. `visited` are the points that have a heading of their own in a
    found file, with the line.
    """

    kind: str = "reference"
    title: str = ""
    file: str = ""
    parts: Mapping[str, Part] = field(default_factory=dict)
    links: tuple[Link, ...] = ()
    names: tuple[str, ...] = ()
    mains: Mains | None = None
    expected: tuple[Reading, ...] = ()
    readings: tuple[Reading, ...] = ()
    visited: Mapping[Point, Span] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    @cached_property
    def points(self) -> tuple[Point, ...]:
        """Every point, in order of the file: terminals first, then chassis and node names."""
        seen = [point for part in self.parts.values() for point in part.points]
        seen.append(CHASSIS)
        seen += map(Point, self.names)
        for link in self.links:
            seen += (link.a, link.b)
        return tuple(dict.fromkeys(seen))

    @cached_property
    def _groups(self) -> list[list[Point]]:
        """The points of every node."""
        return joined(self.points, ((link.a, link.b) for link in self.links))

    @cached_property
    def node_of(self) -> Mapping[Point, int]:
        """Point to index of its node."""
        return {point: index for index, group in enumerate(self._groups) for point in group}

    @cached_property
    def nodes(self) -> tuple[Node, ...]:
        """The nodes in order of their first point."""
        known = set(self.names)
        named = (
            next((p.owner for p in group if not p.pin and p.owner in known), "")
            for group in self._groups
        )
        rows = zip(self._groups, named, strict=True)
        return tuple(Node(i, tuple(group), name) for i, (group, name) in enumerate(rows))

    def node(self, point: Point) -> int:
        """Index of the node that a point belongs to.

        Raises
        ------
        KeyError
            If the circuit has no such point.
        """
        return self.node_of[point]

    @cached_property
    def links_at(self) -> Mapping[Point, tuple[Link, ...]]:
        """The links that land on each point."""
        table: dict[Point, list[Link]] = {}
        for link in self.links:
            table.setdefault(link.a, []).append(link)
            if link.b != link.a:
                table.setdefault(link.b, []).append(link)
        return {point: tuple(links) for point, links in table.items()}

    def landing(self, terminal: Point) -> Point:
        """Where a part's lead lands: the point at the far end of its own lead, else itself."""
        for link in self.links_at.get(terminal, ()):
            if link.how == "lead" and link.a == terminal:
                return link.b
        return terminal

    def but(
        self, parts: Mapping[str, Part] | None = None, links: Iterable[Link] | None = None
    ) -> Circuit:
        """The same circuit with other parts or links."""
        return replace(
            self,
            parts=self.parts if parts is None else parts,
            links=self.links if links is None else tuple(links),
        )


def joined(points: Iterable[_Any], pairs: Iterable[tuple[_Any, _Any]]) -> list[list[_Any]]:
    """Connected groups of points, in order of first appearance."""
    number = {point: index for index, point in enumerate(dict.fromkeys(points))}
    ends = [
        (number.setdefault(a, len(number)), number.setdefault(b, len(number))) for a, b in pairs
    ]
    groups: dict[int, list[_Any]] = {}
    for point, piece in zip(number, pieces(len(number), ends), strict=True):
        groups.setdefault(piece, []).append(point)
    return list(groups.values())


def pieces(size: int, ends: Iterable[tuple[int, int]]) -> list[int]:
    """Number of the connected piece of each of `size` nodes, in order of their first nodes.

    Union by path halving; a node points at one that stands before it, or at itself.
    """
    above = list(range(size))
    for pair in ends:
        a, b = pair
        while above[a] != a:
            above[a] = a = above[above[a]]
        while above[b] != b:
            above[b] = b = above[above[b]]
        if a < b:
            above[b] = a
        else:
            above[a] = b
    numbers: list[int] = []
    count = 0
    for node, before in enumerate(above):
        numbers.append(count if before == node else numbers[before])
        count += before == node
    return numbers
