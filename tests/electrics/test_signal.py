from pathlib import Path

import pytest
from boards import point

from buzzout.circuit import Remove, Rewire, apply
from buzzout.electrics.loops import cut, oscillations, with_values
from buzzout.electrics.operating import operate
from buzzout.electrics.signal import Drive, signals
from buzzout.electrics.stability import stability
from buzzout.language.load import read

HALL = Path(__file__).parents[2] / "examples/hall-amplifier/hall-amplifier.reference.buzz"
AMP = Path(__file__).parent / "cases" / "small_amp.buzz"


@pytest.fixture(scope="module")
def hall():
    return operate(read(HALL))


@pytest.fixture(scope="module")
def small():
    return operate(read(AMP))


def test_phase_splitter_gives_equal_and_opposite(small):
    got = signals(small, Drive(point("IN")), 1000.0)
    one, two = got.gain(point("V4.2")), got.gain(point("V5.2"))
    assert abs(one + two) < 0.03 * abs(one)
    assert 40 < abs(one) < 60


def test_levels_scale_with_the_input(small):
    points = (point("V2.6"), point("LS1.1"))
    got = signals(small, Drive(point("IN")), 1000.0).levels(0.005, points)
    assert got[points[1]] == pytest.approx(0.005 * 152, rel=0.1)


def test_volume_control_down_is_silence():
    from buzzout.electrics.conditions import Conditions

    state = operate(read(AMP), conditions=Conditions(rotations={"P1": 0.0}))
    got = signals(state, Drive(point("IN")), 1000.0)
    assert abs(got.gain(point("LS1.1"))) < 1.0


def test_feedback_opened_at_a_lead_raises_the_gain(hall):
    drive = Drive(point("V2.7"))
    closed = abs(signals(hall, drive, 1000.0).gain(point("SK1.1")))
    lifted = abs(signals(hall, drive, 1000.0, open_at=point("R19.2")).gain(point("SK1.1")))
    assert lifted > 3 * closed
    other_end = signals(hall, drive, 1000.0, open_at=point("R19.1"))
    assert abs(other_end.gain(point("SK1.1"))) == pytest.approx(lifted, rel=0.01)


LEADS = ["V3.7", "C18.1", "C18.2", "C19.1", "C20.1", "V3.2"]


@pytest.mark.parametrize("lead", LEADS)
def test_a_loop_may_be_broken_at_any_of_its_leads(hall, lead):
    """The oscillator's drawing says 182 Hz and a loop gain of 1.35, from other figures for mu."""
    first = oscillations(cut(hall, point("V3.7")))[0]
    got = oscillations(cut(hall, point(lead)))[0]
    assert got.hertz == pytest.approx(first.hertz, rel=1e-3)
    assert got.gain == pytest.approx(first.gain, rel=1e-3)
    assert got.hertz == pytest.approx(182, rel=0.02)
    assert got.gain == pytest.approx(1.35, rel=0.08)


def test_found_values_move_the_oscillator(hall):
    found = operate(with_values(hall.net.circuit, {"C20": 220e-12, "R34": 130e3}))
    drawn = oscillations(cut(hall, point("V3.7")))[0]
    moved = oscillations(cut(found, point("V3.7")))[0]
    assert moved.hertz > 1.1 * drawn.hertz
    assert moved.gain < drawn.gain


def test_whole_circuit_grows_only_where_it_should(hall, small):
    got = stability(hall)
    assert (got.modes, got.counted) == (1, True)
    assert got.growing[0].hertz == pytest.approx(170, abs=15)
    assert stability(small).modes == 0
    silent = operate(apply(hall.net.circuit, [Remove("C20")]))
    assert stability(silent).modes == 0


def test_output_transformer_the_wrong_way_round_howls(hall):
    turned = Rewire("T2", (("blue", "brown"), ("brown", "blue")))
    state = operate(apply(hall.net.circuit, [turned, Remove("C20")]))
    assert stability(state).modes > 0


def test_a_lead_that_joins_nothing_has_no_loop(small):
    assert cut(small, point("V1.9")) is None
    assert cut(small, point("X9.1")) is None


def test_an_assumed_speaker_is_said(hall, small):
    told = signals(hall, Drive(point("V2.7")), 1000.0).remarks
    assert told == ("T2 secondary: no speaker in the file, loaded with the 15R it is made for",)
    others = signals(small, Drive(point("J1.tip")), 1000.0).remarks
    assert not any("no speaker" in remark for remark in others)
