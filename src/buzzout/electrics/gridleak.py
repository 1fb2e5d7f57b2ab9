"""The grid circuit of output valves: its resistance for direct current, and what the sheet allows.

The little current that a grid takes makes a voltage across its circuit that drives the valve on. A
sheet allows more ohms where the valve's own current makes its bias and so holds it back.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from buzzout.circuit import Part, Point, pieces
from buzzout.electrics.common import feeding
from buzzout.electrics.linear import solver
from buzzout.electrics.network import Network
from buzzout.electrics.sockets import CATHODES

# A resistor up to this in a cathode is there to measure its current. [ohm] common practice
METER = 12.0
# Tolerance of the resistor, and the stopper that a sheet does not count. [1] common practice
ALLOWANCE = 1.1
_FIXED, _SELF = "grid_leak_fixed_mohm", "grid_leak_self_mohm"


@dataclass(frozen=True, slots=True)
class GridCircuit:
    """One grid of an output valve.

    `ohms` from the grid to the chassis, rectifiers conducting; infinite without a way. `limit` is
    what the sheet of `device` allows for its kind of bias. [ohm].
    """

    part: str
    grid: Point
    device: Any
    ohms: float
    limit: float
    fixed: bool

    @property
    def over(self) -> bool:
        """Whether it has a way, and one of more ohms than the sheet allows."""
        return ALLOWANCE * self.limit < self.ohms < np.inf


def grid_circuits(net: Network) -> Iterator[GridCircuit]:
    """The grids of the output valves in a network whose sheets limit the circuit."""
    limited = [(part, device) for part, device in _output(net) if _limit(device, fixed=False)]
    if not limited:
        return
    to_chassis, returns = _ohms(net), _returns(net)
    for part, device in limited:
        at = [(part.point(pin), e.role) for pin, e in device.output_pins.items()]
        wired = [(point, role, net.of[point]) for point, role in at if point in net.of]
        cathodes = [to_chassis[node] for _, role, node in wired if role in CATHODES]
        held = min(cathodes, default=0.0) > METER
        grids = {node: point for point, role, node in reversed(wired) if role == "grid"}
        for node, grid in reversed(grids.items()):  # several pins may be joined inside
            fixed = not held and node not in returns
            limit = 1e6 * _limit(device, fixed=fixed)
            yield GridCircuit(part.name, grid, device, float(to_chassis[node]), limit, fixed)


def _output(net: Network) -> Iterator[tuple[Part, Any]]:
    for part in net.circuit.parts.values():
        device = net.conditions.device(part.type) if part.kind == "socket" and part.type else None
        if device is not None and device.output_pins:
            yield part, device


def _limit(device: Any, *, fixed: bool) -> float:
    """What a sheet allows, 0 where it does not say; who has no figure for fixed bias. [Mohm]."""
    keys = (_FIXED, _SELF) if fixed else (_SELF,)
    return next((v for key in keys if (v := device.limit(key)) is not None), 0.0)


def _ohms(net: Network) -> np.ndarray:
    """Resistance from every node to the chassis, rectifiers as they conduct. [ohm]."""
    diodes = (b for b in net.branches if b.kind == "diode")
    edges = net.edges(lambda b: b.value, over=[*net.resistive, *diodes])
    return solver(edges).to(net.chassis)


def _returns(net: Network) -> frozenset[int]:
    """Nodes that resistors alone join to a mains transformer: the HT current makes bias there."""
    paths = [(b, net.ends(b)) for b in net.resistive]
    piece = pieces(net.size, [ends for _, ends in paths if net.chassis not in ends])
    fed = feeding(net.circuit)
    wound = {piece[n] for b, ends in paths if b.role == "winding" and b.part in fed for n in ends}
    wound.discard(piece[net.chassis])
    return frozenset(n for n in range(net.size) if piece[n] in wound)
