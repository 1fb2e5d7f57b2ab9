"""Readings as they were typed, laid beside what the set should show at each step.

The readings of all steps are explained together: one fault must make them all.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

import numpy as np

from buzzout.bench.bias import Bias, elsewhere
from buzzout.bench.case import Case, View, together
from buzzout.bench.currents import LeftOver, left_over
from buzzout.bench.diagnose import Diagnosis, diagnose
from buzzout.bench.direct import Direct, Elsewhere
from buzzout.bench.faults import Fault
from buzzout.bench.oscillating import oscillators
from buzzout.bench.probe import (
    ALTERNATING,
    DIRECT,
    OHMS,
    OPEN,
    RIPPLE,
    TONE,
    Probe,
    Source,
    Taken,
    digit,
    scored,
)
from buzzout.bench.probe import told as shown
from buzzout.bench.score import noise
from buzzout.bench.settings import NO_OUTPUT, bias_pots, settings, unstated, untold
from buzzout.bench.sittings import Sitting, way_of
from buzzout.bench.slips import Slip, slips
from buzzout.circuit import CannotApply, Circuit, Reading, apply, last_digit
from buzzout.compare import Comparison
from buzzout.electrics.bringup import weakest
from buzzout.electrics.charts import meter_of
from buzzout.electrics.draft import Power, Supply
from buzzout.electrics.operating import Operating, operate
from buzzout.electrics.unmodelled import unforeseen

_METER = 10e6  # a digital meter, where nobody says which: common practice [ohm]
_OFF = 2.5  # deviations from which a reading is off
_NO_PART = "a current; read the drop across a known resistor instead"


@dataclass(frozen=True, slots=True)
class Line:
    """A reading against its prediction, in its own unit [V] or [ohm].

    `off` says that it is beyond tolerance and meter.
    """

    reading: Reading
    expected: float
    low: float
    high: float
    off: bool


@dataclass(frozen=True)
class Step:
    """What the readings of one step say by themselves.

    `volts` is the mains that was computed with, before the lamp where one of `lamp` watts stands in
    series; `slips` and `currents` what the readings themselves contradict; `skipped` readings that
    take no part, with the reason; `over` what was read above the rating of a capacitor there;
    `notes` what they tell of oscillators, and whether that is in order.
    """

    sitting: Sitting
    volts: float
    lines: tuple[Line, ...] = ()
    slips: tuple[Slip, ...] = ()
    currents: tuple[LeftOver, ...] = ()
    skipped: tuple[tuple[Reading, str], ...] = ()
    remarks: tuple[str, ...] = ()
    refused: str = ""
    lamp: float = 0.0
    over: tuple[str, ...] = ()
    notes: tuple[tuple[bool, str], ...] = ()

    @property
    def fed(self) -> str:
        """The mains in words, and where it stands."""
        where = f"before the {self.lamp:g} W lamp" if self.lamp else "at the primary"
        return f"{self.volts:.4g} V {where}"

    @property
    def off(self) -> int:
        """How many readings are beyond tolerance and meter."""
        return sum(line.off for line in self.lines)


@dataclass(frozen=True)
class Report:
    """All steps, and what explains them together."""

    steps: tuple[Step, ...]
    diagnosis: Diagnosis

    @property
    def in_order(self) -> bool:
        """Whether every reading is as computed and none contradicts another."""
        return not any(
            s.off
            or s.slips
            or s.currents
            or s.refused
            or s.over
            or not all(ok for ok, _ in s.notes)
            for s in self.steps
        )


def report(read: Sequence[Sitting], comparison: Comparison) -> Report:
    """Compare readings with the chassis as it is, and explain what is off in all of them.

    Readings that were taken again later are left out. The set stands now as in the last of them:
    there the next reading is looked for.
    """
    read = [sitting for sitting in read if not sitting.again]
    steps: dict[int, tuple[Direct | None, float, str]] = {
        sitting.step: _computed(sitting, comparison) for sitting in reversed(read)
    }
    known = [direct for direct, _, _ in steps.values() if direct is not None]
    if not known:
        told = tuple(Step(s, steps[s.step][1], refused=steps[s.step][2]) for s in read)
        return Report(told, Diagnosis((), ()))
    there = pulled(comparison.found, names(comparison))
    if there is not None:
        there = replace(there, circuit=read[-1].stood(there.circuit))
    asked = together(known, there)
    made = [_step(sitting, steps[sitting.step], asked, comparison) for sitting in read]
    return Report(
        tuple(step for step, _ in made),
        diagnose(asked, [t for _, taken in made for _, t in taken]),
    )


def _computed(sitting: Sitting, comparison: Comparison) -> tuple[Direct | None, float, str]:
    """One step solved, the mains it was solved for [V], and why it could not be."""
    if why := untold(comparison.found):
        return None, 0.0, why
    if sitting.step and sitting.step > len(steps := settings(comparison.found)):
        return None, 0.0, f"there is no such step: the plan (buzzout job bring-up) has {len(steps)}"
    own = bias_pots(sitting.stood(comparison.found))
    circuit, power, volts = _conditions(sitting, comparison.found, own)
    state = operate(circuit, power)
    if state.side is None:
        power = replace(power, supplies=_supplies(sitting, circuit))
        state = operate(circuit, power)
    if not state.settled or not state.system.size:
        why = "; ".join([*state.unsettled, *state.remarks]) or "nothing is fed"
        return None, volts, f"could not be computed: {why}"
    findings = _findings(comparison, circuit)
    sources = _sources(sitting, circuit)
    others = [*findings, *(elsewhere(circuit, own) if own is not None else ())]
    direct = Direct(state, sitting.step, names(comparison), others, sources)
    direct.cold = sitting.cold(circuit, comparison.found)
    return direct, volts, ""


def pulled(found: Circuit, called: Mapping[str, str] | None = None) -> Elsewhere | None:
    """The step of the plan with the output valves out; None where there is none.

    `called` gives names of the drawing to parts of the chassis.
    """
    for number, setting in enumerate(settings(found), 1):
        if setting.fitted == NO_OUTPUT:
            words = f"step {number} of the plan, {setting.fitted}"
            return Elsewhere(number, setting.circuit, setting.power, words, called or {})
    return None


def _sources(sitting: Sitting, circuit: Circuit) -> tuple[Source, ...]:
    """The test tones of a step."""
    found = [s for r in sitting.readings if (s := _tone(r)) and s.at in circuit.node_of]
    return tuple(dict.fromkeys(found))


def _tone(reading: Reading) -> Source | None:
    """The tone that a level is read of."""
    tone = reading.tone if way_of(reading) == TONE else None
    return Source(tone.at, tone.level.value, tone.frequency.value) if tone is not None else None


def _step(
    sitting: Sitting,
    computed: tuple[Direct | None, float, str],
    asked: Case,
    comparison: Comparison,
) -> tuple[Step, list[tuple[Reading, Taken]]]:
    direct, volts, refused = computed
    if direct is None:
        return Step(sitting, volts, refused=refused), []
    taken, skipped = _taken(sitting, asked, direct.state, volts)
    probes = [t for _, t in taken]
    found = slips(probes, direct.state.net.of)
    direct_ones = [t for t in probes if t.probe.way == DIRECT]
    over = left_over(direct.state, direct_ones, names(comparison))
    lines = tuple(_lines(asked, taken))
    own = unstated(sitting.stood(comparison.found))
    assumed = (own.assumed(direct.state.net.circuit),) if own is not None else ()
    remarks = (*assumed, *direct.state.remarks)
    limiter = direct.state.power.limiter
    lamp = limiter.watts if limiter is not None else 0.0
    above = tuple(_above(lines, direct.state))
    direct_lines = (line.reading for line in lines if way_of(line.reading) == DIRECT)
    return Step(
        sitting, volts, lines, found, over, tuple(skipped), remarks, lamp=lamp, over=above,
        notes=tuple(oscillators(direct.state, direct_lines)),
    ), taken  # fmt: skip


def _above(lines: Sequence[Line], state: Operating) -> Iterator[str]:
    """Direct volts to the chassis above the rating of a capacitor that lies across them."""
    for line in lines:
        reading = line.reading
        if way_of(reading) == DIRECT and state.net.of.get(reading.to) == state.net.chassis:
            most = weakest(state, reading.at)
            if abs(reading.value.value) > most:
                yield f"{reading.at} read {reading.value}, and a capacitor there bears {most:g} V"


def names(comparison: Comparison) -> Mapping[str, str]:
    """Name on the drawing of each part of the chassis."""
    matched = comparison.matching.parts.items()
    return {there: drawn for drawn, parts in matched for there in parts}


def _conditions(sitting: Sitting, found: Circuit, own: Bias | None) -> tuple[Circuit, Power, float]:
    """Sockets, bias pots, supply and lamp of the step, with the mains as it was measured."""
    told = [r.supply.value for r in sitting.readings if r.supply is not None]
    nominal = found.mains.voltage.value if found.mains else 230.0
    steps = settings(found) if sitting.step else ()
    if not 1 <= sitting.step <= len(steps):
        volts = float(median(told)) if told else nominal
        stood = own.aimed if own and not own.stated else sitting.stood(found)
        return stood, Power(volts=volts), volts
    setting = steps[sitting.step - 1]
    volts = float(median(told)) if told else nominal * setting.power.fraction
    return sitting.stood(setting.circuit), replace(setting.power, volts=volts, fraction=1.0), volts


def _supplies(sitting: Sitting, circuit: Circuit) -> tuple[Supply, ...]:
    """What feeds a set without a mains side: the direct voltages read at its connectors."""
    found = []
    for reading in sitting.readings:
        part = circuit.parts.get(reading.at.owner)
        direct = reading.value.unit == "V" and not reading.alternating
        if (
            direct
            and part is not None
            and part.kind == "connector"
            and reading.to in circuit.node_of
        ):
            found.append(Supply(reading.at, reading.to, reading.value.value))
    return tuple(found)


def _findings(comparison: Comparison, circuit: Circuit) -> list[tuple[Fault, Circuit]]:
    """Each open finding as it would be if the transcription were wrong there."""
    found, fitted = [], comparison.found.parts
    pulled_out = any(part.type != fitted[name].type for name, part in circuit.parts.items())
    for finding in comparison.findings:
        if finding.harmless or not finding.remedy or pulled_out:
            continue
        try:
            other = apply(circuit, finding.remedy)
        except CannotApply:
            continue
        words = f"as drawn after all, not as transcribed: {finding.text}"
        found.append((Fault("finding not there", words, words), other))
    return found


def _taken(
    sitting: Sitting, asked: Case, state: Operating, volts: float
) -> tuple[list[tuple[Reading, Taken]], list[tuple[Reading, str]]]:
    """Readings as probes; what takes no part with the reason."""
    taken, skipped = [], []
    for reading in sitting.readings:
        way, tone = way_of(reading), _tone(reading)
        hum = asked.view(sitting.step, RIPPLE)
        if way == ALTERNATING and hum is not None and hum.knows(reading.at, reading.to):
            way = RIPPLE
        view = asked.view(sitting.step, way, tone) if way is not None else None
        why = _why_not(reading, view, state)
        if why or way is None:
            skipped.append((reading, why))
            continue
        meter = meter_of(reading) if reading.meter else None
        ohms = meter.loading(_range(reading, state)) if meter else _METER
        supply = reading.supply.value / volts if reading.supply and volts else 1.0
        probe = Probe(reading.at, reading.to, ohms, supply, way, sitting.step, tone)
        value = min(reading.value.value, OPEN) if way == OHMS else reading.value.value
        taken.append((reading, Taken(probe, value, last_digit(reading.value))))
    return taken, skipped


def _range(reading: Reading, state: Operating) -> float:
    """The voltage that the range was chosen for: what was expected there, if that is more. [V]."""
    expected = abs(state.volts(reading.at, reading.to))
    return max(abs(reading.value.value), 0.0 if math.isnan(expected) else expected)


def _why_not(reading: Reading, view: View | None, state: Operating) -> str:
    """Why a reading takes no part; "" where it does."""
    if way_of(reading) is None:
        return _NO_PART
    if not {reading.at, reading.to} <= state.net.of.keys():
        return "the chassis has no such point"
    dark = unforeseen(state.net, state.volts)
    if way_of(reading) == DIRECT and dark & {state.net.of[p] for p in (reading.at, reading.to)}:
        return "a valve that is in no catalogue is there: what should stand there nobody knows"
    if any((s.a, s.b) == (reading.at, reading.to) for s in state.power.supplies):
        return "taken as what feeds the set"
    if view is None and way_of(reading) == TONE:
        return "the tone goes in where the chassis has no such point"
    if view is None:
        return "alternating, and neither mains nor a tone feeds the set"
    if not view.knows(reading.at, reading.to):
        return "neither mains nor a winding feeds these points: hum, ripple or a signal"
    return ""


def _lines(asked: Case, taken: Sequence[tuple[Reading, Taken]]) -> Iterator[Line]:
    """Each reading with the range in which good parts leave it."""
    if not taken:
        return
    probes = [t for _, t in taken]
    known = asked.at(probes, asked.faults[:1])
    values = np.array([scored(t.probe.way, t.value) for t in probes])
    step = np.array([digit(t.probe.way, t.value, t.step) for t in probes])
    spread = np.sum(known.moved[0] ** 2, axis=1)
    own = noise(known.ways, known.mean[0], known.healthy, values, step) + known.unsure[0] ** 2
    deviation = np.sqrt(spread + own)
    for number, (reading, t) in enumerate(taken):
        middle, off = float(known.mean[0, number]), _OFF * float(deviation[number])
        low, expected, high = (shown(t.probe.way, m) for m in (middle - off, middle, middle + off))
        yield Line(reading, expected, low, high, abs(float(values[number]) - middle) > off)
