"""Wanted changes to the drawing: which of them the chassis has."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import permutations

from buzzout.circuit import (
    Change,
    Circuit,
    Cut,
    Edit,
    Element,
    Fit,
    Join,
    Move,
    Part,
    Point,
    Quantity,
    Remove,
    Rewire,
    apply,
)
from buzzout.job import PunchList
from buzzout.language.departures import Departure

Sorted = tuple[tuple[Departure, ...], tuple[Departure, ...]]


def carried_out(punch: PunchList, drawn: Circuit) -> Sorted:
    """The departures that the chassis shows, and those that it does not, or not yet in full.

    The comparison is against the drawing with all of them made: where it still differs at what one
    of them is about, that one is not carried out, or nobody has looked. A changed part must also
    be the new one and not the old: a comparison passes both where they differ by less than a
    tolerance, or where nobody wrote a rating down. `drawn` is the drawing without them.
    """
    open_ = [item.finding for item in punch.open]
    differ: set[str | Point] = {name for finding in open_ for name in finding.parts}
    differ |= {point for finding in open_ for point in finding.points}
    found = punch.comparison.found
    extra = [found.parts[name] for f in open_ for name in f.found if f.kind == "part-extra"]
    done: list[Departure] = []
    wanted: list[Departure] = []
    before = drawn
    for departure in punch.departures:
        about = {each for edit in departure.edits for each in _about(edit)}
        gone = [drawn.parts[e.part] for e in departure.edits if isinstance(e, Remove)]
        there = any(_same(old, drawn, new, found) for old in gone for new in extra)
        new = all(_is_new(edit, before, punch) for edit in departure.edits)
        (done if new and not there and about.isdisjoint(differ) else wanted).append(departure)
        before = apply(before, departure.edits)
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


def _is_new(edit: Edit, before: Circuit, punch: PunchList) -> bool:
    """Whether the part that an edit changes is seen to be as changed: one of several is not."""
    if not isinstance(edit, Change):
        return True
    found = punch.comparison.found.parts
    names = punch.comparison.matching.parts.get(edit.part, (edit.part,))
    if len(names) != 1 or names[0] not in found:
        return False
    old, now = before.parts[edit.part], found[names[0]]
    if old.type != edit.to.type and now.type == old.type:
        return False
    if not {*edit.to.style} - {*old.style} <= {*now.style}:
        return False
    return _nearer(old, edit.to, now) and all(
        _nearer(was, to, _section(now, to))
        for was, to in zip(old.elements, edit.to.elements, strict=False)
    )


def _section(part: Part, like: Element) -> Element | None:
    return next((e for e in part.elements if e.terminals == like.terminals), None)


def _nearer(old: Part | Element, new: Part | Element, now: Part | Element | None) -> bool:
    """Whether each figure that a change gives is written down, and nearer to it than before."""
    for word in ("value", "voltage", "power", "current"):
        was, to, read = (getattr(each, word, None) for each in (old, new, now))
        if to is None or (was is not None and was.value == to.value):
            continue
        if read is None or (was is not None and _apart(read, was) <= _apart(read, to)):
            return False
    return True


def _apart(one: Quantity, other: Quantity) -> float:
    """How far two figures are apart, as a ratio."""
    return abs(math.log(one.value / other.value)) if one.value and other.value else math.inf


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
