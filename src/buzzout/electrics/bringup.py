"""Bringing a set up: what to meter at each step of the supply, and when to switch off."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from buzzout.circuit import CHASSIS, Circuit, Point, metered
from buzzout.electrics.charts import Meter, VoltageLine, chart_lines
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.draft import STARTING, WARM, Power
from buzzout.electrics.mains import Lamp, alternating
from buzzout.electrics.operating import Operating, operate
from buzzout.electrics.ranges import spread
from buzzout.electrics.stress_parts import rated_volts


@dataclass(frozen=True, slots=True)
class Step:
    """One step of bringing a set up.

    `lines` are the points to meter with the range to expect. `line_amps` is the mains current,
    `lamp_volts` across the limiter, each with `…_span` from lowest to highest, `glow` the latter
    over its rated voltage. `stop` says in sentences when to switch off. [A], [V], r.m.s.
    """

    fraction: float
    limiter: Lamp | None
    heat: str
    lines: tuple[VoltageLine, ...]
    line_amps: float
    line_span: tuple[float, float]
    lamp_volts: float
    lamp_span: tuple[float, float]
    glow: float
    settled: bool
    stop: tuple[str, ...]


FRACTIONS = (0.25, 0.5, 0.75, 1.0)


def bring_up(
    circuit: Circuit,
    limiter: Lamp | None = None,
    points: Iterable[Point] | None = None,
    conditions: Conditions | None = None,
    volts: float | None = None,
) -> tuple[Step, ...]:
    """Steps at 25, 50, 75 and 100 % of the supply, with the limiter lamp and then without.

    `volts` is the mains voltage at 100 %, None that of the file [V].
    At each fraction first the moment before the valves conduct (the highest voltages), then warm.
    """
    lamps = (limiter, None) if limiter else (None,)
    wanted = tuple(points) if points is not None else None
    return tuple(
        _step(circuit, Power(heat, volts, fraction, lamp), wanted, conditions)
        for lamp in lamps
        for fraction in FRACTIONS
        for heat in (STARTING, WARM)
    )


def _step(
    circuit: Circuit,
    power: Power,
    points: tuple[Point, ...] | None,
    conditions: Conditions | None,
) -> Step:
    state = operate(circuit, power, conditions)
    wanted = watched(state) if points is None else points
    ranges = spread(state)
    lines = tuple(chart_lines(ranges, wanted, Meter()))
    rated = power.limiter.volts if power.limiter else math.inf
    glow = state.lamp_volts / rated
    return Step(
        power.fraction, power.limiter, power.heat, lines,
        state.line_amps, ranges.line_amps()[1:], state.lamp_volts, ranges.lamp_volts()[1:], glow,
        state.settled, tuple(_stops(state, lines, glow)),
    )  # fmt: skip


def watched(state: Operating) -> tuple[Point, ...]:
    """Where to put the meter: what the rectifiers feed, and the cathodes of the largest valves."""
    groups = state.net.groups
    fed = [n for way in state.ways for n in (way.a, way.k) if n != state.net.chassis]
    found = [_best(groups[n]) for n in fed if _steady(state, n)]
    powerful = sorted(state.system.valves, key=lambda v: (-v.model.k * v.model.screen, v.name))
    cathodes = {v.name: state.net.of[v.electrodes["cathode"]] for v in state.net.valves}
    placed = [cathodes[v.name] for v in powerful]
    found += [_best(groups[n]) for n in placed if not math.isnan(state.volts(groups[n][0]))][:4]
    return tuple(dict.fromkeys(p for p in found if p != CHASSIS))


def _steady(state: Operating, node: int) -> bool:
    """Tell a smoothed node from a winding's end."""
    swing = alternating(state.side, state.pulses, node)
    return swing < 0.3 * abs(state.volts(state.net.groups[node][0]) or 1.0)


def _best(group: tuple[Point, ...]) -> Point:
    """The point of a node that is easiest to find: a name, else a socket pin."""
    named = [p for p in group if not p.pin]
    return named[0] if named else group[0]


# common practice: a quarter over what was computed is a reason to stop and look
_STOP_SHARE = 1.25


def _stops(state: Operating, lines: tuple[VoltageLine, ...], glow: float) -> Iterable[str]:
    if not state.settled:
        yield f"not computed: {', '.join(state.unsettled)} would not settle"
        return
    yield from _strained(state)
    yield f"mains current above {_STOP_SHARE * state.line_amps:.2g} A"
    if state.power.limiter:
        bright = min(1.0, max(_STOP_SHARE * glow, glow + 0.1))
        yield f"more than {bright * state.power.limiter.volts:.0f} V across the limiter lamp"
    for line in lines:
        if not math.isnan(line.shown) and abs(line.shown) > 1:
            most = _STOP_SHARE * max(abs(line.low), abs(line.high))
            most = min(most, weakest(state, line.point))
            yield f"{line.point} beyond {metered(np.sign(line.shown) * most, 'V', 3)}"


def _strained(state: Operating) -> Iterable[str]:
    """Capacitors that would stand above their rating in this very state."""
    for branch in state.net.branches:
        if branch.kind != "capacitor":
            continue
        rated = rated_volts(state.net.circuit.parts[branch.part], branch)
        volts = abs(state.volts(branch.a, branch.b))
        if rated is not None and volts > rated:
            far = f"{volts:.0f} V on {rated:.0f} V; do not go this far"
            yield f"{branch.name} above its rating: {far}"


def weakest(state: Operating, point: Point) -> float:
    """Lowest rating of the capacitors from a point to chassis; infinite without any. [V]."""
    ends = {state.net.of[point], state.net.chassis}
    rated = (
        rated_volts(state.net.circuit.parts[b.part], b)
        for b in state.net.branches
        if b.kind == "capacitor" and set(state.net.ends(b)) == ends
    )
    return min((volts for volts in rated if volts), default=math.inf)
