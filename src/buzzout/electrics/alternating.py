"""The network for alternating current of one frequency: complex nodal analysis with transformers.

Unknowns are the voltages of all nodes but the chassis, then for each transformer its flux (in
units of the voltages on its windings) and the current of each piece of winding. A coupled winding
obeys v = t flux + (r + s l) i; the currents, each times its t, magnetise the core.

Transformers have no leakage l: it is not in the file. Coils whose windings are known by their
inductance L have (1 - k) L of it, and t = sqrt(k L), which makes k sqrt(L1 L2) the mutual
inductance of two of them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from buzzout.circuit import Element, Part
from buzzout.electrics.branch import ELECTRODE, Branch
from buzzout.electrics.network import Network, siemens
from buzzout.electrics.system import GROUND
from buzzout.electrics.windings import volts_of, winding_ohms

Complex = NDArray[np.complex128]
INSULATION = 1e-12  # every node to chassis, so that what hangs in the air has a voltage [S]

# common practice for small mains transformers: 3 W of iron loss, twice that to magnetise at 50 Hz
_IRON, _MAGNETISE, _AT = 3.0, 6.0, 50.0
_COIL = 0.1  # a winding of less is that of a coil for radio frequency, common practice [H]


@dataclass(frozen=True, slots=True)
class Piece:
    """Part of a winding between neighbouring taps, from the higher to the lower. [V], [ohm].

    `henries` is its leakage. [H].
    """

    part: str
    label: str
    a: int
    b: int
    turns: float
    ohms: float
    henries: float = 0.0


@dataclass(frozen=True)
class Layout:
    """Where everything stands in the vector of unknowns.

    `node` maps a node number of the network to a row, `GROUND` for the chassis. `coils` are the
    cores among `cores` that are taken by the inductances of their windings, with the factor that
    couples them [1].
    """

    node: dict[int, int]
    cores: tuple[str, ...]
    pieces: tuple[Piece, ...]
    size: int
    coils: Mapping[str, float] = field(default_factory=dict)

    def flux(self, core: int) -> int:
        """Row of a transformer's flux."""
        return len(self.node) - 1 + core

    def current(self, piece: int) -> int:
        """Row of the current in a piece of winding."""
        return len(self.node) - 1 + len(self.cores) + piece


@dataclass(frozen=True)
class Matrix:
    """A complex matrix under construction; `whole` has a row and a column for ground beside."""

    whole: Complex

    @property
    def values(self) -> Complex:
        """The matrix itself; a view."""
        return self.whole[:-1, :-1]

    def put(self, row: int, column: int, value: complex) -> None:
        """Add to one place."""
        self.whole[row, column] += value

    def between(self, a: int, b: int, admittance: complex) -> None:
        """An admittance between two rows. [S]."""
        whole = self.whole
        whole[a, a] += admittance
        whole[b, b] += admittance
        whole[a, b] -= admittance
        whole[b, a] -= admittance


def empty(plan: Layout) -> Matrix:
    """A matrix of zeros for a layout."""
    return Matrix(np.zeros((plan.size + 1, plan.size + 1), dtype=np.complex128))


