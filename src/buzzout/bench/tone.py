"""The level of a test tone at each point for each fault: what no direct voltage shows.

Capacitors that are open or dried out belong here alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property

import numpy as np

from buzzout.bench.board import Board, Change
from buzzout.bench.faults import Fault, call
from buzzout.bench.levels import Levels, Scores, score, stacked
from buzzout.bench.probe import TONE, Predicted, Probe, Source, told
from buzzout.circuit import CHASSIS, Point, printed
from buzzout.electrics.branch import Branch
from buzzout.electrics.network import Network
from buzzout.electrics.operating import Operating

LEFT = (0.006, 0.02, 0.06, 0.2)  # shares that a dried-out electrolytic keeps (common practice)
_WORTH = 2e-4  # a level below this is not worth a meter [V]


class Signal:
    """Levels that one source makes, whole and with each fault."""

    way = TONE
    tone: Source | None = None
    common = "tone"
    deviation = 0.1  # of the source's level and of what is common to all points; as a share

    def __init__(
        self, board: Board, source: Source, step: int = 0, names: Mapping[str, str] | None = None
    ) -> None:
        """Take a set under power; nothing is solved yet. `names` as in `faults`."""
        self.board, self.source, self.step = board, source, step
        self.names: Mapping[str, str] = names or {}
        self.state: Operating = board.state
        self.levels = Levels(board, source)
        self._kept: dict[tuple[str, str, str], Scores] = {}

    @cached_property
    def faults(self) -> tuple[Fault, ...]:
        """Faults that belong to these levels alone."""
        raise NotImplementedError

    @cached_property
    def probes(self) -> tuple[Probe, ...]:
        """Where there is a level, in the whole set or with one of its own faults."""
        raise NotImplementedError

    def worth(self, probes: Sequence[Probe], least: float) -> tuple[Probe, ...]:
        """Those of some probes with a level above `least`. [V]."""
        level = self.levels.whole(probes)
        if self.faults and probes:
            most = np.max(self.scores(probes, self.faults).mean, axis=0)
            level = np.maximum(level, [told(self.way, float(v)) for v in most])
        return tuple(p for p, v in zip(probes, level, strict=True) if v > least)

    def scores(self, probes: Sequence[Probe], faults: Sequence[Fault]) -> Scores:
        """Levels of each fault as they are scored."""
        return self.levels.scores(probes, faults)

    def seen(self, probes: Sequence[Probe], faults: Sequence[Fault]) -> Predicted:
        """What a meter shows for each fault, as it is scored (see `probe.scored`)."""
        got = self._each(probes, faults)
        moved = np.zeros((*got.mean.shape, got.moved.shape[2] + 2))
        moved[:, :, :-2] = got.moved
        moved[:, :, -2] = self.deviation
        nothing, settled = np.zeros_like(got.mean), np.ones(len(faults), dtype=bool)
        ways, whole = np.full(len(probes), self.way), score(self.levels.whole(probes))
        causes = (*self.levels.causes, self.common)
        return Predicted(got.mean, moved, nothing, causes, settled, whole, got.unsure, ways)

    def _each(self, probes: Sequence[Probe], faults: Sequence[Fault]) -> Scores:
        """Levels of each fault; at the usual places each is computed once."""
        at = {(p.at, p.to): i for i, p in enumerate(self.probes)}
        usual = all((p.at, p.to) in at for p in probes) and all(f.kind != "pair" for f in faults)
        if not usual:
            return self.scores(probes, faults)
        fresh = [f for f in faults if f.name not in self._kept]
        if fresh:
            made = self.scores(self.probes, fresh)
            for row, fault in enumerate(fresh):
                one = slice(row, row + 1)
                self._kept[fault.name] = Scores(made.mean[one], made.moved[one], made.unsure[one])
        columns = [at[p.at, p.to] for p in probes]
        return stacked([self._kept[f.name].columns(columns) for f in faults])


class Tone(Signal):
    """A set with a test tone."""

    def __init__(
        self, board: Board, source: Source, step: int = 0, names: Mapping[str, str] | None = None
    ) -> None:
        """Take a set under power; nothing is solved yet."""
        super().__init__(board, source, step, names)
        self.tone = source

    @cached_property
    def faults(self) -> tuple[Fault, ...]:
        """Capacitors that are open or dried out."""
        branches = self.state.net.branches
        filled = [b for b in branches if b.kind == "capacitor" and b.value]
        return tuple(f for b in filled for f in gone(b, self.names))

    @cached_property
    def probes(self) -> tuple[Probe, ...]:
        """Grids, anodes, cathodes and what capacitors hold still, where there is a level.

        On what a good capacitor holds still there is one when it is open.
        """
        net, found = self.state.net, dict[int, Probe]()
        points = [
            fitted.electrodes[role] for fitted in net.valves if fitted.name in self.board.sections
            for role in ("grid", "anode", "cathode") if role in fitted.electrodes
        ]  # fmt: skip
        points += [
            reached(net, end) for b in net.branches if b.kind == "capacitor" for end in (b.a, b.b)
        ]
        for point in points:
            if net.of[point] != net.chassis:
                probe = Probe(point, CHASSIS, way=TONE, step=self.step, tone=self.tone)
                found.setdefault(net.of[point], probe)
        return self.worth(list(found.values()), _WORTH)

    def knows(self, at: Point, to: Point) -> bool:
        """Whether both points are there."""
        return {at, to} <= self.state.net.of.keys()


def gone(branch: Branch, names: Mapping[str, str]) -> Iterator[Fault]:
    """A capacitor open, or what is left of a dried-out electrolytic; `names` as in `faults`."""
    wet = branch.role == "electrolytic"
    kind = "electrolytic dry" if wet else "capacitor open"
    words = f"{call(branch, names)} {'dried out' if wet else 'open'}"
    for left in (0.0, *(LEFT if wet else ())):
        size = f"as if {printed(left * branch.value, 'F')} were left" if left else ""
        yield Fault(kind, branch.part, words, Change(farads={branch.name: left}), size)


def reached(net: Network, point: Point) -> Point:
    """A named node, pin or tag that a probe finds, at the same node."""
    parts, here = net.circuit.parts, net.groups[net.of[point]]
    named = [p for p in here if p.owner not in parts]
    fixed = [p for p in here if p.owner in parts and parts[p.owner].furniture]
    fixed.sort(key=lambda p: parts[p.owner].kind == "transformer")  # a pin or tag is easier to find
    return next(iter((*named, *fixed, point)))
