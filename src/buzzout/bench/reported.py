"""Readings and what explains them, as lines of text."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from buzzout.bench.care import where as where_next
from buzzout.bench.diagnose import Diagnosis, Next
from buzzout.bench.faults import NOTHING
from buzzout.bench.meter import volts
from buzzout.bench.probe import OHMS, OPEN
from buzzout.bench.readings import Line, Report, Step
from buzzout.circuit import Quantity, Reading

_MILLI, _NOTHING = 0.1, 5e-5  # below the one in mV, at the other nothing [V]
_CLEAR = 0.5  # share from which a fault is told although every reading is in its range
_DOUBT = 0.05  # share from which another explanation is still in question


def told(made: Report) -> list[str]:
    """A report as lines of text."""
    lines = [row for step in made.steps for row in (*_told_step(step), "")]
    assumed = dict.fromkeys(remark for step in made.steps for remark in step.remarks)
    return [*lines, *_diagnosis(made.diagnosis, made.in_order), *_assumed(tuple(assumed))]


def _told_step(step: Step) -> Iterator[str]:
    if step.refused:
        yield f"{step.sitting}: {step.refused}"
        return
    yield f"{step.sitting}, computed for {step.fed}"
    yield from (f"  ABOVE A RATING, switch off: {told}" for told in step.over)
    yield from (f"  {_line(line)}" for line in step.lines)
    yield from (f"  {'' if ok else 'STOPPED? '}{note}" for ok, note in step.notes)
    yield from (f"  not used: {r.at} {r.value}: {why}" for r, why in step.skipped)
    yield from (f"  SLIP? {slip.words}" for slip in step.slips)
    yield from (f"  SLIP? {over}" for over in step.currents)


def figure(value: float, unit: str) -> str:
    """A value as it stands in a report, without what no meter shows. [V] or [ohm]."""
    if unit == "V":
        return f"{1e3 * value:.3g} mV" if _NOTHING < abs(value) < _MILLI else f"{_volts(value)} V"
    if value >= 0.95 * OPEN:
        return "open"
    return str(Quantity(float(f"{max(value, 0.0):.3g}"), "ohm"))


def between(line: Line) -> str:
    """The range of a line in words: 131 to 145 V."""
    unit = line.reading.value.unit
    if unit == "V":
        return volts(line.low, line.high)
    return f"{figure(line.low, unit)} to {figure(line.high, unit)}"


def _volts(value: float) -> str:
    return "0" if abs(value) <= _NOTHING else f"{value:.4g}"


def where(reading: Reading) -> str:
    """Where a reading was taken, as it was typed."""
    to = "" if str(reading.to) == "chassis" and reading.value.unit == "V" else f" to {reading.to}"
    return f"{reading.at}{to}"


def what(reading: Reading) -> str:
    """What was read, with its kind."""
    if math.isinf(reading.value.value):
        return reading.value.text or "open"
    return f"{reading.value}{' ac' if reading.alternating else ''}"


def _line(line: Line) -> str:
    mark = "OFF" if line.off else "ok "
    return f"{mark} {where(line.reading):<18} read {what(line.reading)}, expected {between(line)}"


def _diagnosis(told_: Diagnosis, in_order: bool) -> Iterator[str]:
    if not told_.explanations:
        return
    if in_order:
        yield "every reading is in its range: nothing at these points speaks against a sound set"
        best = told_.explanations[0]
        if best.faults == (NOTHING,) or best.share < _CLEAR:
            return
    if told_.summary:
        yield told_.summary
    together_ = "what explains all of it best"
    yield together_ if told_.explained else "NOTHING EXPLAINS ALL OF IT WELL; nearest"
    for number, line in enumerate(told_.explanations, 1):
        yield f"  {number}. {line.share:4.0%}  {line.words}"
        if line.unexplained:
            yield f"          leaves unexplained: {', '.join(map(str, line.unexplained))}"
    doubted = [line for line in told_.explanations[1:] if line.share > _DOUBT]
    if doubted and not told_.next:
        yield "no reading on offer tells these apart: try them in this order, read again after each"
    thought = [f for line in told_.explanations if line.share > _DOUBT
               for f in (*line.faults, *line.alike)]  # fmt: skip
    yield from dict.fromkeys(fault.look for fault in thought if fault.look)
    for following in told_.next:
        yield from _next(following)


def _next(following: Next) -> Iterator[str]:
    """A reading to take, how the set must stand for it, and what each outcome would mean."""
    yield f"measure next: {where_next(following.probe)}"
    yield from (f"  {note}" for note in following.notes)
    unit = "ohm" if following.probe.way == OHMS else "V"
    if len(following.shows) == 1:
        words, value = following.shows[0]
        confirmed = words or "the single faults above, and tell none of them apart"
        yield f"  {figure(value, unit):>9} would confirm {confirmed}"
        yield f"  {'else':>9} none of the single faults above"
        return
    for words, value in following.shows:
        yield f"  {figure(value, unit):>9} if {words}"


def _assumed(remarks: Iterable[str]) -> Iterator[str]:
    listed = list(remarks)
    if listed:
        yield "assumed"
        yield from (f"  {remark}" for remark in listed)
