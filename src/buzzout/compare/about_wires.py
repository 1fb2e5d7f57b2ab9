"""Findings about wires: one too many, on the wrong point, missing."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from buzzout.circuit import CHASSIS, Circuit, Cut, Edit, Join, Link, Move, Part, Point, joined
from buzzout.compare.findings import Finding
from buzzout.compare.furniture import AS_DRAWN
from buzzout.compare.model import FREE, VOID
from buzzout.compare.spots import distance
from buzzout.compare.story import Story, tell
from buzzout.compare.words import both, found_part, lead, wire

BESIDE = (0, 1)  # the distance of a tag from the next one


@dataclass(frozen=True)
class Shift:
    """One end of a lead or wire that sits on `old` and belongs on `new`.

    `here` is the node it is on, `to` the one where it belongs. `part` is the drawn part whose lead
    it is, `seen` the found one. `among` are the points that a wire may land on, if not all.
    """

    what: str
    fixed: Point
    old: Point
    new: Point
    here: int
    to: int
    part: Part | None = None
    seen: Part | None = None
    links: tuple[Link, ...] = ()
    among: frozenset[Point] | None = None

    def may_land_on(self, point: Point) -> bool:
        """A lead may land anywhere on its node, a wire only where it joins what is apart."""
        return self.among is None or point in self.among


def on_wrong_point(shift: Shift) -> Finding:
    """The finding that an end lands where it does not belong."""
    text = f"{shift.what} lands on {shift.old}; it belongs on {shift.new}"
    return tell(
        "wrong-point",
        text,
        f"lift it from {shift.old} and land it on {shift.new}",
        about=[shift.part] if shift.part else [],
        seen=[shift.seen] if shift.seen else [],
        points=(shift.old, shift.new),
        remedy=[_move(shift)],
        spans=[x.span for x in shift.links],
    )


def _move(shift: Shift) -> Edit:
    """The edit that moves the end; a lead that hangs in the air has only to be landed."""
    if shift.fixed == shift.old:
        return Join(shift.fixed, shift.new)
    return Move(shift.fixed, shift.old, shift.new)


class Wires:
    """Wrong wires, and the connections that are missing; a wrong wire moved makes up for both."""

    def __init__(self, story: Story) -> None:
        """Sort the wires of the board by the nodes that the match has at their ends."""
        self.story = story
        self.node_at = story.match.node_at
        wires = story.board.wires
        self.wrong = [
            n for n, w in enumerate(wires) if self.node_at[w.a] != self.node_at[w.b] and not w.fixed
        ]
        right = [(w.a, w.b) for w in wires if self.node_at[w.a] == self.node_at[w.b]]
        right += story.inside()
        self.group: dict[int, int] = {}
        at = [Point("place", str(k)) for k in range(len(story.board.places))]
        for g, group in enumerate(joined(at, ((at[a], at[b]) for a, b in right))):
            self.group |= {int(p.pin): g for p in group}
        self.kept = set(self.wrong)
        self._left: set[int] = set()

    def _groups(self, node: int) -> dict[int, list[int]]:
        """The pieces that a node is in: group to its places."""
        table: dict[int, list[int]] = defaultdict(list)
        for place in self.story.spots.places_of.get(node, []):
            if place not in self._left:
                table[self.group[place]].append(place)
        return table

    def moved(self) -> list[Shift]:
        """Wrong wires that, with one end moved, make a connection that is missing."""
        shifts = []
        for number, node in sorted(_assigned(self._wishes(), self._lacks()).items()):
            wire_there = self.story.board.wires[number]
            fixed, old = wire_there.a, wire_there.b
            if self.node_at[fixed] != node:
                fixed, old = old, fixed
            if shift := self._shift(number, fixed, old):
                shifts.append(shift)
                self.kept.discard(number)
        return shifts

    def _wishes(self) -> dict[int, list[int]]:
        """The nodes that each wrong wire could serve."""
        lacks = self._lacks()
        table = {}
        for number in self.wrong:
            w = self.story.board.wires[number]
            if not w.movable:
                continue
            nodes = {self.node_at[w.a], self.node_at[w.b]}
            table[number] = sorted(n for n in nodes if lacks.get(n, 0))
        return table

    def _lacks(self) -> dict[int, int]:
        """How many connections each node lacks that a wire with its end moved could make."""
        return {n: len(self._there(n)) - 1 for n in self.story.spots.places_of}

    def _there(self, node: int) -> dict[int, list[int]]:
        """The pieces of a node but for pins and conductors that the board has not got."""
        absent = self.story.board.absent
        groups = self._groups(node)
        return {g: places for g, places in groups.items() if not absent.issuperset(places)}

    def _shift(self, number: int, fixed: int, old: int) -> Shift | None:
        node = self.node_at[fixed]
        groups = self._there(node)
        here = self.group[fixed]
        others = [k for g, places in groups.items() if g != here for k in places]
        if not others:
            return None
        point, old_point = self._end(number, fixed), self._end(number, old)
        new = min(others, key=lambda k: (*distance(self.story.spots.point(k), old_point), k))
        piece = frozenset(self.story.spots.point(k) for k in groups[self.group[new]])
        self._unite(here, self.group[new])
        links = self.story.board.wires[number].links
        return Shift(
            wire(links[0], point),
            point,
            old_point,
            self.story.spots.point(new),
            self.node_at[old],
            node,
            links=links,
            among=piece,
        )

    def _end(self, number: int, place: int) -> Point:
        """The very point of the link that lies on a place."""
        link = self.story.board.wires[number].links[0]
        at = self.story.board.place_of
        return link.a if at[link.a] == place else link.b

    def _unite(self, a: int, b: int) -> None:
        self.group = {k: a if g == b else g for k, g in self.group.items()}

    def bridges(self) -> Iterator[Finding]:
        """Wires that join two nodes and serve neither."""
        for number in sorted(self.kept):
            links = self.story.board.wires[number].links
            a, b = links[0].a, links[0].b
            text = f"{wire(links[0], a)} to {b} joins what should be apart"
            what = "connection" if links[0].how == "joint" else "wire"
            yield tell(
                "bridge",
                text,
                f"take the {what} between {a} and {b} away",
                points=(a, b),
                remedy=[Cut(x.a, x.b) for x in links],
                spans=[x.span for x in links],
            )

    def missing(self) -> Iterator[Finding]:
        """Connections that a node lacks."""
        for node in sorted(self.story.spots.places_of):
            while len(groups := self._groups(node)) > 1:
                if shift := next(self._slips(node, groups), None):
                    yield on_wrong_point(shift)
                    continue
                ordered = sorted(groups.values(), key=lambda places: (-len(places), places))
                a, b = self._nearest(ordered[0], [k for g in ordered[1:] for k in g])
                self._unite(self.group[a], self.group[b])
                yield self.join(self.story.spots.point(a), self.story.spots.point(b))

    def _slips(self, node: int, groups: Mapping[int, list[int]]) -> Iterator[Shift]:
        """Ends alone on a point that the drawing leaves free, beside what they should join.

        Lifted and landed one tag on, they make the connection: no wire was ever taken away. A wire
        that the drawing names may have been landed further off. What is told is left out from
        then on.
        """
        point = self.story.spots.point
        for g, places in groups.items():
            others = [k for h, them in groups.items() if h != g for k in them]
            others = [k for k in others if k not in self.story.board.absent]
            for old in places:
                link = self._alone(node, old)
                if link is None or (link.how == "lead" and len(places) > 1) or not others:
                    continue
                fixed = link.other(point(old))
                drawn = [k for k in others if point(k) in self._wired_to(fixed)]
                new = min(drawn or others, key=lambda k: (*distance(point(k), point(old)), k))
                if drawn or distance(point(new), point(old)) == BESIDE:
                    self._left.add(old)
                    self._unite(g, self.group[new])
                    yield self._slip(link, fixed, point(old), point(new), node)

    def _alone(self, node: int, place: int) -> Link | None:
        """The only lead or wire on a place of which the drawing asks nothing for the node."""
        point, *more = self.story.board.places[place]
        links = self.story.found.links_at.get(point, ())
        if more or len(links) != 1 or links[0].how not in ("lead", "wire"):
            return None
        drawn = self._drawn(point)
        turned = self.story.match.turns.get(drawn.owner, (AS_DRAWN,)) != (AS_DRAWN,)
        return None if turned or drawn in self.story.drawing.nodes[node] else links[0]

    def _slip(self, link: Link, fixed: Point, old: Point, new: Point, node: int) -> Shift:
        part = self.story.found.parts.get(fixed.owner)
        if link.how == "wire" or part is None:
            return Shift(wire(link, fixed), fixed, old, new, node, node, links=(link,))
        wanted = self.story.wanted(part)
        name = (
            both(wanted, self.story.found, part) if wanted else found_part(self.story.found, part)
        )
        what = f"{lead(fixed.pin)} of {name}"
        return Shift(what, fixed, old, new, node, node, wanted, part, (link,))

    def _nearest(self, ours: list[int], others: list[int]) -> tuple[int, int]:
        """Two places to join: as the drawing has it, else near ones; used ones before bare ones."""
        point = self.story.spots.point
        at = {point(b): b for b in others}
        drawn = [(a, at[far]) for a in ours for far in self._wired_to(point(a)) if far in at]
        on: dict[str, list[int]] = defaultdict(list)
        for a in ours:
            on[point(a).owner].append(a)
        near = [(a, b) for b in others for a in on.get(point(b).owner, ())]
        used = self.story.found.links_at
        return min(
            drawn or [*near, (min(ours), min(others))],
            key=lambda pair: (
                sum(point(k) not in used for k in pair),
                *distance(point(pair[0]), point(pair[1])),
                pair,
            ),
        )

    def _wired_to(self, point: Point) -> Iterator[Point]:
        """The points that the drawing joins to this one by a link, as the board calls them."""
        called, circuit = self.story.board.called, self.story.drawing.circuit
        drawn = self._drawn(point)
        for link in circuit.links_at.get(drawn, ()):
            far = link.other(drawn)
            yield Point(called.get(far.owner, far.owner), far.pin)

    def _drawn(self, point: Point) -> Point:
        """A point of the board as the drawing calls it."""
        return Point(self._names.get(point.owner, point.owner), point.pin)

    @cached_property
    def _names(self) -> Mapping[str, str]:
        return {there: name for name, there in self.story.board.called.items()}

    def dropped(self, shift: Shift) -> bool:
        """A lead alone on tags that the drawing does not name, far from where it belongs.

        A wire from there is gone: rather that than a lead so far off.
        """
        board = self.story.board
        place = board.place_of.get(shift.old)
        if place is None or shift.part is None or distance(shift.new, shift.old) == BESIDE:
            return False
        group = {k for k, g in self.group.items() if g == self.group[place]}
        named = any(not group.isdisjoint(pins.values()) for pins in board.pins.values())
        return not named and sum(k in group for small in board.smalls for k in small.at) == 1

    def join(self, one: Point, two: Point) -> Finding:
        """The finding that two points should be joined."""
        for loose, place in ((one, two), (two, one)):
            part = self.story.found.parts.get(loose.owner)
            if part is not None and not part.furniture:
                return _hanging(self.story.found, part, loose, place)
        here, to = (two, one) if one == CHASSIS else (one, two)
        said = self._bolt(here) if to == CHASSIS else to
        if said.owner in self.story.found.parts:
            to = said
        return tell(
            "connection-missing",
            f"{here} and {said} are not joined; the drawing joins them",
            f"add a wire from {here} to {said}",
            points=(here, to),
            remedy=(Join(here, to),),
        )

    def _bolt(self, here: Point) -> Point:
        """The bolt of its own that the drawing leads a pin to; the chassis where it names none."""
        drawn = self._drawn(here)
        circuit = self.story.drawing.circuit
        for far in (link.other(drawn) for link in circuit.links_at.get(drawn, ())):
            part = circuit.parts.get(far.owner)
            if part is not None and part.kind == "bond":
                return far
        return CHASSIS


def _hanging(found: Circuit, part: Part, loose: Point, place: Point) -> Finding:
    """A lead that is soldered to nothing."""
    end = lead(loose.pin)
    return tell(
        "connection-missing",
        f"{end} of {found_part(found, part)} is soldered to nothing; it belongs on {place}",
        f"land it on {place}",
        seen=(part,),
        points=(place,),
        remedy=(Join(loose, place),),
        spans=(part.span,),
    )


def _assigned(wishes: Mapping[int, list[int]], room: Mapping[int, int]) -> dict[int, int]:
    """Most wires that can serve a node each, no node served oftener than it lacks connections.

    Augmenting paths (Kuhn 1955); the wires are few.
    """
    serves: dict[int, int] = {}

    def place(wire_number: int, tried: set[int]) -> bool:
        for node in wishes[wire_number]:
            if node in tried or node in (VOID, FREE):
                continue
            tried.add(node)
            there = [w for w, n in serves.items() if n == node]
            if len(there) < room.get(node, 0) or any(place(w, tried) for w in there):
                serves[wire_number] = node
                return True
        return False

    for number in sorted(wishes):
        place(number, set())
    return serves