@dataclass(frozen=True)
class Admittances:
    """All that is linear in a network, apart by how it goes with the frequency s.

    The matrix is `fixed + s farads`; leakage inductances stand among the farads. Each of `cores`
    adds taken / s to one row's own place: (row, taken); each of `coils` is an admittance
    1 / (ohms + s henries) between two rows: (a, b, ohms, henries).
    """

    fixed: Matrix
    farads: Matrix
    cores: tuple[tuple[int, float], ...]
    coils: tuple[tuple[int, int, float, float], ...]

    def at(self, omega: complex) -> Matrix:
        """The matrix at one frequency. `omega` in rad/s; complex for s / j."""
        s = 1j * omega
        matrix = Matrix(self.fixed.whole + s * self.farads.whole)
        for row, taken in self.cores:
            matrix.put(row, row, taken / s)
        for a, b, ohms, henries in self.coils:
            matrix.between(a, b, 1 / (ohms + s * henries))
        return matrix

    def reduced(self) -> Admittances:
        """The same without the unknowns that no frequency touches.

        Its determinant is that of the whole, but for a factor that is one at all frequencies.
        """
        touched = (self.farads.values != 0).any(axis=0)
        touched[[row for row, _ in self.cores]] = True
        touched[[row for coil in self.coils for row in coil[:2] if row != GROUND]] = True
        kept, gone = np.flatnonzero(touched), np.flatnonzero(~touched)
        fixed = self.fixed.values
        try:
            share = np.linalg.solve(fixed[np.ix_(gone, gone)], fixed[np.ix_(gone, kept)])
        except np.linalg.LinAlgError:
            return self
        place = {int(row): index for index, row in enumerate(kept)} | {GROUND: GROUND}
        return Admittances(
            _walled(fixed[np.ix_(kept, kept)] - fixed[np.ix_(kept, gone)] @ share),
            _walled(self.farads.values[np.ix_(kept, kept)]),
            tuple((place[row], taken) for row, taken in self.cores),
            tuple((place[a], place[b], ohms, henries) for a, b, ohms, henries in self.coils),
        )


def _walled(values: Complex) -> Matrix:
    return Matrix(np.pad(values, (0, 1)))


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
    if len(part.elements) < 2:
        return ()
    known = tuple(e for e in part.elements if e.kind == "winding" and turns_of(e))
    return known if len(known) > 1 else ()


def inductive(element: Element) -> bool:
    """Whether a winding goes by its inductance: that of a coil, or one without volts and load."""
    if element.kind != "winding" or element.value is None or element.value.unit != "H":
        return False
    henries = element.value.value
    return 0 < henries < _COIL or (henries > 0 and not turns_of(element))


def in_phase(element: Element) -> str:
    """The terminal of a winding that goes up with those of the others on its core."""
    turns = turns_of(element)
    return element.dot or element.terminals[turns.index(max(turns))]


def sense(element: Element) -> float:
    """Minus one where the dot stands at the end of fewer turns, else one."""
    turns = turns_of(element)
    if element.dot in element.terminals:
        at = turns[element.terminals.index(element.dot)]
        return -1.0 if at <= min(turns) < max(turns) and at <= 0 else 1.0
    return 1.0


def layout(net: Network, coils: Mapping[str, float] | None = None) -> Layout:
    """Rows for the nodes, cores and windings of a network.

    `coils`: the parts whose windings go by their inductances, with their coupling factor; the
    windings of all others without volts or loads are resistances.
    """
    coils = coils or {}
    order = [n for n in range(net.size) if n != net.chassis]
    node = {n: row for row, n in enumerate(order)} | {net.chassis: GROUND}
    cores: list[str] = []
    pieces: list[Piece] = []
    for part in net.circuit.parts.values():
        if part.name in coils:
            cores.append(part.name)
            for element in filter(inductive, part.elements):
                pieces += _coil(net, node, part, element, coils[part.name])
            continue
        windings = coupled(part)
        if windings:
            cores.append(part.name)
        for element in windings:
            pieces += _pieces(net, node, part, element)
    size = len(order) + len(cores) + len(pieces)
    return Layout(node, tuple(cores), tuple(pieces), size, coils)


def _coil(
    net: Network, node: dict[int, int], part: Part, element: Element, factor: float
) -> Iterable[Piece]:
    """A winding of a coil, its taps evenly spread: nothing tells where they are."""
    assert element.value is not None
    ohms, _ = winding_ohms(part, element)
    rows = [node[net.of[part.point(t)]] for t in element.terminals]
    henries, steps = element.value.value, len(ohms)
    turns = math.sqrt(factor * henries) / steps
    sign = -1.0 if element.dot == element.terminals[0] else 1.0
    leak = (1 - factor) * henries / steps
    for i, r in enumerate(ohms):
        yield Piece(part.name, element.label, rows[i + 1], rows[i], sign * turns, r, leak)


