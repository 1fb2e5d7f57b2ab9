"""The mains side: what breaks there, and the alternating volts that tell.

Each break (a fuse, a switch contact, a wire, a piece of winding) is taken out of the circuit and
the alternating network is solved again. Valves whose heater falls below what they need are dark,
rectifier paths without their voltage are dead: that is what the direct voltages see of it. What the
rectifiers draw with each fault loads the windings, and a limiter lamp in the line follows it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from buzzout.bench.batch import States, solve
from buzzout.bench.board import Board, Change
from buzzout.bench.faults import Fault, primary, without
from buzzout.bench.predict import TRANSFORMER
from buzzout.bench.probe import ALTERNATING, Predicted, Probe, Source
from buzzout.bench.taps import wrong_taps
from buzzout.circuit import CHASSIS, Circuit, Element, Part, Point, joined, pieces
from buzzout.electrics.common import feeding
from buzzout.electrics.draft import mains_volts
from buzzout.electrics.inside import contents
from buzzout.electrics.laws import Floats
from buzzout.electrics.mains import MainsSide, alternating, solve_mains
from buzzout.electrics.network import Network, network
from buzzout.electrics.operating import Operating
from buzzout.electrics.paths import Way
from buzzout.electrics.system import GROUND

_DARK = 0.6  # share of its heater voltage below which a valve gives nothing (common practice)
_LOST = 0.5  # share of its voltage below which a rectifier path gives nothing
_WORTH = 0.5  # an alternating voltage below this is not worth a meter [V]
# Insulation and capacitance leave a little of the mains on what hangs in the air; a meter of
# 10 Mohm shows nothing like this share. Common practice.
_GHOST = 0.02


@dataclass(frozen=True)
class Break:
    """One break, or mains on another tap: what it may be taken for, and the set with it.

    Half a heater dark is one of two faults: no data sheet tells which half heats which section.
    """

    faults: tuple[Fault, ...]
    net: Network
    side: MainsSide


class Swing:
    """Alternating volts of one running set, whole and with each break."""

    way = ALTERNATING
    tone: Source | None = None

    def __init__(self, state: Operating, step: int = 0, board: Board | None = None) -> None:
        """Take a set that the mains feeds; `board` is the same, where it is made already.

        `solved` gives the states of faults, `others` those faults that are another circuit.
        """
        self.state, self.step = state, step
        self.board = Board(state) if board is None else board
        self.solved: Callable[[Sequence[Fault]], States] = self._stood
        self.others: Mapping[tuple[str, str, str], Operating] = {}

    def _stood(self, faults: Sequence[Fault]) -> States:
        return solve(self.board, [fault.change for fault in faults])

    @cached_property
    def points(self) -> frozenset[Point]:
        """Every point of the nodes that mains or a winding feeds."""
        net = self.state.net
        return frozenset(p for n in _nodes(net) for p in net.groups[n])

    @cached_property
    def breaks(self) -> dict[str, Break]:
        """The breaks that change something, by the words of their fault."""
        found: dict[str, Break] = {}
        net = self.state.net
        for fault, circuit in (*_candidates(net, self.points), *wrong_taps(net)):
            made = self._break(fault, circuit)
            if made is not None:
                found.setdefault(fault.words, made)
        return found

    def _solve(self, net: Network) -> MainsSide | None:
        """What the mains side is without a lamp: that depends on what the set draws."""
        return solve_mains(net, (), mains_volts(net, self.state.power), 0.0, {})

    @cached_property
    def _whole(self) -> MainsSide | None:
        return self._solve(self.state.net)

    def _break(self, fault: Fault, circuit: Circuit) -> Break | None:
        net = network(circuit, self.state.net.conditions)
        side = self._solve(net)
        if side is None or self._whole is None:
            return None
        made = Break((fault,), net, side)
        gone = {fault.thing} if fault.kind == "valve missing" else set()
        halves = self._dark(made)
        dark = frozenset(p for p, share in halves.items() if share == 1) | gone
        emission = {v.name: 0.0 for v in self.state.net.valves if v.part in dark}
        paths = {
            way.name: 0.0 for way in self.state.ways
            if dark & set(way.parts) or self._driven(made, way) < _LOST
        }  # fmt: skip
        near = [self._share(made, probe.at, probe.to) for probe in self.probes]
        half = [v for v in self.state.net.valves if 0 < halves.get(v.part, 0) < 1]
        if not (emission or paths or half) and all(abs(s - 1) < 2 * _GHOST for s in near):
            return None
        fed = math.sqrt(2) * mains_volts(net, self.state.power)
        draws = (side.idle - self._whole.idle) / fed
        change = replace(fault.change, emission=emission, paths=paths, breaks=(fault.words,),
                         draws=draws, gas=without(self.state.net, dark).gas)  # fmt: skip
        if not half:
            return replace(made, faults=(replace(fault, change=change),))
        each = (
            replace(fault, size=f"{v.name} dark",
                    change=replace(change, emission={**emission, v.name: 0.0}))
            for v in half
        )  # fmt: skip
        return replace(made, faults=tuple(each))

    def _dark(self, made: Break) -> dict[str, float]:
        """Share of each valve's heater that has no voltage."""
        cold: dict[str, list[bool]] = {}
        for branch in self.state.net.branches:
            if branch.role == "heater":
                low = self._share(made, branch.a, branch.b) < _DARK
                cold.setdefault(branch.part, []).append(low)
        return {part: sum(own) / len(own) for part, own in cold.items()}

    def _driven(self, made: Break, way: Way) -> float:
        """Share of the voltage that drives a rectifier path; nothing without a way back."""
        assert self._whole is not None
        points = [(self._end(n, way.parts), sign) for n, sign in way.weights]
        if any(self._returns(self.state.net, p) != self._returns(made.net, p) for p, _ in points):
            return 0.0
        before = abs(sum(s * _phasor(self._whole, self.state.net, p) for p, s in points))
        after = abs(sum(s * _phasor(made.side, made.net, p) for p, s in points))
        return after / before if before else 1.0

    def _end(self, node: int, parts: Sequence[str]) -> Point:
        """The point of a node that is the rectifier's own."""
        group = self.state.net.groups[node]
        return next((p for p in group if p.owner in parts), group[0])

    @staticmethod
    def _returns(net: Network, point: Point) -> bool:
        """Whether a direct current at a point finds the chassis through windings and wires."""
        ends = [net.ends(b) for b in net.branches if b.role in ("winding", "choke", "fuse")]
        piece = pieces(net.size, ends)
        return piece[net.of[point]] == piece[net.chassis]

    def _share(self, made: Break, at: Point, to: Point) -> float:
        """Voltage between two points with a break over that without it; nothing where none was."""
        assert self._whole is not None
        ends = [(self._whole, self.state.net), (made.side, made.net)]
        before, after = (abs(_phasor(s, n, at) - _phasor(s, n, to)) for s, n in ends)
        share = float(after / before) if before > 1e-6 else 1.0
        return 0.0 if share < _GHOST else share

    # -- what a meter shows ----------------------------------------------------------------------

    @cached_property
    def probes(self) -> tuple[Probe, ...]:
        """Where to put an alternating voltmeter: heaters, lamps, windings; never the primary."""
        net = self.state.net
        pairs = [(b.a, b.b) for b in net.branches if b.role == "heater"]
        pairs += [(b.a, b.b) for b in net.branches if b.role == "lamp" and b.a in self.points]
        pairs += [
            (part.point(e.terminals[i]), part.point(e.terminals[j]))
            for part in net.circuit.parts.values() if part.name in feeding(net.circuit)
            for e in part.elements if e.taps and not primary(e.label) for i, j in _taps(e)
        ]  # fmt: skip
        found = [Probe(a, b, way=ALTERNATING, step=self.step) for a, b in pairs]
        return tuple(p for p in found if self.volts(p) > _WORTH)

    def knows(self, at: Point, to: Point) -> bool:
        """Whether a voltage between two points comes from mains or windings."""
        net = self.state.net
        fed = [end in self.points for end in (at, to)]
        return any(fed) and all(
            known or net.of.get(end) == net.chassis
            for known, end in zip(fed, (at, to), strict=True)
        )

    def feeds(self, point: Point) -> bool:
        """Whether mains or a winding is at a point, were it not for what ties it to the chassis."""
        return point in self.points or point.owner in feeding(self.state.net.circuit)

    def volts(self, probe: Probe) -> float:
        """Voltage of the whole set, as it is loaded. [V]."""
        return _volts(self.state, probe)

    def _levels(self, probes: Sequence[Probe], faults: Sequence[Fault]) -> Floats:
        """Voltage at each probe as each fault loads the windings, nothing broken. [V]."""
        side = self.state.side
        assert side is not None
        states = self.solved(faults)
        fed = math.sqrt(2) * side.fed.volts - side.fed.series * side.idle
        own = side.x / fed  # of each unknown, for a volt at the primary
        paths = side.responses + np.outer(own, side.fed.series * side.transfer)
        ends = np.array([[self._row(p.at), self._row(p.to)] for p in probes])
        turned = states.inphase * np.exp(1j * np.angle(side.open_circuit))
        x = np.outer(states.primary, own) + turned @ paths.T
        x = np.pad(x, [(0, 0), (0, 1)])  # the last is the chassis
        return np.asarray(np.abs(x[:, ends[:, 0]] - x[:, ends[:, 1]]) / math.sqrt(2))

    def _row(self, point: Point) -> int:
        """Where a point stands among the unknowns; -1 for the chassis."""
        return self.state.side.plan.node[self.state.net.of[point]] if self.state.side else GROUND

    def seen(self, probes: Sequence[Probe], faults: Sequence[Fault]) -> Predicted:
        """What a meter shows for each fault."""
        supply = np.array([p.supply for p in probes])
        whole = np.array([self.volts(p) for p in probes]) * supply
        mean = self._levels(probes, faults) * supply
        for row, fault in enumerate(faults):
            other, breaks = self.others.get(fault.name), fault.change.breaks
            if other is not None:
                mean[row] = [_volts(other, p) for p in probes] * supply
            for name in () if other is not None else breaks:
                made = self.breaks.get(name)
                if made is not None:
                    mean[row] *= [self._share(made, p.at, p.to) for p in probes]
        moved = np.zeros((*mean.shape, 2))
        moved[:, :, 0] = TRANSFORMER * mean
        nothing = np.zeros_like(mean)
        settled = np.ones(len(faults), dtype=bool)
        ways = np.full(len(probes), ALTERNATING)
        return Predicted(mean, moved, nothing, ("transformer",), settled, whole, nothing, ways)


