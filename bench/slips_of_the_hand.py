"""Planting errors on a chassis, one slip of the hand at a time; each says what it did."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import combinations, count
from random import Random

from buzzout.catalogue import Base, base, device, difference
from buzzout.circuit import (
    CHASSIS,
    Change,
    Circuit,
    Cut,
    Edit,
    Fit,
    Join,
    Link,
    Move,
    Part,
    Point,
    Remove,
    Rewire,
    apply,
)
from buzzout.compare.values import kin

FACTORS = (0.1, 0.22, 0.47, 2.2, 4.7, 10.0)
OTHER_COLOUR = {"1": "2", "2": "3", "3": "4", "4": "3", "5": "6", "6": "7", "7": "8", "8": "7"}
STRIP = "TS"  # strips of this name are only on the chassis: their tags are mere places
VALVES = ("ECC83", "ECC82", "EF86", "EL84", "6V6", "EZ81")


@dataclass(frozen=True)
class Planted:
    """An error: the kind to be reported, what it costs, and the names that the report must contain.

    `about` are names of found small parts, of furniture, or of drawn parts that are gone; empty for
    wires, which may be told from either end.
    """

    kind: str
    about: tuple[str, ...] = ()
    cost: int = 1
    harmless: bool = False


Made = tuple[Circuit, Planted] | None
Slip = Callable[[Random, Circuit], Made]
HARMFUL: dict[str, Slip] = {}
HARMLESS: dict[str, Slip] = {}


def harmful(slip: Slip) -> Slip:
    HARMFUL[slip.__name__] = slip
    return slip


def harmless(slip: Slip) -> Slip:
    HARMLESS[slip.__name__] = slip
    return slip


def done(circuit: Circuit, edits: list[Edit], kind: str, *about: str, cost: int = 1) -> Made:
    return apply(circuit, edits), Planted(kind, about, cost)


def small(circuit: Circuit) -> list[Part]:
    return [p for p in circuit.parts.values() if not p.furniture]


def sockets(circuit: Circuit) -> list[Part]:
    return [p for p in circuit.parts.values() if p.kind == "socket" and _base(p)]


def _base(part: Part) -> Base | None:
    known = device(part.type) if part.type else None
    return base(part.base) or (base(known.base) if known else None)


def places(circuit: Circuit) -> list[Point]:
    """Points that something is soldered to, and empty pins."""
    out = {CHASSIS: None}
    for part in circuit.parts.values():
        if part.furniture and part.kind not in ("strip", "bond"):
            out |= dict.fromkeys(part.points)
    for link in circuit.links:
        for point in (link.a, link.b):
            owner = circuit.parts.get(point.owner)
            if owner is None or owner.furniture:
                out[point] = None
    return list(out)


def elsewhere(random: Random, circuit: Circuit, old: Point) -> Point:
    """A point of another node, rather a neighbour of the old one."""
    node = circuit.node_of[old]
    others = [p for p in places(circuit) if circuit.node_of[p] != node]
    near = [p for p in others if p.owner == old.owner]
    return random.choice(near if near and random.random() < 0.6 else others)


# ---- parts


@harmful
def part_missing(random: Random, c: Circuit) -> Made:
    part = random.choice(small(c))
    return done(c, [Remove(part.name)], "part-missing", part.name, part.note)


@harmful
def part_extra(random: Random, c: Circuit) -> Made:
    model = random.choice([p for p in small(c) if len(p.terminals) == 2])
    number = next(n for n in count(900 + len(c.parts)) if f"@{n}" not in c.parts)
    part = replace(model, name=f"@{number}", note="")
    a = random.choice(places(c))
    ends = zip(part.terminals, (a, elsewhere(random, c, a)), strict=True)
    return done(c, [Fit(part, tuple(ends))], "part-extra", part.name)


@harmful
def value_wrong(random: Random, c: Circuit) -> Made:
    part = random.choice([p for p in small(c) if p.value])
    value = replace(part.value, value=part.value.value * random.choice(FACTORS), text="")
    return done(c, [Change(part.name, replace(part, value=value))], "value-wrong", part.name)


@harmful
def one_band(random: Random, c: Circuit) -> Made:
    """One colour of a resistor taken for another: the first digit or the multiplier."""
    part = random.choice([p for p in small(c) if p.kind == "resistor"])
    first = f"{part.value.value:.3e}"[0]
    factor = random.choice((0.1, 10.0))
    if first in OTHER_COLOUR and random.random() < 0.5:
        factor = int(OTHER_COLOUR[first]) / int(first)
    if 0.8 <= factor <= 1.25:
        return None
    value = replace(part.value, value=part.value.value * factor, text="")
    return done(c, [Change(part.name, replace(part, value=value))], "value-wrong", part.name)


@harmful
def drifted(random: Random, c: Circuit) -> Made:
    part = random.choice([p for p in small(c) if p.kind == "resistor" and not p.measured])
    reads = replace(part.value, value=part.value.value * random.choice((1.4, 1.8)), text="")
    return done(c, [Change(part.name, replace(part, measured=reads))], "value-drifted", part.name)


@harmful
def under_rated(random: Random, c: Circuit) -> Made:
    part = random.choice([p for p in small(c) if p.voltage])
    volts = replace(part.voltage, value=part.voltage.value / 2, text="")
    return done(c, [Change(part.name, replace(part, voltage=volts))], "under-rated", part.name)


@harmful
def other_type(random: Random, c: Circuit) -> Made:
    part = random.choice([p for p in small(c) if p.kind == "diode" and p.type])
    other = random.choice([t for t in ("1N4007", "1N4148", "OA81") if t != part.type])
    return done(c, [Change(part.name, replace(part, type=other))], "wrong-type", part.name)


@harmful
def other_kind(random: Random, c: Circuit) -> Made:
    """A resistor where a capacitor belongs, or the other way round."""
    part = random.choice([p for p in small(c) if p.kind in ("resistor", "capacitor") and p.value])
    there = random.choice([p for p in small(c) if p.kind in ("resistor", "capacitor") and p.value])
    if there.kind == part.kind:
        return None
    ends = tuple((t, c.landing(part.point(t))) for t in part.terminals)
    fitted = replace(there, name=part.name, note="")
    return done(c, [Remove(part.name), Fit(fitted, ends)], "wrong-type", part.name)


@harmful
def reversed_part(random: Random, c: Circuit) -> Made:
    part = random.choice([p for p in small(c) if p.swap == "reversed"])
    a, b = part.terminals
    return done(c, [Rewire(part.name, ((a, b), (b, a)))], "reversed", part.name)


@harmful
def values_exchanged(random: Random, c: Circuit) -> Made:
    """Two parts in each other's place, far enough apart that neither may stand for the other."""
    a = random.choice([p for p in small(c) if p.value])
    b = random.choice([
        p for p in small(c)
        if kin(p.kind, a.kind) and p.value and not 0.4 < p.value.value / a.value.value < 2.5
    ])  # fmt: skip
    edits = [*_in_place_of(c, a, b), *_in_place_of(c, b, a)]
    return done(c, edits, "values-exchanged", a.name, b.name)