def _pieces(net: Network, node: dict[int, int], part: Part, element: Element) -> Iterable[Piece]:
    turns, sign = turns_of(element), sense(element)
    ohms, _ = winding_ohms(part, element)
    rows = [node[net.of[part.point(t)]] for t in element.terminals]
    for i, r in enumerate(ohms):
        step = sign * (turns[i + 1] - turns[i])
        yield Piece(part.name, element.label, rows[i + 1], rows[i], step, r)


def assemble(net: Network, plan: Layout) -> Admittances:
    """All that is linear in a network."""
    fixed, farads = empty(plan), empty(plan)
    coils: list[tuple[int, int, float, float]] = []
    for branch, a, b in _branches(net, plan):
        if branch.kind == "capacitor":
            farads.between(a, b, branch.value)
        elif branch.kind == "resistor" and branch.henries != 0:
            coils.append((a, b, branch.value, branch.henries))
        elif branch.kind == "resistor":
            fixed.between(a, b, siemens(branch.value))
    for branch in net.resistive:
        if branch.role == "leak":
            a, b = (plan.node[n] for n in net.ends(branch))
            fixed.between(a, b, siemens(branch.value))
    rows = np.arange(len(plan.node) - 1)
    fixed.whole[rows, rows] += INSULATION
    cores = tuple(_put_cores(fixed, farads, net, plan))
    return Admittances(fixed, farads, cores, tuple(coils))


def _branches(net: Network, plan: Layout) -> Iterator[tuple[Branch, int, int]]:
    """The branches that are no coupled winding, with their rows.

    What an electrode without a model draws is no resistance to a signal: it is left out.
    """
    cores = set(plan.cores)
    inside = {f"{p.part} {p.label}" for p in plan.pieces}
    for branch in net.branches:
        if branch.role == ELECTRODE:
            continue
        if branch.part not in cores or branch.family not in inside:
            a, b = net.ends(branch)
            yield branch, plan.node[a], plan.node[b]


def _put_cores(
    matrix: Matrix, farads: Matrix, net: Network, plan: Layout
) -> Iterator[tuple[int, float]]:
    """Put the windings and the losses of their cores into a matrix; what else each core takes."""
    for number, piece in enumerate(plan.pieces):
        row, flux = plan.current(number), plan.flux(plan.cores.index(piece.part))
        matrix.put(piece.a, row, 1.0)
        matrix.put(piece.b, row, -1.0)
        matrix.put(row, piece.a, 1.0)
        matrix.put(row, piece.b, -1.0)
        matrix.put(row, row, -piece.ohms)
        farads.put(row, row, -piece.henries)
        matrix.put(row, flux, -piece.turns)
        matrix.put(flux, row, piece.turns)
    for number, core in enumerate(plan.cores):
        # the turns of a coil are the square roots of its henries: one henry for one turn
        loss, taken = (0.0, 1.0) if core in plan.coils else magnetising(net.circuit.parts[core])
        flux = plan.flux(number)
        matrix.put(flux, flux, -loss)
        yield flux, -taken


def magnetising(part: Part) -> tuple[float, float]:
    """What the core itself takes at one unit of flux: its loss [W], and s times the rest [VA/s].

    From the inductance of a winding where the file gives one; else a mains transformer takes 3 W
    and 6 VA, an output transformer as much as its rated load at 50 Hz (common practice).
    """
    at = 2 * math.pi * _AT
    for element in coupled(part):
        if element.value is not None and element.value.unit == "H":
            turns = turns_of(element)
            return 0.0, (max(turns) - min(turns)) ** 2 / element.value.value
    if any(element.load for element in coupled(part)):
        return 0.0, at
    return _IRON, _MAGNETISE * at


def piece_current(plan: Layout, x: Complex, part: str, label: str) -> list[complex]:
    """Currents of the pieces of one winding. [A]."""
    return [
        complex(x[plan.current(i)])
        for i, p in enumerate(plan.pieces)
        if (p.part, p.label) == (part, label)
    ]