def _volts(state: Operating, probe: Probe) -> float:
    """Alternating voltage between two points of a state. [V]."""
    of = state.net.of
    return alternating(state.side, state.pulses, of[probe.at], of[probe.to])


def _phasor(side: MainsSide, net: Network, point: Point) -> complex:
    row = side.plan.node[net.of[point]] if point in net.of else GROUND
    return 0j if row == GROUND else complex(side.x[row])


def _taps(element: Element) -> Iterator[tuple[int, int]]:
    """From end to end of a winding, and its pieces where it has more than one."""
    last = len(element.terminals) - 1
    yield 0, last
    if last > 1:
        yield from ((i, i + 1) for i in range(last))


def _nodes(net: Network) -> frozenset[int]:
    """Nodes of mains lead, fuse, switch, windings and heaters; never the chassis."""
    parts, windings = net.circuit.parts, feeding(net.circuit)
    found = {
        net.of[p] for part in parts.values() if part.kind == "cord" or part.name in windings
        for p in part.points if p.pin != "E"
    }  # fmt: skip
    series = [net.ends(b) for b in net.branches if b.role in ("fuse", "heater", "lamp")]
    grown = True
    while grown:
        more = {n for a, b in series if {a, b} & found for n in (a, b)} - found - {net.chassis}
        grown, found = bool(more), found | more
    return frozenset(found - {net.chassis})


