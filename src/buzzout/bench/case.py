"""A set ready to be asked: every single fault with what it would show, in every way of measuring.

The readings of one job come from several steps: valves out, behind a lamp, running, power off. Each
step and way of measuring is a view of the same set; one fault must explain them all together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from buzzout.bench.direct import Direct, Elsewhere
from buzzout.bench.faults import WEIGHTS, Fault
from buzzout.bench.ohmic import Ohms
from buzzout.bench.probe import ALTERNATING, DIRECT, OHMS, Predicted, Probe, Source, Taken, beside
from buzzout.circuit import Circuit, Point
from buzzout.electrics.laws import Floats
from buzzout.electrics.operating import Operating

# What is felt of a fault: so much off at some point, as a share and in volts; and how much rarer
# a set with a fault that is not felt is measured at all. Common practice.
_FELT, _FELT_VOLTS = 0.1, 0.2
_UNFELT = 0.1


class View(Protocol):
    """One step of one set in one way of measuring."""

    step: int
    tone: Source | None

    @property
    def way(self) -> int:
        """How it is measured; see `probe`."""

    @property
    def probes(self) -> tuple[Probe, ...]:
        """The places where a meter can be put."""

    def knows(self, at: Point, to: Point) -> bool:
        """Whether something can be said of a reading between two points."""

    def seen(self, probes: Sequence[Probe], faults: Sequence[Fault]) -> Predicted:
        """What the meters of these probes would show, one row a fault."""


@dataclass(frozen=True)
class Case:
    """Every fault of a set, the undisturbed set first.

    `weights` tell how often each fault happens, in relation to the others. The first of `views`
    is where the set stands now: the next reading is looked for there, and in those of its step.
    `pulled` is the same set with its valves pulled, the rectifier left: what stays on a grid then
    is no valve's doing.
    """

    views: tuple[View, ...]
    faults: tuple[Fault, ...]
    weights: Floats
    pulled: Elsewhere | None = None

    def at(self, taken: Sequence[Taken], faults: Sequence[Fault] | None = None) -> Predicted:
        """What the meters would show at these readings, one a column, as it is scored."""
        return self._beside([t.probe for t in taken], self.faults if faults is None else faults)

    def _beside(self, probes: Sequence[Probe], faults: Sequence[Fault]) -> Predicted:
        groups: dict[tuple[int, int, Source | None], list[int]] = {}
        for number, probe in enumerate(probes):
            groups.setdefault(probe.view, []).append(number)
        by_key = {(v.step, v.way, v.tone): v for v in self.views}
        there = self.pulled
        if there is not None and (there.step, DIRECT, None) in groups and there.view is not None:
            by_key.setdefault((there.step, DIRECT, None), there.view)
        columns = [
            by_key[key].seen([probes[n] for n in own], faults) for key, own in groups.items()
        ]
        order = [n for own in groups.values() for n in own]
        return beside(columns, np.argsort(order).tolist())

    def view(self, step: int, way: int, tone: Source | None = None) -> View | None:
        """The view of one step in one way of measuring; None where there is none."""
        wanted = (step, way, tone)
        return next((v for v in self.views if (v.step, v.way, v.tone) == wanted), None)

    @cached_property
    def volts(self) -> tuple[Probe, ...]:
        """Places for a voltmeter as the set stands now."""
        now = self.views[0].step
        return tuple(p for v in self.views if v.step == now and not _off(v) for p in v.probes)

    @cached_property
    def ohms(self) -> tuple[Probe, ...]:
        """Places for an ohmmeter, with the power off."""
        now = self.views[0].step
        return tuple(p for v in self.views if v.step == now and _off(v) for p in v.probes)

    @cached_property
    def grids(self) -> tuple[Probe, ...]:
        """The grids with the valves pulled, where the set does not stand so already."""
        now = self.views[0]
        if self.pulled is None or not isinstance(now, Direct) or now.step == self.pulled.step:
            return ()
        return self.pulled.grids(now.state.net.valves)

    @cached_property
    def predicted(self) -> Predicted:
        """What a voltmeter would show for every fault at every place for it."""
        return self._beside(self.volts, self.faults)

    @cached_property
    def told_apart(self) -> Floats:
        """What the meters show for every fault at every place for one, as it is scored."""
        off = self._beside(self.ohms, self.faults).mean if self.ohms else self.predicted.mean[:, :0]
        return np.concatenate([self.predicted.mean, off], axis=1)

    @cached_property
    def likely(self) -> Floats:
        """Weight of each fault for a set that somebody measures: something of it shows.

        A fault that moves no point against the common line, no winding and no level by what sets in
        order differ anyway brings no set to the bench; it stays possible, other readings find it.
        """
        ends = [p.to for p in self.volts if p.way == DIRECT]
        felt_at = [i for i, p in enumerate(self.volts) if p.way != DIRECT or p.to == ends[0]]
        shown = self.predicted.columns(felt_at)
        scale = np.where(
            np.isin(shown.ways, (DIRECT, ALTERNATING)),
            _FELT * np.abs(shown.healthy) + _FELT_VOLTS,
            3 * _FELT,
        )
        felt = np.max(np.abs(shown.mean - shown.mean[0]) / scale, axis=1, initial=0.0)
        share = _UNFELT + (1 - _UNFELT) * np.clip(felt, 0.0, 1.0) ** 2
        share[0] = 1.0
        return np.asarray(self.weights * share, dtype=np.float64)

    def foreseen(self, probes: Sequence[Probe], rows: Sequence[int]) -> Predicted:
        """What some faults would show at some places."""
        return self._beside(probes, [self.faults[r] for r in rows])


def _off(view: View) -> bool:
    return view.way == OHMS


def case(
    state: Operating,
    names: Mapping[str, str] | None = None,
    others: Sequence[tuple[Fault, Circuit]] = (),
) -> Case:
    """A running set by itself (it must have settled); see `Direct` for names and others."""
    return together([Direct(state, 0, names, others)])


def together(steps: Sequence[Direct], pulled: Elsewhere | None = None) -> Case:
    """Several steps of one set; the first is where it stands now. See `Case` for `pulled`."""
    views: list[View] = []
    for step in steps:
        views += [v for v in (step, step.swing, step.ripple, *step.tones) if v is not None]
        views.append(Ohms(step.cold, step.step))
    every = [f for step in steps for f in step.faults]
    every += [f for step in steps for tone in step.tones for f in tone.faults]
    every += [f for step in steps for f in step.findings]
    first: dict[tuple[str, str, str], Fault] = {}
    for fault in every:  # the undisturbed set stays the first, whatever one step alone thinks of
        first.setdefault(fault.name, fault)
    thought = tuple(first.values())
    return Case(tuple(views), thought, _weights(thought), pulled)


def _weights(thought: Sequence[Fault]) -> Floats:
    """Weight of each fault; the sizes of one fault share its weight by how likely each is."""
    total: dict[tuple[str, str], float] = {}
    for fault in thought:
        total[fault.key] = total.get(fault.key, 0.0) + fault.odds
    return np.array([WEIGHTS[f.kind] * f.odds / total[f.key] for f in thought])
