"""Slips with small parts, leads and wires; each says what it did."""

from __future__ import annotations

from dataclasses import replace
from itertools import count
from random import Random

from planting import Made, done, harmful, small, touched

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
    if not touched(c, apply(c, [Cut(link.a, link.b)])):
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
