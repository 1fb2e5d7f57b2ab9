"""Boards with random errors: bridges, opens, shorts, moved leads, parts gone. Reproducible."""

from __future__ import annotations

import random
from dataclasses import replace

from buzzout.circuit import Join, Move, Remove, apply


def spoiled(circuit, seed, most=4):
    """The circuit with one to `most` random errors."""
    rng = random.Random(seed)
    for _ in range(rng.randint(1, most)):
        circuit = rng.choice([bridge, opened, short, moved, gone])(circuit, rng)
    return circuit


def bridge(circuit, rng):
    a, b = rng.sample(list(circuit.points), 2)
    return apply(circuit, [Join(a, b)])


def opened(circuit, rng):
    links = list(circuit.links)
    del links[rng.randrange(len(links))]
    return replace(circuit, links=tuple(links))


def short(circuit, rng):
    small = [p for p in circuit.parts.values() if len(p.terminals) == 2]
    part = rng.choice(small)
    return apply(circuit, [Join(*part.points)])


def moved(circuit, rng):
    link = rng.choice(circuit.links)
    return apply(circuit, [Move(link.a, link.b, rng.choice(circuit.points))])


def gone(circuit, rng):
    small = [p.name for p in circuit.parts.values() if not p.furniture]
    return apply(circuit, [Remove(rng.choice(small))])
