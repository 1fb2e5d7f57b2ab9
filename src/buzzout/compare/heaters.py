"""Heaters with a middle, as in an ECC83: with both halves in parallel either way round is right."""

from __future__ import annotations

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
    """Heaters in parallel halves that may be fed the other way round, ends joined on both sides.

    To the valve it is the same. Such ends count as one pin then, the first, and the wire between
    them is as good as inside the valve.
    """
    beside = {frozenset((x.a, x.b)) for x in found.links if x.a.owner == x.b.owner}
    for name, there in called.items():
        for one, two, tap in parallel_halves(reference.parts[name]):
            ends, other = [Point(name, one), Point(name, two)], Point(name, tap)
            joint = frozenset((Point(there, one), Point(there, two)))
            drawn, board = reference.node_of, found.node_of
            if drawn[ends[0]] == drawn[ends[1]] != drawn[other] and joint in beside:
                mine, middle = board[Point(there, one)], board.get(Point(there, tap))
                if mine != middle and _anchored_as(reference, found, called, drawn[other], mine):
                    yield Halves(name, one, two, tap)


def _anchored_as(
    reference: Circuit, found: Circuit, called: Mapping[str, str], node: int, there: int
) -> bool:
    """Whether a found node has pins of other furniture that a drawn node should have."""
    group = found.nodes[there].points
    back = {found: name for name, found in called.items()} | {CHASSIS.owner: CHASSIS.owner}
    return any(
        reference.node_of.get(Point(back[p.owner], p.pin)) == node for p in group if p.owner in back
    )


def parallel_halves(part: Part) -> Iterator[tuple[str, str, str]]:
    """The two ends and the middle of a heater that may be fed with its halves in parallel."""
    known = device(part.type) if part.kind == "socket" and part.type else None
    for heater in known.heaters if known else ():
        ends, tap = sorted((heater.one, heater.other), key=len, reverse=True)
        if (len(ends), len(tap)) == (2, 1) and {*ends, *tap} <= set(part.terminals):
            yield ends[0], ends[1], tap[0]
