"""How high on the sheet each node wants to be: HT 1, mains and anodes below, chassis 0."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from buzzout.catalogue import device
from buzzout.circuit import CHASSIS, Circuit, Part

SUPPLY_NAME = re.compile(r"^(HT|B\+|H\.T\.?|EHT|BIAS)", re.IGNORECASE)
ROUNDS = 20  # so many times free nodes settle between their neighbours
_MAINS = 0.95
_HEIGHT = {"anode": 0.8, "screen": 0.85, "grid": 0.45, "cathode": 0.3}


def heights(circuit: Circuit) -> dict[int, float]:
    """The height of every node."""
    fixed: dict[int, float] = {circuit.node(CHASSIS): 0.0}
    for node in circuit.nodes:
        if SUPPLY_NAME.match(node.name):
            fixed[node.index] = 1.0
    for part in circuit.parts.values():
        if part.kind == "cord" and "L" in part.terminals:
            fixed.setdefault(circuit.node(part.point("L")), _MAINS)
        known = device(part.type) if part.kind == "socket" and part.type else None
        for pin, electrode in known.pins.items() if known else ():
            if electrode.role in _HEIGHT and pin in part.terminals:
                fixed.setdefault(circuit.node(part.point(pin)), _HEIGHT[electrode.role])
    return _relaxed(circuit, fixed)


def _relaxed(circuit: Circuit, fixed: Mapping[int, float]) -> dict[int, float]:
    pairs = [tuple(circuit.node(part.point(t)) for t in ends) for part, ends in _pairs(circuit)]
    found = {node.index: fixed.get(node.index, 0.5) for node in circuit.nodes}
    for _ in range(ROUNDS):
        sums: dict[int, list[float]] = {}
        for a, b in pairs:
            sums.setdefault(a, []).append(found[b])
            sums.setdefault(b, []).append(found[a])
        for node, near in sums.items():
            if node not in fixed:
                found[node] = sum(near) / len(near)
    return found


def _pairs(circuit: Circuit) -> Iterator[tuple[Part, tuple[str, str]]]:
    """Ends of everything that lies between two nodes: small parts, and heaters in a chain."""
    for part in circuit.parts.values():
        if len(part.terminals) == 2:
            yield part, (part.terminals[0], part.terminals[1])
        known = device(part.type) if part.kind == "socket" and part.type else None
        for heater in known.heaters[:1] if known else ():
            ends = heater.one[0], heater.other[0]
            if set(ends) <= set(part.terminals):
                yield part, ends
