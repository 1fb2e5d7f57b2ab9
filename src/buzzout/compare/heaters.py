"""Heaters with a middle, as in an ECC83: with both halves in parallel either way round is right."""

from __future__ import annotations

from collections import Counter, defaultdict
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
    with_it: Mapping[int, Counter[int]] | None = None
    for name, there in called.items():
        for one, two, tap in parallel_halves(reference.parts[name]):
            joint, middle = (Point(there, one), Point(there, two)), Point(there, tap)
            ends = drawn[Point(name, one)], drawn[Point(name, two)]
            other = drawn[Point(name, tap)]
            if ends[0] != ends[1] or ends[0] == other or frozenset(joint) not in beside:
                continue
            if with_it is None:
                with_it = _drawn_nodes(reference, found, called)
            here = with_it[board[joint[0]]]
            if board[joint[0]] != board.get(middle) and here[other] > here[ends[0]] - len(joint):
                yield Halves(name, one, two, tap)


def _drawn_nodes(
    reference: Circuit, found: Circuit, called: Mapping[str, str]
) -> Mapping[int, Counter[int]]:
    """Found node to how many pins of each drawn node are on it."""
    table: dict[int, Counter[int]] = defaultdict(Counter)
    table[found.node_of[CHASSIS]][reference.node_of[CHASSIS]] += 1
    for name, there in called.items():
        for pin in reference.parts[name].terminals:
            if (node := found.node_of.get(Point(there, pin))) is not None:
                table[node][reference.node_of[Point(name, pin)]] += 1
    return table


def parallel_halves(part: Part) -> Iterator[tuple[str, str, str]]:
    """The two ends and the middle of a heater that may be fed with its halves in parallel."""
    known = device(part.type) if part.kind == "socket" and part.type else None
    for heater in known.heaters if known else ():
        ends, tap = sorted((heater.one, heater.other), key=len, reverse=True)
        if (len(ends), len(tap)) == (2, 1) and {*ends, *tap} <= set(part.terminals):
            yield ends[0], ends[1], tap[0]
