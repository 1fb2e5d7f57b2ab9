"""Rectifier paths of a network: single diodes, and pairs of diodes with a winding between them.

A winding that touches nothing but diodes (a bridge) has no voltage of its own against the set; each
way in through one diode, along the winding and out through another is one path.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product

from buzzout.circuit import Part, pieces
from buzzout.electrics.models import PUBLISHED, law
from buzzout.electrics.network import Network
from buzzout.electrics.rectifier import SILICON, Law


@dataclass(frozen=True, slots=True)
class Diode:
    """One rectifying element between two nodes. `heated`: conducts only when warm."""

    name: str
    part: str
    a: int
    k: int
    law: Law
    heated: bool


@dataclass(frozen=True, slots=True)
class Way:
    """One path for pulses: node it leaves, node it feeds, and where its voltage comes from.

    `weights` are nodes with signs: the driving voltage is their sum. `parts` are its diodes.
    """

    name: str
    law: Law
    a: int
    k: int
    weights: tuple[tuple[int, float], ...]
    parts: tuple[str, ...]
    heated: bool


def diodes(net: Network) -> tuple[tuple[Diode, ...], tuple[str, ...]]:
    """All rectifying elements, and remarks on those whose law had to be assumed."""
    found, remarks = [], []
    for branch in net.branches:
        if branch.kind == "diode":
            a, k = net.ends(branch)
            part = net.circuit.parts[branch.part]
            found.append(Diode(branch.name, branch.part, a, k, _dry(net, part), heated=False))
    for valve in net.valves:
        if valve.kind != "diode":
            continue
        device = net.conditions.device(valve.type)
        if device is None or device.kind == "stabiliser":
            continue
        known = law(device)
        if known.origin != PUBLISHED:
            remarks.append(f"{valve.name}: drop of {valve.type} {known.origin}")
        a, k = (net.of[valve.electrodes[role]] for role in ("anode", "cathode"))
        indirectly = any(e.role == "cathode" for e in device.pins.values())
        found.append(Diode(valve.name, valve.part, a, k, known.law, heated=indirectly))
    return tuple(found), tuple(dict.fromkeys(remarks))


def _dry(net: Network, part: Part) -> Law:
    """Law of a diode or bridge that is no valve: by its type or style, else silicon."""
    device = net.conditions.device(part.type) if part.type else None
    if device is None and "selenium" in part.style:
        device = net.conditions.device("selenium rectifier")
    return SILICON if device is None else law(device).law


def ways(net: Network, found: tuple[Diode, ...]) -> tuple[Way, ...]:
    """Paths of pulses. Diodes on a winding of their own are paired, all others stand alone."""
    alone = lonely(net)
    paired: list[Way] = []
    used: set[str] = set()
    for piece in sorted(set(alone.values())):
        into = [d for d in found if alone.get(d.k) == piece and alone.get(d.a) != piece]
        out = [d for d in found if alone.get(d.a) == piece and alone.get(d.k) != piece]
        for first, last in product(into, out):
            if first.k != last.a and first.a != last.k:
                paired.append(_pair(first, last))
                used |= {first.name, last.name}
    singles = (_single(d) for d in found if d.name not in used and d.a != d.k)
    return (*paired, *singles)


def _single(d: Diode) -> Way:
    return Way(d.name, d.law, d.a, d.k, ((d.a, 1.0), (d.k, -1.0)), (d.part,), d.heated)


def _pair(first: Diode, last: Diode) -> Way:
    weights = ((last.a, 1.0), (first.k, -1.0), (first.a, 1.0), (last.k, -1.0))
    name = f"{first.name} and {last.name}"
    parts = tuple(dict.fromkeys((first.part, last.part)))
    heated = first.heated or last.heated
    return Way(name, in_series(first.law, last.law), first.a, last.k, weights, parts, heated)


def in_series(one: Law, two: Law) -> Law:
    """Law of two rectifiers that carry the same current."""
    if one.k > 0 and two.k > 0:
        drop = one.k ** (-2 / 3) + two.k ** (-2 / 3)
        return Law(k=drop**-1.5)
    if one.k == two.k == 0:
        return Law(knee=one.knee + two.knee, ohms=one.ohms + two.ohms)
    return one if one.k > 0 else two  # a valve's drop dwarfs a semiconductor's


def lonely(net: Network) -> dict[int, int]:
    """Nodes of windings that are tied to nothing but rectifiers, with the number of their piece."""
    tied = [b for b in net.branches if _ties(b.kind, b.value)]
    label = pieces(net.size, [net.ends(b) for b in tied])
    held = {label[net.chassis]}
    held |= {
        label[net.of[p]] for v in net.valves if v.kind != "diode" for p in v.electrodes.values()
    }
    wound = {label[net.of[b.a]] for b in tied if b.role == "winding"} - held
    return {node: label[node] for node in range(net.size) if label[node] in wound}


def _ties(kind: str, value: float) -> bool:
    """A capacitor across a winding, or from it to chassis, gives it a place as well."""
    return kind == "capacitor" or (kind == "resistor" and not math.isinf(value))
