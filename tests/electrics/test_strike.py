"""Gas stabilisers: which strike, what they carry, and what the ratings say of it.

Figures of the 0A2 and 0B2: references/devices/stabilisers.yaml, where their source stands.
"""

import pytest
from boards import Board, point

from buzzout.circuit import CHASSIS, parse
from buzzout.electrics.draft import STARTING, Power, Supply
from buzzout.electrics.operating import operate
from buzzout.electrics.ratings import audit
from buzzout.electrics.stress import FINE, NEAR, OVER


def fed(volts, heat="warm"):
    return Power(heat=heat, supplies=(Supply(point("IN"), CHASSIS, volts),))


def regulated(series, kind="0A2"):
    return Board().valve("V1", kind, pins=7, p1="OUT", p2="chassis").r("R1", series, "IN", "OUT")


def stresses(board, power):
    return {s.what: s for s in audit(board.circuit(), power) if s.part == "V1"}


@pytest.mark.parametrize(
    ("series", "amps", "verdict"), [("770R", 0.130, OVER), ("5k", 0.020, FINE)]
)
def test_the_current_is_judged_by_the_published_limit(series, amps, verdict):
    """An 0A2 takes 30 mA: (250 - 150) V over the series resistor."""
    told = stresses(regulated(series), fed(250.0))["current"]
    assert told.value == pytest.approx(1e3 * amps, rel=0.12)
    assert (told.limit, told.verdict) == (30, verdict)


def test_too_little_current_to_hold_the_voltage():
    told = stresses(regulated("100k"), fed(250.0))["current too low to hold its voltage"]
    assert told.value == pytest.approx(1.0, rel=0.05)
    assert (told.limit, told.verdict) == (5, OVER)


@pytest.mark.parametrize(("volts", "dark"), [(150.0, True), (155.0, True), (157.0, False)])
def test_below_its_striking_voltage_it_stays_dark(volts, dark):
    """156 V start an 0A2."""
    state = operate(regulated("5k").circuit(), fed(volts))
    assert state.volts(point("OUT")) == pytest.approx(volts if dark else 151, abs=1.0)
    assert any("does not strike" in words for words in state.remarks) == dark
    told = stresses(regulated("5k"), fed(volts))
    assert ("voltage too low to strike" in told) == dark
    if dark:
        assert told["voltage too low to strike"].limit == 156


def test_two_in_series_need_both_their_striking_voltages():
    """Resistors across each share the supply; one that strikes leaves more to the other."""
    board = (
        Board()
        .valve("V1", "0A2", pins=7, p1="A", p2="B")
        .valve("V2", "0A2", pins=7, p1="B", p2="chassis")
    )
    board.r("R1", "2k", "IN", "A").r("R2", "1M", "A", "B").r("R3", "1M", "B", "chassis")
    lit, dark = (operate(board.circuit(), fed(volts)) for volts in (330.0, 300.0))
    assert lit.volts(point("A")) == pytest.approx(302, abs=3)
    assert not lit.dark
    assert [d.name for d in dark.dark] == ["V1", "V2"]


def loaded():
    """An 0B2 (108 V, strikes at 115 V) behind a resistor that an ECC82 loads when it is warm."""
    board = regulated("10k", "0B2").valve("V2", "ECC82", p1="OUT", p2="chassis", p3="K")
    return board.r("R2", "1k", "K", "chassis")


def test_one_that_strikes_only_while_the_valves_are_cold():
    warm = operate(loaded().circuit(), fed(150.0))
    assert warm.volts(point("OUT")) == pytest.approx(108, abs=1)
    assert any("strikes only before the valves are warm" in words for words in warm.remarks)
    cold = operate(loaded().circuit(), fed(150.0, STARTING))
    assert not cold.dark


def test_one_that_goes_out_when_the_valves_take_the_current():
    warm = operate(loaded().circuit(), fed(135.0))
    assert [d.name for d in warm.dark] == ["V1"]
    assert warm.volts(point("OUT")) < 108


def test_current_at_switch_on_is_told_while_the_running_one_is_within():
    """Without its load the 0B2 takes (230 - 108) V over 3.3 k: 36 mA while the valves warm up."""
    board = (
        loaded().change("R1", value=parse("3k3", "ohm")).change("R2", value=parse("100R", "ohm"))
    )
    told = stresses(board, fed(230.0))
    assert told["current"].verdict == FINE
    assert told["current at switch-on"].verdict == NEAR
    assert told["current at switch-on"].value == pytest.approx(36, rel=0.05)


def test_a_neon_lamp_strikes_higher_than_it_burns():
    board = Board().part("N1", "neon", None, "OUT", "chassis").r("R1", "100k", "IN", "OUT")
    assert operate(board.circuit(), fed(85.0)).dark[0].strike == 90
    lit = operate(board.circuit(), fed(150.0))
    assert lit.volts(point("OUT")) == pytest.approx(62, abs=2)
