"""The two sides of a comparison as bipartite graphs: parts against nodes, parts against places.

The drawing knows only *nodes*: what is electrically one. The board knows *places*, points where
something is soldered, and *wires* that join them. That difference is deliberate. A person mends
leads and wires, so the fewest errors are counted in leads and wires, not in nodes.

Furniture stands on both sides under the same name; its pins are the anchors. Tags of a strip, bolts
and node names are mere places, unless both files declare the strip. Everything else is a small
part and may be any part of its kind.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from buzzout.catalogue import device
from buzzout.circuit import CHASSIS, Circuit, Link, Part, Point, joined
from buzzout.compare.heaters import Halves, turned_heaters

UNSEEN = -1  # a lead whose far end nobody saw: it may land anywhere
FREE = -2  # a pin with nothing inside: what lands there asks for nothing
VOID = -3  # the node of places that belong to nothing on the drawing
_Place = Callable[[Point], int]
EARTH = "chassis"  # the chassis in the tables of pins, with the one pin ""


@dataclass(frozen=True, slots=True)
class Small:
    """A part that is known only by what it is; `at` is the node or place of each terminal."""

    part: Part
    at: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Wire:
    """All the links between two places, as one. `links` are the ones in the file.

    What a valve joins inside is `fixed`, and there are no links.
    """

    a: int
    b: int
    links: tuple[Link, ...]
    fixed: bool = False

    @property
    def movable(self) -> bool:
        """A single wire; what a strip or a bolt joins by itself has no end to lift."""
        return len(self.links) == 1 and self.links[0].how != "joint"


@dataclass(frozen=True)
class Drawing:
    """The reference side. `pins[furniture][pin]` is a node, or `FREE`."""

    circuit: Circuit
    nodes: tuple[tuple[Point, ...], ...]
    smalls: tuple[Small, ...]
    pins: Mapping[str, Mapping[str, int]]


@dataclass(frozen=True)
class Board:
    """The found side. `pins` go by the reference's name of the furniture, `called` by it too.

    `absent` are the places of pins and conductors that the found furniture has not got. So is the
    earth of a mains lead that nobody soldered anywhere: no other wire was meant to be that.
    """

    circuit: Circuit
    places: tuple[tuple[Point, ...], ...]
    smalls: tuple[Small, ...]
    pins: Mapping[str, Mapping[str, int]]
    wires: tuple[Wire, ...]
    called: Mapping[str, str]
    place_of: Mapping[Point, int]
    absent: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Pair:
    """Both sides, ready to be matched."""

    drawing: Drawing
    board: Board


def build(reference: Circuit, found: Circuit) -> Pair:
    """Both sides of a comparison.

    Cost: linear in parts and links but for the look-up of valve types.
    """
    called = same_furniture(reference, found)
    turned = tuple(turned_heaters(reference, found, called))
    return Pair(_drawing(reference, called, turned), _board(reference, found, called, turned))


def same_furniture(reference: Circuit, found: Circuit) -> dict[str, str]:
    """Reference name to found name for furniture that stands on both sides.

    Exact names first, then names that differ only in capitals. A bolt is never furniture here: it
    is a place on the chassis.
    """
    folded = {name.casefold(): name for name, part in found.parts.items() if part.furniture}
    table: dict[str, str] = {}
    taken: set[str] = set()
    for name, part in reference.parts.items():
        if not part.furniture or part.kind == "bond":
            continue
        there = name if name in found.parts else folded.get(name.casefold(), "")
        if there and found.parts[there].kind == part.kind and there not in taken:
            table[name] = there
            taken.add(there)
    return table


def placed(part: Part) -> bool:
    """A mere place: it is no part of the circuit, only somewhere to solder to."""
    return part.kind in ("strip", "bond")


def _drawing(circuit: Circuit, called: Mapping[str, str], turned: Sequence[Halves] = ()) -> Drawing:
    inside = [pair for name in called for pair in joined_inside(circuit.parts[name])]
    groups = joined(circuit.points, [*((x.a, x.b) for x in circuit.links), *inside])
    node_of = {point: i for i, group in enumerate(groups) for point in group}
    lone = {i for i, group in enumerate(groups) if len(group) == 1}
    pins = {EARTH: {"": node_of[CHASSIS]}}
    for name in called:
        part = circuit.parts[name]
        idle = _idle_pins(part)
        pins[name] = {
            t: FREE if node_of[part.point(t)] in lone and t in idle else node_of[part.point(t)]
            for t in part.terminals
        }
    for heater in turned:
        pins[heater.name][heater.two] = FREE
    smalls = tuple(
        Small(part, tuple(node_of[point] for point in part.points))
        for part in circuit.parts.values()
        if part.name not in called and not placed(part)
    )
    return Drawing(circuit, tuple(tuple(group) for group in groups), smalls, pins)


def _idle_pins(part: Part) -> frozenset[str]:
    """Pins that may serve as a tie point: nothing is inside them. Tags of a strip are such."""
    if part.kind == "strip":
        return frozenset(part.terminals)
    known = device(part.type) if part.type else None
    return known.unused if known else frozenset()


def joined_inside(part: Part) -> Iterator[tuple[Point, Point]]:
    """Pairs of pins that the valve itself joins."""
    known = device(part.type) if part.kind == "socket" and part.type else None
    for group in known.internal if known else ():
        first, *rest = sorted(group)
        for pin in rest:
            if {first, pin} <= set(part.terminals):
                yield part.point(first), part.point(pin)


def _board(
    reference: Circuit, circuit: Circuit, called: Mapping[str, str], turned: Sequence[Halves]
) -> Board:
    homes = _homes(circuit)
    places: dict[Point, int] = {}
    groups: list[list[Point]] = []

    def place(point: Point) -> int:
        home = homes.get(point, point)
        if home not in places:
            places[home] = len(groups)
            groups.append([home])
        if point not in places:
            places[point] = places[home]
            groups[places[home]].append(point)
        return places[point]

    pins = {EARTH: {"": place(CHASSIS)}}
    for name, there in called.items():
        wanted, part = reference.parts[name], circuit.parts[there]
        pins[name] = {t: place(Point(there, here)) for t, here in same_pins(wanted, part).items()}
    taken = set(called.values())
    smalls = tuple(
        Small(part, tuple(_seen_place(circuit, part, t, place) for t in part.terminals))
        for part in circuit.parts.values()
        if part.name not in taken and not placed(part)
    )
    inside = _inside_wires(reference, circuit, called)
    inside += [(Point(called[x.name], x.one), Point(called[x.name], x.two)) for x in turned]
    wires = _wires(circuit, place, inside)
    absent = frozenset(
        place
        for point, place in places.items()
        if point.owner in taken and point.pin and _nothing_there(circuit, point)
    )
    return Board(
        circuit, tuple(map(tuple, groups)), smalls, pins, wires, dict(called), dict(places), absent
    )


def _nothing_there(circuit: Circuit, pin: Point) -> bool:
    """The furniture has no such pin, or it is the earth of a mains lead and hangs in the air."""
    part = circuit.parts[pin.owner]
    earth = part.kind == "cord" and pin.pin == "E"
    return pin not in circuit.links_at and (earth or pin.pin not in part.terminals)


def _inside_wires(
    reference: Circuit, circuit: Circuit, called: Mapping[str, str]
) -> list[tuple[Point, Point]]:
    """What the wanted valve joins inside, seen on the found socket."""
    pairs = []
    for name, there in called.items():
        wanted = reference.parts[name]
        spelt = same_pins(wanted, circuit.parts[there])
        for a, b in joined_inside(wanted):
            pairs.append((Point(there, spelt[a.pin]), Point(there, spelt[b.pin])))
    return pairs


def same_pins(wanted: Part, part: Part) -> dict[str, str]:
    """Pin of the reference to pin of the found furniture: the same name, capitals aside.

    A pin that the found file does not know keeps the reference's name; nothing is wired to it.
    """
    folded = {t.casefold(): t for t in part.terminals}
    exact = set(part.terminals)
    return {t: t if t in exact else folded.get(t.casefold(), t) for t in wanted.terminals}


def _homes(circuit: Circuit) -> dict[Point, Point]:
    """Where each part's lead lands, followed to its end; bolts are the chassis."""
    step: dict[Point, Point] = {}
    for link in circuit.links:
        owner = circuit.parts.get(link.a.owner)
        if link.how == "lead" and owner and not owner.furniture and link.a not in step:
            step[link.a] = link.b
    for part in circuit.parts.values():
        if part.kind == "bond":
            step |= dict.fromkeys((*part.points, Point(part.name)), CHASSIS)
    homes: dict[Point, Point] = {}
    for start in step:
        point, trail = start, {start}
        while point in step and step[point] not in trail:
            point = step[point]
            trail.add(point)
        homes[start] = point
    return homes


