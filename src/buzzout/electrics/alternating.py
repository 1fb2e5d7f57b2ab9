"""The network for alternating current of one frequency: complex nodal analysis with transformers.

Unknowns are the voltages of all nodes but the chassis, then for each transformer its flux (in
units of the voltages on its windings) and the current of each piece of winding. A coupled winding
obeys v = t flux + r i; the currents, each times its t, magnetise the core.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from buzzout.circuit import Element, Part
from buzzout.electrics.branch import Branch
from buzzout.electrics.network import Network, siemens
from buzzout.electrics.system import GROUND
from buzzout.electrics.windings import volts_of, winding_ohms

Complex = NDArray[np.complex128]
INSULATION = 1e-12  # every node to chassis, so that what hangs in the air has a voltage [S]

# common practice for small mains transformers: 3 W of iron loss, twice that to magnetise at 50 Hz
_IRON, _MAGNETISE, _AT = 3.0, 6.0, 50.0


@dataclass(frozen=True, slots=True)
class Piece:
    """Part of a winding between neighbouring taps, from the higher to the lower. [V], [ohm]."""

    part: str
    label: str
    a: int
    b: int
    turns: float
    ohms: float


@dataclass(frozen=True)
class Layout:
    """Where everything stands in the vector of unknowns.

    `node` maps a node number of the network to a row, `GROUND` for the chassis.
    """

    node: dict[int, int]
    cores: tuple[str, ...]
    pieces: tuple[Piece, ...]
    size: int

    def flux(self, core: int) -> int:
        """Row of a transformer's flux."""
        return len(self.node) - 1 + core

    def current(self, piece: int) -> int:
        """Row of the current in a piece of winding."""
        return len(self.node) - 1 + len(self.cores) + piece


@dataclass
class Matrix:
    """A complex matrix under construction; ground falls away."""

    layout: Layout
    values: Complex = field(init=False)

    def __post_init__(self) -> None:
        self.values = np.zeros((self.layout.size, self.layout.size), dtype=np.complex128)

    def put(self, row: int, column: int, value: complex) -> None:
        """Add to one place."""
        if GROUND not in (row, column):
            self.values[row, column] += value

    def between(self, a: int, b: int, admittance: complex) -> None:
        """An admittance between two rows. [S]."""
        self.put(a, a, admittance)
        self.put(b, b, admittance)
        self.put(a, b, -admittance)
        self.put(b, a, -admittance)


def turns_of(element: Element) -> tuple[float, ...]:
    """Relative turns at each terminal: open-circuit volts, or from the impedance it is made for."""
    volts = volts_of(element)
    if volts:
        return volts
    if element.load is None or len(element.terminals) < 2:
        return ()
    steps = len(element.terminals) - 1
    whole = math.sqrt(element.load)
    return tuple(whole * step / steps for step in range(steps + 1))


def coupled(part: Part) -> tuple[Element, ...]:
    """Windings of a part that share a core and whose turns are known; empty when fewer than two."""
    known = tuple(e for e in part.elements if e.kind == "winding" and turns_of(e))
    return known if len(known) > 1 else ()


def sense(element: Element) -> float:
    """Minus one where the dot stands at the end of fewer turns, else one."""
    turns = turns_of(element)
    if element.dot in element.terminals:
        at = turns[element.terminals.index(element.dot)]
        return -1.0 if at <= min(turns) < max(turns) and at <= 0 else 1.0
    return 1.0


def layout(net: Network) -> Layout:
    """Rows for the nodes, cores and windings of a network."""
    order = [n for n in range(net.size) if n != net.chassis]
    node = {n: row for row, n in enumerate(order)} | {net.chassis: GROUND}
    cores: list[str] = []
    pieces: list[Piece] = []
    for part in net.circuit.parts.values():
        windings = coupled(part)
        if windings:
            cores.append(part.name)
        for element in windings:
            pieces += _pieces(net, node, part, element)
    return Layout(node, tuple(cores), tuple(pieces), len(order) + len(cores) + len(pieces))


def _pieces(net: Network, node: dict[int, int], part: Part, element: Element) -> Iterable[Piece]:
    turns, sign = turns_of(element), sense(element)
    ohms, _ = winding_ohms(part, element)
    rows = [node[net.of[part.point(t)]] for t in element.terminals]
    for i, r in enumerate(ohms):
        step = sign * (turns[i + 1] - turns[i])
        yield Piece(part.name, element.label, rows[i + 1], rows[i], step, r)


def admittance(branch: Branch, omega: complex) -> complex:
    """Admittance of a branch that is no coupled winding. [S]."""
    if branch.kind == "resistor":
        ohms = branch.value
        return siemens(ohms) if branch.henries == 0 else 1 / (ohms + 1j * omega * branch.henries)
    if branch.kind == "capacitor":
        return 1j * omega * branch.value
    return 0.0


def assemble(net: Network, plan: Layout, omega: complex) -> Matrix:
    """Matrix of all that is linear in a network. `omega` in rad/s; complex for s / j."""
    matrix = Matrix(plan)
    cores = set(plan.cores)
    inside = {f"{p.part} {p.label}" for p in plan.pieces}
    for branch in net.branches:
        if branch.part in cores and branch.family in inside:
            continue
        a, b = (plan.node[n] for n in net.ends(branch))
        matrix.between(a, b, admittance(branch, omega))
    for branch in net.resistive:
        if branch.role == "leak":
            a, b = (plan.node[n] for n in net.ends(branch))
            matrix.between(a, b, siemens(branch.value))
    for row in range(len(plan.node) - 1):
        matrix.put(row, row, INSULATION)
    _put_cores(matrix, net, plan, omega)
    return matrix


def _put_cores(matrix: Matrix, net: Network, plan: Layout, omega: complex) -> None:
    for number, piece in enumerate(plan.pieces):
        row, flux = plan.current(number), plan.flux(plan.cores.index(piece.part))
        matrix.put(piece.a, row, 1.0)
        matrix.put(piece.b, row, -1.0)
        matrix.put(row, piece.a, 1.0)
        matrix.put(row, piece.b, -1.0)
        matrix.put(row, row, -piece.ohms)
        matrix.put(row, flux, -piece.turns)
        matrix.put(flux, row, piece.turns)
    for number, core in enumerate(plan.cores):
        taken = magnetising(net.circuit.parts[core], omega)
        matrix.put(plan.flux(number), plan.flux(number), -taken)


def magnetising(part: Part, omega: complex) -> complex:
    """What the core itself takes, at one unit of flux. [VA], positive real part is loss.

    From the inductance of a winding where the file gives one; else a mains transformer takes 3 W
    and 6 VA, an output transformer as much as its rated load at 50 Hz (common practice).
    """
    at = 2 * math.pi * _AT
    for element in coupled(part):
        if element.value is not None and element.value.unit == "H":
            turns = turns_of(element)
            return (max(turns) - min(turns)) ** 2 / (1j * omega * element.value.value)
    if any(element.load for element in coupled(part)):
        return at / (1j * omega)
    return _IRON - 1j * _MAGNETISE * at / omega


def piece_current(plan: Layout, x: Complex, part: str, label: str) -> list[complex]:
    """Currents of the pieces of one winding. [A]."""
    return [
        complex(x[plan.current(i)])
        for i, p in enumerate(plan.pieces)
        if (p.part, p.label) == (part, label)
    ]
