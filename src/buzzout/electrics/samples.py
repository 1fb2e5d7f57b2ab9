"""Many sets made of good parts, drawn at random and solved together.

Each part takes a value of its own inside what is allowed to it, evenly and by strata: of 100 sets
one has its resistor in each hundredth of the tolerance; another 100 mirror them. The draw is the
same every time. All sets start from the middle one and are settled by Newton's method on stacked
matrices.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass, replace

import numpy as np

from buzzout.electrics.alternating import Complex, layout
from buzzout.electrics.balance import balance
from buzzout.electrics.branch import ELECTRODE, Branch
from buzzout.electrics.laws import Bools, Flows, gas, pulses, valve
from buzzout.electrics.line import Driven, Line
from buzzout.electrics.mains import MainsSide, solve_fed, unfed
from buzzout.electrics.models import SPREAD
from buzzout.electrics.network import LEAST_OHMS, Floats, Ints
from buzzout.electrics.operating import Operating
from buzzout.electrics.rectifier import choked, drop
from buzzout.electrics.unmodelled import OSCILLATES
from buzzout.electrics.windings import winding_ohms

SETS, SEED = 200, 1
TRANSFORMER = 0.05  # a mains transformer against what is marked on it; common practice
RECTIFIER = 0.2  # current of a rectifier valve at a given drop; common practice
GAS = 0.05  # burning voltage of a discharge of which no span is published; common practice
_LEAK = 1e-9  # insulation of a valve, as in `balance` [S]
_SHARED, _ROUNDS = 12, 12  # steps with the middle's slopes at most, then with each set's own
_STRIDE = 40.0  # longest step of any voltage [V]
# A set is settled that asks for less than this: the first slopes gain a digit a step or nearly, the
# second double them. [V]
_STILL, _VOLTS = 0.003, 0.05


@dataclass(frozen=True)
class Draw:
    """What the parts of each set are. One set a row.

    `ohms` of the branches, `emission` of the valve sections (factors), `burning` volts of the
    discharges, `drops` factors on the rectifiers' currents, `ratio` of the transformer's voltage to
    that marked; then for each path its `peak` voltage, its `series` resistance, and the resistances
    that couple it to each path. [ohm], [V], [1]
    """

    ohms: Floats
    emission: Floats
    burning: Floats
    drops: Floats
    ratio: Floats
    peak: Floats
    series: Floats
    coupled: Floats


class Samples:
    """Settled sets of one state. `x` are their unknowns, the last column that of the chassis.

    `settled` tells which sets are to be believed, `line` what they draw from the mains.
    """

    def __init__(self, state: Operating, sets: int = SETS) -> None:
        """Draw and settle."""
        self.state = state
        self.branches = tuple(b for b in state.net.resistive if _known(b))
        self.draw = self._free = _drawn(state, self.branches, sets)
        self.line = None if state.side is None else Line(state.side, state.pulses, self.draw.ratio)
        self._linear = self._linear_part()
        self._sources = np.zeros(state.system.size + 1)
        for index, source in enumerate(state.system.sources):
            self._sources[state.system.nodes + index] = source.volts
        self.x, self.settled = self._settle()

    def means(self, x: Floats) -> Floats:
        """Mean current of every rectifier path, one a column. [A]."""
        size = self.state.system.size
        return x[:, size - len(self.state.system.paths) : size]

    def flows(self, index: int, x: Floats) -> Flows:
        """Currents of a valve section before emission is counted."""
        v = self.state.system.valves[index]
        k = x[:, v.cathode]
        return valve(v.model, *(x[:, n] - k for n in (v.grid, v.screen, v.anode)))

    def _linear_part(self) -> Floats:
        """Matrix of what is linear in every set, row and column of the chassis included."""
        system, state = self.state.system, self.state
        n, size = system.nodes, system.size
        matrix = np.zeros((len(self.draw.ohms), size + 1, size + 1))
        matrix[:, :n, :n] = system.conductance
        for number, branch in enumerate(self.branches):
            a, b = (state.rows[node] for node in state.net.ends(branch))
            if a != b:
                now = 1 / np.maximum(self.draw.ohms[:, number], LEAST_OHMS)
                tie(matrix, a, b, now - 1 / max(branch.value, LEAST_OHMS))
        for v in system.valves:
            for row, leak in ((v.grid, _LEAK), (v.screen, _LEAK / 100), (v.anode, _LEAK / 100)):
                tie(matrix, row, v.cathode, leak)
        for tube in system.gas:
            tie(matrix, tube.a, tube.b, _LEAK)
        for row, source in enumerate(system.sources, n):
            _carry(matrix, source.a, source.b, row)
            matrix[:, row, source.a] += 1.0
            matrix[:, row, source.b] -= 1.0
            matrix[:, row, row] -= source.ohms
        for row, path in enumerate(system.paths, n + len(system.sources)):
            _carry(matrix, path.a, path.k, row)
            matrix[:, row, row] += 0.0 if path.choke else 1.0
        return matrix

    def metered(self, rows: tuple[int, int], ohms: float, moved: Floats) -> Floats:
        """What a meter between two rows shows in every settled set, computed with it in. [V].

        `moved` is what it does to the middle set, where each set starts. NaN where one does not
        settle with the meter.
        """
        a, b = rows
        other = copy(self)
        other._linear = self._linear.copy()  # noqa: SLF001 - its own kind
        tie(other._linear, a, b, 1 / ohms)  # noqa: SLF001
        x = self.x.copy()
        x[:, :-1] += moved
        left = other._newton(x, np.flatnonzero(self.settled))  # noqa: SLF001
        x[left] = math.nan
        return np.asarray((x[:, a] - x[:, b])[self.settled])

    def slopes(self) -> Floats:
        """Matrix of slopes of every settled set."""
        kept = np.flatnonzero(self.settled)
        return self._balance(self.x[kept], kept, self._linear[kept])[1]

    def _settle(self) -> tuple[Floats, Bools]:
        """Unknowns, and which sets settled. Steps share the middle's slopes while that suffices."""
        size, count = self.state.system.size, len(self.draw.ohms)
        x = np.zeros((count, size + 1))
        x[:, :size] = self.state.solution.x
        left = self._newton(x, self._follow(x, np.arange(count)))
        settled = np.ones(count, dtype=bool)
        settled[left] = False
        return x, settled

    def _newton(self, x: Floats, left: Ints) -> Ints:
        """Settle some of the sets in `x`, each with its own slopes; what does not settle."""
        size = self.state.system.size
        for _ in range(_ROUNDS):
            if not len(left):
                break
            rest, slopes = self._balance(x[left], left, self._linear[left])
            step, longest = self._bounded(_solve(slopes, -rest[:, :, None])[:, :, 0])
            x[left, :size] += step
            left = left[longest >= _VOLTS]
        return left

    def _follow(self, x: Floats, left: Ints) -> Ints:
        """Settle what the middle's slopes settle, a limiter lamp at the same time; what is left."""
        size, lamp = self.state.system.size, self.state.power.limiter
        _, shared = balance(self.state.system, self.state.solution.x, 1.0)
        for _ in range(_SHARED):
            rest, _ = self._balance(x[left], left, None)
            step, longest = self._bounded(_solve(shared, -rest.T).T)
            x[left, :size] += step
            still = longest < _STILL
            if still.all():
                return left[:0]
            if lamp is None:
                left = left[~still]
            elif self.line is not None:
                self.line.follow(lamp, self.line.like(self.means(x)))
                self.draw = _behind(self._free, self.line.drive())
        return left

    def _bounded(self, step: Floats) -> tuple[Floats, Floats]:
        """A step without leaps, and the largest change of any voltage that was asked for. [V]."""
        nodes = self.state.system.nodes
        longest = np.max(np.abs(step[:, :nodes]), axis=1, initial=0.0)
        return step * np.minimum(1.0, _STRIDE / np.maximum(longest, 1e-9))[:, None], longest

    def _balance(self, x: Floats, left: Ints, slopes: Floats | None) -> tuple[Floats, Floats]:
        """What is out of balance in some of the sets; its slopes are added to those given."""
        system, draw = self.state.system, self.draw
        rest = np.einsum("sij,sj->si", self._linear[left], x) - self._sources
        for index, fitted in enumerate(system.valves):
            ends = (fitted.grid, fitted.screen, fitted.anode)
            flows, more = self.flows(index, x), draw.emission[left, index]
            _put_valve(rest, slopes, (ends, fitted.cathode), flows, more)
        for index, tube in enumerate(system.gas):
            amps, slope = gas(x[:, tube.a] - x[:, tube.b], draw.burning[left, index], tube.ohms)
            rest[:, tube.a] += amps
            rest[:, tube.b] -= amps
            if slopes is not None:
                tie(slopes, tube.a, tube.b, slope)
        for index in range(len(system.paths)):
            self._put_path(rest, slopes, index, x, left)
        size = system.size
        inner = np.zeros((0, 0)) if slopes is None else slopes[:, :size, :size]
        return rest[:, :size], inner

    def _put_path(
        self, rest: Floats, slopes: Floats | None, index: int, x: Floats, left: Ints
    ) -> None:
        """One rectifier path in every set. Of a choke input the rectifier is that of the sheet."""
        system, draw = self.state.system, self.draw
        path, first = system.paths[index], system.nodes + len(system.sources)
        row, coupled = first + index, draw.coupled[left, index]
        peak, series = draw.peak[left, index], draw.series[left, index]
        u = x[:, path.a] - x[:, path.k] + np.einsum("sj,sj->s", coupled, x[:, first:-1])
        if path.choke:
            whole = path.choke * x[:, row]
            lost, steep = np.array([drop(path.law, float(amps)) for amps in whole]).T
            crest, falls = choked(whole, peak, path.reactance)
            amps, slope = 1e-3 * (u + crest - series * whole - lost), np.full_like(u, 1e-3)
            own = 1e-3 * path.choke * (series + steep - falls)
        else:
            amps, slope, *_ = pulses(path.law, u, peak, series, draw.drops[left, index])
            own = np.zeros_like(u)
        rest[:, row] -= amps
        if slopes is not None:
            slopes[:, row, row] += own
            slopes[:, row, path.a] -= slope
            slopes[:, row, path.k] += slope
            slopes[:, row, first:-1] -= slope[:, None] * coupled


