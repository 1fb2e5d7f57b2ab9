"""Hum on a grid: no stage swings further than its supply, whatever a linear network makes of it."""

import pytest

from buzzout.circuit import Join, Point, apply
from buzzout.electrics.operating import operate
from buzzout.electrics.ratings import audit_states
from buzzout.electrics.stress import OVER, States
from buzzout.job.driven import limited
from buzzout.language import read


@pytest.fixture(scope="module")
def hall():
    return read("examples/hall-amplifier/hall-amplifier.reference.buzz")


def over(state):
    return {s.part: s for s in audit_states(States(state, state)) if s.verdict == OVER}


@pytest.mark.parametrize("fed", ["h1", "red1"])
def test_a_heater_or_ht_winding_on_the_first_grid(hall, fed):
    """The linear network has half-watt resistors stand watts; the stages cannot."""
    state = operate(apply(hall, [Join(Point("T1", fed), Point("V1", "2"))]))
    assert over(state)["R19"].value > 10
    within, stages = limited(state)
    assert {"V2/2", "V4", "V5"} <= set(stages)
    assert not over(within)
    swings, of = within.swings, within.net.of
    for anode, cathode in (("V4.7", "V4.3"), ("V5.7", "V5.3"), ("V2.6", "V2.8")):
        a, c = (Point(*p.split(".")) for p in (anode, cathode))
        assert abs(swings[of[a]] - swings[of[c]]) <= 1.02 * within.volts(a, c)


def test_what_no_valve_drives_stays(hall):
    """Heaters and windings keep their volts, and a set in order is left as it is."""
    state = operate(hall)
    assert limited(state) == (state, ())
    hummed = operate(apply(hall, [Join(Point("T1", "h1"), Point("V1", "2"))]))
    within, _ = limited(hummed)
    for point in (Point("T1", "h1"), Point("T1", "red1")):
        node = hummed.net.of[point]
        assert abs(within.swings[node]) == pytest.approx(abs(hummed.swings[node]), rel=0.02)
