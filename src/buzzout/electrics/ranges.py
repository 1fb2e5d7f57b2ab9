"""What tolerances make of an operating point, and how stiff each point is.

The range is that of many sets made of good parts (see `samples`): each resistor anywhere inside its
tolerance, each valve's current 30 % either way, the windings' ohms, the transformer's voltage 5 %,
rectifier valves 20 %, gas discharges inside their span. It holds 95 of 100 such sets. The mains
voltage is an input and takes no part; capacitors are as marked.
"""

from __future__ import annotations

import math
import random
from dataclasses import replace
from functools import cached_property

import numpy as np

from buzzout.circuit import Point
from buzzout.electrics.balance import balance
from buzzout.electrics.laws import gas
from buzzout.electrics.network import Floats
from buzzout.electrics.newton import solve
from buzzout.electrics.operating import Operating
from buzzout.electrics.samples import SEED, SETS, Samples, strata
from buzzout.electrics.strike import gas_amps
from buzzout.electrics.system import GROUND, System, voltage

INSIDE = 0.95  # share of the sets that a range holds
_FEWEST = 20  # settled sets below which no range is told
_ROOM = 8e6  # figures that the matrices of all sets may take together
_STIFF = 0.97  # a meter that takes less of a voltage takes as much of it in every set
_BENT, _BENT_VOLTS = 0.01, 0.01  # a reading further off a straight line is computed in every set

_COLUMN = {"screen": 1, "anode": 2}

RANGE = f"{100 * INSIDE:.0f} of 100 sets of good parts read inside it; see below"
ASSUMED = (
    f"ranges: from {SETS} sets drawn at random, always the same ones; resistors anywhere in their"
    " tolerance, valves' currents 30 %, windings' ohms 20 %, transformer volts 5 %, rectifier"
    " valves 20 %, gas tubes in their span; the mains as metered, capacitors as marked"
)


Span = tuple[float, float, float]  # as computed, lowest, highest


