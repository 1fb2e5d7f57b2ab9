"""Readings and where they are taken, and what each fault predicts for them.

A reading is taken in one of several ways: direct volts, alternating volts, ohms with the power off,
the level of a test tone, or the ripple on the HT. Resistances and levels are scored by their
logarithm, because meters and tolerances are shares of them; volts as they are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from buzzout.circuit import CHASSIS, Point, printed
from buzzout.electrics.laws import Bools, Floats, Ints

DIRECT, ALTERNATING, OHMS, TONE, RIPPLE = range(5)
LEVELS = (TONE, RIPPLE)
# From here on an ohmmeter shows "open"; hand-held meters end at 20 to 60 Mohm. Common practice.
OPEN = 20e6
# Share of what a meter pulls down that is not known better: where it loads a point much, that point
# answers as no straight line. Common practice.
_LOADED = 0.3
# A meter that leaves less than this share, and takes more than so many volts, is computed with.
_LIGHT, _FEW_VOLTS = 0.9, 0.5

_NAMES = {DIRECT: "", ALTERNATING: " ac", TONE: " tone", RIPPLE: " ripple ac"}


@dataclass(frozen=True, slots=True)
class Source:
    """An alternating voltage: where it goes in, against the common line, [V] and [Hz]."""

    at: Point
    volts: float
    hertz: float


@dataclass(frozen=True, slots=True)
class Probe:
    """Where the meter is: two points, its resistance in ohms, and the mains over the computed.

    `way` is one of DIRECT, ALTERNATING, OHMS, TONE, RIPPLE; `step` the step of the bring-up plan, 0
    for the whole set at full mains; `tone` what is fed in, where its level is read.
    """

    at: Point
    to: Point
    meter: float = 10e6
    supply: float = 1.0
    way: int = DIRECT
    step: int = 0
    tone: Source | None = None

    @property
    def view(self) -> tuple[int, int, Source | None]:
        """Step, way and tone: readings that one view of the set predicts."""
        return self.step, self.way, self.tone

    def __str__(self) -> str:
        if self.way == OHMS:
            return f"{self.at} to {self.to}, power off"
        where = str(self.at) if self.to == CHASSIS else f"{self.at} to {self.to}"
        at = f" {self.tone.hertz:g} Hz" if self.tone is not None else ""
        return where + _NAMES[self.way] + at


@dataclass(frozen=True)
class Taken:
    """One reading: where, with which meter, at which supply; `step` is its last digit.

    [V] or [ohm], as the way of its probe has it.
    """

    probe: Probe
    value: float
    step: float = 0.1

    def __str__(self) -> str:
        if self.probe.way != OHMS:
            return f"{self.probe} {self.value:g} V"
        shown = "open" if self.value >= OPEN else printed(float(f"{self.value:.4g}"), "ohm")
        return f"{self.probe}: {shown}"


def scored(way: int, value: float) -> float:
    """A reading as it is scored: volts as they are, ohms and levels by their logarithm. [1]."""
    if way == OHMS:
        return float(np.log1p(min(abs(value), OPEN)))
    return float(np.log(abs(value) + LEAST_LEVEL)) if way in LEVELS else value


LEAST_LEVEL = 1e-4  # what hum leaves of a level that is gone [V]


def told(way: int, score: float) -> float:
    """The reading that has a score: the way back from `scored`. [V] or [ohm]."""
    if way == OHMS:
        return float(np.expm1(score))
    return float(np.exp(score) - LEAST_LEVEL) if way in LEVELS else score


def digit(way: int, value: float, step: float) -> float:
    """The last digit of a reading as it is scored."""
    if way == OHMS:
        return step / (1 + abs(value)) if value < OPEN else 0.3
    return step / (abs(value) + LEAST_LEVEL) if way in LEVELS else step


@dataclass(frozen=True)
class Predicted:
    """Readings for each fault (one row) and probe (one column), as they are scored.

    `moved` holds, per fault, probe and cause, by how much one standard deviation of the cause
    moves the reading; the last cause is the size of the fault itself. `causes` names the others.
    `inside` is the resistance that a meter sees at each probe [ohm], `settled` whether the state
    could be computed. `healthy` is the undisturbed set, as the meter shows it; `unsure` how far a
    reading may be off because the meter itself loads the point; `ways` the way of each probe.
    """

    mean: Floats
    moved: Floats
    inside: Floats
    causes: tuple[str, ...]
    settled: Bools
    healthy: Floats
    unsure: Floats
    ways: Ints

    def heavy(self, probes: Sequence[Probe]) -> Bools:
        """Where the meter takes so much that a straight line round the state does not tell it."""
        share = self._share(probes)
        taken = np.abs(self.mean) * (1 - share)
        return np.asarray(self.settled[:, None] & (share < _LIGHT) & (taken > _FEW_VOLTS))

    def _share(self, probes: Sequence[Probe]) -> Floats:
        """What each meter leaves of the voltage at its probe, near enough where it is light."""
        meter = np.array([probe.meter for probe in probes])
        return np.asarray(1 / (1 + np.maximum(self.inside, 0.0) / meter))

    def loaded(
        self, probes: Sequence[Probe], solved: Mapping[tuple[int, int], tuple[float, Floats]]
    ) -> Predicted:
        """Direct volts as the meters of these probes show them, one probe a column.

        `solved` has the reading and what moves it, by fault and probe, where the state was
        computed with the meter in.
        """
        share = self._share(probes)
        shown, moved = self.mean * share, self.moved * share[:, :, None]
        for place, (volts, by) in solved.items():
            shown[place], moved[place] = volts, by
        whole = np.where(np.abs(self.mean[0]) > 0, self.mean[0], 1.0)
        left = np.where(np.abs(self.mean[0]) > 0, shown[0] / whole, share[0])
        supply = np.array([probe.supply for probe in probes])
        return replace(
            self, mean=shown * supply, moved=moved * supply[:, None],
            healthy=self.healthy * left * supply,
            unsure=_LOADED * np.abs((self.mean - shown) * supply),
        )  # fmt: skip

    def columns(self, which: Sequence[int]) -> Predicted:
        """Some of the probes."""
        own = list(which)
        return replace(
            self, mean=self.mean[:, own], moved=self.moved[:, own], inside=self.inside[:, own],
            healthy=self.healthy[own], unsure=self.unsure[:, own], ways=self.ways[own],
        )  # fmt: skip

    def rows(self, which: Sequence[int]) -> Predicted:
        """Some of the faults, in any order and as often as wanted."""
        own = list(which)
        return replace(
            self, mean=self.mean[own], moved=self.moved[own], inside=self.inside[own],
            settled=self.settled[own], unsure=self.unsure[own],
        )  # fmt: skip

    def over(self, causes: Sequence[str]) -> Floats:
        """`moved` with these causes as columns, nothing for those that are not known here."""
        at = {name: i for i, name in enumerate(self.causes)}
        moved = np.zeros((*self.mean.shape, len(causes) + 1))
        for number, name in enumerate(causes):
            if name in at:
                moved[:, :, number] = self.moved[:, :, at[name]]
        moved[:, :, -1] = self.moved[:, :, -1]
        return moved


def aligned(one: Predicted, other: Predicted) -> tuple[Predicted, Predicted]:
    """Both with the same causes, so that what moves them together is seen."""
    causes = tuple(dict.fromkeys([*one.causes, *other.causes]))
    first, second = (replace(p, moved=p.over(causes), causes=causes) for p in (one, other))
    return first, second


def below(rows: Sequence[Predicted]) -> Predicted:
    """Predictions of the same probes one below the other, cause under cause of the first."""
    if len(rows) == 1:
        return rows[0]
    first = rows[0]
    return replace(
        first,
        mean=np.concatenate([r.mean for r in rows]),
        moved=np.concatenate([r.over(first.causes) for r in rows]),
        inside=np.concatenate([r.inside for r in rows]),
        settled=np.concatenate([r.settled for r in rows]),
        unsure=np.concatenate([r.unsure for r in rows]),
    )


def beside(columns: Sequence[Predicted], order: Sequence[int]) -> Predicted:
    """Predictions of the same faults one beside the other; `order` of the columns in the result.

    A fault is settled where it is in all of them.
    """
    causes = tuple(dict.fromkeys(name for c in columns for name in c.causes))
    moved = np.concatenate([c.over(causes) for c in columns], axis=1)
    whole = Predicted(
        np.concatenate([c.mean for c in columns], axis=1),
        moved,
        np.concatenate([c.inside for c in columns], axis=1),
        causes,
        np.all([c.settled for c in columns], axis=0),
        np.concatenate([c.healthy for c in columns]),
        np.concatenate([c.unsure for c in columns], axis=1),
        np.concatenate([c.ways for c in columns]),
    )
    return whole.columns(order)
