"""Readings as they were typed, laid beside what the set should show at that step."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

import numpy as np

from buzzout.bench.bring_up import settings
from buzzout.bench.case import Case, Taken, case
from buzzout.bench.currents import LeftOver, left_over
from buzzout.bench.diagnose import Diagnosis, diagnose
from buzzout.bench.predict import Probe
from buzzout.bench.score import noise
from buzzout.bench.slips import Slip, slips
from buzzout.circuit import CannotApply, Circuit, Quantity, Reading, apply
from buzzout.compare import Comparison
from buzzout.electrics.charts import meter_of
from buzzout.electrics.draft import Power, Supply
from buzzout.electrics.mains import alternating
from buzzout.electrics.operating import Operating, operate
from buzzout.language import Loaded

_STEP = re.compile(r"\s*step\s+(\d+)", re.IGNORECASE)
_METER = 10e6  # a digital meter, where nobody says which: common practice [ohm]
_OTHER = {
    "ohm": "a resistance; it serves the output stage and the check of the transcription",
    "A": "a current; read the drop across a known resistor instead",
}
_OFF = 2.5  # deviations from which a reading is off


@dataclass(frozen=True)
class Sitting:
    """The readings of one step. `step` is 0 where none was named: the whole set at full mains."""

    step: int
    readings: tuple[Reading, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """A reading against its prediction. [V]; `off` says that it is beyond tolerance and meter."""

    reading: Reading
    expected: float
    low: float
    high: float
    off: bool


@dataclass(frozen=True)
class Report:
    """What the readings of one step say.

    `volts` is the mains that was computed with; `slips` and `currents` what the readings themselves
    contradict; `skipped` readings that take no part, with the reason.
    """

    sitting: Sitting
    volts: float
    lines: tuple[Line, ...]
    slips: tuple[Slip, ...]
    currents: tuple[LeftOver, ...]
    diagnosis: Diagnosis
    skipped: tuple[tuple[Reading, str], ...] = ()
    remarks: tuple[str, ...] = ()
    refused: str = ""


def sittings(loaded: Loaded) -> tuple[Sitting, ...]:
    """The readings of a file by the step that a note above them names, in order of the file."""
    step, at = 0, dict[tuple[str, int], int]()
    for statement in loaded.statements:
        if statement.rule == "remark":
            named = _STEP.match(str(statement.tree.children[1]).strip('"'))
            step = int(named[1]) if named else step
        elif statement.rule == "reads":
            at[statement.span.file, statement.span.line] = step
    by_step: dict[int, list[Reading]] = {}
    for reading in loaded.circuit.readings:
        where = at.get((reading.span.file, reading.span.line), 0)
        by_step.setdefault(where, []).append(reading)
    return tuple(Sitting(step, tuple(own)) for step, own in by_step.items())


def report(sitting: Sitting, comparison: Comparison) -> Report:
    """Compare the readings of one step with the chassis as it is, and explain what is off."""
    circuit, power, volts = _conditions(sitting, comparison.found)
    state = operate(circuit, power)
    if state.side is None:
        power = replace(power, supplies=_supplies(sitting, circuit))
        state = operate(circuit, power)
    if not state.settled or not state.system.size:
        why = "; ".join([*state.unsettled, *state.remarks]) or "nothing is fed"
        nothing = Diagnosis((), ())
        return Report(sitting, volts, (), (), (), nothing, refused=f"could not be computed: {why}")
    asked = case(state, names(comparison), _findings(comparison, circuit))
    taken, skipped = _taken(sitting, state, volts)
    told = diagnose(asked, [t for _, t in taken])
    lines = (*_lines(asked, taken), *_heaters(sitting, state))
    found = slips([t for _, t in taken], state.net.of)
    over = left_over(state, [t for _, t in taken], names(comparison))
    return Report(sitting, volts, lines, found, over, told, tuple(skipped), state.remarks)


def names(comparison: Comparison) -> Mapping[str, str]:
    """Name on the drawing of each part of the chassis."""
    matched = comparison.matching.parts.items()
    return {there: drawn for drawn, parts in matched for there in parts}


def _conditions(sitting: Sitting, found: Circuit) -> tuple[Circuit, Power, float]:
    """Sockets, supply and lamp of the step, with the mains as it was measured."""
    told = [r.supply.value for r in sitting.readings if r.supply is not None]
    nominal = found.mains.voltage.value if found.mains else 230.0
    steps = settings(found) if sitting.step else ()
    if not 1 <= sitting.step <= len(steps):
        volts = float(median(told)) if told else nominal
        return found, Power(volts=volts), volts
    setting = steps[sitting.step - 1]
    volts = float(median(told)) if told else nominal * setting.power.fraction
    return setting.circuit, replace(setting.power, volts=volts, fraction=1.0), volts


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


def _findings(comparison: Comparison, circuit: Circuit) -> list[tuple[str, Circuit]]:
    """Each open finding as it would be if the transcription were wrong there."""
    found = []
    for finding in comparison.findings:
        if finding.harmless or not finding.remedy or circuit is not comparison.found:
            continue
        try:
            other = apply(circuit, finding.remedy)
        except CannotApply:
            continue
        found.append((f"as drawn after all, not as transcribed: {finding.text}", other))
    return found


def _taken(
    sitting: Sitting, state: Operating, volts: float
) -> tuple[list[tuple[Reading, Taken]], list[tuple[Reading, str]]]:
    """Direct voltages as probes; everything else with the reason why it takes no part."""
    taken, skipped = [], []
    for reading in sitting.readings:
        why = _why_not(reading, state)
        if why:
            skipped.append((reading, why))
            continue
        meter = meter_of(reading) if reading.meter else None
        ohms = meter.loading(_range(reading, state)) if meter else _METER
        supply = reading.supply.value / volts if reading.supply and volts else 1.0
        probe = Probe(reading.at, reading.to, ohms, supply)
        taken.append((reading, Taken(probe, reading.value.value, last_digit(reading.value))))
    return taken, [s for s in skipped if s[1] != "alternating"]


def _range(reading: Reading, state: Operating) -> float:
    """The voltage that the range was chosen for: what was expected there, if that is more. [V]."""
    expected = abs(state.volts(reading.at, reading.to))
    return max(abs(reading.value.value), 0.0 if math.isnan(expected) else expected)


def _why_not(reading: Reading, state: Operating) -> str:
    if reading.value.unit != "V":
        return _OTHER[reading.value.unit]
    if reading.alternating:
        return "alternating"
    if any((s.a, s.b) == (reading.at, reading.to) for s in state.power.supplies):
        return "taken as what feeds the set"
    if reading.at not in state.net.of or reading.to not in state.net.of:
        return "the chassis has no such point"
    return ""


def last_digit(value: Quantity) -> float:
    """The smallest difference that a figure as typed can show, in its unit.

    >>> last_digit(Quantity(168.0, "V", text="168V")), last_digit(Quantity(1.12, "V", text="1.12V"))
    (1.0, 0.01)
    """
    number = re.match(r"[-+]?(\d*)[.,]?(\d*)", value.text.strip())
    if not value.text or number is None or not float(f"{number[1] or 0}.{number[2] or 0}"):
        return 0.1
    shown = float(f"{number[1] or 0}.{number[2] or 0}")
    return float(abs(value.value) / shown * 10 ** -len(number[2]))


def _lines(asked: Case, taken: Sequence[tuple[Reading, Taken]]) -> Iterable[Line]:
    """Each direct voltage with the range in which good parts leave it."""
    if not taken:
        return
    probes = [t for _, t in taken]
    known = asked.at(probes).rows([0])
    values = np.array([t.volts for t in probes])
    step = np.array([t.step for t in probes])
    spread = np.sum(known.moved[0] ** 2, axis=1)
    own = noise(known.mean[0], known.healthy, values, step) + known.unsure[0] ** 2
    deviation = np.sqrt(spread + own)
    for number, (reading, t) in enumerate(taken):
        middle, off = float(known.mean[0, number]), _OFF * float(deviation[number])
        yield Line(reading, middle, middle - off, middle + off, abs(t.volts - middle) > off)


def _heaters(sitting: Sitting, state: Operating) -> Iterable[Line]:
    """Alternating voltages against the windings, 8 % either way (common practice)."""
    of = state.net.of
    for reading in sitting.readings:
        if not reading.alternating or not {reading.at, reading.to} <= of.keys():
            continue
        middle = alternating(state.side, state.pulses, of[reading.at], of[reading.to])
        low, high = 0.92 * middle, 1.08 * middle
        yield Line(reading, middle, low, high, not low <= reading.value.value <= high)


def told(made: Report) -> list[str]:
    """One report as lines of text."""
    step = f"step {made.sitting.step}" if made.sitting.step else "running"
    lines = [f"{step}, computed for {made.volts:.4g} V at the primary"]
    if made.refused:
        return [*lines, f"  {made.refused}"]
    lines += [f"  {_line(line)}" for line in made.lines]
    lines += [f"  not used: {r.at} {r.value}: {why}" for r, why in made.skipped]
    lines += [f"  SLIP? {slip.words}" for slip in made.slips]
    lines += [f"  SLIP? {over}" for over in made.currents]
    return [*lines, *_diagnosis(made.diagnosis), *_assumed(made.remarks)]


def _line(line: Line) -> str:
    r = line.reading
    to = "" if str(r.to) == "chassis" else f" to {r.to}"
    kind = " ac" if r.alternating else ""
    mark = "OFF" if line.off else "ok "
    expected = f"expected {line.low:.4g} to {line.high:.4g} V"
    return f"{mark} {str(r.at) + to:<18} read {r.value}{kind}, {expected}"


def _diagnosis(told_: Diagnosis) -> Iterable[str]:
    if not told_.explanations:
        return
    yield "what explains it best" if told_.explained else "NOTHING EXPLAINS IT WELL; nearest"
    for number, line in enumerate(told_.explanations, 1):
        yield f"  {number}. {line.share:4.0%}  {line.words}"
        if line.unexplained:
            yield f"          leaves unexplained: {', '.join(map(str, line.unexplained))}"
    for following in told_.next:
        yield f"measure next: {following.probe}"
        for words, volts in following.shows:
            yield f"  {volts:8.4g} V if {words}"


def _assumed(remarks: Sequence[str]) -> Iterable[str]:
    if remarks:
        yield "assumed"
        yield from (f"  {remark}" for remark in remarks)