def tie(matrix: Floats | Complex, a: int, b: int, siemens: float | Floats | Complex) -> None:
    """A conductance between two rows of every set."""
    for row, other in ((a, b), (b, a)):
        matrix[:, row, row] += siemens
        matrix[:, row, other] -= siemens


def _carry(matrix: Floats, a: int, b: int, row: int) -> None:
    """A current that is an unknown, from a to b."""
    matrix[:, a, row] += 1.0
    matrix[:, b, row] -= 1.0


def _put_valve(
    rest: Floats,
    slopes: Floats | None,
    at: tuple[tuple[int, int, int], int],
    flows: Flows,
    more: Floats,
) -> None:
    """The currents of a section, `more` times those of the sheet, at grid, screen, anode."""
    ends, cathode = at
    for i, row in enumerate(ends):
        amps = more * flows.amps[:, i]
        rest[:, row] += amps
        rest[:, cathode] -= amps
        if slopes is None:
            continue
        for j, column in enumerate(ends):
            slope = more * flows.slopes[:, i, j]
            for end, sign in ((row, 1.0), (cathode, -1.0)):
                slopes[:, end, column] += sign * slope
                slopes[:, end, cathode] -= sign * slope


def _solve(slopes: Floats, right: Floats) -> Floats:
    try:
        return np.asarray(np.linalg.solve(slopes, right))
    except np.linalg.LinAlgError:
        return np.asarray(np.linalg.solve(slopes + 1e-12 * np.eye(slopes.shape[-1]), right))