def _in_place_of(c: Circuit, old: Part, new: Part) -> list[Edit]:
    """The one part fitted for the other, terminal for terminal."""
    ends = zip(new.terminals, map(c.landing, old.points), strict=True)
    return [Remove(old.name), Fit(replace(new, name=old.name), tuple(ends))]


@harmful
def lead_moved(random: Random, c: Circuit) -> Made:
    part = random.choice(small(c))
    point = random.choice(part.points)
    old = c.landing(point)
    return done(c, [Move(point, old, elsewhere(random, c, old))], "wrong-point", part.name)


@harmful
def leads_exchanged(random: Random, c: Circuit) -> Made:
    one, two = random.sample(small(c), 2)
    a, b = random.choice(one.points), random.choice(two.points)
    p, q = c.landing(a), c.landing(b)
    if c.node_of[p] == c.node_of[q]:
        return None
    return done(c, [Move(a, p, q), Move(b, q, p)], "leads-exchanged", one.name, two.name, cost=2)


# ---- wires


def wires(c: Circuit) -> list[Link]:
    return [x for x in c.links if x.how == "wire"]


@harmful
def wire_moved(random: Random, c: Circuit) -> Made:
    link = random.choice(wires(c))
    if not _touched(c, apply(c, [Cut(link.a, link.b)])):
        return None  # nobody would miss it where it was: this would be a bridge
    fixed, old = random.sample((link.a, link.b), 2)
    if old.owner in c.parts and c.parts[old.owner].kind == "cord" and old.pin == "E":
        return None  # the earth does not come off at the mains lead's own end
    return done(c, [Move(fixed, old, elsewhere(random, c, old))], "wrong-point")


