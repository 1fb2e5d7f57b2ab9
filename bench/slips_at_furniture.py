"""Slips at sockets, controls, cans, coils and strips; each says what it did."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import combinations
from random import Random

from planting import STRIP, Made, Planted, base_of, done, harmful, harmless, sockets

from buzzout.catalogue import device, difference
from buzzout.circuit import Change, Circuit, Part, Point, Rewire, apply

VALVES = ("ECC83", "ECC82", "EF86", "EL84", "6V6", "EZ81")


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
    return done(c, [_renumbered(part, base_of(part).mirrored())], "socket-mirrored", part.name)


@harmful
def shifted(random: Random, c: Circuit) -> Made:
    part = random.choice(sockets(c))
    table = base_of(part).shifted(random.choice((1, -1, 2)))
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
    return _crossed(c, a, b), Planted("sockets-exchanged", (a.name, b.name))


def _crossed(c: Circuit, a: Part, b: Part) -> Circuit:
    to = {a.name: b.name, b.name: a.name}
    new = lambda p: Point(to.get(p.owner, p.owner), p.pin)  # noqa: E731
    return c.but(links=[replace(x, a=new(x.a), b=new(x.b)) for x in c.links])


@harmful
def wiring_exchanged(random: Random, c: Circuit) -> Made:
    """The wiring of two controls, cans or coils with the same pins, each on the other."""
    like = [p for p in c.parts.values() if p.kind in ("pot", "can", "transformer")]
    pairs = [
        (a, b) for a, b in combinations(like, 2) if (a.kind, a.terminals) == (b.kind, b.terminals)
    ]
    a, b = random.choice(pairs)
    return _crossed(c, a, b), Planted("wiring-exchanged", (a.name, b.name))


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
