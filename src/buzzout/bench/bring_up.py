"""The bring-up plan of this set: step by step, what to meter, what to expect, where to stop."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from buzzout.bench.faults import primary
from buzzout.bench.meter import ohms
from buzzout.bench.settings import (
    ALL,
    NO_OUTPUT,
    NOTHING,
    RECTIFIER,
    Setting,
    settings,
    untold,
)
from buzzout.circuit import CHASSIS, Circuit, Part, Point
from buzzout.electrics.bringup import watched, weakest
from buzzout.electrics.charts import Meter, VoltageLine, voltage_chart
from buzzout.electrics.common import common, feeding, reservoirs
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.draft import STARTING, Power
from buzzout.electrics.mains import Lamp, alternating
from buzzout.electrics.operating import Operating, operate
from buzzout.electrics.resistance import Range, resistances
from buzzout.job.discharge import Discharge
from buzzout.job.gate import LIMITED, REFUSED, Gate

# Above what was computed by this share it is time to stop and look; as in `electrics.charts`.
STOP = 1.25
_HT, _AC_OFF = 160.0, 0.08
_CHAIN_OFF = 0.15  # what a heater in a chain may have more or less; common practice
# A grid without bias: what a good paper capacitor passes into half a megohm, and where the output
# valve must not go in. Common practice. [V]
_NO_LEAK, _LEAKY = 0.5, 2.0

BEFORE = (
    "Unplug. Discharge each reservoir through a resistor and measure it: below 10 V.",
    "Clip the meter on while unplugged; power on; read; power off; unplug; discharge; measure.",
    "One hand, no jewellery, never alone. Isolating transformer and residual-current device.",
)
HELD = (
    "NOT YET: the answer on power keeps this set behind the lamp. Settle what it names, compare"
    " again, and make the plan anew."
)
# For a set without a mains transformer. Common practice.
LIVE = (
    (
        "NO MAINS TRANSFORMER: the chassis and all metal on it may be live at the full mains. Feed"
        " the set from an isolating transformer; a variable transformer alone does not isolate."
    ),
    "Behind an isolating transformer a residual-current device sees nothing of a touch: one hand.",
    "Clip no earthed probe or oscilloscope to it. The meter's common lead goes to HT minus.",
)


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


@dataclass(frozen=True, slots=True)
class Cold:
    """One reading with the set unplugged, valves out, switch on, and what it tells. [ohm]."""

    at: Point
    to: Point
    ohms: Range
    tells: str


@dataclass(frozen=True)
class Step:
    """One step. `circuit` and `power` are what was computed; `stop` sentences beside it.

    `held` says why the step must wait, where the answer on power keeps the set behind the lamp.
    """

    number: int
    title: str
    fitted: str
    fraction: float
    limiter: Lamp | None
    wait: str
    lines: tuple[Expected, ...]
    line_amps: float
    lamp_volts: float
    stop: tuple[str, ...]
    circuit: Circuit
    power: Power
    held: str = ""


@dataclass(frozen=True)
class BringUp:
    """The whole plan, or why there is none; `answer` is the gate's, with what to watch."""

    steps: tuple[Step, ...]
    refused: str = ""
    cold: tuple[Cold, ...] = ()
    before: tuple[str, ...] = BEFORE
    discharge: tuple[Discharge, ...] = ()
    remarks: tuple[str, ...] = field(default=())
    answer: tuple[str, ...] = ()


def bring_up(circuit: Circuit, gate: Gate | None = None) -> BringUp:
    """The plan for a chassis as it is now. Refused while the gate says no."""
    if gate is not None and gate.state == REFUSED:
        return BringUp((), f"{gate.verdict} There is no bring-up plan until they are closed.")
    if why := untold(circuit):
        return BringUp((), why)
    running = operate(circuit, Power())
    if running.side is None or not running.settled:
        why = "; ".join([*running.unsettled, *running.remarks]) or "nothing is fed"
        return BringUp((), f"The running set could not be computed: {why}.")
    steps = tuple(_step(n, s) for n, s in enumerate(settings(circuit), 1))
    if gate is not None and gate.state == LIMITED:
        steps = tuple(step if step.limiter else replace(step, held=HELD) for step in steps)
    held = gate.discharge if gate is not None else ()
    cold = tuple(_cold(circuit))
    before = BEFORE if feeding(circuit) else (*LIVE, *BEFORE)
    answer = (gate.verdict, *gate.watch) if gate is not None else ()
    return BringUp(steps, "", cold, before, held, running.remarks, answer)


def _cold(circuit: Circuit) -> Iterator[Cold]:
    """The plug's pins and the reservoirs with an ohmmeter, before any plug goes in."""
    ready = resistances(circuit, Conditions(valves="out", power=True))
    for part in circuit.parts.values():
        if part.kind != "cord":
            continue
        line, neutral, earth = (part.point(t) for t in "LNE")
        if feeding(circuit):
            yield Cold(line, neutral, ready.between(line, neutral), "the primary, switch on")
        yield Cold(line, CHASSIS, ready.between(line, CHASSIS), "line and chassis are apart")
        if not feeding(circuit):
            chain = resistances(circuit, Conditions(valves="cold", power=True))
            tells = "VALVES IN, switch on: the heater chain, cold"
            yield Cold(line, neutral, chain.between(line, neutral), tells)
            tells = "what ties the chassis to the mains"
            yield Cold(neutral, CHASSIS, ready.between(neutral, CHASSIS), tells)
        if "E" in part.terminals:
            yield Cold(earth, CHASSIS, ready.between(earth, CHASSIS), "protective earth")
    minus = common(circuit)
    for point in dict.fromkeys(plus for plus, _ in reservoirs(circuit)):
        yield Cold(point, minus, ready.between(point, minus), "no short on the HT")


