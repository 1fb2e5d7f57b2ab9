"""Discharge of reservoirs."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_set import changed

from buzzout.circuit import Point
from buzzout.job.discharge import discharge_time, discharges, ht_share
from buzzout.job.rails import Rails

POSITIVE = st.floats(1e-3, 1e3)


@given(POSITIVE, POSITIVE, st.floats(1, 1000), st.floats(0.1, 1))
def test_after_the_time_the_voltage_is_there(ohms, farads, start, share):
    """Law: v(t) = V0 exp(-t/RC)."""
    time = discharge_time(ohms, farads, start, start * share)
    assert start * math.exp(-time / (ohms * farads)) == pytest.approx(start * share)


@pytest.mark.parametrize("end", [60, 61, 1000])
def test_what_is_below_already_takes_no_time(end):
    assert discharge_time(1e5, 1e-5, 60, end) == 0


def told(circuit, *swaps):
    return {str(d.plus): d for d in discharges(Rails(circuit(changed(*swaps))))}


def test_reservoir_and_smoothing_go_together(circuit):
    """Two of 32u joined by 1k discharge through 220k much as one of 64u, from 250 V and 10 %."""
    both = told(circuit)
    square = both["C30.square"]
    start = 250 * math.sqrt(2) * 1.1
    assert square.ohms == pytest.approx(220e3, rel=1e-6)
    assert square.volts == pytest.approx(start)
    assert square.to_touch == pytest.approx(220e3 * 64e-6 * math.log(start / 60), rel=3e-3)
    assert square.to_work == pytest.approx(220e3 * 64e-6 * math.log(start / 10), rel=3e-3)
    assert both["C30.triangle"].to_touch == pytest.approx(square.to_touch, rel=0.01)


def test_a_reservoir_behind_an_open_choke_stands_alone(circuit):
    alone = told(circuit, ("R1 resistor 1k 2W HT1 HT2", "# R1 open"))
    square = alone["C30.square"]
    assert square.to_touch == pytest.approx(220e3 * 32e-6 * math.log(square.volts / 60), rel=1e-6)
    assert math.isinf(alone["C30.triangle"].ohms)
    assert "no discharge path" in str(alone["C30.triangle"])


def test_a_low_rating_caps_the_start(circuit):
    swaps = (
        "can C30 square 32u 450V triangle 32u 450V",
        "can C30 square 32u 350V triangle 32u 450V",
    )
    assert told(circuit, swaps)["C30.square"].volts == 350


@pytest.mark.parametrize(
    ("line", "share"),
    [
        ("R90 resistor 100k HT2 J1.tip", 1 / 1.1),
        ("R90 resistor 1M HT2 J1.tip", 0.5),
        ("# nothing", 0.0),
        ("wire HT2 J1.tip", 1.0),
    ],
)
def test_share_of_the_ht_is_that_of_the_divider(circuit, line, share):
    """1M from the jack to chassis is drawn; the rail is taken as stiff."""
    rails = Rails(circuit(changed(("R3 resistor 1M J1.tip chassis",
                                   f"R3 resistor 1M J1.tip chassis\n{line}"))))  # fmt: skip
    assert ht_share(rails, rails.ways.node(Point("J1", "tip"))) == pytest.approx(share, rel=1e-3)
