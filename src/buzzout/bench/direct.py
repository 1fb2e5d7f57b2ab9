"""Direct volts of one running set: every fault solved, and what a voltmeter shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from buzzout.bench.batch import States, solve
from buzzout.bench.board import Board
from buzzout.bench.faults import NOTHING, Fault, faults
from buzzout.bench.loading import Loads, Stand
from buzzout.bench.predict import predict
from buzzout.bench.probe import DIRECT, Predicted, Probe, Source, below
from buzzout.bench.ripple import ripple
from buzzout.bench.swing import Swing
from buzzout.bench.taps import WRONG_TAP
from buzzout.bench.tone import Tone
from buzzout.circuit import Circuit, Point
from buzzout.electrics.common import common, feeding
from buzzout.electrics.draft import Power
from buzzout.electrics.operating import Operating, operate
from buzzout.electrics.sockets import Valve

_DROP = 0.05  # what has less across it is not worth a meter [V]


class Direct:
    """A set under power at one step; it must have settled.

    `names` gives names of the drawing to parts that the found file does not name; `others` are
    circuits of their own, computed at the same supply: the set without an open finding, where the
    transcription may be wrong; the set with a control that stands elsewhere. `sources` are test
    tones that are fed in. `cold` is the set on the ohmmeter, where pots may have stood otherwise.
    """

    way = DIRECT
    tone: Source | None = None

    def __init__(
        self,
        state: Operating,
        step: int = 0,
        names: Mapping[str, str] | None = None,
        others: Sequence[tuple[Fault, Circuit]] = (),
        sources: Sequence[Source] = (),
    ) -> None:
        """Think of every fault; nothing is solved yet."""
        self.cold = state.net.circuit
        self.state, self.step, self.board = state, step, Board(state)
        self.swing = Swing(state, step, self.board) if state.side is not None else None
        self.tones = tuple(
            Tone(self.board, source, step, names) for source in dict.fromkeys(sources)
        )
        broken = self.swing.breaks.values() if self.swing is not None else ()
        breaks = [f for b in broken for f in b.faults if f.kind != WRONG_TAP]
        taps = [(f, b.net.circuit) for b in broken for f in b.faults if f.kind == WRONG_TAP]
        self.ripple = ripple(self.board, step, lambda thought: self._stood(thought).x, names)
        dry = self.ripple.faults if self.ripple is not None else ()
        own = _merged((*faults(self.board, names), *breaks, *dry))
        self.faults = tuple({fault.name: fault for fault in reversed(own)}.values())[::-1]
        self._others = [
            (fault, Board(other)) for fault, circuit in (*taps, *others)
            if (other := operate(circuit, state.power)).settled and other.system.size
        ]  # fmt: skip
        self.findings = tuple(fault for fault, _ in self._others)
        if self.swing is not None:
            self.swing.solved = self._stood
            self.swing.others = {fault.name: board.state for fault, board in self._others}
        self._loads = Loads()

    @cached_property
    def _states(self) -> States:
        return solve(self.board, [fault.change for fault in self.faults])

    def _stood(self, thought: Sequence[Fault]) -> States:
        """The state with each fault; that of the whole set for what is another circuit."""
        if any(fault.kind == "pair" for fault in thought):
            return solve(self.board, [fault.change for fault in thought])
        rows = [self._at.get(fault.name, 0) for fault in thought]
        return self._states.rows([row if row < len(self.faults) else 0 for row in rows])

    @cached_property
    def _bare(self) -> Predicted:
        """Every own fault and finding at every probe, without a meter's load."""
        return self._rows(self.probes)

    def _rows(self, probes: Sequence[Probe]) -> Predicted:
        first = predict(self.board, self.faults, probes, self._states)
        return below([first, *(predict(board, [NOTHING], probes) for _, board in self._others)])

    @cached_property
    def _at(self) -> dict[tuple[str, str, str], int]:
        return {fault.name: i for i, fault in enumerate((*self.faults, *self.findings))}

    def seen(self, probes: Sequence[Probe], thought: Sequence[Fault]) -> Predicted:
        """What the meters show for each fault; the whole set for those that cannot be here."""
        if any(fault.kind == "pair" for fault in thought):
            states = solve(self.board, [fault.change for fault in thought])
            bare = predict(self.board, thought, probes, states)
            stand = [Stand(self.board, *each) for each in zip(thought, states.x, strict=True)]
            return self._loads.shown(bare, probes, stand)
        known = {(probe.at, probe.to): i for i, probe in enumerate(self.probes)}
        if all((p.at, p.to) in known for p in probes):
            bare = self._bare.columns([known[p.at, p.to] for p in probes])
        else:
            bare = self._rows(probes)
        rows = [self._at.get(fault.name, 0) for fault in thought]
        return self._loads.shown(bare.rows(rows), probes, [self._stand(row) for row in rows])

    def _stand(self, row: int) -> Stand:
        """The set with one own fault or finding, as it is solved."""
        if row < len(self.faults):
            return Stand(self.board, self.faults[row], self._states.x[row])
        fault, board = self._others[row - len(self.faults)]
        return Stand(board, replace(NOTHING, words=fault.words), board.start)

    def knows(self, at: Point, to: Point) -> bool:
        """Whether both points are there."""
        return at in self.state.net.of and to in self.state.net.of

    @cached_property
    def probes(self) -> tuple[Probe, ...]:
        """One point of each node against the common line; and the drop across parts.

        Where a joint may be dry, both its sides count. The drop across a winding or a resistor
        between two such points tells a current that no two readings to chassis tell as well.
        """
        net, circuit = self.state.net, self.state.net.circuit
        floating = set(self.state.floating)
        # A direct voltmeter tells nothing where hundreds of alternating volts are.
        swinging = {n for way in self.state.ways for n, _ in way.weights} | {net.chassis}
        named = [Point(name) for name in circuit.names]
        wound = feeding(circuit)
        placed = [part for part in circuit.parts.values() if part.furniture]
        placed.sort(key=lambda part: part.name in wound)  # a pin or tag is easier to find
        fixed = [p for part in placed for p in part.points]
        found: dict[int, Point] = {}
        for point in (*named, *fixed):
            node = net.of.get(point)
            if node is not None and node not in swinging and point not in floating:
                found.setdefault(node, point)
        across: dict[tuple[int, int], tuple[Point, Point]] = {}
        for b in self.board.branches:
            ends = net.of[b.a], net.of[b.b]
            if not {*ends} <= found.keys() or abs(self.state.volts(b.a, b.b)) < _DROP:
                continue
            if b.role in ("winding", "choke", "resistor"):
                across.setdefault(ends, (found[ends[0]], found[ends[1]]))
        known = set(found.values())
        minus = common(circuit)
        found.pop(net.of[minus], None)
        sides = ((p, minus) for f in self.faults for p in _sides(f, known))
        pairs = dict.fromkeys([*((p, minus) for p in found.values()), *across.values(), *sides])
        return tuple(Probe(a, b, step=self.step) for a, b in pairs)