def _candidates(net: Network, points: frozenset[Point]) -> Iterator[tuple[Fault, Circuit]]:
    """Everything that may break on these points, with the circuit as it is then."""
    circuit, heaters = net.circuit, net.branches
    for part in circuit.parts.values():
        if part.kind == "fuse" and points & set(part.points) and part.type != "none":
            gone = [b for b in net.branches if b.part == part.name]
            change = Change(siemens=tuple((b.a, b.b, -1 / max(b.value, 1e-3)) for b in gone))
            empty = _with(circuit, replace(part, type="none"))
            yield Fault("fuse open", part.name, f"{part.name} open", change), empty
        if part.kind == "switch":
            yield from _contacts(net, part, points)
        if part.name in feeding(circuit):
            yield from _windings(net, part)
        if not feeding(circuit) and any(
            b.part == part.name and b.role == "heater" for b in heaters
        ):
            words = f"{part.name} missing or its heater open: the whole chain is dark"
            missing = Fault("valve missing", part.name, words)
            yield missing, _with(circuit, replace(part, type="none"))
    owners = {p for name in feeding(circuit) for p in circuit.parts[name].points}
    owners |= {p for part in circuit.parts.values() if part.kind == "cord" for p in part.points}
    for link in circuit.links:
        ends = {link.a, link.b}
        if not ends & points and not (CHASSIS in ends and ends & owners):
            continue
        colour = f"{link.colour} " if link.colour else ""
        words = f"{colour}wire from {link.a} to {link.b} open or its joint dry"
        others = [other for other in circuit.links if other is not link]
        change = _gap((link.a, link.b), [(o.a, o.b) for o in others] + _joins(net))
        yield _fault(words, str(link.a), change), circuit.but(links=others)


