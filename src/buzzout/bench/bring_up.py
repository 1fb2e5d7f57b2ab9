"""The bring-up plan of this set: step by step, what to meter, what to expect, where to stop."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from buzzout.bench.expected import STOP, Expected, expected
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
from buzzout.bench.slow import Slow, slow
from buzzout.circuit import CHASSIS, Circuit, Point
from buzzout.electrics.common import common, feeding, reservoirs
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.draft import Power
from buzzout.electrics.mains import Lamp
from buzzout.electrics.operating import Operating, operate
from buzzout.electrics.resistance import Range, resistances
from buzzout.job.discharge import Discharge
from buzzout.job.gate import LIMITED, REFUSED, Gate

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
class Cold:
    """One reading with the set unplugged, valves out, switch on, and what it tells. [ohm]."""

    at: Point
    to: Point
    ohms: Range
    tells: str


@dataclass(frozen=True)
class Step:
    """One step. `circuit` and `power` are what was computed; `stop` sentences beside it.

    `held` says why the step must wait, where the answer on power keeps the set behind the lamp;
    `controls` how controls must stand.
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
    controls: tuple[str, ...] = ()


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
    planned = settings(circuit)
    running = operate(planned[-1].circuit, Power())
    if running.side is None or not running.settled:
        why = "; ".join([*running.unsettled, *running.remarks]) or "nothing is fed"
        return BringUp((), f"The running set could not be computed: {why}.")
    grids = [point for role, point in planned[-1].output if role == "grid"]
    moving = slow(planned[-1].circuit, grids)
    steps = tuple(_step(n, s, moving) for n, s in enumerate(planned, 1))
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
    told = dict[Point, str]()
    for plus, other in reservoirs(circuit):
        earthed = [circuit.node_of[p] == circuit.node_of[minus] for p in (plus, other)]
        below = earthed == [True, False]
        told[other if below else plus] = "the bias supply" if below else "the HT"
    for point, what in told.items():
        yield Cold(point, minus, ready.between(point, minus), f"no short on {what}")


def _step(number: int, setting: Setting, moving: Slow | None) -> Step:
    power, fitted = setting.power, setting.fitted
    state = operate(setting.circuit, power)
    lines, controls = tuple(expected(setting, state)), setting.controls
    if moving is not None and fitted in (ALL, NO_OUTPUT):
        lines = tuple(_swung(line, moving) for line in lines)
        controls = (*controls, moving.words)
    return Step(
        number, setting.title, fitted, power.fraction, power.limiter,
        setting.wait or _WAIT[fitted], lines, state.line_amps, state.lamp_volts,
        tuple(_stops(state, fitted)), setting.circuit, power,
        controls=controls,
    )  # fmt: skip


def _swung(line: Expected, moving: Slow) -> Expected:
    """A reading that does not stand still is marked so."""
    if line.alternating or not moving.moves(line.at, line.middle):
        return line
    return replace(line, remark="; ".join(["swings", *([line.remark] if line.remark else [])]))


_WAIT = {
    NOTHING: "A minute; the transformer must stay silent and cold.",
    RECTIFIER: (
        "Ten minutes at each step at least, after years of rest half an hour, until the voltage no"
        " longer climbs: the electrolytics reform (common practice). A can that gets warm is bad."
    ),
    NO_OUTPUT: "Two minutes: a leak shows as its capacitor warms up (common practice).",
    ALL: "A minute until the heaters are warm, then read.",
}


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
    wide = max((len(_points(line)) for step in plan.steps for line in step.lines), default=0)
    for step in plan.steps:
        lines += ["", *_told_step(step, wide)]
    return [*lines, *(["", "Assumed"] if plan.remarks else []), *(f"  {r}" for r in plan.remarks)]


def _told_step(step: Step, wide: int) -> Iterator[str]:
    lamp = f"{step.limiter.watts:g} W lamp in series" if step.limiter else "no lamp"
    yield f"step {step.number}: {step.title}"
    if step.held:
        yield f"  {step.held}"
    yield f"  {step.fitted}; {lamp}; supply {step.fraction:.0%}. Meter the supply: ______ V"
    yield from (f"  {words}" for words in (step.wait, *step.controls))
    glow = f", {step.lamp_volts:.0f} V across the lamp" if step.limiter else ""
    yield f"  expect {step.line_amps:.2g} A from the mains{glow}"
    for line in step.lines:
        yield f"  [ ] {_points(line):<{wide}}  {_told_line(line)}"
    for words in step.stop:
        yield f"  stop at {words}"


def _points(line: Expected) -> str:
    """Where the probes go; the second is on the chassis where nothing is said."""
    return str(line.at) if line.to == CHASSIS else f"{line.at} to {line.to}"


def _told_line(line: Expected) -> str:
    figures = f"{line.between}, stop at {line.stop}"
    remark = f" ({line.remark})" if line.remark else ""
    return f"{figures:<40} read ______{remark}"