def _step(number: int, setting: Setting) -> Step:
    power, fitted = setting.power, setting.fitted
    state = operate(setting.circuit, power)
    lines = (*_direct(setting.circuit, power, fitted), *_grids(setting), *_swinging(state))
    return Step(
        number, setting.title, fitted, power.fraction, power.limiter,
        setting.wait or _WAIT[fitted], lines, state.line_amps, state.lamp_volts,
        tuple(_stops(state, fitted)), setting.circuit, power,
    )  # fmt: skip


_WAIT = {
    NOTHING: "A minute; the transformer must stay silent and cold.",
    RECTIFIER: (
        "Ten minutes at each step at least, after years of rest half an hour, until the voltage no"
        " longer climbs: the electrolytics reform (common practice). A can that gets warm is bad."
    ),
    NO_OUTPUT: "Two minutes: a leak shows as its capacitor warms up (common practice).",
    ALL: "A minute until the heaters are warm, then read.",
}


def _direct(circuit: Circuit, power: Power, fitted: str) -> Iterator[Expected]:
    """Direct voltages to read, and the highest that may stand there."""
    points = _points(circuit, power)
    chart = voltage_chart(circuit, power, Meter(to=common(circuit)), points)
    cold = operate(circuit, replace(power, heat=STARTING)) if fitted in (ALL, NO_OUTPUT) else None
    for line in chart.lines:
        if math.isnan(line.shown) or abs(line.shown) < 0.05:
            continue
        yield _expected(line, chart.state, cold)


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


def _grids(setting: Setting) -> Iterator[Expected]:
    """Grids of the output valves that are out: what is positive there, a capacitor lets through.

    The range is that of the chart, and above it what a good capacitor passes.
    """
    if setting.fitted != NO_OUTPUT:
        return
    meter = Meter(to=common(setting.circuit))
    for line in voltage_chart(setting.circuit, setting.power, meter, setting.grids).lines:
        if not math.isnan(line.shown):
            high, most = line.high + _NO_LEAK, line.high + _LEAKY
            remark = "more positive: its coupling capacitor leaks; the valve stays out"
            yield Expected(line.point, meter.to, False, line.shown, line.low, high, most, remark)


def _points(circuit: Circuit, power: Power) -> tuple[Point, ...]:
    """The rectifier's output, every reservoir, the cathodes that carry most."""
    state = operate(circuit, power)
    filled = [plus for plus, _ in reservoirs(circuit)]
    at = {state.net.of[plus]: plus for plus in reversed(filled)}  # easier to find than a winding
    nodes: dict[int, Point] = {}
    for point in (*watched(state), *filled):
        node = state.net.of[point]
        nodes.setdefault(node, at.get(node, point) if point.pin else point)
    return tuple(nodes.values())


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


def _stops(state: Operating, fitted: str) -> Iterator[str]:
    yield f"mains current above {STOP * state.line_amps:.2g} A"
    lamp = state.power.limiter
    if lamp is not None:
        volts = max(STOP * state.lamp_volts, state.lamp_volts + 0.1 * lamp.volts)
        yield f"more than {min(volts, lamp.volts):.0f} V across the lamp: it must not stay bright"
    if fitted in (ALL, NO_OUTPUT):
        yield "an anode that reddens, a blue glow in an output valve, smoke, a smell, a crackle"


def told(plan: BringUp) -> list[str]:
    """The plan as lines of text with room for the readings."""
    if plan.refused:
        return [plan.refused]
    lines = ["Answer on power", *(f"  {words}" for words in plan.answer), ""] if plan.answer else []
    lines += ["Before each hand goes in", *(f"  [ ] {words}" for words in plan.before)]
    lines += [f"  [ ] {held}" for held in plan.discharge]
    lines += ["", "Unplugged, valves out, switch on, ohmmeter"]
    lines += [f"  [ ] {f'{c.at} to {c.to}':<28} {ohms(c.ohms)} ({c.tells})" for c in plan.cold]
    for step in plan.steps:
        lines += ["", *_told_step(step)]
    return [*lines, *(["", "Assumed"] if plan.remarks else []), *(f"  {r}" for r in plan.remarks)]


def _told_step(step: Step) -> Iterator[str]:
    lamp = f"{step.limiter.watts:g} W lamp in series" if step.limiter else "no lamp"
    yield f"step {step.number}: {step.title}"
    if step.held:
        yield f"  {step.held}"
    yield f"  {step.fitted}; {lamp}; supply {step.fraction:.0%}. Meter the supply: ______ V"
    yield f"  {step.wait}"
    glow = f", {step.lamp_volts:.0f} V across the lamp" if step.limiter else ""
    yield f"  expect {step.line_amps:.2g} A from the mains{glow}"
    for line in step.lines:
        yield f"  [ ] {_told_line(line)}"
    for words in step.stop:
        yield f"  stop at {words}"


def _told_line(line: Expected) -> str:
    to = "" if line.to == CHASSIS else f" to {line.to}"
    kind = " ac" if line.alternating else ""
    figures = f"{line.low:.3g} to {line.high:.3g} V{kind}, stop at {line.most:.3g} V"
    remark = f" ({line.remark})" if line.remark else ""
    return f"{str(line.at) + to:<18} {figures:<40} read ______{remark}"
