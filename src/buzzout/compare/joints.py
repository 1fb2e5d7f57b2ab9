"""Leads that others are soldered to, given a joint of their own.

Then each lead can be lifted, and its part taken out, while what else is soldered there stays.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from buzzout.circuit import Circuit, Link, Point, joined


def jointed(circuit: Circuit) -> Circuit:
    """The circuit with a point for each joint that was known only by the leads in it.

    What is soldered to a lead lands where that lead lands; where it lands nowhere else, on a joint
    named after it: `R5-2` for what is soldered to `R5.2`.
    """
    smalls = (part for part in circuit.parts.values() if not part.furniture)
    leads = dict.fromkeys(p for part in smalls for p in part.points)
    used = {p for link in circuit.links for p in _soldered_to(link) if p in leads}
    if not used:
        return circuit
    between = (
        (x.a, x.b) for x in circuit.links if x.how == "lead" and x.a in leads and x.b in leads
    )
    bunches = [b for b in joined(leads, between) if not used.isdisjoint(b)]
    joint = _joints(circuit, bunches, used)
    return circuit.but(links=_relinked(circuit, joint))


def _soldered_to(link: Link) -> tuple[Point, ...]:
    """The points that something else is soldered to by a link."""
    return (link.b,) if link.how == "lead" else (link.a, link.b)


def _joints(circuit: Circuit, bunches: list[list[Point]], used: set[Point]) -> dict[Point, Point]:
    """Each lead of a bunch, and the point that is its joint."""
    taken = {point.owner for point in circuit.points}
    joint: dict[Point, Point] = {}
    for bunch in bunches:
        own = {lead: circuit.landing(lead) for lead in bunch}
        home = next((at for at in own.values() if at not in own), None)
        if home is None:
            name = str(next(lead for lead in bunch if lead in used)).replace(".", "-")
            while name in taken:
                name += "'"
            taken.add(name)
            home = Point(name)
        joint |= dict.fromkeys(bunch, home)
    return joint


def _relinked(circuit: Circuit, joint: Mapping[Point, Point]) -> Iterator[Link]:
    """The links, those of bunches at their joints; each lead has one of its own."""
    lacking = set(joint)
    for link in circuit.links:
        a, b = joint.get(link.a, link.a), joint.get(link.b, link.b)
        lead = link.how == "lead" and link.a in joint
        if lead and link.a in lacking:
            lacking.discard(link.a)
            yield replace(link, b=a)
        if a != b:
            yield replace(link, a=a, b=b, how="wire" if lead else link.how)
    yield from (Link(lead, at, "lead") for lead, at in joint.items() if lead in lacking)
