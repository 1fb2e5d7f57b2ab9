import pytest

from buzzout.bench.output_stage import sheet, stages, told
from buzzout.bench.sittings import sittings
from buzzout.compare import Comparison, Matching, Proof
from buzzout.language import load

HALL = "examples/hall-amplifier/hall-amplifier.reference.buzz"


@pytest.fixture(scope="module")
def hall():
    return load(HALL).sound().circuit


def found(tmp_path, drawing, *lines):
    path = tmp_path / "readings.found.buzz"
    path.write_text("\n".join(['found "readings"', *lines, ""]), encoding="utf-8")
    circuit = load(path, drawing, wanted="found").sound().circuit
    whole = Comparison(drawing, drawing, (), Proof(True, True, 0, 0), Matching(), drawing)
    return stages(sittings(circuit), whole)


VOLTS = ("reads V4.7 275 V", "reads V5.7 275 V", "reads V4.9 276 V")
READ = ("reads V4.3 10.0 V", *VOLTS, "reads V4.3 to chassis 150R")
HOT = ("reads V4.3 9.0 V", *VOLTS, "reads V4.3 to chassis 100R")


def test_two_valves_on_one_resistor(tmp_path, hall):
    """10 V over 150 ohm: 66.7 mA, 33.3 mA each; 9.2 W by the quick rule, less by the exact one."""
    (bias,) = found(tmp_path, hall, *READ)
    assert (bias.valves, bias.resistors) == (("V4", "V5"), ("R28",))
    assert bias.before.measured
    stage = bias.before.stage
    assert stage.total.value == pytest.approx(0.06667, rel=1e-3)
    assert stage.quick.value == pytest.approx(275 * 0.03333, rel=1e-3)
    assert stage.anode.value < stage.quick.value - 0.5
    assert stage.verdict == "below the limit"


def test_the_proposal_keeps_its_promise(tmp_path, hall):
    (bias,) = found(tmp_path, hall, *HOT)
    assert bias.before.stage.anode.value > 0.7 * 12
    assert bias.proposal.ohms > 100
    assert bias.proposal.anode <= 0.7 * 12
    assert any("measure again" in row for row in told(bias))
    assert all(row[-1] == "______" for row in sheet(bias).rows)


def test_a_marking_is_no_measurement(tmp_path, hall):
    (bias,) = found(tmp_path, hall, *READ[:4])
    assert not bias.before.measured
    assert any("NOT MEASURED" in line for line in told(bias))
    measured = found(tmp_path, hall, *READ)[0].before.stage
    assert bias.before.stage.cathode.off > 5 * measured.cathode.off


def test_what_is_not_read_is_asked_for(tmp_path, hall):
    (bias,) = found(tmp_path, hall, "reads V4.7 275 V")
    assert bias.before is None
    assert any("V5.7" in words for words in bias.missing)
    assert any("drop across" in words for words in bias.missing)


def test_before_predicted_and_after_stand_side_by_side(tmp_path, hall):
    (bias,) = found(
        tmp_path, hall, "step 5 mains 230 V", *HOT, "step 5 mains 230 V", "reads V4.3 10.5 V",
        *VOLTS, "reads V4.3 to chassis 150R",
    )  # fmt: skip
    made = sheet(bias)
    assert (made.columns[1], made.columns[3]) == ("before (step 5)", "after (step 5)")
    assert made.columns[2].startswith("with ")
    drop = next(row for row in made.rows if row[0] == "drop across it")
    assert (drop[1], drop[3]) == ("9 V", "10.5 V")
    ohms = next(row for row in made.rows if row[0] == "cathode resistor")
    assert (ohms[1], ohms[3]) == ("100R", "150R")


def test_the_resistor_measured_earlier_still_counts(tmp_path, hall):
    (bias,) = found(tmp_path, hall, "reads V4.3 to chassis 148R", "step 5", *READ[:4])
    assert bias.before.measured
    assert bias.before.taken.readings.ohms == 148


def test_a_result_that_is_not_the_predicted_one_is_told(tmp_path, hall):
    (bias,) = found(tmp_path, hall, *HOT, "step 0", "reads V4.3 9.0 V", *VOLTS,
                    "reads V4.3 to chassis 100R")  # fmt: skip
    assert any("another resistor than the proposed one" in row for row in told(bias))
    ohms = bias.proposal.ohms
    (bias,) = found(tmp_path, hall, *HOT, "step 0", "reads V4.3 5.0 V", *VOLTS,
                    f"reads V4.3 to chassis {ohms:g}R")  # fmt: skip
    assert any("less than predicted" in row for row in told(bias))


WORN = ("reads V4.3 4.0 V", *VOLTS, "reads V4.3 to chassis 150R")


def test_no_resistor_is_chosen_for_a_worn_valve(tmp_path, hall):
    """13 mA each where a new pair would pass twice as much: a new pair would burn on that resistor.

    Once good valves are in, the resistor is chosen for them.
    """
    (bias,) = found(tmp_path, hall, *WORN)
    assert bias.proposal is None
    rows = told(bias)
    assert any("replace it first, then measure again" in row for row in rows)
    assert not any("is the smallest that keeps" in row for row in rows)
    assert sheet(bias).columns[2] == "no prediction"
    (bias,) = found(tmp_path, hall, *WORN, "step 0", *HOT)
    assert bias.proposal is None
    assert bias.further is not None
    assert not any("replace it first" in row for row in told(bias))


def test_no_resistor_holds_back_a_grid_that_is_positive(tmp_path, hall):
    (bias,) = found(tmp_path, hall, "reads V4.3 18.0 V", *VOLTS, "reads V4.3 to chassis 150R")
    assert bias.proposal is None
    assert any("mend that first, then measure again" in row for row in told(bias))


def test_a_set_without_an_output_valve(tmp_path):
    drawing = load("examples/valve-stage/valve-stage.reference.buzz").sound().circuit
    assert found(tmp_path, drawing, "reads V1.6 150 V") == ()