@harmful
def wire_missing(random: Random, c: Circuit) -> Made:
    link = random.choice(wires(c))
    return done(c, [Cut(link.a, link.b)], "connection-missing")


@harmful
def bridge(random: Random, c: Circuit) -> Made:
    a = random.choice(places(c))
    return done(c, [Join(a, elsewhere(random, c, a), "blue")], "bridge")


# ---- furniture


@harmful
def pins_exchanged(random: Random, c: Circuit) -> Made:
    part = random.choice(sockets(c))
    used = [p for p in part.points if c.links_at.get(p)]
    a = random.choice(used)
    others = [p for p in used if c.node_of[p] != c.node_of[a]]
    b = random.choice(sorted(others, key=lambda p: abs(int(p.pin) - int(a.pin)))[:3])
    if {a.pin, b.pin} in _alike(part):
        return None
    return done(
        c, [Rewire(part.name, ((a.pin, b.pin), (b.pin, a.pin)))], "pins-exchanged", part.name
    )


def _alike(part: Part) -> list[set[str]]:
    """Pins that may be exchanged: heater ends, anodes of one cathode."""
    known = device(part.type)
    return [set(e.pins) for e in known.exchanges()] if known else []


@harmful
def mirrored(random: Random, c: Circuit) -> Made:
    part = random.choice(sockets(c))
    return done(c, [_renumbered(part, _base(part).mirrored())], "socket-mirrored", part.name)


@harmful
def shifted(random: Random, c: Circuit) -> Made:
    part = random.choice(sockets(c))
    table = _base(part).shifted(random.choice((1, -1, 2)))
    return done(c, [_renumbered(part, table)], "socket-shifted", part.name)


def _renumbered(part: Part, table: Mapping[str, str]) -> Rewire:
    return Rewire(part.name, tuple(table.items()))


@harmful
def wrong_valve(random: Random, c: Circuit) -> Made:
    part = random.choice([p for p in sockets(c) if p.type])
    allowed = (part.type, *part.accepts)
    other = random.choice([v for v in VALVES if not any(difference(t, v).same for t in allowed)])
    change = Change(part.name, replace(part, type=other))
    return done(c, [change], "wrong-valve", part.name)


@harmful
def sockets_exchanged(random: Random, c: Circuit) -> Made:
    """The wiring of two sockets of one kind, each on the other; the valves may be unlike."""
    pairs = [(a, b) for a, b in combinations(sockets(c), 2) if a.terminals == b.terminals]
    a, b = random.choice(pairs)
    to = {a.name: b.name, b.name: a.name}
    new = lambda p: Point(to.get(p.owner, p.owner), p.pin)  # noqa: E731
    moved = [replace(x, a=new(x.a), b=new(x.b)) for x in c.links]
    return c.but(links=moved), Planted("sockets-exchanged", (a.name, b.name))


@harmful
def pot_ends(random: Random, c: Circuit) -> Made:
    part = random.choice([p for p in c.parts.values() if p.kind == "pot" and "ccw" in p.terminals])
    return done(c, [_turned(part, "ccw", "cw")], "pot-ends-exchanged", part.name)


def _turned(part: Part, a: str, b: str) -> Rewire:
    return Rewire(part.name, ((a, b), (b, a)))


@harmful
def winding(random: Random, c: Circuit) -> Made:
    part = random.choice([p for p in c.parts.values() if any(e.dot for e in p.elements)])
    a, b = random.choice([e for e in part.elements if e.dot and len(e.terminals) == 2]).terminals
    return done(c, [_turned(part, a, b)], "winding-reversed", part.name)


