"""Planting errors on a chassis one on top of the other, and the book of those that there are."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from random import Random

from buzzout.catalogue import Base, base, device
from buzzout.circuit import CHASSIS, Circuit, Edit, Part, Point, apply

STRIP = "TS"  # strips of this name are only on the chassis: their tags are mere places


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
    return [p for p in circuit.parts.values() if p.kind == "socket" and base_of(p)]


def base_of(part: Part) -> Base | None:
    known = device(part.type) if part.type else None
    return base(part.base) or (base(known.base) if known else None)


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
        if what.harmless and any(set(what.about) & set(p.about) for p in planted):
            continue  # the halves of a socket wired mirror-wise are other pins
        where = touched(circuit, after)
        if not where or (overlap and near and not near & where):
            continue
        near = near or where
        planted.append(what)
        circuit = after
    return circuit, planted


def _tried(random: Random, circuit: Circuit, slips: Mapping[str, Slip]) -> Made:
    try:
        return slips[random.choice(sorted(slips))](random, circuit)
    except IndexError:  # nothing of the kind on this chassis
        return None


def touched(before: Circuit, after: Circuit) -> set[str]:
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
