"""A set ready to be asked: every single fault with what it would show at every point."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from buzzout.bench.batch import States, solve
from buzzout.bench.board import Board
from buzzout.bench.faults import NOTHING, WEIGHTS, Fault, faults
from buzzout.bench.predict import Predicted, Probe, predict
from buzzout.circuit import CHASSIS, Circuit, Point
from buzzout.electrics.draft import Power
from buzzout.electrics.laws import Floats
from buzzout.electrics.operating import Operating, operate

_DROP = 0.05  # what has less across it is not worth a meter [V]


@dataclass(frozen=True)
class Taken:
    """One reading: where, with which meter, at which supply; `step` is its last digit. [V]."""

    probe: Probe
    volts: float
    step: float = 0.1

    def __str__(self) -> str:
        return f"{self.probe} {self.volts:g} V"


@dataclass(frozen=True)
class Case:
    """Every fault of a set, the undisturbed set first.

    `probes` are the places where a meter can be put; `predicted` what would be seen there without
    a meter's load; `weights` how often each fault happens, in relation to the others. Faults from
    `first_finding` on are open findings that may not be there; they are states of another board.
    """

    board: Board
    faults: tuple[Fault, ...]
    probes: tuple[Probe, ...]
    predicted: Predicted
    weights: Floats
    states: States
    findings: tuple[tuple[Fault, Board], ...] = ()

    def at(self, taken: Sequence[Taken]) -> Predicted:
        """What the meters would show at these readings, one a column."""
        probes = [t.probe for t in taken]
        known = {(probe.at, probe.to): i for i, probe in enumerate(self.probes)}
        if all((p.at, p.to) in known for p in probes):
            bare = self.predicted.columns([known[p.at, p.to] for p in probes])
            return bare.loaded(probes)
        own = self.faults[: len(self.states.x)]
        bare = predict(self.board, own, probes, self.states)
        return _stacked(bare, self.findings, probes).loaded(probes)


def case(
    state: Operating,
    names: Mapping[str, str] | None = None,
    findings: Sequence[tuple[str, Circuit]] = (),
) -> Case:
    """Compute every single fault of a running set (it must have settled).

    `names` gives names of the drawing to parts that the found file does not name; `findings` are
    open findings in words with the circuit as it would be without them: the transcription may be
    wrong there. They are computed at the same supply.
    """
    board = Board(state)
    thought = faults(board, names)
    probes = _probes(board, thought)
    states = solve(board, [fault.change for fault in thought])
    bare = predict(board, thought, probes, states)
    others = tuple(_findings(state.power, findings))
    everything = (*thought, *(fault for fault, _ in others))
    predicted = _stacked(bare, others, probes)
    return Case(board, everything, probes, predicted, _weights(everything), states, others)


def _findings(power: Power, findings: Sequence[tuple[str, Circuit]]) -> list[tuple[Fault, Board]]:
    made = []
    for words, circuit in findings:
        other = operate(circuit, power)
        if other.settled and other.system.size:
            made.append((Fault("finding not there", words, words), Board(other)))
    return made


def _stacked(
    bare: Predicted, findings: Sequence[tuple[Fault, Board]], probes: Sequence[Probe]
) -> Predicted:
    """Rows of the other boards below those of the first, cause under cause."""
    rows = [bare]
    for _fault, board in findings:
        own = predict(board, [NOTHING], probes)
        at = {name: i for i, name in enumerate(own.causes)}
        moved = np.zeros((1, len(probes), len(bare.causes) + 1))
        for number, name in enumerate(bare.causes):
            if name in at:
                moved[:, :, number] = own.moved[:, :, at[name]]
        rows.append(replace(own, moved=moved, causes=bare.causes))
    if len(rows) == 1:
        return bare
    return Predicted(
        np.concatenate([r.mean for r in rows]),
        np.concatenate([r.moved for r in rows]),
        np.concatenate([r.inside for r in rows]),
        bare.causes,
        np.concatenate([r.settled for r in rows]),
        bare.healthy,
        np.concatenate([r.unsure for r in rows]),
    )


def _probes(board: Board, thought: Sequence[Fault]) -> tuple[Probe, ...]:
    """One point of each node against chassis, a name, else a pin or tag; and across parts.

    Where a joint may be dry, both its sides count. The drop across a winding or a resistor between
    two such points tells a current that no two readings to chassis tell as well.
    """
    net, circuit = board.state.net, board.state.net.circuit
    floating = set(board.state.floating)
    named = [Point(name) for name in circuit.names]
    fixed = [p for part in circuit.parts.values() if part.furniture for p in part.points]
    found: dict[int, Probe] = {}
    for point in (*named, *fixed):
        node = net.of.get(point)
        if node is not None and node != net.chassis and point not in floating:
            found.setdefault(node, Probe(point, CHASSIS))
    across: dict[tuple[int, int], Probe] = {}
    for b in board.branches:
        ends = net.of[b.a], net.of[b.b]
        if not {*ends} <= found.keys() or abs(board.state.volts(b.a, b.b)) < _DROP:
            continue
        if b.role in ("winding", "choke", "resistor"):
            across.setdefault(ends, Probe(found[ends[0]].at, found[ends[1]].at))
    sides = (Probe(p, CHASSIS) for f in thought for p in _sides(f, {x.at for x in found.values()}))
    return tuple(dict.fromkeys((*found.values(), *across.values(), *sides)))


def _sides(fault: Fault, known: set[Point]) -> tuple[Point, ...]:
    """A point on the lost side of a dry joint that a probe reaches, where none is listed yet."""
    lost = sorted(p for p in fault.change.apart if p.pin)
    return () if set(lost) & known else tuple(lost[:1])


def _weights(thought: Sequence[Fault]) -> Floats:
    """Weight of each fault; the sizes of one fault share its weight by how likely each is."""
    total: dict[tuple[str, str], float] = {}
    for fault in thought:
        total[fault.key] = total.get(fault.key, 0.0) + fault.odds
    return np.array([WEIGHTS[f.kind] * f.odds / total[f.key] for f in thought])
