"""Readings typed from the bench: transcription right, doubtful there, or a part drifted."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from buzzout.circuit import Circuit, Part, Point, Reading, printed
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.resistance import Range, Resistances, resistances, solve_for

RIGHT = "transcription right"
DOUBTFUL = "transcription doubtful here"
DRIFTED = "part drifted"

# How far a resistor may have drifted before another explanation is likelier. Carbon composition
# goes up, in bad cases to several times its value (workshop reports of half-century parts, common
# practice); down by more than a third is hardly seen.
DRIFT_DOWN, DRIFT_UP = 0.65, 5.0


@dataclass(frozen=True, slots=True)
class Drift:
    """A resistor that alone would explain a reading, and the value it would have. [ohm]."""

    part: str
    marked: float
    now: float

    @property
    def ratio(self) -> float:
        """Value now over value marked. [1]."""
        return self.now / self.marked


@dataclass(frozen=True, slots=True)
class Judgement:
    """One reading against the circuit as transcribed and, where given, as drawn. [ohm]."""

    at: Point
    to: Point
    reading: float
    found: Range
    reference: Range | None
    verdict: str
    why: str
    drifts: tuple[Drift, ...] = ()


def judge(
    found: Circuit, reference: Circuit | None = None, conditions: Conditions | None = None
) -> tuple[Judgement, ...]:
    """Judge every resistance reading of a found file, in the order of the file.

    A `reads` on a part out of circuit is compared with its marking; one in circuit, and a reading
    between two points, with what the transcribed network should show there.
    """
    as_built = resistances(found, conditions)
    as_drawn = resistances(reference, conditions) if reference else None
    lifted = [_lifted(part) for part in found.parts.values() if _has_reading(part, inside=False)]
    lines = [_judge(as_built, as_drawn, *line) for line in _readings(found)]
    return (*lifted, *lines)


def _has_reading(part: Part, *, inside: bool) -> bool:
    told = part.measured is not None and part.measured.unit == "ohm" and part.kind == "resistor"
    return told and part.in_circuit is inside


def _readings(found: Circuit) -> Iterator[tuple[Point, Point, float]]:
    for part in found.parts.values():
        if part.measured and _has_reading(part, inside=True):
            yield part.points[0], part.points[1], part.measured.value
    for reading in found.readings:
        if is_resistance(reading):
            yield reading.at, reading.to, reading.value.value


def is_resistance(reading: Reading) -> bool:
    """Tell whether a reading is in ohms."""
    return reading.value.unit == "ohm"


def _lifted(part: Part) -> Judgement:
    """A resistor measured with one lead off: only the part itself is judged."""
    a, b = part.points[:2]
    reading = part.measured.value if part.measured else math.nan
    if part.value is None:
        open_span = Range(math.inf, 0.0, math.inf)
        return Judgement(a, b, reading, open_span, None, RIGHT, "marking unread, reading taken")
    low, high = part.value.span()
    span = Range(part.value.value, low, high)
    if span.holds(reading):
        return Judgement(a, b, reading, span, None, RIGHT, "within the tolerance of its marking")
    drift = Drift(part.name, part.value.value, reading)
    why = f"{printed(reading, 'ohm')} against {printed(part.value.value, 'ohm')} marked"
    return Judgement(a, b, reading, span, None, DRIFTED, why, (drift,))


def _judge(
    found: Resistances, drawn: Resistances | None, at: Point, to: Point, reading: float
) -> Judgement:
    span = found.between(at, to)
    known = drawn is not None and at in drawn.network.of and to in drawn.network.of
    as_drawn = drawn.between(at, to) if drawn is not None and known else None

    def say(verdict: str, why: str, drifts: tuple[Drift, ...] = ()) -> Judgement:
        return Judgement(at, to, reading, span, as_drawn, verdict, why, drifts)

    if span.holds(reading):
        return say(RIGHT, "inside the range of the transcribed parts")
    if as_drawn is not None and as_drawn.holds(reading):
        return say(DOUBTFUL, "reads as the drawing has it, not as transcribed: look again here")
    drifts = explain(found, at, to, reading)
    if drifts:
        first = drifts[0]
        why = f"{first.part} at {printed(first.now, 'ohm')} would explain it; lift one lead to tell"
        return say(DRIFTED, why, drifts)
    return say(DOUBTFUL, "no drift of a single resistor explains it: look again here")


def explain(found: Resistances, at: Point, to: Point, reading: float) -> tuple[Drift, ...]:
    """Resistors that alone would explain a reading, the least drift first."""
    if at not in found.network.of or to not in found.network.of or not math.isfinite(reading):
        return ()
    candidates = []
    for branch in found.network.resistive:
        if branch.role != "resistor" or not math.isfinite(branch.value):
            continue
        now = solve_for(found, branch, (at, to), reading)
        drift = Drift(branch.part, branch.value, now)
        if math.isfinite(now) and DRIFT_DOWN <= drift.ratio <= DRIFT_UP:
            candidates.append(drift)
    return tuple(sorted(candidates, key=lambda d: (round(abs(math.log(d.ratio)), 9), d.part)))
