"""No stage swings further than its supply, whatever a linear network makes of hum on a grid."""

import math

import pytest

from buzzout.circuit import Join, Point, apply
from buzzout.electrics.limited import driven, limited
from buzzout.electrics.operating import operate
from buzzout.electrics.ratings import audit_states
from buzzout.electrics.signal import Drive, answer, linear
from buzzout.electrics.stress import OVER, States
from buzzout.electrics.stress_parts import resistors
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
    watts = {s.part: s.value for s in resistors(States(state, state))}
    assert watts["R19"] > 10
    assert not over(state)  # stresses are judged within the supply
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


def test_ripple_swings_no_anode_further_than_its_supply(hall):
    """At the first grid it is amplified by all stages; a little of it is as the network has it."""
    state = operate(hall)
    view, drive, end = linear(state), Drive(Point("V1", "2")), Point("V4", "7")
    plain = answer(view, drive, 100.0)
    assert driven(view, drive, 100.0, 1e-4).gain(end) == plain.gain(end)
    got, cathode = driven(view, drive, 100.0, 1.0), Point("V4", "3")
    assert abs(plain.gain(end, cathode)) > 2 * state.volts(end, cathode)
    assert abs(got.gain(end, cathode)) <= 1.02 * state.volts(end, cathode)


def test_the_last_stage_gives_all_it_can_however_many_before_it_are_at_their_limit(hall):
    """Taken down for what those before it would swing without a limit, it would give far less."""
    state = operate(hall)
    view, drive, out = linear(state), Drive(Point("V1", "2")), Point("T2", "green")
    most = [volts * abs(driven(view, drive, 100.0, volts).gain(out)) for volts in (0.1, 1.0, 10.0)]
    assert most == pytest.approx([most[0]] * 3, rel=0.1)
    anodes = state.volts(Point("V4", "7"), Point("V4", "3"))
    assert most[0] == pytest.approx(2 * anodes / math.sqrt(8000 / 15), rel=0.15)