def _seen_place(circuit: Circuit, part: Part, terminal: str, place: _Place) -> int:
    point = part.point(terminal)
    if terminal in part.unseen and point not in circuit.links_at:
        return UNSEEN
    return place(point)


def _wires(
    circuit: Circuit, place: _Place, inside: Iterable[tuple[Point, Point]]
) -> tuple[Wire, ...]:
    between: dict[tuple[int, int], list[Link]] = {}
    for link in circuit.links:
        a, b = sorted((place(link.a), place(link.b)))
        if a != b:
            between.setdefault((a, b), []).append(link)
    held = sorted({tuple(sorted((place(a), place(b)))) for a, b in inside})
    wires = [Wire(a, b, tuple(links)) for (a, b), links in between.items()]
    return (*wires, *(Wire(a, b, (), fixed=True) for a, b in held))


def found_nodes(board: Board) -> list[list[int]]:
    """Places that wires join."""
    return joined(range(len(board.places)), ((w.a, w.b) for w in board.wires))


def rings(board: Board) -> Iterator[tuple[int, ...]]:
    """Numbers of the wires of each ring that a wire closes with a spanning forest of the others."""
    up = _forest(board)
    tree = {number for _, number, _ in up.values()}
    for number, wire in enumerate(board.wires):
        if number in tree:
            continue
        ring, ends = [number], [wire.a, wire.b]
        while ends[0] != ends[1]:
            ends.sort(key=lambda place: up[place][2])
            far, step, _ = up[ends[1]]
            ends[1] = far
            ring.append(step)
        yield tuple(ring)


