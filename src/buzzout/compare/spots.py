"""Where a lead or wire belongs: a point of the found board for a node of the drawing."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from buzzout.circuit import Point
from buzzout.compare.explanation import Match
from buzzout.compare.model import FREE, VOID, Pair


@dataclass
class Spots:
    """Finds points for nodes; remembers the points it had to invent."""

    pair: Pair
    match: Match
    fresh: dict[int, Point] = field(default_factory=dict)

    @cached_property
    def places_of(self) -> Mapping[int, list[int]]:
        """Places that belong to each node."""
        table: dict[int, list[int]] = defaultdict(list)
        for place, node in self.match.node_at.items():
            if node not in (VOID, FREE):
                table[node].append(place)
        return table

    def point(self, place: int) -> Point:
        """The point that a place is."""
        return self.pair.board.places[place][0]

    def wanted(self, terminal: Point) -> int:
        """The node of a drawn terminal."""
        return self._node_of[terminal]

    @cached_property
    def _node_of(self) -> Mapping[Point, int]:
        return {p: i for i, points in enumerate(self.pair.drawing.nodes) for p in points}

    def best(self, node: int, near: Point | None = None, drawn_at: Point | None = None) -> Point:
        """The point where something of this node should land.

        First where the drawing itself lands it, then the nearest pin of the same furniture, then
        any pin or tag of the node, in order of the file. A node of which nothing is there gets the
        drawing's own point, or one with a new name.
        """
        places = self.places_of.get(node, [])
        there = [k for k in places if k not in self.pair.board.absent]
        points = [self.point(k) for k in there or places]
        if drawn_at is not None:
            at = Point(self.pair.board.called.get(drawn_at.owner, drawn_at.owner), drawn_at.pin)
            if at in points and (at.pin or len(points) == 1):
                return at
        if points:
            return min(points, key=lambda p: (*distance(p, near), self._rank(p)))
        return self._fresh(node, drawn_at)

    def _rank(self, point: Point) -> tuple[bool, int]:
        """Points with something on them before empty ones; in order of the file."""
        return point not in self.pair.board.circuit.links_at, self.pair.board.place_of[point]

    def _fresh(self, node: int, drawn_at: Point | None) -> Point:
        if node not in self.fresh:
            name = next(
                (p.owner for p in self.pair.drawing.nodes[node] if not p.pin),
                str(drawn_at or self.pair.drawing.nodes[node][0]).replace(".", "-"),
            )
            known = {p.owner for p in self.pair.board.place_of} | {
                p.owner for p in self.fresh.values()
            }
            while name in known:
                name += "'"
            self.fresh[node] = Point(name)
        return self.fresh[node]


def distance(point: Point, near: Point | None) -> tuple[int, int]:
    """How far a hand would have to slip: steps on one piece of furniture, else far."""
    if near is None or point.owner != near.owner:
        return (1, 0)
    if point.pin.isdigit() and near.pin.isdigit():
        return (0, abs(int(point.pin) - int(near.pin)))
    return (0, 50)