class Spread:
    """Ranges of an operating point. Sets are drawn when they are first asked for."""

    def __init__(self, state: Operating) -> None:
        """Of a state; one that did not settle has no ranges."""
        self.state = state

    @cached_property
    def samples(self) -> Samples | None:
        """The sets, None where too few of them settle."""
        if not self.state.settled or self.state.system.size == 0:
            return None
        drawn = Samples(self.state, self._count)
        return drawn if int(drawn.settled.sum()) >= _FEWEST else None

    @property
    def _count(self) -> int:
        """How many sets are drawn: fewer of a very large one, for want of room."""
        room = 2 * int(_ROOM / 2 / max(self.state.system.size, 1) ** 2)
        return min(SETS, max(room, 2 * _FEWEST))

    @property
    def remarks(self) -> tuple[str, ...]:
        """What is to be said of the ranges."""
        if not self.state.settled or self.state.system.size == 0:
            return ()
        if self.samples is None:
            return ("no range is told: sets with good parts do not settle beside this one",)
        count = self._count
        fewer = (f"ranges from {count} sets only: this one is large",) if count < SETS else ()
        left = int((~self.samples.settled).sum())
        out = (f"{left} of {count} sets did not settle and are not in the ranges",) if left else ()
        return (*fewer, *out)

    def volts(self, at: Point, to: Point | None = None) -> Span:
        """Voltage, lowest and highest. [V]; NaN where the point floats."""
        middle = self.state.volts(at, to)
        return (middle, *self.span(middle, self._each(at, to)))

    def line_amps(self) -> Span:
        """Mains current, lowest and highest. [A], r.m.s."""
        middle = self.state.line_amps
        return (middle, *self.span(middle, self._drawn()))

    def lamp_volts(self) -> Span:
        """Voltage across a limiter lamp, lowest and highest. [V], r.m.s."""
        middle, drawn = self.state.lamp_volts, self._drawn()
        if drawn is None or self.samples is None or self.samples.line is None:
            return middle, middle, middle
        return (middle, *self.span(middle, drawn * self.samples.line.ohms[self.samples.settled]))

    def valve_amps(self, name: str, electrode: str) -> Span:
        """Current of an electrode of a valve section, lowest and highest. [A]; NaN where unknown.

        `electrode` is "anode", "screen" or "cathode".
        """
        flow = self.state.flow(name)
        if flow is None:
            return math.nan, math.nan, math.nan
        middle = float(getattr(flow, electrode))
        if self.samples is None:
            return middle, middle, middle
        index = [v.name for v in self.state.system.valves].index(name)
        kept = self.samples.settled
        amps = self.samples.flows(index, self.samples.x[kept]).amps
        each = amps.sum(axis=1) if electrode == "cathode" else amps[:, _COLUMN[electrode]]
        return (middle, *self.span(middle, each * self.samples.draw.emission[kept, index]))

    def rectified(self, part: str) -> Span:
        """Direct current through a rectifier, lowest and highest. [A]."""
        own = [i for i, way in enumerate(self.state.ways) if way.parts[0] == part]
        middle = sum(self.state.pulses[i].mean for i in own)
        if self.samples is None:
            return middle, middle, middle
        means = self.samples.means(self.samples.x[self.samples.settled])
        return (middle, *self.span(middle, means[:, own].sum(axis=1)))

    def gas_amps(self, name: str) -> Span:
        """Current through a gas discharge, lowest and highest. [A]; NaN where there is none."""
        tubes = self.state.system.gas
        index = next((i for i, tube in enumerate(tubes) if tube.name == name), -1)
        if index < 0:
            return math.nan, math.nan, math.nan
        tube = tubes[index]
        middle = gas_amps(tube, self.state.solution.x)
        if self.samples is None or tube.dark:
            return middle, middle, middle
        kept = self.samples.settled
        across = self.samples.x[kept, tube.a] - self.samples.x[kept, tube.b]
        amps, _ = gas(across, self.samples.draw.burning[kept, index], tube.ohms)
        return (middle, *self.span(middle, np.abs(amps)))

    def _drawn(self) -> Floats | None:
        """Mains current of every settled set. [A]."""
        if self.samples is None or self.samples.line is None:
            return None
        samples, line = self.samples, self.samples.line
        return line.amps(line.like(samples.means(samples.x)))[samples.settled]

    def shown(self, points: tuple[Point, ...], to: Point, meter: float) -> Floats:
        """What a meter of so many ohms shows at each point: middle, lowest, highest a row. [V]."""
        ohms = np.maximum(np.array(source_ohms(self.state, points, to)), 0.0)
        share = 1 / (1 + ohms / meter)
        loaded = [i for i, s in enumerate(share) if s < _STIFF]
        own = self._shares(tuple(points[i] for i in loaded), to, meter)
        told = np.full((len(points), 3), math.nan)
        for i, point in enumerate(points):
            straight = middle = self.state.volts(point, to) * share[i]
            by = share[i] if i not in loaded or own is None else own[:, loaded.index(i)]
            each = self._each(point, to)
            each = None if each is None else each * by
            x = _metered(self.state, point, to, meter) if i in loaded else None
            if x is not None:
                middle = self._across(x, point, to)
            if x is not None and abs(middle - straight) > _BENT * abs(straight) + _BENT_VOLTS:
                each = self._each_metered(x, point, to, meter)
            told[i] = (middle, *self.span(middle, each))
        return told

    def _across(self, x: Floats, at: Point, to: Point) -> float:
        """Voltage between two points in other unknowns; NaN where nothing joins them. [V]."""
        rows = _row_of(self.state, at), _row_of(self.state, to)
        known = not math.isnan(self.state.volts(at, to))
        return voltage(x, rows[0]) - voltage(x, rows[1]) if known else math.nan

    def _each_metered(self, x: Floats, at: Point, to: Point, meter: float) -> Floats | None:
        """What the meter shows in every set that settles with it in; None for too few. [V].

        `x` are the unknowns of the middle set with the meter.
        """
        if self.samples is None:
            return None
        rows = _row_of(self.state, at), _row_of(self.state, to)
        each = self.samples.metered(rows, meter, x - self.state.solution.x) + self._pulled(at, to)
        known = each[~np.isnan(each)]
        return known if len(known) >= _FEWEST else None

    def _each(self, at: Point, to: Point | None) -> Floats | None:
        """Voltage between two points in every settled set. [V]."""
        if self.samples is None or math.isnan(self.state.volts(at, to)):
            return None
        x = self.samples.x[self.samples.settled]
        there = 0.0 if to is None else x[:, _row_of(self.state, to)]
        return np.asarray(x[:, _row_of(self.state, at)] - there) + self._pulled(at, to)

    def _pulled(self, at: Point, to: Point | None) -> Floats:
        """What oscillators take off a voltage in every settled set: nothing to twice. [V]."""
        pulls = self.state.pulls
        there = 0.0 if to is None else pulls[:, _row_of(self.state, to)]
        sets = len(self.samples.settled) if self.samples else 0
        rng = random.Random(SEED)  # noqa: S311 - a fixed draw, no secret
        shares = np.array([1 + strata(rng, sets) for _ in pulls]).reshape(len(pulls), sets)
        every = (pulls[:, _row_of(self.state, at)] - there) @ shares
        return np.asarray(every[self.samples.settled] if self.samples else every)

    def span(self, middle: float, each: Floats | None) -> tuple[float, float]:
        """Lowest and highest of a figure that is known for every settled set."""
        if each is None:
            return middle, middle
        low, high = np.quantile(each, [(1 - INSIDE) / 2, (1 + INSIDE) / 2])
        return min(float(low), middle), max(float(high), middle)

    def _shares(self, points: tuple[Point, ...], to: Point, meter: float) -> Floats | None:
        """Share of each point's voltage that the meter leaves, in every settled set."""
        if self.samples is None or not points:
            return None
        slopes = self.samples.slopes()
        columns = _pushed(self.state, points, to)
        ohms = np.einsum("sij,ij->sj", np.linalg.solve(slopes, columns), columns)
        return np.asarray(1 / (1 + np.maximum(ohms, 0.0) / meter))