@dataclass(frozen=True)
class Elsewhere:
    """Another step of the plan, solved only when a reading of it is thought of.

    `words` say how the set stands there; `names` as in `faults`.
    """

    step: int
    circuit: Circuit
    power: Power
    words: str
    names: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def view(self) -> Direct | None:
        """The set there; None where it does not settle."""
        state = operate(self.circuit, self.power)
        if not state.settled or not state.system.size:
            return None
        return Direct(state, self.step, self.names)

    def grids(self, valves: Sequence[Valve]) -> tuple[Probe, ...]:
        """The grids of some valves there, against the common line."""
        if self.view is None:
            return ()
        of, minus = self.view.state.net.of, common(self.circuit)
        at = {of[v.electrodes["grid"]] for v in valves if v.electrodes.get("grid") in of}
        return tuple(p for p in self.view.probes if of[p.at] in at and p.to == minus)


def _merged(thought: Sequence[Fault]) -> list[Fault]:
    """A wire that direct and alternating currents miss both is one fault.

    The joint tells what a direct voltmeter finds on the lost side, the break what the windings do.
    """
    joints = {f.words: f for f in thought if f.kind == "joint dry"}
    broken = {f.words for f in thought if f.change.breaks}
    kept = [f for f in thought if f.kind != "joint dry" or f.words not in broken]
    return [
        replace(f, change=replace(f.change, apart=joints[f.words].change.apart, paths={}))
        if f.change.breaks and f.words in joints else f
        for f in kept
    ]  # fmt: skip


def _sides(fault: Fault, known: set[Point]) -> tuple[Point, ...]:
    """A point on the lost side of a dry joint that a probe reaches, where none is listed yet."""
    lost = sorted(p for p in fault.change.apart if p.pin)
    return () if set(lost) & known else tuple(lost[:1])
