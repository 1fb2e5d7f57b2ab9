import math

import pytest

from buzzout.electrics.output import CLASS_A, CLASS_AB, Readings, output_stage
from buzzout.electrics.proposals import predict, propose, step_up


# Common practice, no source: the readings of one stage and what the quick rule makes of them.
@pytest.mark.parametrize(
    ("readings", "milliamps", "quick"),
    [
        (Readings("6V6GT", 26.1, 474.7, 407.5), 54.98, 22.4),
        (Readings("6V6GT", 30.53, 1000, 407.5), 30.53, 12.44),
    ],
)
def test_quick_rule(readings, milliamps, quick):
    got = output_stage(readings)
    assert 1e3 * got.cathode.value == pytest.approx(milliamps, abs=0.01)
    assert got.quick.value == pytest.approx(quick, abs=0.01)
    assert got.anode.value < got.quick.value


def test_far_over_the_limit_and_two_sharing():
    assert output_stage(Readings("6V6GT", 26.1, 474.7, 407.5)).verdict == "over the limit"
    pair = output_stage(Readings("6V6GT", 26.1, 474.7, 407.5, valves=2))
    assert pair.verdict == "below the limit"
    assert pair.quick.value == pytest.approx(pair.quick_total.value / 2)


def test_exact_dissipation_counts_neither_cathode_nor_screen():
    """EL84 sheet: 250 V, 48 and 5.5 mA, 135 ohm: 12.0 W and 1.375 W."""
    got = output_stage(Readings("EL84", 7.22, 135, 257.22, 257.22))
    assert got.anode.value == pytest.approx(12.0, rel=0.02)
    assert got.screen.value == pytest.approx(1.375, rel=0.08)
    assert got.share_from == "the model"
    assert got.resistor_watts == pytest.approx(0.386, abs=0.002)
    assert got.verdict == "at the limit"


def test_uncertainty_of_a_plain_quotient():
    got = output_stage(Readings("EL84", 7.2, 135, 257, 257, accuracy=0.01))
    assert got.cathode.off / got.cathode.value == pytest.approx(0.01 * math.sqrt(2), rel=0.02)


def test_prediction_with_the_same_resistor_gives_the_reading_back():
    readings = Readings("EL84", 11.0, 130, 310, 305, valves=2)
    got = predict(readings, 130)
    assert got.drop == pytest.approx(11.0, rel=1e-4)
    assert got.cathode == pytest.approx(11.0 / 130 / 2, rel=1e-4)


def test_a_larger_resistor_does_less_than_scaling_says():
    readings = Readings("EL84", 11.0, 130, 310, 305, valves=2)
    got = predict(readings, 180)
    assert got.drop > 11.0
    assert got.cathode > readings.drop / 180 / 2
    stiff = got.cathode
    assert predict(readings, 180, supply_ohms=500).cathode > stiff


def test_proposal_is_the_smallest_that_holds():
    readings = Readings("6V6GT", 26.1, 474.7, 407.5, 350, valves=2)
    got = propose(readings)
    assert got.anode <= 0.7 * 12
    assert got.order >= 2 * got.watts
    smaller = predict(readings, got.ohms / 1.1)
    assert smaller.anode > 0.7 * 12


@pytest.mark.parametrize(("drop", "why"), [
    (4.0, "replace it first, then measure again"), (18.0, "mend that first, then measure again"),
    (7.22, ""),
])  # fmt: skip
def test_no_resistor_is_chosen_for_a_valve_that_is_none_to_rely_on(drop, why):
    """The readings of one EL84 on 135 ohm: as its sheet has it, worn, and with a positive grid."""
    readings = Readings("EL84", drop, 135, 257, 257)
    said = [row for row in output_stage(readings).remarks if "no resistor is proposed" in row]
    assert (propose(readings, CLASS_A) is None) == bool(why)
    assert [row.endswith(why) for row in said] == ([True] if why else [])


def test_class_a_is_allowed_more_than_class_ab():
    readings = Readings("EL84", 11.0, 130, 310, 305, valves=2)
    assert propose(readings, CLASS_A).ohms < propose(readings, CLASS_AB).ohms


@pytest.mark.parametrize(("ohms", "up"), [(130, 150), (150, 180), (474.7, 560), (1000, 1200)])
def test_next_preferred(ohms, up):
    assert step_up(ohms) == up


def test_unknown_valve():
    got = output_stage(Readings("ZZ99", 10, 100, 300))
    assert got.verdict == "no limit known"
    assert got.share == 0.0
    assert propose(Readings("ZZ99", 10, 100, 300)) is None
