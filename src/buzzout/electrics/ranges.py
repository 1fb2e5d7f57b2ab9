"""What tolerances make of an operating point, and how stiff each point is.

First order: every resistor at the edge of its tolerance, every valve 30 % up or down (see
`models.SPREAD`), the windings 20 % and the rectifier's drop, each on its own, moves the solution by
a computed amount; the amounts are added as independent deviations (root of the sum of squares). So
the range is where nearly all sets with good parts lie, not the outermost corner. Mains voltage is
an input and takes no part.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from buzzout.circuit import Point
from buzzout.electrics.balance import balance
from buzzout.electrics.models import SPREAD
from buzzout.electrics.network import Floats
from buzzout.electrics.operating import Operating
from buzzout.electrics.system import GROUND, System, path_pulse, valve_flow, voltage
from buzzout.electrics.windings import WINDING_SPREAD

_RECTIFIER_SPREAD = 0.2  # common practice: new rectifier valves differ about so much


@dataclass(frozen=True)
class Spread:
    """Deviations of all unknowns of an operating point, with what causes them.

    `by` names the causes, one column each of `moved`.
    """

    state: Operating
    by: tuple[str, ...]
    moved: Floats

    def volts(self, at: Point, to: Point | None = None) -> tuple[float, float, float]:
        """Voltage, lowest and highest. [V]; NaN where the point floats."""
        middle = self.state.volts(at, to)
        if math.isnan(middle):
            return middle, middle, middle
        change = self._row(at) - (0.0 if to is None else self._row(to))
        off = math.sqrt(float(np.sum(change**2)))
        return middle, middle - off, middle + off

    def _row(self, at: Point) -> Floats:
        row = self.state.rows[self.state.net.of[at]]
        return np.zeros(self.moved.shape[1]) if row == GROUND else self.moved[row]

    def causes(self, at: Point, most: int = 3) -> tuple[str, ...]:
        """What moves the voltage of a point most."""
        row = np.abs(self._row(at))
        order = np.argsort(-row, kind="stable")[:most]
        return tuple(self.by[i] for i in order if row[i] > 0)


def spread(state: Operating, valves: float = SPREAD) -> Spread:
    """Deviations of a settled operating point. `valves` is their relative deviation. [1]."""
    names, columns = [], []
    for name, column in (*_resistors(state), *_sections(state, valves), *_supply(state)):
        names.append(name)
        columns.append(column)
    return Spread(state, tuple(names), _solve(state.system, state.solution.x, columns))


def _solve(system: System, x: Floats, columns: list[Floats]) -> Floats:
    if not columns:
        return np.zeros((system.size, 0))
    _, jacobian = balance(system, x, 1.0)
    right = -np.column_stack(columns)
    try:
        moved = np.linalg.solve(jacobian, right)
    except np.linalg.LinAlgError:
        moved = np.full_like(right, np.nan)
    return np.asarray(moved, dtype=np.float64)


def _resistors(state: Operating) -> Iterator[tuple[str, Floats]]:
    """Residual that each resistor at the edge of its tolerance would leave; families together."""
    families: dict[str, Floats] = {}
    for branch in state.net.resistive:
        if not math.isfinite(branch.value) or branch.value <= 0 or not math.isfinite(branch.high):
            continue
        a, b = (state.rows[n] for n in state.net.ends(branch))
        amps = (voltage(state.solution.x, a) - voltage(state.solution.x, b)) / branch.value
        share = (branch.high - branch.low) / (2 * branch.value)
        column = families.setdefault(branch.family or branch.name, np.zeros(state.system.size))
        for row, sign in ((a, -1.0), (b, 1.0)):
            if row != GROUND:
                column[row] += sign * amps * share
    yield from families.items()


def _sections(state: Operating, share: float) -> Iterator[tuple[str, Floats]]:
    """Residual that each valve with so much more current would leave."""
    for valve in state.system.valves:
        flow = valve_flow(valve, state.solution.x)
        column = np.zeros(state.system.size)
        more = share * valve.emission
        ends = ((valve.screen, flow.screen), (valve.anode, flow.anode))
        for row, amps in (*ends, (valve.cathode, -flow.screen - flow.anode)):
            if row != GROUND:
                column[row] += more * amps
        yield valve.name, column


def _supply(state: Operating) -> Iterator[tuple[str, Floats]]:
    """Residual that other winding resistances, or rectifiers with another drop, would leave.

    Windings together, 20 % more; rectifier valves together, a fifth less current at each voltage.
    """
    system, x = state.system, state.solution.x
    if state.side is None or not system.paths:
        return
    stiff, weak = (np.zeros(system.size) for _ in range(2))
    first = system.nodes + len(system.sources)
    more = 1 + WINDING_SPREAD
    for index, path in enumerate(system.paths):
        if path.choke:
            continue
        coupled = tuple(more * z for z in path.coupled)
        heavier = replace(path, ohms=more * path.ohms, coupled=coupled)
        lighter = replace(path, law=replace(path.law, k=path.law.k * (1 - _RECTIFIER_SPREAD)))
        now = path_pulse(system, index, x).mean
        for column, other in ((stiff, heavier), (weak, lighter)):
            paths = (*system.paths[:index], other, *system.paths[index + 1 :])
            changed = path_pulse(replace(system, paths=paths), index, x).mean
            column[first + index] = now - changed
    yield "resistance of the mains transformer", stiff
    yield "drop of the rectifier", weak


def source_ohms(state: Operating, points: tuple[Point, ...], to: Point) -> tuple[float, ...]:
    """Resistance that a meter sees between each point and another, the set running. [ohm]."""
    common = _row_of(state, to)
    rows = [_row_of(state, p) for p in points]
    columns = []
    for row in rows:
        column = np.zeros(state.system.size)
        for end, sign in ((row, -1.0), (common, 1.0)):
            if end != GROUND:
                column[end] += sign
        columns.append(column)
    moved = _solve(state.system, state.solution.x, columns)
    return tuple(
        sum(sign * float(moved[end, i]) for end, sign in ((row, 1), (common, -1)) if end != GROUND)
        for i, row in enumerate(rows)
    )


def _row_of(state: Operating, point: Point) -> int:
    return state.rows.get(state.net.of.get(point, -1), GROUND)
