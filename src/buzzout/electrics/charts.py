"""Charts for people: voltages by socket pin as service sheets print them, and what was read."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from buzzout.circuit import CHASSIS, Circuit, Part, Point, Reading, last_digit
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.draft import Power
from buzzout.electrics.mains import alternating
from buzzout.electrics.network import Floats
from buzzout.electrics.operating import Operating, operate
from buzzout.electrics.ranges import Spread, spread
from buzzout.electrics.samples import TRANSFORMER
from buzzout.electrics.unmodelled import MOST_BIAS, unforeseen

# Full scales of a moving-coil meter; the next one above the reading is used (common practice).
FULL_SCALES = (2.5, 10.0, 25.0, 50.0, 100.0, 250.0, 500.0, 1000.0, 2500.0)
# What a maker's chart is good for when it says nothing: service sheets of the time allow 10 %
# (as printed on a set's sheet: readings vary with the line, +-10 %) to 20 % (common practice).
CHART_SHARE, CHART_VOLTS = 0.2, 0.5
# What a bench reading is good for: a moving-coil meter is made to 3 % of full scale.
BENCH_SHARE = 0.03


@dataclass(frozen=True, slots=True)
class Meter:
    """A voltmeter: `ohms` of a fixed input, or `per_volt` of full scale. [ohm], [ohm/V].

    `to` is where its common lead is clipped; in a set with a live chassis that is HT minus.
    """

    ohms: float = 10e6
    per_volt: float = 0.0
    to: Point = CHASSIS

    def loading(self, volts: float) -> float:
        """Its resistance on the range that shows these volts. [ohm]."""
        if not self.per_volt:
            return self.ohms
        volts = 0.0 if math.isnan(volts) else volts
        scale = next((s for s in FULL_SCALES if s >= abs(volts)), FULL_SCALES[-1])
        return self.per_volt * scale


NO_METER = Meter(ohms=math.inf)


@dataclass(frozen=True, slots=True)
class VoltageLine:
    """One point of a chart. [V].

    `shown` is what the stated meter reads, `volts` what is there without it; `low` and `high` are
    the range of `shown`. `heater` is the r.m.s. alternating voltage where that is what counts.
    """

    point: Point
    electrode: str
    volts: float
    shown: float
    low: float
    high: float
    heater: float = 0.0


@dataclass(frozen=True, slots=True)
class VoltageChart:
    """Voltages of a set.

    `ranges` come from the operating point `state`.
    """

    lines: tuple[VoltageLine, ...]
    meter: Meter
    ranges: Spread

    @property
    def state(self) -> Operating:
        """The operating point."""
        return self.ranges.state

    @property
    def remarks(self) -> tuple[str, ...]:
        """What was assumed, and what is to be said of the ranges."""
        return (*self.ranges.remarks, *self.state.remarks)

    def at(self, point: Point) -> VoltageLine | None:
        """The line of a point."""
        return next((line for line in self.lines if line.point == point), None)


def voltage_chart(
    circuit: Circuit,
    power: Power | None = None,
    meter: Meter | None = None,
    points: Iterable[Point] | None = None,
    conditions: Conditions | None = None,
) -> VoltageChart:
    """Voltage of every socket pin (or the points given), with the meter's loading.

    Without a meter nothing is loaded and chassis is the other end.
    """
    state = operate(circuit, power, conditions)
    wanted = tuple(pins(circuit) if points is None else points)
    used = meter or NO_METER
    ranges = spread(state)
    lines = tuple(chart_lines(ranges, wanted, used))
    return VoltageChart(lines, used, ranges)


def pins(circuit: Circuit) -> tuple[Point, ...]:
    """Socket pins, then named nodes, in order of the file."""
    sockets = [p for part in circuit.parts.values() if part.kind == "socket" for p in part.points]
    return (*sockets, *(Point(name) for name in circuit.names))


def electrode(state: Operating, point: Point) -> str:
    """What a pin is joined to inside the valve, in words; empty elsewhere."""
    part: Part | None = state.net.circuit.parts.get(point.owner)
    device = state.net.conditions.device(part.type) if part and part.type else None
    found = device.pins.get(point.pin) if device is not None else None
    return str(found) if found is not None else ""


def chart_lines(ranges: Spread, points: tuple[Point, ...], meter: Meter) -> Iterable[VoltageLine]:
    """Lines of a chart from an operating point that is already there."""
    state = ranges.state
    known = tuple(p for p in points if p in state.net.of and p != meter.to)
    if meter.to not in state.net.of:
        return
    common = state.net.of[meter.to]
    volts = {p: state.volts(p, meter.to) for p in known}
    shown: dict[Point, Floats] = {}
    for ohms in dict.fromkeys(meter.loading(v) for v in volts.values()):
        own = tuple(p for p in known if meter.loading(volts[p]) == ohms)
        shown.update(zip(own, ranges.shown(own, meter.to, ohms), strict=True))
    dark = unforeseen(state.net, state.volts)
    for point in known:
        heater = alternating(state.side, state.pulses, state.net.of[point], common)
        reads, low, high = (float(v) for v in shown[point])
        if state.net.of[point] in dark:
            low, high = low - MOST_BIAS, high + MOST_BIAS
        yield VoltageLine(point, electrode(state, point), volts[point], reads, low, high, heater)


@dataclass(frozen=True, slots=True)
class Current:
    """A current with its range. [A]. `where` is a valve section, a part, or "mains"."""

    where: str
    what: str
    amps: float
    low: float
    high: float


def currents(ranges: Spread) -> tuple[Current, ...]:
    """What the mains, the rectifiers, the valves and the gas stabilisers carry."""
    state = ranges.state
    told = [("mains", "r.m.s.", ranges.line_amps())] if state.side else []
    rectifiers = dict.fromkeys(way.parts[0] for way in state.ways)
    told += [(part, "direct, rectified", ranges.rectified(part)) for part in rectifiers]
    told += [
        (valve.name, electrode, ranges.valve_amps(valve.name, electrode))
        for valve in state.system.valves
        for electrode in ("anode", *(("screen",) if valve.model.screen else ()), "cathode")
    ]
    told += [
        (tube.name, "dark" if tube.dark else "discharge", ranges.gas_amps(tube.name))
        for tube in state.system.gas
    ]
    return tuple(Current(where, what, *span) for where, what, span in told)


@dataclass(frozen=True, slots=True)
class Verdict:
    """A printed or measured voltage against the computed one. [V]; `agrees` within both ranges.

    A figure is good to its tolerance and half of its last digit; nothing, to half a volt.
    """

    reading: Reading
    computed: VoltageLine
    agrees: bool
    share: float


def meter_of(reading: Reading) -> Meter:
    """The meter that a reading names, clipped to its other end."""
    if reading.meter is None:
        return Meter(ohms=math.inf, to=reading.to)
    if reading.per_volt:
        return Meter(per_volt=reading.meter, to=reading.to)
    return Meter(ohms=reading.meter, to=reading.to)


def judge_voltages(
    circuit: Circuit,
    readings: Iterable[Reading],
    power: Power | None = None,
    share: float = CHART_SHARE,
    conditions: Conditions | None = None,
) -> tuple[Verdict, ...]:
    """Compare voltage lines (`expect` of a drawing, `reads` of a bench) with the computed circuit.

    Each reading is taken with its own meter and at the mains voltage that stood beside it. `share`
    is what a figure without tolerance is good for: `CHART_SHARE`, at the bench `BENCH_SHARE`. [1]
    """
    told: list[Verdict] = []
    states: dict[float | None, Spread] = {}
    for reading in readings:
        if reading.value.unit != "V":
            continue
        at = reading.supply.value if reading.supply else None
        if at not in states:
            base = power or Power()
            fed = base if at is None else replace(base, volts=at)
            states[at] = spread(operate(circuit, fed, conditions))
        told.append(_verdict(states[at], reading, share))
    return tuple(told)


def _verdict(ranges: Spread, reading: Reading, share: float) -> Verdict:
    line = next(iter(chart_lines(ranges, (reading.at,), meter_of(reading))), None)
    if line is None:
        nothing = VoltageLine(reading.at, "", *([math.nan] * 4))
        return Verdict(reading, nothing, agrees=False, share=math.nan)
    if reading.alternating:
        swing = line.heater
        off = TRANSFORMER * swing
        line = replace(line, shown=swing, low=swing - off, high=swing + off)
    value = reading.value
    minus = share if value.minus is None else value.minus
    plus = share if value.plus is None else value.plus
    rounded = last_digit(value) / 2 if value.value else CHART_VOLTS
    low = value.value - minus * abs(value.value) - rounded
    high = value.value + plus * abs(value.value) + rounded
    agrees = bool(line.low <= high and line.high >= low)
    ratio = line.shown / value.value if value.value else math.nan
    return Verdict(reading, line, agrees, ratio)


@dataclass(frozen=True, slots=True)
class Row:
    """One point on the drawing, on the board and at the bench. [V].

    `expected` is what the maker printed, `measured` what was read last; None where nobody did.
    `moved`: the found circuit should read differently from the drawn one beyond both ranges.
    """

    point: Point
    electrode: str
    reference: VoltageLine
    found: VoltageLine
    expected: Reading | None
    measured: Reading | None
    moved: bool


def three_charts(
    reference: Circuit,
    found: Circuit,
    power: Power | None = None,
    meter: Meter | None = None,
    conditions: Conditions | None = None,
) -> tuple[Row, ...]:
    """Voltages as drawn, as found and as measured, side by side, by pin of the drawing."""
    shared = [p for p in pins(reference) if p in found.node_of]
    drawn = voltage_chart(reference, power, meter, shared, conditions)
    built = voltage_chart(found, power, meter, shared, conditions)
    printed = {r.at: r for r in reference.expected if r.value.unit == "V"}
    read = {r.at: r for r in found.readings if r.value.unit == "V"}
    return tuple(
        Row(a.point, a.electrode, a, b, printed.get(a.point), read.get(a.point), apart(a, b))
        for a, b in zip(drawn.lines, built.lines, strict=True)
    )


def apart(one: VoltageLine, other: VoltageLine) -> bool:
    """Tell whether two lines cannot both be true, half a volt allowed."""
    if math.isnan(one.shown) or math.isnan(other.shown):
        return math.isnan(one.shown) != math.isnan(other.shown)
    return one.high + CHART_VOLTS < other.low or other.high + CHART_VOLTS < one.low
