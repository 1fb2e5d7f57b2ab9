"""Wanted changes to the drawing: which of them the chassis has."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations

from buzzout.circuit import Change, Circuit, Cut, Edit, Fit, Join, Move, Part, Point, Remove, Rewire
from buzzout.job import PunchList
from buzzout.language.departures import Departure

Sorted = tuple[tuple[Departure, ...], tuple[Departure, ...]]


def carried_out(punch: PunchList, drawn: Circuit) -> Sorted:
    """The departures that the chassis shows, and those that it does not, or not yet in full.

    The comparison is against the drawing with all of them made: where it still differs at what one
    of them is about, that one is not carried out, or nobody has looked. `drawn` is the drawing
    without them.
    """
    open_ = [item.finding for item in punch.open]
    differ: set[str | Point] = {name for finding in open_ for name in finding.parts}
    differ |= {point for finding in open_ for point in finding.points}
    found = punch.comparison.found
    extra = [found.parts[name] for f in open_ for name in f.found if f.kind == "part-extra"]
    done: list[Departure] = []
    wanted: list[Departure] = []
    for departure in punch.departures:
        about = {each for edit in departure.edits for each in _about(edit)}
        gone = [drawn.parts[e.part] for e in departure.edits if isinstance(e, Remove)]
        there = any(_same(old, drawn, new, found) for old in gone for new in extra)
        (wanted if there or not about.isdisjoint(differ) else done).append(departure)
    return tuple(done), tuple(wanted)


def _about(edit: Edit) -> Iterator[str | Point]:
    """The parts and points that an edit touches."""
    match edit:
        case Remove(name) | Change(name) | Rewire(name):
            yield name
        case Fit(part):
            yield part.name
        case Join(a, b) | Cut(a, b):
            yield from (a, b)
        case Move(fixed, old, new):
            yield from (fixed, old, new)


def _same(old: Part, drawn: Circuit, new: Part, found: Circuit) -> bool:
    """Whether a part of the chassis lies where a part of the drawing did: it has no name there."""
    if old.kind != new.kind or len(old.points) != len(new.points):
        return False
    was, now = _around(old, drawn), _around(new, found)
    return any(
        all(not a.isdisjoint(b) for a, b in zip(was, turned, strict=True))
        for turned in permutations(now)
    )


def _around(part: Part, circuit: Circuit) -> list[set[Point]]:
    """The points that each lead of a part is joined to."""
    of = circuit.node_of
    nodes = [of[point] for point in part.points]
    return [{p for p, node in of.items() if node == own} - {*part.points} for own in nodes]
