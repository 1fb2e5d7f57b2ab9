"""Grids that hang in the air: nothing leads direct current to or from them.

A grid needs a way for the little current that it takes; without one it drifts, and the valve cuts
off, blocks or hums. Whatever can carry direct current counts, switches in every position. A plug, a
connector and a named node that nothing but one lead touches lead out of the file.
"""

from __future__ import annotations

from collections.abc import Iterator

from buzzout.catalogue import Device, device
from buzzout.circuit import CHASSIS, Circuit, Part, Point
from buzzout.circuit.circuit import pieces

_GRIDS = ("grid", "mixer-grid", "oscillator-grid")
_BLOCKS = ("capacitor", "electrolytic")
_OUTSIDE = ("jack", "connector", "cord")
_IDLE = (*_GRIDS, "unused", "shield", "suppressor")  # electrodes that hold no grid


def floating(circuit: Circuit) -> Iterator[tuple[Part, Device, Point]]:
    """Each control grid of a wired section that nothing holds, with its socket and valve."""
    groups = _direct(circuit)
    held = {groups[n] for n in _holding(circuit)}
    for part, valve in _valves(circuit):
        told: set[str] = set()
        for section in valve.sections:
            pins = {r: p for r, p in section.pins.items() if p in part.terminals}
            if "anode" not in pins or not _used(circuit, part.point(pins["anode"])):
                continue
            for pin in (pins[role] for role in _GRIDS if role in pins):
                point = part.point(pin)
                if pin not in told and groups[circuit.node_of[point]] not in held:
                    told.add(pin)
                    yield part, valve, point


def _used(circuit: Circuit, anode: Point) -> bool:
    """Whether an anode is wired, and not laid to the chassis as one that is not used."""
    return anode in circuit.links_at and circuit.node_of[anode] != circuit.node_of[CHASSIS]


def _valves(circuit: Circuit) -> Iterator[tuple[Part, Device]]:
    for part in circuit.parts.values():
        valve = device(part.type) if part.kind == "socket" and part.type else None
        if valve is not None:
            yield part, valve


def _direct(circuit: Circuit) -> list[int]:
    """A number for each node, the same where direct current leads from one to the other."""
    ends = (
        (circuit.node_of[part.point(terminals[0])], circuit.node_of[part.point(other)])
        for part in circuit.parts.values()
        for terminals in _ways(part)
        for other in terminals[1:]
    )
    return pieces(len(circuit.nodes), ends)


def _ways(part: Part) -> Iterator[tuple[str, ...]]:
    """Terminals of a part between which direct current may flow."""
    if part.elements:
        yield from (e.terminals for e in part.elements if e.kind not in (*_BLOCKS, "conductor"))
    elif part.kind not in (*_BLOCKS, *_OUTSIDE, "socket", "strip", "can", "bond"):
        yield part.terminals


def _holding(circuit: Circuit) -> Iterator[int]:
    """Nodes that hold a grid: chassis, other electrodes, ways out of the file."""
    yield circuit.node_of[CHASSIS]
    known = {part.name: valve for part, valve in _valves(circuit)}
    for part in circuit.parts.values():
        if part.kind in _OUTSIDE or (part.kind == "socket" and part.name not in known):
            yield from (circuit.node_of[p] for p in part.points)
        elif part.kind == "socket":
            pins = known[part.name].pins
            for t in part.terminals:
                if t in pins and pins[t].role not in _IDLE:
                    yield circuit.node_of[part.point(t)]
    for name in circuit.names:
        if len(circuit.links_at.get(Point(name), ())) == 1:
            yield circuit.node_of[Point(name)]
