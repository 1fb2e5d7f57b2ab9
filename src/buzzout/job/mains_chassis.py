"""Rules of what can be touched: mains and chassis, protective earth, live-chassis sets."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Collection, Iterator

from buzzout.circuit import CHASSIS, Circuit, Part, Point, listed
from buzzout.job.passages import Passage
from buzzout.job.rulebook import Violation, figure, violation
from buzzout.job.supplyline import SupplyLine, series
from buzzout.job.told import amps, leak, names, spot, through

_ANY = ("resistor", "capacitor", "diode", "winding", "lamp", "fuse", "contact", "track", "heater")


def line_to_chassis(side: SupplyLine) -> Iterator[Violation]:
    """A conductor that meets the chassis through wires, fuses and contacts alone."""
    if side.transformerless:
        return
    for pin, name in (("L", "line"), ("N", "neutral")):
        point = side.conductor(pin)
        if point is None:
            continue
        goal = frozenset({side.chassis})
        path = side.ways.path([side.ways.node(point)], goal, series)
        if path is not None:
            text = f"the {name} is joined to the chassis through {through(path)}"
            parts = (*names(path), point.owner)
            yield violation("line-to-chassis", text, parts, (point, CHASSIS))


def path_to_chassis(side: SupplyLine) -> Iterator[Violation]:
    """Ways from any live node to chassis or earth; one for each separate piece between them."""
    if side.transformerless:
        return
    for path, start in pieces(side, side.bare):
        yield _path(side, "path-to-chassis", path, start, "the chassis")


def across_mains(side: SupplyLine) -> Iterator[Violation]:
    """Capacitors with both ends at mains voltage that nobody says are made for it."""
    for passage in side.ways.passages:
        ends = side.ways.nodes((passage.a, passage.b))
        if passage.how != "capacitor" or len(ends) < 2 or not ends <= side.live:
            continue
        if not passage.part.mains_class:
            text = f"{passage} lies across the mains, and no mains class is noted on it"
            points = tuple(side.circuit.landing(p) for p in (passage.a, passage.b))
            yield violation("across-mains", text, (passage.part.name,), points)


def path_to_outside(side: SupplyLine) -> Iterator[Violation]:
    """Ways from any live node to a jack, a connector or a speaker that do not pass the chassis."""
    for path, start in pieces(side, side.outside - side.live, side.bare):
        yield _path(side, "path-to-outside", path, start, _outside(side, path[-1]))


def _outside(side: SupplyLine, last: Passage) -> str:
    """The point at the end of a way that a person can touch."""
    nodes = side.ways.nodes((last.a, last.b)) & side.outside
    points = (p for node in sorted(nodes) for p in side.circuit.nodes[node].points)
    kinds = ("jack", "connector", "speaker")
    parts = side.circuit.parts
    return next(str(p) for p in points if p.owner in parts and parts[p.owner].kind in kinds)


def pieces(
    side: SupplyLine, goal: frozenset[int], avoid: frozenset[int] = frozenset()
) -> Iterator[tuple[tuple[Passage, ...], int]]:
    """The shortest way from the live nodes to `goal` through each separate piece, with its start.

    A piece is what hangs together once the live nodes and the goal are taken away. A part that
    joins the two directly is a piece of its own.
    """
    walls = side.live | goal | avoid
    done: set[int] = set()
    order = (side.line_side, side.neutral_side - side.line_side, side.live)
    for start in dict.fromkeys(node for group in order for node in sorted(group)):
        for first, far in side.ways.at.get(start, ()):
            if far in goal and first.how not in ("fuse", "contact"):
                yield (first,), start
            elif far not in walls and far not in done:
                piece = side.ways.reached([far], _any, walls)
                done |= piece
                entry = frozenset(side.live)
                rest = side.ways.path([far], goal, _any, entry | avoid)
                if rest:
                    yield (first, *rest), start


def _any(passage: Passage) -> bool:
    return passage.how in _ANY


def _path(
    side: SupplyLine, rule: str, path: tuple[Passage, ...], start: int, end: str
) -> Violation:
    current = leak(path, side.volts, side.hertz)
    verb = "leads" if len(names(path)) == 1 else "lead"
    text = f"{through(path)} {verb} from {_live(side, start)} to {end}"
    if not math.isnan(current):
        text += f" and can pass {amps(current)} at {side.volts:g} V {side.hertz:g} Hz"
    about = "note" if _class_y(path) and bonded(side) and _small(current) else ""
    points = dict.fromkeys((spot(side.circuit, start), *_ends(side, path)))
    return violation(rule, text, names(path), tuple(points), about=about)


def _live(side: SupplyLine, node: int) -> str:
    point = spot(side.circuit, node)
    if node in side.line_side:
        return f"the line (at {point})"
    if node in side.neutral_side:
        return f"the neutral (at {point})"
    return f"the mains winding (at {point})"


def _ends(side: SupplyLine, path: tuple[Passage, ...]) -> Iterator[Point]:
    """Where the leads of the first and the last part land."""
    for step in (path[0], path[-1]):
        yield from (side.circuit.landing(p) for p in (step.a, step.b))


def _class_y(path: tuple[Passage, ...]) -> bool:
    """Whether a capacitor of class Y stands in the way, made for this place."""
    return any({"y1", "y2"} & {s.lower() for s in step.part.style} for step in path)


def _small(current: float) -> bool:
    return current * 1e3 <= figure("y-milliamps")


def bonded(side: SupplyLine) -> bool:
    """Whether the protective earth conductor is the chassis, through wires and a bolt alone."""
    return side.earth >= 0 and side.earth == side.chassis


def live_outside(side: SupplyLine) -> Iterator[Violation]:
    """Contacts of jacks and connectors that are the chassis of a set without a transformer."""
    if not side.transformerless:
        return
    kinds = ("jack", "connector", "speaker")
    parts = [part for part in side.circuit.parts.values() if part.kind in kinds]
    points = [p for part in parts for p in part.points if side.ways.node(p) == side.chassis]
    if points:
        owners = tuple(dict.fromkeys(p.owner for p in points))
        text = f"{listed(points)} {'is' if len(points) == 1 else 'are'} the live chassis"
        yield violation("live-outside", text, owners, tuple(points))


def earth_bonded(side: SupplyLine) -> Iterator[Violation]:
    """A protective earth conductor that is not the chassis."""
    point = side.conductor("E")
    if point is None or bonded(side) or side.transformerless:
        return
    path = side.ways.path([side.earth], frozenset([side.chassis]), _any, side.live)
    if path:
        text = f"{point} reaches the chassis only through {through(path)}"
    else:
        text = f"{point} is not joined to the chassis"
    yield violation("earth-bonded", text, (point.owner, *names(path or ())), (point, CHASSIS))


def earth_straight(side: SupplyLine) -> Iterator[Violation]:
    """A protective earth that comes to the chassis by other points than a bolt of its own.

    A connector or strip at which line or neutral land too is the entry of the lead and may stand
    between. Where no bolt is told of, the chassis itself stands for it.
    """
    start = side.conductor("E")
    if start is None or not bonded(side) or side.transformerless:
        return
    parts = side.circuit.parts
    bolts = [p for part in parts.values() if part.kind == "bond" for p in part.points]
    way = _wires(side.circuit, start, bolts) or _wires(side.circuit, start, [CHASSIS])
    passed = [p for p in way[1:-1] if p.owner in parts and not _entry(side, parts[p.owner])]
    whose, bolt = f"the earth of {start.owner}", listed(bolts, "or")
    if passed:
        straight = "straight " * (way[-1] in bolts)
        ends = f"does not go {straight}to {bolt}" if bolts else "has no bolt of its own"
        text = f"{whose} {ends}: it passes {listed(passed)}"
        yield violation("earth-straight", text, (start.owner,), (start, *passed))
    elif bolts and way[-1] not in bolts:
        text = f"{whose} goes to the chassis, and nobody wrote that it is at {bolt}"
        yield violation("earth-straight", text, (start.owner,), (start,), about="fault")


def _wires(circuit: Circuit, start: Point, goal: Collection[Point]) -> tuple[Point, ...]:
    """The points on a shortest way by wires alone that does not cross the chassis, if any."""
    ways: deque[tuple[Point, ...]] = deque([(start,)])
    seen = {start, CHASSIS} - set(goal)
    while ways:
        way = ways.popleft()
        if way[-1] in goal:
            return way
        for far in (x.other(way[-1]) for x in circuit.links if x.touches(way[-1])):
            if far not in seen:
                seen.add(far)
                ways.append((*way, far))
    return ()


def _entry(side: SupplyLine, part: Part) -> bool:
    """Whether a part is where the mains lead comes in."""
    mains = side.line_side | side.neutral_side
    return part.kind in ("connector", "strip") and bool(mains & side.ways.nodes(part.points))


def earth_on_mains(side: SupplyLine) -> Iterator[Violation]:
    """The earth conductor meets a live node through wires, fuses and contacts."""
    point = side.conductor("E")
    if point is None or side.earth == side.chassis:
        return
    path = side.ways.path([side.earth], side.live, series, frozenset([side.chassis]))
    if path is None and side.earth in (side.line, side.neutral):
        path = ()
    if path is not None:
        text = f"the earth conductor {point} is on the mains through {through(path)}"
        yield violation("earth-on-mains", text, (point.owner, *names(path)), (point,))


def no_earth(side: SupplyLine) -> Iterator[Violation]:
    """A two-core lead on a set that ought to be earthed."""
    cord = side.cord
    if cord is not None and "E" not in cord.terminals and side.isolated:
        text = f"the mains lead {cord.name} has two cores and no protective earth"
        yield violation("no-earth", text, (cord.name,), (cord.point("L"),))


def live_chassis(side: SupplyLine) -> Iterator[Violation]:
    """No isolating transformer, and the mains comes to the chassis or near it."""
    if not side.transformerless:
        return
    start = {side.line, side.neutral} - {-1}
    path = side.ways.path(start, frozenset([side.chassis]), _any)
    cord = side.cord.name if side.cord else ""
    if path is None:
        text = "no transformer separates the set from the mains"
    elif path:
        text = f"no transformer separates the set from the mains: {through(path)} leads to chassis"
    else:
        text = "no transformer separates the set from the mains: a conductor is the chassis"
    yield violation("live-chassis", text, (cord,) if cord else (), (CHASSIS,))
