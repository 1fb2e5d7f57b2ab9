"""Heaters with a middle, as in an ECC83: with both halves in parallel either way round is right."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from buzzout.catalogue import device
from buzzout.circuit import CHASSIS, Circuit, Part, Point


@dataclass(frozen=True, slots=True)
class Halves:
    """The heater of a socket, in two halves side by side: the joined ends, and the middle."""

    name: str
    one: str
    two: str
    tap: str


def turned_heaters(
    reference: Circuit, found: Circuit, called: Mapping[str, str]
) -> Iterator[Halves]:
    """Heaters in parallel halves that are fed the other way round, ends joined on both sides.

    To the valve it is the same. Such ends count as one pin then, the first, and the wire between
    them is as good as inside the valve. It is so where the joined ends are with more pins that
    belong to the middle than with pins that belong to them.
    """
    beside = {frozenset((x.a, x.b)) for x in found.links if x.a.owner == x.b.owner}
    drawn, board = reference.node_of, found.node_of
    for name, there in called.items():
        for one, two, tap in parallel_halves(reference.parts[name]):
            joint, middle = (Point(there, one), Point(there, two)), Point(there, tap)
            ends = drawn[Point(name, one)], drawn[Point(name, two)]
            other = drawn[Point(name, tap)]
            if ends[0] != ends[1] or ends[0] == other or frozenset(joint) not in beside:
                continue
            if board[joint[0]] != board.get(middle):
                with_it = _drawn_nodes(reference, found, called, joint[0])
                if with_it[other] > with_it[ends[0]] - len(joint):
                    yield Halves(name, one, two, tap)


def _drawn_nodes(
    reference: Circuit, found: Circuit, called: Mapping[str, str], point: Point
) -> Counter[int]:
    """Drawn nodes of all the pins of furniture that are joined with a point on the board."""
    back = {there: name for name, there in called.items()} | {CHASSIS.owner: CHASSIS.owner}
    group = found.nodes[found.node_of[point]].points
    pins = (Point(back[p.owner], p.pin) for p in group if p.owner in back)
    return Counter(reference.node_of[p] for p in pins if p in reference.node_of)


def parallel_halves(part: Part) -> Iterator[tuple[str, str, str]]:
    """The two ends and the middle of a heater that may be fed with its halves in parallel."""
    known = device(part.type) if part.kind == "socket" and part.type else None
    for heater in known.heaters if known else ():
        ends, tap = sorted((heater.one, heater.other), key=len, reverse=True)
        if (len(ends), len(tap)) == (2, 1) and {*ends, *tap} <= set(part.terminals):
            yield ends[0], ends[1], tap[0]
