"""The level of a test tone at each point for each fault: what no direct voltage shows.

The set is linear round the operating point that each fault leaves it with: the slopes of all valves
are those of that point. Capacitors that are open or dried out belong here alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from buzzout.bench.batch import States, solve
from buzzout.bench.board import Board, Change
from buzzout.bench.faults import Fault
from buzzout.bench.predict import UNIFORM, VALVE_SPREAD
from buzzout.bench.probe import LEAST_LEVEL, TONE, Predicted, Probe, scored
from buzzout.circuit import CHASSIS, Circuit, Link, Point, printed
from buzzout.electrics.alternating import layout
from buzzout.electrics.laws import Floats, valve
from buzzout.electrics.network import Network, network
from buzzout.electrics.operating import Operating
from buzzout.electrics.signal import Linear, linear
from buzzout.electrics.system import GROUND

Complex = NDArray[np.complex128]
_SHORT = 1e4  # conductance of a generator without resistance [S]
_LEVEL = 0.1  # deviation of the generator's level and of what is common to all stages; as a share
_FARADS = 0.15  # deviation of a good capacitor, old ones among them; as a share
_MOST = 0.7  # beyond this a part inside its tolerance moves a logarithm as no straight line
_LEFT = (0.03, 0.2)  # shares that a dried-out electrolytic keeps (common practice)
_CHUNK = 64  # faults solved together
_WORTH = 2e-4  # a level below this is not worth a meter [V]


@dataclass(frozen=True, slots=True)
class Source:
    """A test tone: where it goes in, against the common line, its level [V] and frequency [Hz]."""

    at: Point
    volts: float
    hertz: float


class Tone:
    """A set with a test tone, whole and with each fault."""

    way = TONE

    def __init__(self, board: Board, source: Source, step: int = 0) -> None:
        """Take a set under power; nothing is solved yet."""
        self.board, self.source, self.step = board, source, step
        self.state: Operating = board.state
        self._kept: dict[tuple[str, str, str], Floats] = {}
        self._spreads: dict[tuple[tuple[Point, Point], ...], tuple[tuple[str, ...], Floats]] = {}

    @cached_property
    def faults(self) -> tuple[Fault, ...]:
        """Capacitors that are open or dried out."""
        return tuple(self._capacitors())

    def _capacitors(self) -> Iterator[Fault]:
        for branch in self.state.net.branches:
            if branch.kind != "capacitor" or not branch.value:
                continue
            wet = branch.role == "electrolytic"
            kind = "electrolytic dry" if wet else "capacitor open"
            words = f"{branch.name} {'dried out' if wet else 'open'}"
            for left in (0.0, *(_LEFT if wet else ())):
                size = f"as if {printed(left * branch.value, 'F')} were left" if left else ""
                change = Change(farads={branch.name: left})
                yield Fault(kind, branch.part, words, change, size)

    @cached_property
    def probes(self) -> tuple[Probe, ...]:
        """Grids, anodes, cathodes and what capacitors hold still, where there is a level.

        On what a good capacitor holds still there is one when it is open.
        """
        net, found = self.state.net, dict[int, Probe]()
        points = [
            fitted.electrodes[role] for fitted in net.valves
            for role in ("grid", "anode", "cathode") if role in fitted.electrodes
        ]  # fmt: skip
        points += [
            _reached(net, end) for b in net.branches if b.kind == "capacitor" for end in (b.a, b.b)
        ]
        for point in points:
            if net.of[point] != net.chassis:
                found.setdefault(net.of[point], Probe(point, CHASSIS, way=TONE, step=self.step))
        probes, faults = list(found.values()), self.faults
        level = self._levels([None], None, probes)[0]
        if faults:
            states = solve(self.board, [f.change for f in faults])
            level = np.maximum(level, np.max(self._levels(faults, states, probes), axis=0))
        return tuple(p for p, v in zip(probes, level, strict=True) if v > _WORTH)

    def knows(self, at: Point, to: Point) -> bool:
        """Whether both points are there."""
        return {at, to} <= self.state.net.of.keys()

    def seen(self, probes: Sequence[Probe], faults: Sequence[Fault]) -> Predicted:
        """What a meter shows for each fault, as it is scored (see `probe.scored`)."""
        levels = self._each(probes, faults)
        whole = self._levels([None], None, probes)[0]
        score = np.vectorize(lambda v: scored(TONE, v), otypes=[np.float64])
        mean = score(levels)
        causes, spread = self._spread(probes)
        moved = np.zeros((*mean.shape, len(causes) + 1))
        moved[:, :, :-1] = spread
        nothing, settled = np.zeros_like(mean), np.ones(len(faults), dtype=bool)
        ways = np.full(len(probes), TONE)
        return Predicted(mean, moved, nothing, causes, settled, score(whole), nothing, ways)

    def _spread(self, probes: Sequence[Probe]) -> tuple[tuple[str, ...], Floats]:
        """How far good parts move the logarithm of each level: probe, cause.

        Taken from the whole set; where a level is what two halves leave of each other it is much.
        """
        key = tuple((p.at, p.to) for p in probes)
        if key not in self._spreads:
            made = list(self._within())
            faults = [Fault("part", name, name, change) for name, change in made]
            levels = self._levels(faults, solve(self.board, [c for _, c in made]), probes)
            whole = self._levels([None], None, probes)
            away = np.log((levels + LEAST_LEVEL) / (whole + LEAST_LEVEL))
            names = tuple(dict.fromkeys(name for name, _ in made))
            spread = np.full((len(probes), len(names) + 1), _LEVEL)
            for number, name in enumerate(names):
                own = [row for (other, _), row in zip(made, away, strict=True) if other == name]
                spread[:, number] = np.clip(np.sum(own, axis=0), -_MOST, _MOST)
            self._spreads[key] = (*names, "tone"), spread
        return self._spreads[key]

    def _within(self) -> Iterator[tuple[str, Change]]:
        """One deviation of each valve, resistor and capacitor inside what is good."""
        for name in self.board.sections:
            yield name, Change(emission={name: 1 + VALVE_SPREAD})
        for b in self.board.branches:
            if b.role in ("resistor", "track") and np.isfinite(b.high) and b.value > 0:
                share = (b.high - b.low) / (2 * b.value) / UNIFORM
                siemens = ((b.a, b.b, (1 / (1 + share) - 1) / b.value),)
                yield b.family or b.name, Change(siemens=siemens)
        for b in self.state.net.branches:
            if b.kind == "capacitor" and b.value:
                yield b.name, Change(farads={b.name: 1 + _FARADS})

    def _each(self, probes: Sequence[Probe], faults: Sequence[Fault]) -> Floats:
        """Levels of each fault; at the usual places each is computed once. [V]."""
        at = {(p.at, p.to): i for i, p in enumerate(self.probes)}
        usual = all((p.at, p.to) in at for p in probes) and all(f.kind != "pair" for f in faults)
        fresh = [f for f in faults if f.name not in self._kept] if usual else list(faults)
        where = self.probes if usual else probes
        made = [
            self._levels(chunk, solve(self.board, [f.change for f in chunk]), where)
            for chunk in (fresh[i : i + _CHUNK] for i in range(0, len(fresh), _CHUNK))
        ]
        rows = [row for chunk in made for row in chunk]
        if not usual:
            return np.array(rows)
        self._kept.update(zip((f.name for f in fresh), rows, strict=True))
        columns = [at[p.at, p.to] for p in probes]
        return np.array([self._kept[f.name][columns] for f in faults])

    # -- the network -----------------------------------------------------------------------------

    @property
    def _omega(self) -> float:
        return 2 * math.pi * self.source.hertz

    @cached_property
    def _linear(self) -> Linear:
        return linear(self.state)

    @cached_property
    def _whole(self) -> Complex:
        """Admittances of the whole set with the generator in it."""
        return self._driven(self._linear)

    def _driven(self, view: Linear) -> Complex:
        matrix = view.matrix(self._omega)
        matrix.between(self._row(view, self.source.at), self._row(view, CHASSIS), _SHORT)
        return matrix.values

    @staticmethod
    def _row(view: Linear, point: Point) -> int:
        node = view.net.of.get(point)
        return GROUND if node is None else view.plan.node[node]

    def _levels(
        self, faults: Sequence[Fault | None], states: States | None, probes: Sequence[Probe]
    ) -> Floats:
        """Voltage at each probe, one row a fault. [V]."""
        stack = np.repeat(self._whole[None], len(faults), axis=0)
        for row, fault in enumerate(faults):
            if fault is not None:
                self._enter(stack[row], fault.change)
        if states is not None:
            self._slopes(stack, [f.change if f else Change() for f in faults], states)
        right = self._right(self._linear)[:, None]
        x = np.concatenate([np.linalg.solve(stack, right)[:, :, 0], np.zeros((len(faults), 1))], 1)
        ends = [[self._row(self._linear, p) for p in (probe.at, probe.to)] for probe in probes]
        levels = np.abs(np.stack([x[:, a] - x[:, b] for a, b in ends], axis=1))
        for row, fault in enumerate(faults):
            if fault is not None and fault.change.apart:
                levels[row] = self._parted(fault, probes)
        return np.asarray(levels, dtype=np.float64)

    def _enter(self, matrix: Complex, change: Change) -> None:
        """What a fault adds to the admittances."""
        for a, b, siemens in change.siemens:
            _between(matrix, self._row(self._linear, a), self._row(self._linear, b), siemens)
        for branch in self.state.net.branches if change.farads else ():
            left = change.farads.get(branch.name)
            if left is not None:
                lost = 1j * self._omega * branch.value * (left - 1)
                near, far = (self._row(self._linear, p) for p in (branch.a, branch.b))
                _between(matrix, near, far, lost)

    def _slopes(self, stack: Complex, changes: Sequence[Change], states: States) -> None:
        """The valves as each fault leaves them, in place of those of the whole set."""
        each = np.arange(len(stack))
        electrodes = {v.name: v.electrodes for v in self.state.net.valves}
        for number, fitted in enumerate(self.state.system.valves):
            volts = states.x[each[:, None], states.valve_rows[:, number]]
            flows = valve(fitted.model, *(volts[:, i] - volts[:, 3] for i in range(3)))
            share = np.array([c.emission.get(fitted.name, 1.0) for c in changes])
            slopes = fitted.emission * share[:, None, None] * flows.slopes
            before = self.state.flow(fitted.name)
            assert before is not None
            change = slopes - np.array(before.slopes)
            at = electrodes[fitted.name]
            k = at["cathode"]
            points = (at["grid"], at.get("screen", k), at["anode"])
            rows = [self._row(self._linear, p) for p in (*points, k)]
            for i in range(3):
                line = [*(change[:, i, j] for j in range(3)), -change[:, i].sum(axis=1)]
                for j, value in enumerate(line):
                    for row, sign in ((rows[i], 1.0), (rows[3], -1.0)):
                        if GROUND not in (row, rows[j]):
                            stack[:, row, rows[j]] += sign * value

    def _parted(self, fault: Fault, probes: Sequence[Probe]) -> Floats:
        """Levels with some points cut off from the rest of their node, valves as they were."""
        apart, circuit = fault.change.apart, self.state.net.circuit
        links: list[Link] = [k for k in circuit.links if (k.a in apart) == (k.b in apart)]
        cut: Circuit = circuit.but(links=links)
        net = network(cut, self.state.net.conditions)
        view = Linear(self.state, net, layout(net))
        x = np.append(np.linalg.solve(self._driven(view), self._right(view)), 0.0)
        ends = [[self._row(view, p) for p in (probe.at, probe.to)] for probe in probes]
        return np.asarray(np.abs([x[a] - x[b] for a, b in ends]), dtype=np.float64)

    def _right(self, view: Linear) -> Complex:
        right = np.zeros(view.plan.size, dtype=np.complex128)
        into = self._row(view, self.source.at)
        if into != GROUND:
            right[into] = _SHORT * self.source.volts
        return right


def _reached(net: Network, point: Point) -> Point:
    """A pin, tag or named node that a probe finds, at the same node."""
    parts = net.circuit.parts
    return next(
        (p for p in net.groups[net.of[point]] if p.owner not in parts or parts[p.owner].furniture),
        point,
    )


def _between(matrix: Complex, a: int, b: int, value: complex) -> None:
    for row, other in ((a, b), (b, a)):
        if row != GROUND:
            matrix[row, row] += value
            if other != GROUND:
                matrix[row, other] -= value
