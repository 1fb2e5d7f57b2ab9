"""The ripple on the HT for each fault: what dried-out smoothing capacitors show.

The reservoir's ripple comes from stepping it through the mains cycle (`electrics.charging`). Behind
it the set is linear: what a choke or a resistor with its capacitor leaves of the fundamental.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from buzzout.bench.batch import solve
from buzzout.bench.board import Board
from buzzout.bench.faults import Fault
from buzzout.bench.levels import Levels, Scores
from buzzout.bench.probe import LEAST_LEVEL, RIPPLE, Probe, Source
from buzzout.bench.tone import Signal, gone, reached
from buzzout.circuit import Point
from buzzout.electrics.branch import Branch
from buzzout.electrics.charging import Charged, Feed, charged
from buzzout.electrics.common import common, reservoirs
from buzzout.electrics.laws import Floats
from buzzout.electrics.mains import hertz_of
from buzzout.electrics.operating import Operating
from buzzout.electrics.stress_parts import smoothed

_EFFECTIVE = 12**-0.5  # effective value of saw tooth and triangle alike, over peak to peak
_HALF_WAVES = 0.48  # effective ripple of half waves without a reservoir, over their mean
_WORTH = 2e-3  # less ripple is not worth a meter [V]
_WHOLE = Fault("nothing", "", "")
Solved = Callable[[Sequence[Fault]], Floats]
_BARE = 0.02  # share of a reservoir that wiring and the next capacitor are taken for


@dataclass(frozen=True)
class _Fed:
    """The reservoir with most ripple: its paths, farads, and node. [F], [V]."""

    members: tuple[int, ...]
    node: int
    farads: float
    lift: float
    ripple: float


def _fed(state: Operating) -> _Fed | None:
    found = []
    for number in sorted({r.group for r in state.reservoirs if r.farads and r.ripple}):
        members = tuple(i for i, r in enumerate(state.reservoirs) if r.group == number)
        held, node = state.reservoirs[members[0]], smoothed(state, list(members))
        if node != state.net.chassis:
            found.append(_Fed(members, node, held.farads, held.lift, held.ripple))
    return max(found, key=lambda f: f.ripple, default=None)


def ripple(
    board: Board,
    step: int = 0,
    solved: Solved | None = None,
    names: Mapping[str, str] | None = None,
) -> Ripple | None:
    """The ripple of a set under power; None where no reservoir is charged.

    `solved` gives the unknowns of each fault, where they are solved already; `names` as in
    `faults`.
    """
    fed = _fed(board.state)
    if fed is None:
        return None
    made = Ripple(board, fed, step, names)
    made.solved = solved or made.solved
    return made


class Ripple(Signal):
    """A set with the ripple of its reservoir."""

    way = RIPPLE
    common = "ripple"
    deviation = 0.15  # the drain of the set, the reservoir's tolerance, the windings

    def __init__(self, board: Board, fed: _Fed, step: int, names: Mapping[str, str] | None) -> None:
        """Take a set under power; nothing is solved yet."""
        self.solved: Solved = self._solve
        state = board.state
        self.fed = fed
        self.hertz = hertz_of(state.net.circuit)
        at = reached(state.net, state.net.groups[fed.node][0])
        volts = _EFFECTIVE * fed.ripple
        super().__init__(board, Source(at, volts, self.hertz * len(fed.members)), step, names)

    def _solve(self, faults: Sequence[Fault]) -> Floats:
        return solve(self.board, [fault.change for fault in faults]).x

    @cached_property
    def _nodes(self) -> tuple[int, ...]:
        """Nodes that a capacitor of the HT holds still."""
        net = self.state.net
        filled = [plus for plus, _ in reservoirs(net.circuit) if plus in net.of]
        return tuple(dict.fromkeys([self.fed.node, *(net.of[p] for p in filled)]))

    @cached_property
    def probes(self) -> tuple[Probe, ...]:
        """The reservoir and each smoothing capacitor, where there is ripple to be read."""
        net = self.state.net
        minus = common(net.circuit)
        points = [reached(net, net.groups[n][0]) for n in self._nodes if n != net.of[minus]]
        probes = [Probe(p, minus, way=RIPPLE, step=self.step) for p in points]
        return self.worth(probes, _WORTH)

    def knows(self, at: Point, to: Point) -> bool:
        """Whether it is a capacitor of the HT against the common line."""
        of = self.state.net.of
        return of.get(at) in self._nodes and of.get(to) == of[common(self.state.net.circuit)]

    @cached_property
    def faults(self) -> tuple[Fault, ...]:
        """Capacitors of the HT dried out; that of a reservoir lowers the HT too."""
        return tuple(self._dry())

    def _dry(self) -> Iterator[Fault]:
        net = self.state.net
        for branch in net.branches:
            ends = set(net.ends(branch))
            if branch.kind != "capacitor" or not branch.value or not ends & {*self._nodes}:
                continue
            held = self.fed.node in ends
            for fault in gone(branch, self.names):
                left = fault.change.farads[branch.name]
                series = self._lower(left, branch) if held else {}
                yield replace(fault, change=replace(fault.change, series=series))

    def _less(self, left: float, branch: Branch) -> float:
        """What is left of the reservoir. [F]."""
        return max(self.fed.farads - (1 - left) * branch.value, _BARE * self.fed.farads)

    def _lower(self, left: float, branch: Branch) -> dict[str, float]:
        """Ohms in each path that lower the HT as much as the smaller reservoir does."""
        now = self._charged(self._less(left, branch), self.fed.members)
        lost = self.fed.lift - (now.mean - now.stiff)
        state = self.state
        return {
            state.system.paths[i].name: max(lost, 0.0) / max(state.pulses[i].mean, 1e-6)
            for i in self.fed.members
        }

    def _charged(self, farads: float, members: Sequence[int]) -> Charged:
        state, side = self.state, self.state.side
        assert side is not None
        feeds = [
            Feed(state.ways[i].law, float(abs(side.open_circuit[i])), float(side.ohms[i, i].real),
                 (1.0, -1.0)[self.fed.members.index(i)])
            for i in members
        ]  # fmt: skip
        drain = sum(state.pulses[i].mean for i in self.fed.members)
        return charged(feeds, farads, drain, self.hertz)

    # -- with each fault -------------------------------------------------------------------------

    def scores(self, probes: Sequence[Probe], faults: Sequence[Fault]) -> Scores:
        """Levels of each fault: as the set draws, and at mains frequency with half a rectifier."""
        acting = [i for i, fault in enumerate(faults) if self._acts(fault)]
        made = self.levels.scores(probes, [_WHOLE, *(faults[i] for i in acting)])
        rows = np.zeros(len(faults), dtype=np.int64)
        rows[acting] = np.arange(1, len(acting) + 1)
        whole = made.rows(rows.tolist())
        mean = np.exp(whole.mean) - LEAST_LEVEL
        halved = [row for row, fault in enumerate(faults) if self._halved(fault)]
        if halved:
            mean[halved] = np.exp(
                self._half.scores(probes, [faults[row] for row in halved]).mean
            ) - LEAST_LEVEL  # fmt: skip
        mean *= self._drawn(faults)[:, None]
        return replace(whole, mean=np.log(np.maximum(mean, 0.0) + LEAST_LEVEL))

    def _acts(self, fault: Fault) -> bool:
        """Whether a fault changes what lies between the capacitors of the HT."""
        of, change = self.state.net.of, fault.change
        ends = [p for a, b, _ in change.siemens for p in (a, b)]
        near = any(of.get(p) in self._nodes for p in (*ends, *change.apart))
        return near or bool(change.farads)

    def _halved(self, fault: Fault) -> bool:
        names = [self.state.system.paths[i].name for i in self.fed.members]
        dead = [name for name in names if fault.change.paths.get(name) == 0.0]
        return len(names) == 2 and len(dead) == 1

    @cached_property
    def _half(self) -> Levels:
        """The ripple of one path alone."""
        got = self._charged(self.fed.farads, self.fed.members[:1])
        volts = _EFFECTIVE * got.ripple
        return Levels(self.board, replace(self.source, volts=volts, hertz=self.hertz))

    def _drawn(self, faults: Sequence[Fault]) -> Floats:
        """Ripple of the reservoir with each fault over that of the whole set. [1]."""
        x = self.solved(faults)
        first = self.board.first + len(self.state.system.sources)
        rows = [first + i for i in self.fed.members]
        before = sum(self.state.pulses[i].mean for i in self.fed.members)
        share = np.maximum(np.sum(x[:, rows], axis=1), 0.0) / max(before, 1e-9)
        ends = [self.board.row(p) for p in (self.source.at, common(self.state.net.circuit))]
        held = np.pad(x, [(0, 0), (0, 1)])[:, ends] @ np.array([1.0, -1.0])
        share = np.minimum(share, _HALF_WAVES * np.abs(held) / self.source.volts)
        grown = np.array([self._grown(fault) for fault in faults])
        return np.asarray(share * grown, dtype=np.float64)

    def _grown(self, fault: Fault) -> float:
        """How much more ripple a reservoir has that has dried out."""
        grown = 1.0
        for branch in self.state.net.branches if fault.change.farads else ():
            left = fault.change.farads.get(branch.name)
            if left is not None and self.fed.node in self.state.net.ends(branch):
                now = self._charged(self._less(left, branch), self.fed.members)
                grown *= now.ripple / self.fed.ripple
        return grown
