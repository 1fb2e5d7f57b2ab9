"""What to meter at one step of the bring-up plan: the range to expect and where to stop."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from buzzout.bench.faults import primary
from buzzout.bench.meter import volts
from buzzout.bench.settings import ALL, NO_OUTPUT, Setting
from buzzout.catalogue import device
from buzzout.circuit import Part, Point, metered
from buzzout.electrics.bringup import watched, weakest
from buzzout.electrics.charts import Meter, VoltageLine, chart_lines
from buzzout.electrics.common import common, feeding, reservoirs
from buzzout.electrics.draft import STARTING
from buzzout.electrics.mains import alternating
from buzzout.electrics.operating import Operating, operate
from buzzout.electrics.ranges import Spread, spread

# Above what was computed by this share it is time to stop and look; as in `electrics.charts`.
STOP = 1.25
_HT, _AC_OFF = 160.0, 0.08
_CHAIN_OFF = 0.15  # what a heater in a chain may have more or less; common practice
_NOTHING = 0.05  # a point that should have less tells nothing by a voltmeter [V]
# The grid of an output valve: what a good paper capacitor passes into half a megohm, and where the
# set is switched off. Common practice. [V]
_NO_LEAK, _LEAKY = 0.5, 2.0
_LEAK = {
    NO_OUTPUT: f"{_NO_LEAK} V more positive: its coupling capacitor leaks; the valve stays out",
    ALL: f"{_NO_LEAK} V more positive: its coupling capacitor leaks, or the valve has gas",
}


@dataclass(frozen=True, slots=True)
class Expected:
    """One reading to take. [V]; `most` is the voltage at which to switch off at once."""

    at: Point
    to: Point
    alternating: bool
    middle: float
    low: float
    high: float
    most: float
    remark: str = ""

    @property
    def between(self) -> str:
        """The range in words."""
        low, high = (float(f"{v:.3g}") for v in (self.low, self.high))
        return f"{volts(low, high)}{' ac' if self.alternating else ''}"

    @property
    def stop(self) -> str:
        """Where to switch off, in words."""
        return metered(self.most, "V", 3)


def expected(setting: Setting, state: Operating) -> Iterator[Expected]:
    """The readings of one step, of its state: direct ones, output valves, alternating ones."""
    ranges = spread(state)
    yield from _direct(setting, ranges)
    if setting.fitted in _LEAK:
        yield from _grids(setting, ranges)
    yield from _swinging(state)


def _direct(setting: Setting, ranges: Spread) -> Iterator[Expected]:
    """Direct voltages to read, and the highest that may stand there."""
    state, warm = ranges.state, setting.fitted in _LEAK
    cold = operate(setting.circuit, replace(setting.power, heat=STARTING)) if warm else None
    running = setting.output if setting.fitted == ALL else ()
    carrying = [point for role, point in running if role != "grid"]
    cathodes = {state.net.of[point] for role, point in running if role == "cathode"}
    points = tuple(_places(state, carrying))
    for line in chart_lines(ranges, points, Meter(to=common(setting.circuit))):
        own = state.net.of[line.point] in cathodes
        if not math.isnan(line.shown) and (own or abs(line.shown) >= _NOTHING):
            made = _expected(line, state, cold)
            yield _limited(made, state) if own else made


def _expected(line: VoltageLine, state: Operating, cold: Operating | None) -> Expected:
    top, minus = max(abs(line.low), abs(line.high)), common(state.net.circuit)
    surge = abs(cold.volts(line.point, minus)) if cold is not None else 0.0
    surge = 0.0 if math.isnan(surge) else surge
    weak = weakest(state, line.point)
    most = min(max(STOP * top, 1.05 * surge), weak)
    higher = surge > 1.1 * top and surge > _HT
    remark = f"up to {surge:.0f} V until the valves are warm" if higher else ""
    if max(surge, abs(line.shown)) > weak:
        over = f"ABOVE THE {weak:.0f} V OF THE CAPACITOR HERE, do not go this far"
        remark = f"{remark}: {over}" if remark else over
    return Expected(line.point, minus, False, line.shown, line.low, line.high, most, remark)


def _limited(line: Expected, state: Operating) -> Expected:
    """The cathode of an output valve that its grid holds back: stop at what the anode may burn.

    Near cut-off its current tells little of the valve: a quarter more is no reason to stop.
    """
    limits = []
    for valve in state.net.valves:
        if state.net.of[valve.electrodes["cathode"]] != state.net.of[line.at]:
            continue
        flow, kind = state.flow(valve.name), device(state.net.circuit.parts[valve.part].type)
        watts = kind.limit("anode_w") if kind is not None else None
        volts = state.volts(valve.electrodes["anode"], valve.electrodes["cathode"])
        held = abs(state.volts(valve.electrodes["grid"])) > abs(line.middle)
        if held and flow is not None and watts is not None and flow.anode * volts > 0:
            limits.append((line.middle * watts / (flow.anode * volts), watts))
    most, watts = min(limits, default=(math.nan, math.nan))
    if not most > max(line.high, line.most):
        return line
    return replace(line, most=most, remark=f"there the anode burns its limit of {watts:g} W")


def _grids(setting: Setting, ranges: Spread) -> Iterator[Expected]:
    """Grids of the output valves: what is positive there, a capacitor lets through, or gas.

    The range is that of the chart; what a good capacitor passes stands beside it.
    """
    minus = common(setting.circuit)
    grids = tuple(point for role, point in setting.output if role == "grid")
    for line in chart_lines(ranges, grids, Meter(to=minus)):
        if not math.isnan(line.shown):
            remark = _LEAK[setting.fitted]
            most = line.high + _LEAKY
            yield Expected(line.point, minus, False, line.shown, line.low, line.high, most, remark)


def _places(state: Operating, carrying: Iterable[Point]) -> Iterator[Point]:
    """The rectifier's output, every reservoir, the cathodes that carry most, output valves.

    Each node once: by its name, else where it fills a reservoir, else at the output valve's pin.
    """
    of, valves = state.net.of, list(carrying)
    filled = [plus for plus, _ in reservoirs(state.net.circuit)]
    better = {of[p]: p for p in (*reversed(valves), *reversed(filled))}
    nodes = dict[int, Point]()
    for point in (*watched(state), *filled, *valves):
        nodes.setdefault(of[point], better.get(of[point], point) if point.pin else point)
    return iter(nodes.values())


def _swinging(state: Operating) -> Iterator[Expected]:
    """Alternating voltages: windings, the HT winding only while it is bare; a heater chain."""
    if state.side is not None and not feeding(state.net.circuit):
        for branch in state.net.branches:
            if branch.role == "heater":
                ends = [state.net.of[p] for p in (branch.a, branch.b)]
                volts = alternating(state.side, state.pulses, *ends)
                off = _CHAIN_OFF * volts
                low, high = volts - off, volts + off
                yield Expected(branch.a, branch.b, True, volts, low, high, STOP * volts)
    for name, element in state.net.windings():
        part: Part = state.net.circuit.parts[name]
        if not element.taps or element.load is not None or primary(element.label):
            continue
        first, last = part.point(element.terminals[0]), part.point(element.terminals[-1])
        volts = alternating(state.side, state.pulses, state.net.of[first], state.net.of[last])
        if volts > _HT and state.pulses:
            continue
        off = _AC_OFF * volts
        yield Expected(first, last, True, volts, volts - off, volts + off, STOP * volts)