@harmful
def other_tap(random: Random, c: Circuit) -> Made:
    """What is on one tap of a winding lands on its neighbour, where nothing was."""
    part, element = random.choice([
        (p, e) for p in c.parts.values() for e in p.elements
        if e.kind == "winding" and len(e.terminals) > 2
    ])  # fmt: skip
    a, b = random.choice([
        (a, b) for a, b in combinations(element.terminals, 2)
        if bool(c.links_at.get(part.point(a))) != bool(c.links_at.get(part.point(b)))
    ])  # fmt: skip
    return done(c, [_turned(part, a, b)], "wrong-tap", part.name)


@harmful
def can_sections(random: Random, c: Circuit) -> Made:
    part = random.choice([
        p for p in c.parts.values() if p.kind == "can" and len({e.value for e in p.elements}) > 1
    ])  # fmt: skip
    one = random.choice(part.elements)
    two = random.choice([e for e in part.elements if e.value != one.value])
    return done(c, [_turned(part, one.label, two.label)], "sections-exchanged", part.name)


@harmful
def strip_backwards(random: Random, c: Circuit) -> Made:
    """Only of a strip that the drawing has as well."""
    drawn = [p for p in c.parts.values() if p.kind == "strip" and not p.name.startswith(STRIP)]
    part = random.choice(drawn)
    table = dict(zip(part.terminals, reversed(part.terminals), strict=True))
    return done(c, [_renumbered(part, table)], "strip-reversed", part.name)


@harmless
def halves(random: Random, c: Circuit) -> Made:
    part = random.choice([p for p in sockets(c) if device(p.type) and len(p.terminals) == 9])
    table = random.choice([e for e in device(part.type).exchanges() if "sections" in e.name]).pins
    planted = Planted("sections-exchanged", (part.name,), 0, harmless=True)
    return apply(c, [_renumbered(part, table)]), planted


# ---- several


def plant(
    random: Random,
    circuit: Circuit,
    count: int,
    slips: Mapping[str, Slip] = HARMFUL,
    *,
    overlap: bool = False,
) -> tuple[Circuit, list[Planted]]:
    """A copy with `count` errors, one on top of the other; with `overlap` each is near the first.

    A slip that leaves everything joined as it was (a wire to an empty tag cut) is not counted.
    """
    planted: list[Planted] = []
    near: set[str] = set()
    for _ in range(200 * count):
        if len(planted) == count:
            break
        made = _tried(random, circuit, slips)
        if made is None:
            continue
        after, what = made
        if what.about and any((what.kind, what.about) == (p.kind, p.about) for p in planted):
            continue  # mirrored twice is not mirrored
        touched = _touched(circuit, after)
        if not touched or (overlap and near and not near & touched):
            continue
        near = near or touched
        planted.append(what)
        circuit = after
    return circuit, planted


def _tried(random: Random, circuit: Circuit, slips: Mapping[str, Slip]) -> Made:
    try:
        return slips[random.choice(sorted(slips))](random, circuit)
    except IndexError:  # nothing of the kind on this chassis
        return None


def _touched(before: Circuit, after: Circuit) -> set[str]:
    """Parts that the change is about or that it hangs on; none if all is joined as it was."""
    kept = {id(x) for x in before.links} & {id(x) for x in after.links}
    old, new = ({x for x in c.links if id(x) not in kept} for c in (before, after))
    owners = {p.owner for x in old ^ new for p in (x.a, x.b)}
    others = {n for n, p in after.parts.items() if before.parts.get(n) is not p}
    others |= before.parts.keys() - after.parts.keys()
    if not others and _joined(before, owners) == _joined(after, owners):
        return set()
    known = before.parts.keys() | after.parts.keys()
    return {n for n in owners | others if n in known and not n.startswith(STRIP)}


def _joined(circuit: Circuit, near: set[str]) -> set[frozenset[Point]]:
    """The pins and leads that are one, for every node that the owners have a point of."""
    nodes = {circuit.node_of[p] for p in circuit.points if p.owner in near}
    real = {n for n in circuit.parts if not n.startswith(STRIP)}
    groups: dict[int, set[Point]] = {node: set() for node in nodes}
    for point, node in circuit.node_of.items():
        if node in nodes and (point.owner in real or point == CHASSIS):
            groups[node].add(point)
    return {frozenset(g) for g in groups.values() if g}