def _known(branch: Branch) -> bool:
    return math.isfinite(branch.value) and branch.value > 0 and math.isfinite(branch.high)


# -- the draw --------------------------------------------------------------------------------------


def strata(rng: random.Random, sets: int) -> Floats:
    """One cause in every set, from -1 to 1: each stratum once in a random order, then mirrored."""
    half = sets // 2
    order = np.argsort([rng.random() for _ in range(half)], kind="stable")
    at = 2 * (order + 0.5) / half - 1
    return np.concatenate([at, -at])


def between(middle: float, low: float, high: float, at: Floats) -> Floats:
    """Values from low (at -1) by the middle (at 0) to high (at 1)."""
    return np.where(at > 0, middle + at * (high - middle), middle + at * (middle - low))


def _drawn(state: Operating, branches: tuple[Branch, ...], sets: int) -> Draw:
    rng = random.Random(SEED)  # noqa: S311 - a fixed draw, no secret
    system = state.system
    wound = {part: strata(rng, sets) for part in layout(state.net).cores}
    families: dict[str, Floats] = {}
    ohms = np.zeros((sets, len(branches)))
    for number, b in enumerate(branches):
        family = b.family or b.name
        at = wound.get(b.part) if b.role == "winding" else None
        if at is None:
            at = families[family] = families[family] if family in families else strata(rng, sets)
        if b.role == ELECTRODE:  # a current that is anything from nothing to twice
            ohms[:, number] = 1 / between(1 / b.value, 1 / b.high, 1 / b.low, at)
        else:
            ohms[:, number] = between(b.value, b.low, b.high, at)
    by = [OSCILLATES if told else SPREAD for told in state.oscillators]
    valves = zip(system.valves, by, strict=True)
    emission = [v.emission * (1 + share * strata(rng, sets)) for v, share in valves]
    burning = [_burning(t.volts, t.low, t.high, strata(rng, sets)) for t in system.gas]
    by_part = {way.parts[0]: 1 + RECTIFIER * strata(rng, sets) for way in state.ways}
    drops = [by_part[way.parts[0]] for way in state.ways]
    ratio = 1 + TRANSFORMER * strata(rng, sets)
    columns = [_columns(sets, told) for told in (emission, burning, drops)]
    return Draw(ohms, columns[0], columns[1], columns[2], ratio, *_driven(state, wound, ratio))


