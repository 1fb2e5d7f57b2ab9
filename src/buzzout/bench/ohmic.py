"""What an ohmmeter would show for each fault: power off, capacitors charged, valves cold.

An ohmmeter is taken not to open any semiconductor. Old paper capacitors may leak at their working
voltage and not at the few volts of a meter: what it shows of a leak is less than the truth.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property
from itertools import pairwise

import numpy as np

from buzzout.bench.board import Change
from buzzout.bench.faults import Fault
from buzzout.bench.predict import UNIFORM
from buzzout.bench.probe import OHMS, OPEN, Predicted, Probe, Source
from buzzout.circuit import Circuit, Point
from buzzout.electrics.branch import Branch
from buzzout.electrics.common import common
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.laws import Floats, Ints
from buzzout.electrics.network import network, siemens

_LOOSE = 1e-11  # ties what hangs in the air [S]
_CHUNK = 128  # faults computed together


class Ohms:
    """A set on the ohmmeter, whole and with each fault."""

    way = OHMS
    tone: Source | None = None

    def __init__(self, circuit: Circuit, step: int = 0) -> None:
        """Take a set with the valves that it has in its sockets now."""
        self.net = network(circuit, Conditions(valves="cold", power=True))
        self.step = step
        self.branches = [b for b in self.net.resistive if np.isfinite(b.value)]
        self.ends = np.array([self.net.ends(b) for b in self.branches], dtype=np.int64)
        self.own = np.array([siemens(b.value) for b in self.branches])
        self.fitted = {part.name for part in circuit.parts.values() if part.type != "none"}
        self.spare = self.net.size

    @cached_property
    def probes(self) -> tuple[Probe, ...]:
        """Where to put an ohmmeter: each pin, tag and named node to chassis, and across parts."""
        of, circuit = self.net.of, self.net.circuit
        fixed = [p for part in circuit.parts.values() if part.furniture for p in part.points]
        found: dict[int, Point] = {}
        for point in (*(Point(name) for name in circuit.names), *fixed):
            if point in of and of[point] != self.net.chassis:
                found.setdefault(of[point], point)
        across = [
            (found[of[b.a]], found[of[b.b]]) for b in self.branches
            if {of[b.a], of[b.b]} <= found.keys() and b.role in _ACROSS
        ]  # fmt: skip
        minus = common(circuit)
        found.pop(of[minus], None)
        pairs = dict.fromkeys([*((p, minus) for p in found.values()), *across, *self._lead()])
        return tuple(Probe(a, b, way=OHMS, step=self.step) for a, b in pairs)

    def _lead(self) -> Iterator[tuple[Point, Point]]:
        """From each pin of the mains plug along its conductor, and between the pins; unplugged."""
        of, parts = self.net.of, self.net.circuit.parts
        fuses = [self.net.ends(b) for b in self.branches if b.role == "fuse"]
        for cord in (p for p in parts.values() if p.kind == "cord"):
            pins = [p for p in cord.points if p.pin != "E"]
            yield from pairwise(pins)
            for pin in pins:
                along = {of[pin]} | {n for ends in fuses if of[pin] in ends for n in ends}
                yield from (
                    (pin, p) for n in sorted(along) for p in self.net.groups[n]
                    if p.owner in parts and parts[p.owner].kind in _ALONG
                )  # fmt: skip

    def knows(self, at: Point, to: Point) -> bool:
        """Whether both points are there."""
        return at in self.net.of and to in self.net.of

    def seen(self, probes: Sequence[Probe], faults: Sequence[Fault]) -> Predicted:
        """What the meter shows for each fault, as it is scored (see `probe.scored`)."""
        acting = [i for i, fault in enumerate(faults) if self._acts(fault.change)]
        parts = [self._some(probes, [None])]
        parts += [
            self._some(probes, [faults[i] for i in acting[start : start + _CHUNK]])
            for start in range(0, len(acting), _CHUNK)
        ]
        rows = np.zeros(len(faults), dtype=np.int64)
        rows[acting] = np.arange(1, len(acting) + 1)
        mean = np.concatenate([m for m, _ in parts])[rows]
        moved = np.concatenate([m for _, m in parts])[rows]
        exact, settled = np.zeros_like(mean), np.ones(len(faults), dtype=bool)
        ways = np.full(len(probes), OHMS)
        return Predicted(
            mean, moved, exact, self._causes, settled, parts[0][0][0], exact, ways
        )  # fmt: skip

    @cached_property
    def _causes(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(b.family or b.name for b in self.branches))

    def _acts(self, change: Change) -> bool:
        """Whether an ohmmeter can see a change."""
        if change.inside and change.inside not in self.fitted:
            return False
        return bool(change.siemens or change.apart or change.gap)

    def _some(
        self, probes: Sequence[Probe], faults: Sequence[Fault | None]
    ) -> tuple[Floats, Floats]:
        """Score and its movement with each cause, one row a fault."""
        size, count = self.spare + 1, len(faults)
        ends = np.repeat(self.ends[None], count, axis=0)
        own = np.repeat(self.own[None], count, axis=0)
        probe = np.array([(self.net.of[p.at], self.net.of[p.to]) for p in probes], dtype=np.int64)
        at = np.repeat(probe[None], count, axis=0)
        extra: list[tuple[int, int, int, float]] = []
        for row, fault in enumerate(faults):
            if fault is not None:
                extra += self._change(row, fault.change, (ends, own, at), probes)
        matrix = np.zeros((count, size, size))
        each = np.arange(count)[:, None]
        for i, j in ((0, 1), (1, 0)):
            np.add.at(matrix, (each, ends[:, :, i], ends[:, :, i]), own)
            np.add.at(matrix, (each, ends[:, :, i], ends[:, :, j]), -own)
        for row, a, b, added in extra:
            for i, j in ((a, b), (b, a)):
                matrix[row, i, i] += added
                matrix[row, i, j] -= added
        matrix[:, np.arange(size), np.arange(size)] += _LOOSE
        drive = np.zeros((count, size, len(probes)))
        number = np.arange(len(probes))[None]
        np.add.at(drive, (each, at[:, :, 0], number), 1.0)
        np.add.at(drive, (each, at[:, :, 1], number), -1.0)
        x = np.asarray(np.linalg.solve(matrix, drive), dtype=np.float64)
        ohms = np.asarray(np.sum(x * drive, axis=1), dtype=np.float64)
        return self._scored(x, ohms, (ends, own), faults)

    def _change(
        self,
        row: int,
        change: Change,
        into: tuple[Ints, Floats, Ints],
        probes: Sequence[Probe],
    ) -> list[tuple[int, int, int, float]]:
        """Enter a change; what it adds between points that no branch joins is given back."""
        ends, own, at = into
        lost = change.apart | change.gap
        for number, branch in enumerate(self.branches if lost else ()):
            ends[row, number] = [self._at(p, lost) for p in (branch.a, branch.b)]
        for number, probe in enumerate(probes if lost else ()):
            at[row, number] = [self._at(p, lost) for p in (probe.at, probe.to)]
        added = []
        for a, b, more in change.siemens:
            if (a, b) in self._number:
                # a track that stands otherwise under power may have less to lose here
                number = self._number[a, b]
                own[row, number] = max(own[row, number] + more, 0.0)
            elif a in self.net.of and b in self.net.of:
                added.append((row, self._at(a, lost), self._at(b, lost), more))
        return added

    def _at(self, point: Point, lost: frozenset[Point]) -> int:
        return self.spare if point in lost else self.net.of[point]

    @cached_property
    def _number(self) -> dict[tuple[Point, Point], int]:
        return {(b.a, b.b): i for i, b in enumerate(self.branches)}

    def _scored(
        self,
        x: Floats,
        ohms: Floats,
        wires: tuple[Ints, Floats],
        faults: Sequence[Fault | None],
    ) -> tuple[Floats, Floats]:
        """Logarithms, and how they move with parts inside their tolerance and with the size."""
        ends, own = wires
        each = np.arange(len(ohms))[:, None]
        shown = np.clip(ohms, 0.0, OPEN)
        slope = np.where(ohms < OPEN, 1 / (1 + shown), 0.0)
        across = x[each, ends[:, :, 0]] - x[each, ends[:, :, 1]]  # fault, branch, probe
        moved = np.zeros((*ohms.shape, len(self._causes) + 1))
        at = {name: i for i, name in enumerate(self._causes)}
        for number, branch in enumerate(self.branches):
            column = across[:, number] ** 2 * own[:, number, None] * slope * _share(branch)
            moved[:, :, at[branch.family or branch.name]] += column
        for row, fault in enumerate(faults):
            if fault is not None and fault.step and fault.change.siemens:
                a, b, more = fault.change.siemens[0]
                if a not in self.net.of or b not in self.net.of:
                    continue
                more += self.own[self._number[a, b]] if (a, b) in self._number else 0.0
                volts = x[row, self.net.of[a]] - x[row, self.net.of[b]]
                moved[row, :, -1] = -(volts**2) * more * slope[row] * fault.step / 2
        return np.log1p(shown), moved


_ALONG = ("fuse", "switch", "transformer")
_ACROSS = ("resistor", "track", "winding", "choke", "fuse")


def _share(branch: Branch) -> float:
    """One standard deviation of a branch's resistance, as a share of it. [1]."""
    if not np.isfinite(branch.high) or not branch.value:
        return 0.2
    return min((branch.high - branch.low) / (2 * branch.value), 1.0) / UNIFORM
