"""Planting errors on a chassis, one slip of the hand at a time; each says what it did."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from random import Random

from buzzout.catalogue import base
from buzzout.circuit import (
    CHASSIS,
    Change,
    Circuit,
    Cut,
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

VALUES = (0.1, 0.22, 0.47, 2.2, 4.7, 10.0)


@dataclass(frozen=True)
class Planted:
    """An error: the kind to be reported, the found names or points it is about, its cost."""

    kind: str
    about: tuple[str, ...]
    cost: int = 1
    harmless: bool = False


Slip = Callable[[Random, Circuit, Circuit], tuple[Circuit, Planted] | None]


def small(circuit: Circuit) -> list[Part]:
    return [p for p in circuit.parts.values() if not p.furniture]


def ends(circuit: Circuit, part: Part) -> list[Point]:
    return [circuit.landing(p) for p in part.points]


def places(circuit: Circuit) -> list[Point]:
    """Points that something is soldered to, and empty pins."""
    out = {CHASSIS: None}
    for part in circuit.parts.values():
        if part.furniture and part.kind != "strip":
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


def part_missing(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted]:
    part = random.choice(small(c))
    return apply(c, [Remove(part.name)]), Planted("part-missing", (part.name,))


def part_extra(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted]:
    model = random.choice(small(c))
    name = f"@{900 + len(c.parts)}"
    a = random.choice(places(c))
    fit = Fit(
        replace(model, name=name),
        tuple(zip(model.terminals, (a, elsewhere(random, c, a)), strict=True)),
    )
    return apply(c, [fit]), Planted("part-extra", (name,))


def value_wrong(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted]:
    part = random.choice([p for p in small(c) if p.value])
    value = replace(part.value, value=part.value.value * random.choice(VALUES), text="")
    return (
        apply(c, [Change(part.name, replace(part, value=value))]),
        Planted("value-wrong", (part.name,)),
    )


def drifted(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted]:
    part = random.choice([p for p in small(c) if p.kind == "resistor"])
    reads = replace(part.value, value=part.value.value * random.choice((1.4, 1.8)), text="")
    return (
        apply(c, [Change(part.name, replace(part, measured=reads))]),
        Planted("value-drifted", (part.name,)),
    )


def under_rated(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted] | None:
    some = [p for p in small(c) if p.voltage]
    if not some:
        return None
    part = random.choice(some)
    volts = replace(part.voltage, value=part.voltage.value / 2, text="")
    return (
        apply(c, [Change(part.name, replace(part, voltage=volts))]),
        Planted("under-rated", (part.name,)),
    )


def reversed_part(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted] | None:
    some = [p for p in small(c) if p.swap == "reversed"]
    if not some:
        return None
    part = random.choice(some)
    a, b = part.terminals
    return apply(c, [Rewire(part.name, ((a, b), (b, a)))]), Planted("reversed", (part.name,))


def values_exchanged(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted] | None:
    a = random.choice([p for p in small(c) if p.value])
    some = [
        p
        for p in small(c)
        if p.kind == a.kind and p.value and not 0.5 < p.value.value / a.value.value < 2
    ]
    if not some:
        return None
    b = random.choice(some)
    swap = [Change(a.name, b), Change(b.name, a)]
    return apply(c, swap), Planted("values-exchanged", (a.name, b.name))


def lead_moved(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted]:
    part = random.choice(small(c))
    point = random.choice(part.points)
    old = c.landing(point)
    new = elsewhere(random, c, old)
    return apply(c, [Move(point, old, new)]), Planted("wrong-point", (part.name,))


def wires(c: Circuit) -> list[Link]:
    return [x for x in c.links if x.how == "wire"]


def wire_moved(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted]:
    link = random.choice(wires(c))
    fixed, old = random.sample((link.a, link.b), 2)
    new = elsewhere(random, c, old)
    return apply(c, [Move(fixed, old, new)]), Planted("wrong-point", (str(fixed), str(new)))


def wire_missing(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted]:
    link = random.choice(wires(c))
    return apply(c, [Cut(link.a, link.b)]), Planted(
        "connection-missing", (str(link.a), str(link.b))
    )


def bridge(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted]:
    a = random.choice(places(c))
    b = elsewhere(random, c, a)
    return apply(c, [Join(a, b, "blue")]), Planted("bridge", (str(a), str(b)))


def pins_exchanged(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted] | None:
    part = random.choice([p for p in c.parts.values() if p.kind == "socket"])
    used = [p for p in part.points if c.links_at.get(p)]
    a = random.choice(used)
    nodes = [p for p in used if c.node_of[p] != c.node_of[a]]
    b = random.choice(sorted(nodes, key=lambda p: abs(int(p.pin) - int(a.pin)))[:3])
    edit = Rewire(part.name, ((a.pin, b.pin), (b.pin, a.pin)))
    return apply(c, [edit]), Planted("pins-exchanged", (part.name, a.pin, b.pin))


def leads_exchanged(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted] | None:
    one, two = random.sample(small(c), 2)
    a, b = random.choice(one.points), random.choice(two.points)
    p, q = c.landing(a), c.landing(b)
    if c.node_of[p] == c.node_of[q]:
        return None
    edits = [Move(a, p, q), Move(b, q, p)]
    return apply(c, edits), Planted("leads-exchanged", (one.name, two.name), cost=2)


def mirrored(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted]:
    part = random.choice([p for p in c.parts.values() if p.kind == "socket"])
    table = tuple(base(part.base).mirrored().items())
    return apply(c, [Rewire(part.name, table)]), Planted("socket-mirrored", (part.name,))


def shifted(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted]:
    part = random.choice([p for p in c.parts.values() if p.kind == "socket"])
    table = tuple(base(part.base).shifted(random.choice((1, -1, 2))).items())
    return apply(c, [Rewire(part.name, table)]), Planted("socket-shifted", (part.name,))


def pot_ends(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted] | None:
    some = [p for p in c.parts.values() if p.kind == "pot"]
    if not some:
        return None
    part = random.choice(some)
    edit = Rewire(part.name, (("ccw", "cw"), ("cw", "ccw")))
    return apply(c, [edit]), Planted("pot-ends-exchanged", (part.name,))


def winding(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted] | None:
    some = [p for p in c.parts.values() if any(e.dot for e in p.elements)]
    if not some:
        return None
    part = random.choice(some)
    e = random.choice(part.elements)
    a, b = e.terminals
    return apply(c, [Rewire(part.name, ((a, b), (b, a)))]), Planted(
        "winding-reversed", (part.name,)
    )


def wrong_valve(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted]:
    part = random.choice([p for p in c.parts.values() if p.kind == "socket"])
    valve = random.choice([v for v in ("ECC83", "ECC82", "EF86", "EL84") if v != part.type])
    return apply(c, [Change(part.name, replace(part, type=valve))]), Planted(
        "wrong-valve", (part.name,)
    )


def sockets(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted] | None:
    some = [p for p in c.parts.values() if p.kind == "socket"]
    pairs = [
        (a, b)
        for a in some
        for b in some
        if a.name < b.name and a.base == b.base and a.type == b.type
    ]
    if not pairs:
        return None
    a, b = random.choice(pairs)
    table = {p: Point(b.name, p.pin) for p in a.points} | {
        p: Point(a.name, p.pin) for p in b.points
    }
    moved = [replace(x, a=table.get(x.a, x.a), b=table.get(x.b, x.b)) for x in c.links]
    return c.but(links=moved), Planted("sockets-exchanged", (a.name, b.name))


def halves(random: Random, c: Circuit, _d: Circuit) -> tuple[Circuit, Planted] | None:
    some = [
        p for p in c.parts.values() if p.type in ("ECC83", "ECC81", "ECC82") and p.kind == "socket"
    ]
    if not some:
        return None
    part = random.choice(some)
    table = tuple(zip("123678", "678123", strict=True))
    return apply(c, [Rewire(part.name, table)]), Planted(
        "sections-exchanged", (part.name,), 0, True
    )


HARMFUL: dict[str, Slip] = {
    f.__name__: f
    for f in (
        part_missing,
        part_extra,
        value_wrong,
        drifted,
        under_rated,
        reversed_part,
        values_exchanged,
        lead_moved,
        wire_moved,
        wire_missing,
        bridge,
        pins_exchanged,
        leads_exchanged,
        mirrored,
        shifted,
        pot_ends,
        winding,
        wrong_valve,
        sockets,
    )
}
HARMLESS: dict[str, Slip] = {"halves": halves}


def plant(
    random: Random,
    circuit: Circuit,
    reference: Circuit,
    count: int,
    slips: dict[str, Slip] = HARMFUL,
) -> tuple[Circuit, list[Planted]]:
    """A copy with `count` errors, one on top of the other."""
    planted: list[Planted] = []
    for _ in range(100 * count):
        if len(planted) == count:
            break
        name = random.choice(sorted(slips))
        try:
            made = slips[name](random, circuit, reference)
        except IndexError:
            continue
        if made:
            circuit, what = made
            planted.append(what)
    return circuit, planted


def each(
    random: Random, circuit: Circuit, reference: Circuit
) -> Iterator[tuple[str, Circuit, Planted]]:
    for name, slip in HARMFUL.items():
        made = slip(random, circuit, reference)
        if made:
            yield name, *made