def _forest(board: Board) -> dict[int, tuple[int, int, int]]:
    """Each place's way towards the root: the next place, the wire there (-1 at a root), depth."""
    near: dict[int, list[tuple[int, int]]] = {}
    for number, wire in enumerate(board.wires):
        near.setdefault(wire.a, []).append((wire.b, number))
        near.setdefault(wire.b, []).append((wire.a, number))
    up: dict[int, tuple[int, int, int]] = {}
    for start in near:
        if start in up:
            continue
        up[start] = (start, -1, 0)
        edge = [start]
        for place in edge:
            for other, number in near[place]:
                if other not in up:
                    up[other] = (place, number, up[place][2] + 1)
                    edge.append(other)
    return up


@dataclass(frozen=True)
class Labelled:
    """Found nodes cut where they join anchors of different drawn nodes.

    `labels` give the drawn node whose anchors a group has, None for a group without. `suspects` are
    the wires that were cut.
    """

    groups: tuple[tuple[int, ...], ...]
    labels: tuple[int | None, ...]
    suspects: tuple[Wire, ...]


def labelled_groups(pair: Pair) -> Labelled:
    """Cut the found nodes half-way between anchors that do not belong together."""
    label = {
        place: pair.drawing.pins[name][pin]
        for name, pins in pair.board.pins.items()
        for pin, place in pins.items()
        if pair.drawing.pins[name][pin] != FREE
    }
    near: dict[int, list[int]] = {}
    for wire in pair.board.wires:
        near.setdefault(wire.a, []).append(wire.b)
        near.setdefault(wire.b, []).append(wire.a)
    edge = list(label)
    while edge:
        found = []
        for place in edge:
            for other in near.get(place, ()):
                if other not in label:
                    label[other] = label[place]
                    found.append(other)
        edge = found
    right = [w for w in pair.board.wires if label.get(w.a) == label.get(w.b)]
    suspects = tuple(w for w in pair.board.wires if label.get(w.a) != label.get(w.b))
    groups = joined(range(len(pair.board.places)), ((w.a, w.b) for w in right))
    rows = tuple(map(tuple, groups))
    return Labelled(rows, tuple(label.get(group[0]) for group in rows), suspects)


def live_nodes(pair: Pair) -> tuple[int, ...]:
    """Drawn nodes that a lead or a pin belongs to."""
    live = {node for small in pair.drawing.smalls for node in small.at}
    live |= {n for pins in pair.drawing.pins.values() for n in pins.values() if n != FREE}
    return tuple(sorted(live))
