import pytest

from buzzout.bench.currents import left_over
from buzzout.bench.probe import Probe, Taken
from buzzout.circuit import CHASSIS, Point
from buzzout.electrics.operating import operate
from buzzout.language import read


@pytest.fixture(scope="module")
def state():
    return operate(read("examples/hall-amplifier/hall-amplifier.reference.buzz"))


def taken(state, **changed):
    points = {"HT4": "HT4", "V1_1": "V1.1", "V1_3": "V1.3", "V1_6": "V1.6", "V1_8": "V1.8"}
    out = []
    for key, text in points.items():
        owner, _, pin = text.partition(".")
        volts = changed.get(key, round(state.volts(Point(owner, pin)), 2))
        out.append(Taken(Probe(Point(owner, pin), CHASSIS), volts, 0.01))
    return out


def test_what_flows_into_a_valve_leaves_it(state):
    assert left_over(state, taken(state), {}) == ()


def test_a_slip_in_one_electrode(state):
    """0.76 mA through 100k and 1.1 V over 1k5 agree; 11 V over 1k5 would be 7.5 mA."""
    (found,) = left_over(state, taken(state, V1_3=11.3), {"R10": "R10"})
    assert found.around == "V1/2"
    assert found.amps == pytest.approx(0.00076 - 11.3 / 1500, rel=0.02)
    assert set(found.resistors) == {"R10", "R11"}
    assert "V1.3 11.3 V" in str(found)


def test_a_valve_that_is_worth_little_is_no_contradiction(state):
    """Less current everywhere: the readings agree with each other."""
    weak = taken(state, V1_1=state.volts(Point("HT4")) - 30.0, V1_3=0.45)
    assert left_over(state, weak, {}) == ()


def test_nothing_is_said_where_a_voltage_is_missing(state):
    few = [t for t in taken(state, V1_3=11.3) if str(t.probe) != "HT4"]
    assert left_over(state, few, {}) == ()
