"""Double entry: every lead has two ends and is seen twice, once from each.

A sighting is what one line under `at` says. Two sightings of the same thing from its two ends
make one confirmed part or wire. One alone stays open. Two that cannot both be true contradict
each other.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from buzzout.circuit import CHASSIS, Link, Part, Point, Span


@dataclass(frozen=True)
class Sighting:
    """One thing seen at `here`, going to `far` (None: not seen where).

    `part` is the part without its leads, None for a wire. `near_end` and `far_end` are the
    terminals of the part at the two ends. `whole` tells that one line gave both ends.
    """

    here: Point | None
    far: Point | None
    span: Span
    part: Part | None = None
    near_end: str = "1"
    far_end: str = "2"
    colour: str = ""
    note: str = ""
    photo: str = ""
    whole: bool = False
    loose: bool = False  # the far end is soldered to nothing

    @property
    def named(self) -> str:
        """The name that the restorer gave it, or ""."""
        return self.part.name if self.part is not None and not self.part.anonymous else ""


@dataclass(frozen=True)
class Contradiction:
    """Two lines that cannot both be right; `reason` says in what."""

    first: Span
    second: Span
    reason: str


@dataclass(frozen=True)
class Entered:
    """What double entry made of the sightings.

    `confirmed` and `open_` count leads and wires by their ends seen; `unmatched` are sightings
    whose far end has a heading of its own that does not show them, with that heading.
    """

    parts: tuple[Part, ...]
    links: tuple[Link, ...]
    contradictions: tuple[Contradiction, ...]
    unmatched: tuple[tuple[Sighting, Span], ...]


def enter(
    sightings: Iterable[Sighting],
    visited: Mapping[Point, Span],
    empty: Mapping[Point, Span] | None = None,
) -> Entered:
    """Match the sightings of each thing from its two ends.

    `visited` are the points with a heading, `empty` those of which it says: nothing.
    """
    pairs, alone = _paired(list(sightings))
    contradictions: list[Contradiction] = []
    merged: list[tuple[Sighting, Sighting | None]] = []
    for first, second in pairs:
        reason = _conflict(first, second)
        if reason:
            contradictions.append(Contradiction(first.span, second.span, reason))
        merged.append((first, second))
    crossed, alone = _crossed(alone, visited)
    for first, second in crossed:
        contradictions.append(Contradiction(first.span, second.span, _two_ends(first, second)))
        merged.append((replace(first, whole=False), None))
    for sighting in alone:
        if sighting.far is not None and empty and sighting.far in empty:
            reason = f"a lead goes to {sighting.far}, of which the other line says: nothing there"
            contradictions.append(Contradiction(sighting.span, empty[sighting.far], reason))
    merged += [(sighting, None) for sighting in alone]
    merged.sort(key=lambda pair: (pair[0].span.file, pair[0].span.line, pair[0].span.column))
    parts, links = _made(merged, {c.first for c in contradictions})
    unmatched = tuple(
        (s, visited[s.far])
        for s in alone
        if s.far is not None
        and s.far in visited
        and not s.whole
        and s.far != CHASSIS
        and s.far not in (empty or ())
    )
    return Entered(parts, links, tuple(contradictions), unmatched)


def _paired(
    sightings: list[Sighting],
) -> tuple[list[tuple[Sighting, Sighting]], list[Sighting]]:
    """Pair sightings that look at one another from the two ends, the best fit first."""
    groups: dict[tuple[object, ...], list[Sighting]] = defaultdict(list)
    for s in sightings:
        ends = frozenset((s.here, s.far))
        kind = s.part.kind if s.part else "wire"
        key = ("named", s.named, kind) if s.named else ("between", ends, kind)
        groups[key].append(s)
    pairs: list[tuple[Sighting, Sighting]] = []
    alone: list[Sighting] = []
    for group in groups.values():
        done, rest = _pair_group(group)
        pairs += done
        alone += rest
    return pairs, alone


def _pair_group(
    group: list[Sighting],
) -> tuple[list[tuple[Sighting, Sighting]], list[Sighting]]:
    rest = list(group)
    pairs: list[tuple[Sighting, Sighting]] = []
    # first those that agree in everything, then those that differ in what was read
    for agrees in (True, False):
        for first in list(rest):
            if first not in rest:
                continue
            for second in rest:
                if (
                    second is not first
                    and _opposite(first, second)
                    and (not agrees or not _conflict(first, second))
                ):
                    rest = [s for s in rest if s is not first and s is not second]
                    pairs.append((first, second))
                    break
    return pairs, rest


def _opposite(first: Sighting, second: Sighting) -> bool:
    """Tell whether two sightings can be the two ends of one thing."""
    if first.whole or second.whole:
        return first.whole and second.whole and bool(first.named) and first.span != second.span
    if first.here == second.here and first.far != first.here:
        return False
    if first.loose or second.loose:
        return False
    unseen = None in (first.far, second.far)
    return bool(first.named and unseen) or (first.here == second.far and first.far == second.here)


def _conflict(first: Sighting, second: Sighting) -> str:
    """Say in what two sightings of one thing disagree; "" when they do not."""
    if first.colour and second.colour and first.colour != second.colour:
        return f"the wire is {first.colour} on one line and {second.colour} on the other"
    a, b = first.part, second.part
    if a is None or b is None:
        return ""
    if a.value and b.value and a.value.value != b.value.value:
        return f"read as {a.value} on one line and {b.value} on the other"
    if a.type and b.type and a.type.lower() != b.type.lower():
        return f"read as {a.type} on one line and {b.type} on the other"
    polarised = a.swap == "reversed" and not {"polarity"} & (a.unread | b.unread)
    if polarised and first.near_end == second.near_end and not first.whole:
        return f"the {first.near_end} end is seen at both ends"
    return ""


def _crossed(
    alone: list[Sighting], visited: Mapping[Point, Span]
) -> tuple[list[tuple[Sighting, Sighting]], list[Sighting]]:
    """Find pairs such as: from A it goes to B, but B shows the same thing going to C."""
    by_heading: dict[Point | None, list[Sighting]] = defaultdict(list)
    for sighting in alone:
        if not sighting.whole:
            by_heading[sighting.here].append(sighting)
    pairs: list[tuple[Sighting, Sighting]] = []
    used: set[int] = set()
    for first in alone:
        if first.whole or first.far not in visited or id(first) in used:
            continue
        for second in by_heading[first.far]:
            if second is not first and id(second) not in used and _alike(first, second, visited):
                used |= {id(first), id(second)}
                pairs.append((first, second))
                break
    return pairs, [s for s in alone if id(s) not in used]


def _alike(first: Sighting, second: Sighting, visited: Mapping[Point, Span]) -> bool:
    kinds = [s.part.kind if s.part else "wire" for s in (first, second)]
    if kinds[0] != kinds[1] or _conflict(first, second):
        return False
    if kinds[0] == "wire":
        return bool(first.colour) and first.colour == second.colour and second.far in visited
    a, b = first.part, second.part
    return bool(a and b and a.value and b.value and a.value.value == b.value.value)


def _two_ends(first: Sighting, second: Sighting) -> str:
    far = second.far or "an end not seen"
    told = f"seen from {first.here} it goes to {first.far}; seen from {first.far} it goes to {far}"
    return f"{told} (or a line is missing at {first.far})"


def _made(
    merged: Iterable[tuple[Sighting, Sighting | None]], doubted: set[Span]
) -> tuple[tuple[Part, ...], tuple[Link, ...]]:
    parts: dict[str, Part] = {}
    links: list[Link] = []
    for first, second in merged:
        seen = 2 if second is not None else 1
        if first.part is None:
            links += _wire(first, second, seen)
            continue
        part = _united(first, second)
        if first.span in doubted:
            part = _doubtful(part, first, second)
        name, number = part.name, 2
        while part.name in parts:
            part = replace(part, name=f"{name}.{number}")
            number += 1
        ends = [(first.near_end, first.here), (first.far_end, _far(first, second))]
        unseen = frozenset(end for end, at in ends if at is None and not first.loose)
        parts[part.name] = replace(part, unseen=unseen)
        links += [
            Link(part.point(end), at, "lead", seen=seen, span=first.span, also=part.also)
            for end, at in ends
            if at is not None
        ]
    return tuple(parts.values()), tuple(links)


def _doubtful(part: Part, first: Sighting, second: Sighting | None) -> Part:
    """A part on which two lines disagree: what they disagree on counts as unread."""
    a, b = first.part, second.part if second else None
    unread = set(part.unread)
    if a and b and a.value and b.value and a.value.value != b.value.value:
        unread.add("value")
    if a and b and a.type and b.type and a.type.lower() != b.type.lower():
        unread.add("type")
    if a and b and first.near_end == second.near_end and a.swap == "reversed":  # type: ignore[union-attr]
        unread.add("polarity")
    value = None if "value" in unread else part.value
    kind = "" if "type" in unread else part.type
    return replace(part, unsure=True, unread=frozenset(unread), value=value, type=kind)


def _far(first: Sighting, second: Sighting | None) -> Point | None:
    """Take the far end from the other sighting where the first did not see it."""
    if first.far is None and second is not None:
        return second.here
    return first.far


def _wire(first: Sighting, second: Sighting | None, seen: int) -> Iterator[Link]:
    if first.here is None or first.far is None:
        return
    also = (second.span,) if second else ()
    colour = first.colour or (second.colour if second else "")
    yield Link(
        first.here, first.far, "wire", colour, seen, first.note, first.photo, first.span, also
    )


def _united(first: Sighting, second: Sighting | None) -> Part:
    """One part out of both sightings: what one did not read the other may have read."""
    part = first.part
    assert part is not None
    other = second.part if second else None
    if other is None or second is None:
        return part
    merged = {
        name: getattr(part, name) or getattr(other, name)
        for name in ("value", "measured", "voltage", "power", "current", "type", "marked", "note",
                     "photo", "style", "accepts")
    }  # fmt: skip
    unread = part.unread & other.unread
    return replace(
        part, **merged, unread=unread, unsure=part.unsure or other.unsure, also=(second.span,)
    )
