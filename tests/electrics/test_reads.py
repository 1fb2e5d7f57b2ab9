"""A made-up bench: one resistor drifted, one reading taken, the judgement must name it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from buzzout.circuit import CHASSIS, Quantity, Reading
from buzzout.electrics.conditions import METER_OHMS, METER_SHARE
from buzzout.electrics.reads import DOUBTFUL, DRIFTED, RIGHT, judge
from buzzout.electrics.resistance import chart, resistances
from buzzout.language.load import read

AMP = read(Path(__file__).parent / "cases" / "small_amp.buzz")
RESISTORS = [p.name for p in AMP.parts.values() if p.kind == "resistor"]


def drifted(name, by):
    part = AMP.parts[name]
    ohms = replace(part.value, value=part.value.value * by, minus=0.0, plus=0.0, text="")
    return AMP.but({**AMP.parts, name: replace(part, value=ohms)})


def telling_point(name, by):
    """The point whose reading to chassis moves most when this resistor drifts."""
    now = {line.point: line.ohms.nominal for line in chart(drifted(name, by)).lines}
    was = {line.point: line.ohms for line in chart(AMP).lines}
    return max(now, key=lambda p: abs(now[p] / was[p].nominal - 1) if was[p].nominal > 0 else 0)


@pytest.mark.parametrize("name", RESISTORS)
def test_a_drift_is_named_with_its_value(name):
    at = telling_point(name, 1.6)
    true = resistances(drifted(name, 1.6)).between(at, CHASSIS).nominal
    told = judge(replace(AMP, readings=(Reading(at, CHASSIS, Quantity(true, "ohm")),)))[0]
    if told.found.holds(true):
        assert told.verdict == RIGHT  # hidden behind lower resistances: no reading there shows it
        return
    assert told.verdict == DRIFTED
    named = {drift.part: drift for drift in told.drifts}
    assert named[name].ratio == pytest.approx(1.6, rel=1e-3)


@pytest.mark.parametrize("name", RESISTORS)
def test_a_good_board_reads_right_everywhere(name):
    """All readings of the board as it is, spoilt by the meter's own error, are right."""
    at = telling_point(name, 1.6)
    ohms = resistances(AMP).between(at, CHASSIS).nominal
    for sign in (-0.9, 0.9):
        reading = ohms * (1 + sign * METER_SHARE) + sign * METER_OHMS
        line = Reading(at, CHASSIS, Quantity(max(reading, 0.0), "ohm"))
        assert judge(replace(AMP, readings=(line,)))[0].verdict == RIGHT


def test_a_bridge_is_no_drift():
    reading = Reading(next(iter(AMP.parts["V2"].points)), CHASSIS, Quantity(3.0, "ohm"))
    assert judge(replace(AMP, readings=(reading,)))[0].verdict == DOUBTFUL
