"""A made-up bench under power: one planted fault, ten readings, judged by the drawing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from boards import point

from buzzout.circuit import CHASSIS, Join, Quantity, Reading, Remove, apply
from buzzout.electrics.charts import BENCH_SHARE, Meter, judge_voltages, voltage_chart
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.draft import Power
from buzzout.language.load import read

AMP = read(Path(__file__).parent / "cases" / "small_amp.buzz")
PLACES = ["HT1", "HT2", "HT3", "V2.1", "V2.3", "V2.6", "V2.8", "V3.1", "V3.3", "K"]
METER = Meter(per_volt=20e3)


def value(name, by):
    part = AMP.parts[name]
    return AMP.but(
        {**AMP.parts, name: replace(part, value=replace(part.value, value=part.value.value * by))}
    )


def joined(a, b):
    return apply(AMP, [Join(point(a), point(b))])


# fault, circuit, power, conditions, a place that must disagree with the drawing
FAULTS = {
    "anode resistor open": (apply(AMP, [Remove("R2")]), Power(), Conditions(), "V2.1"),
    "cathode resistor doubled": (value("R41", 2.0), Power(), Conditions(), "V3.3"),
    "dropper drifted high": (value("R20", 3.0), Power(), Conditions(), "HT3"),
    "cathode bypass shorted": (joined("K", "chassis"), Power(), Conditions(), "K"),
    "coupling capacitor leaks": (AMP, Power(), Conditions(leaks={"C4": 2e6}), "K"),
    "output valve worn": (AMP, Power(emission={"V4": 0.3, "V5": 0.3}), Conditions(), "K"),
    "oscillator valve dead": (AMP, Power(emission={"V3": 0.01}), Conditions(), "V3.1"),
    "mains far too low": (
        AMP,
        Power(volts=180.0),
        Conditions(),
        "HT1",
    ),
}


def bench(circuit, power, conditions):
    told = voltage_chart(circuit, power, METER, [point(p) for p in PLACES], conditions)
    return tuple(
        Reading(line.point, CHASSIS, Quantity(round(line.shown, 2), "V"), meter=20e3, per_volt=True)
        for line in told.lines
    )


@pytest.mark.parametrize("fault", FAULTS)
def test_a_planted_fault_shows_where_it_should(fault):
    circuit, power, conditions, place = FAULTS[fault]
    readings = bench(circuit, power, conditions)
    verdicts = {str(v.reading.at): v for v in judge_voltages(AMP, readings, share=BENCH_SHARE)}
    assert not verdicts[place].agrees


def test_a_good_set_agrees_everywhere():
    readings = bench(AMP, Power(), Conditions())
    assert all(v.agrees for v in judge_voltages(AMP, readings, share=BENCH_SHARE))


def test_low_mains_is_no_fault_when_it_was_metered():
    readings = tuple(
        replace(r, supply=Quantity(207.0, "V"))
        for r in bench(AMP, Power(volts=207.0), Conditions())
    )
    assert all(v.agrees for v in judge_voltages(AMP, readings, share=BENCH_SHARE))
    unmetered = tuple(replace(r, supply=None) for r in readings)
    assert not all(v.agrees for v in judge_voltages(AMP, unmetered, share=BENCH_SHARE))
