import pytest

from buzzout.bench.output_stage import stages, told
from buzzout.bench.readings import sittings
from buzzout.compare import Comparison, Matching, Proof
from buzzout.language import load

HALL = "examples/hall-amplifier/hall-amplifier.reference.buzz"


@pytest.fixture(scope="module")
def hall():
    return load(HALL).sound().circuit


def found(tmp_path, drawing, *lines):
    path = tmp_path / "readings.found.buzz"
    path.write_text("\n".join(['found "readings"', *lines, ""]), encoding="utf-8")
    circuit = load(path, drawing, wanted="found").sound()
    whole = Comparison(drawing, drawing, (), Proof(True, True, 0, 0), Matching(), drawing)
    return stages(sittings(circuit)[0], whole)


READ = ("reads V4.3 10.0 V", "reads V4.7 275 V", "reads V5.7 275 V", "reads V4.9 276 V",
        "reads V4.3 to chassis 150R")  # fmt: skip


def test_two_valves_on_one_resistor(tmp_path, hall):
    """10 V over 150 ohm: 66.7 mA, 33.3 mA each; 9.2 W by the quick rule, less by the exact one."""
    (stage,) = found(tmp_path, hall, *READ)
    assert stage.valves == ("V4", "V5")
    assert stage.resistors == ("R28",)
    assert stage.measured
    assert stage.stage.total.value == pytest.approx(0.06667, rel=1e-3)
    assert stage.stage.quick.value == pytest.approx(275 * 0.03333, rel=1e-3)
    assert stage.stage.anode.value < stage.stage.quick.value - 0.5
    assert stage.stage.verdict == "below the limit"


def test_the_proposal_keeps_its_promise(tmp_path, hall):
    (stage,) = found(tmp_path, hall, "reads V4.3 9.0 V", *READ[1:4], "reads V4.3 to chassis 100R")
    assert stage.stage.anode.value > 0.7 * 12
    assert stage.proposal.ohms > 100
    assert stage.proposal.anode <= 0.7 * 12
    assert "measure again" in told(stage)[-1]


def test_a_marking_is_no_measurement(tmp_path, hall):
    (stage,) = found(tmp_path, hall, *READ[:4])
    assert not stage.measured
    assert any("NOT MEASURED" in line for line in told(stage))
    measured = found(tmp_path, hall, *READ)[0].stage
    assert stage.stage.cathode.off > 5 * measured.cathode.off


def test_what_is_not_read_is_asked_for(tmp_path, hall):
    (stage,) = found(tmp_path, hall, "reads V4.7 275 V")
    assert stage.stage is None
    assert any("V5.7" in words for words in stage.missing)
    assert any("drop across" in words for words in stage.missing)


def test_a_set_without_an_output_valve(tmp_path):
    drawing = load("examples/valve-stage/valve-stage.reference.buzz").sound().circuit
    assert found(tmp_path, drawing, "reads V1.6 150 V") == ()