def _behind(draw: Draw, got: Driven) -> Draw:
    """The draw as it is behind a limiter lamp."""
    series = draw.series + np.diagonal(got.coupled, axis1=1, axis2=2)
    return replace(
        draw,
        peak=draw.peak * got.peaks[:, None],
        series=np.maximum(series, 0.0),
        coupled=draw.coupled + got.coupled,
    )


def _columns(sets: int, columns: list[Floats]) -> Floats:
    return np.column_stack(columns) if columns else np.zeros((sets, 0))


def _burning(volts: float, low: float, high: float, at: Floats) -> Floats:
    if math.isnan(low) or math.isnan(high) or math.isinf(volts):
        return volts * (1 + GAS * at)
    return between(volts, min(low, volts), max(high, volts), at)


def _driven(
    state: Operating, wound: Mapping[str, Floats], ratio: Floats
) -> tuple[Floats, Floats, Floats]:
    """Peak voltage, series resistance and coupling of every path in every set.

    Linear between the mains side as computed and the same with the windings of each transformer at
    the ends of what they may have. The lift of a finite reservoir goes with the current drawn.
    """
    paths, sets = state.system.paths, len(ratio)
    peak = np.array([p.peak for p in paths])[None, :] * ratio[:, None]
    series = np.repeat(np.array([p.ohms for p in paths])[None, :], sets, axis=0)
    coupled = np.repeat(_coupling(state)[None], sets, axis=0)
    side = state.side
    if side is None or not paths:
        return peak, series, coupled
    for part, at in wound.items():
        for sign in (1.0, -1.0):
            other = _rewound(state, side, part, sign)
            far = np.maximum(sign * at, 0.0)
            more = np.abs(other.open_circuit) - np.abs(side.open_circuit)
            peak += far[:, None] * more[None, :]
            ohms = other.ohms.real - side.ohms.real
            series += far[:, None] * np.diag(ohms)[None, :]
            coupled += far[:, None, None] * ohms[None]
    return np.maximum(peak, 0.0), np.maximum(series, 0.0), coupled


def _coupling(state: Operating) -> Floats:
    """Resistances between the paths, the finite reservoir as one of them. [ohm]."""
    paths, held = state.system.paths, state.reservoirs
    z = np.zeros((len(paths), len(paths)))
    for i, path in enumerate(paths):
        z[i, : len(path.coupled)] = path.coupled
        own = [j for j in range(len(paths)) if held and held[j].group == held[i].group]
        total = sum(state.pulses[j].mean for j in own)
        if path.lift and total > 1e-9:
            z[i, own] += path.lift / total
    return z


def _rewound(state: Operating, side: MainsSide, part: str, sign: float) -> MainsSide:
    """The mains side with the windings of one transformer at an end of what they may have."""
    factor = {
        (part, e.label): winding_ohms(state.net.circuit.parts[part], e)[1] ** sign
        for e in state.net.circuit.parts[part].elements
        if e.kind == "winding"
    }
    pieces = tuple(
        replace(p, ohms=p.ohms * factor.get((p.part, p.label), 1.0)) for p in side.plan.pieces
    )
    linear = unfed(state.net, replace(side.plan, pieces=pieces))
    return solve_fed(linear, side.fed) if linear else side