def spread(state: Operating) -> Spread:
    """Ranges of an operating point."""
    return Spread(state)


def source_ohms(state: Operating, points: tuple[Point, ...], to: Point) -> tuple[float, ...]:
    """Resistance that a meter sees between each point and another, the set running. [ohm]."""
    columns = _pushed(state, points, to)
    answer = _answer(state.system, state.solution.x, columns)
    return tuple(float(r) for r in np.einsum("ij,ij->j", answer, columns))


def _metered(state: Operating, at: Point, to: Point, meter: float) -> Floats | None:
    """The unknowns with a meter of so many ohms in between two points; None if unsettled.

    The rectifiers are driven as they were: what a meter draws is nothing to the mains side.
    """
    column = _pushed(state, (at,), to)[: state.system.nodes]
    loaded = state.system.conductance + column @ column.T / meter
    got = solve(replace(state.system, conductance=loaded), state.solution.x)
    return got.x if state.settled and got.settled else None


def _pushed(state: Operating, points: tuple[Point, ...], to: Point) -> Floats:
    """An ampere into each point and out of the other, one a column."""
    columns = np.zeros((state.system.size, len(points)))
    for number, point in enumerate(points):
        for end, sign in ((_row_of(state, point), 1.0), (_row_of(state, to), -1.0)):
            if end != GROUND:
                columns[end, number] += sign
    return columns


def _answer(system: System, x: Floats, columns: Floats) -> Floats:
    """Change of the unknowns for a small current into some of the rows."""
    _, jacobian = balance(system, x, 1.0)
    try:
        return np.asarray(np.linalg.solve(jacobian, columns), dtype=np.float64)
    except np.linalg.LinAlgError:
        return np.full_like(columns, np.nan)


def _row_of(state: Operating, point: Point) -> int:
    return state.rows.get(state.net.of.get(point, -1), GROUND)