def _fault(words: str, thing: str, change: Change | None = None) -> Fault:
    return Fault("mains side open", thing, words, change or Change())


def _with(circuit: Circuit, part: Part) -> Circuit:
    return circuit.but({**circuit.parts, part.name: part})


def _contacts(
    net: Network, part: Part, points: frozenset[Point]
) -> Iterator[tuple[Fault, Circuit]]:
    circuit = net.circuit
    for element in part.elements:
        ends = [part.point(t) for t in element.terminals]
        if element.kind == "contact" and set(ends) & points:
            left = tuple(e for e in part.elements if e is not element)
            words = f"no contact between {ends[0]} and {ends[-1]}"
            joins = [j for j in _joins(net) if {*j} != {ends[0], ends[-1]}]
            change = _gap((ends[0], ends[-1]), [*((k.a, k.b) for k in circuit.links), *joins])
            yield _fault(words, part.name, change), _with(circuit, replace(part, elements=left))


def _windings(net: Network, part: Part) -> Iterator[tuple[Fault, Circuit]]:
    """Each piece of winding open: what is left of it on both sides stays."""
    ohms = {(b.a, b.b): max(b.value, 1e-3) for b in net.branches if b.part == part.name}
    for element in part.elements:
        if element.kind != "winding" or len(element.taps) != len(element.terminals):
            continue
        for cut in range(1, len(element.terminals)):
            sides = (slice(0, cut), slice(cut, None))
            pieces = [_piece(element, side) for side in sides]
            left = [e for e in part.elements if e is not element]
            left += [p for p in pieces if len(p.terminals) > 1]
            ends = part.point(element.terminals[cut - 1]), part.point(element.terminals[cut])
            words = f"{ends[0]}-{ends[1].pin} open"
            siemens = ((*ends, -1 / ohms[ends]),) if ends in ohms else ()
            change = Change(siemens=siemens)
            circuit = _with(net.circuit, replace(part, elements=tuple(left)))
            yield _fault(words, part.name, change), circuit


def _piece(element: Element, side: slice) -> Element:
    ohms = element.resistance
    whole = len(ohms) == len(element.terminals) - 1
    first = side.start or 0
    last = (side.stop or len(element.terminals)) - 1
    return replace(
        element, terminals=element.terminals[side], taps=element.taps[side],
        resistance=ohms[first:last] if whole else (), label=f"{element.label} {first}",
    )  # fmt: skip


def _joins(net: Network) -> list[tuple[Point, Point]]:
    """Points that are one inside parts, closed contacts among them."""
    parts = net.circuit.parts.values()
    return [join for part in parts for join in contents(part, net.conditions).joins]


def _gap(ends: tuple[Point, Point], others: Sequence[tuple[Point, Point]]) -> Change:
    """The points that hang on the lost side of a wire or contact, for an ohmmeter."""
    points = {*ends, *(p for other in others for p in other)}
    mine = [frozenset(g) for g in joined(sorted(points), others) if {*ends} & {*g}]
    free = [g for g in mine if CHASSIS not in g]
    return Change(gap=min(free, key=len)) if len(mine) > 1 else Change()
