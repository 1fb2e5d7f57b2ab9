"""Valves without a model: what their sheets print lies inside the ranges, and so does nothing."""

import math

import pytest
from boards import Board, point

from buzzout.circuit import CHASSIS
from buzzout.electrics.branch import ELECTRODE
from buzzout.electrics.draft import COLD, STARTING, WARM, Power, Supply
from buzzout.electrics.operating import operate
from buzzout.electrics.ranges import spread
from buzzout.electrics.ratings import audit
from buzzout.electrics.unmodelled import unmodelled

HT = 250.0


def fed(heat=WARM):
    return Power(heat, supplies=(Supply(point("HT"), CHASSIS, HT),))


def changer():
    """The mixer of the ECH81's card, its triode the oscillator: 22k, 33k, 47k (philips-ech81)."""
    board = Board().valve(
        "V1", "ECH81", p1="S", p2="chassis", p3="K", p6="HT", p7="G", p9="G", p8="A"
    )
    board.r("R1", "22k 10%", "HT", "S").r("R2", "150R 10%", "K", "chassis")
    return board.r("R3", "33k 10%", "HT", "A").r("R4", "47k 10%", "G", "K")


def eye(kind, target, anode, grid, cathode):
    pins = {f"p{target}": "HT", f"p{anode}": "A", f"p{grid}": "chassis", f"p{cathode}": "chassis"}
    return Board().valve("V1", kind, **pins).r("R1", "470k 10%", "HT", "A")


@pytest.fixture(scope="module")
def mixing():
    return spread(operate(changer().circuit(), fed()))


# The card: screen 103 V, 14.5 mA through the cathode, 0.2 mA through 47k; the triode takes 4.5 mA.
@pytest.mark.parametrize(
    ("at", "volts"),
    [("S", 103.0), ("S", 200.0), ("S", 70.0), ("K", 2.2), ("K", 1.2), ("A", 250 - 33 * 4.5),
     ("G", 2.2 - 47 * 0.2), ("G", 2.0)],
)  # fmt: skip
def test_what_a_healthy_frequency_changer_may_read(mixing, at, volts):
    _, low, high = mixing.volts(point(at))
    assert low <= volts <= high


@pytest.mark.parametrize(
    ("at", "volts"),
    [("S", 20.0), ("S", HT + 5), ("K", 0.2), ("K", 6.0), ("A", 245.0), ("G", 5.0), ("G", -40.0)],
)
def test_what_it_cannot_read(mixing, at, volts):
    _, low, high = mixing.volts(point(at))
    assert not low <= volts <= high


def test_the_middle_is_what_the_sheet_prints(mixing):
    assert mixing.volts(point("S"))[0] == pytest.approx(103, abs=5)


@pytest.mark.parametrize(("heat", "drawn"), [(WARM, True), (STARTING, False), (COLD, False)])
def test_only_a_warm_valve_draws(heat, drawn):
    state = operate(changer().circuit(), fed(heat))
    assert any(b.role == ELECTRODE for b in state.net.branches) == drawn
    assert math.isclose(state.volts(point("S")), HT, abs_tol=0.01) != drawn


# Supply 250 V, anode load 470k and 0.5 mA or less (tubes2, radiomuseum-em84); dark it draws little.
@pytest.mark.parametrize(
    ("kind", "pins"), [("EM84", (6, 9, 1, 2)), ("EM85", (6, 7, 1, 3)), ("EM80", (9, 7, 1, 2))]
)
@pytest.mark.parametrize("volts", [20.0, 40.0, 120.0])
def test_a_tuning_indicator(kind, pins, volts):
    _, low, high = spread(operate(eye(kind, *pins).circuit(), fed())).volts(point("A"))
    assert low <= volts <= high < HT


def test_every_such_valve_is_told():
    state = operate(changer().circuit(), fed())
    assert [v.name for v in unmodelled(state.net)] == ["V1/2"]
    told = [r for r in state.remarks if r.startswith("V1/2")]
    assert len(told) == 1
    assert "screen 6.7 mA at 103 V" in told[0]


def test_a_valve_with_a_model_has_nothing_put_in_its_place():
    board = Board().valve("V1", "EF89", p7="HT", p8="S", p3="K", p2="chassis", p9="K", p1="K")
    board.r("R1", "68k 10%", "HT", "S").r("R2", "160R 10%", "K", "chassis")
    state = operate(board.circuit(), fed())
    assert not any(b.role == ELECTRODE for b in state.net.branches)
    assert not len(state.pulls)


def test_its_screen_resistor_stands_what_the_screen_draws():
    """6.7 mA through 22k is 1 W, not nothing."""
    told = {(s.part, s.what): s for s in audit(changer().circuit(), fed())}
    assert told["R1", "power"].value == pytest.approx(22e3 * 6.7e-3**2, rel=0.1)
    assert told["V1/2", "screen voltage"].verdict == "within"


def test_a_screen_on_full_ht_is_over_its_limit():
    circuit = changer().wire("HT", "S").circuit()
    told = {(s.part, s.what): s for s in audit(circuit, fed())}
    assert told["V1/2", "screen voltage"].verdict == "over"


def test_two_sections_share_one_target():
    """An EM34 has two triodes and one target, which draws its 2 mA once."""
    lands = {"p2": "chassis", "p7": "chassis"}
    state = operate(Board().valve("V1", "EM34", pins=8, **lands).circuit(), fed())
    drawn = [b for b in state.net.branches if b.role == ELECTRODE]
    assert len(unmodelled(state.net)) == 2
    assert len({b.a for b in drawn}) == len(drawn) == 3


def test_a_grid_without_its_leak_is_bounded():
    circuit = changer().drop("R4").circuit()
    _, low, high = spread(operate(circuit, fed())).volts(point("G"))
    assert -120 < low < high < 10
