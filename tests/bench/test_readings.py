import pytest

from buzzout.bench.readings import last_digit, report, sittings, told
from buzzout.circuit import parse
from buzzout.compare import Comparison, Matching, Proof
from buzzout.language import load

DRAWING = "tests/electrics/cases/small_amp.buzz"


@pytest.fixture(scope="module")
def drawing():
    return load(DRAWING).sound().circuit


def typed(tmp_path, drawing, *lines):
    path = tmp_path / "readings.found.buzz"
    path.write_text("\n".join(['found "readings"', *lines]) + "\n", encoding="utf-8")
    return load(path, drawing, wanted="found").sound()


def compared(circuit):
    return Comparison(circuit, circuit, (), Proof(True, True, 0, 0), Matching(), circuit)


def test_readings_go_by_the_step_that_is_noted_above_them(tmp_path, drawing):
    loaded = typed(
        tmp_path, drawing, "reads V4.7 250 V", 'note "Step 3, behind the lamp"',
        "reads V4.7 180 V mains 200 V", "reads V4.3 7 V", 'note "another remark"', "reads V3.3 7 V",
    )  # fmt: skip
    got = [(s.step, [str(r.at) for r in s.readings]) for s in sittings(loaded)]
    assert got == [(0, ["V4.7"]), (3, ["V4.7", "V4.3", "V3.3"])]


def test_an_undisturbed_set_reads_as_expected(tmp_path, drawing):
    loaded = typed(
        tmp_path, drawing, "reads V4.7 302 V meter 10M mains 230 V",
        "reads V4.3 10.4 V meter 20k/V mains 230 V",
    )  # fmt: skip
    made = report(sittings(loaded)[0], compared(drawing))
    assert made.volts == 230
    assert [line.off for line in made.lines] == [False, False]
    for line in made.lines:
        assert line.low < line.expected < line.high


def test_a_low_mains_is_taken_into_account(tmp_path, drawing):
    """200 V on the primary: a tenth and more less everywhere, and nothing is off."""
    loaded = typed(tmp_path, drawing, "reads V4.7 259 V meter 10M mains 200 V")
    made = report(sittings(loaded)[0], compared(drawing))
    assert made.volts == 200
    assert [line.off for line in made.lines] == [False]


def test_what_is_off_is_explained(tmp_path, drawing):
    loaded = typed(
        tmp_path, drawing, "reads V4.7 325 V mains 230 V", "reads V4.3 0.0 V mains 230 V",
        "reads V1.1 230 V mains 230 V",
    )  # fmt: skip
    made = report(sittings(loaded)[0], compared(drawing))
    assert any(line.off for line in made.lines)
    assert made.diagnosis.explanations
    assert any(row.startswith("  OFF V4.3") for row in told(made))


def test_a_pointer_meter_stays_on_the_range_of_what_is_expected(tmp_path, drawing):
    """Nothing at all on an anode is off, not the load of a 2.5 V range."""
    loaded = typed(tmp_path, drawing, "reads V2.1 0.0 V meter 20k/V mains 230 V")
    made = report(sittings(loaded)[0], compared(drawing))
    assert made.lines[0].low > 50
    assert made.lines[0].off


def test_readings_that_take_no_part_are_told(tmp_path, drawing):
    loaded = typed(tmp_path, drawing, "reads V4.3 to chassis 130R", "reads V4.7 302 V mains 230 V")
    made = report(sittings(loaded)[0], compared(drawing))
    assert [str(r.at) for r, _ in made.skipped] == ["V4.3"]


@pytest.fixture(scope="module")
def stage():
    return load("examples/valve-stage/valve-stage.reference.buzz").sound().circuit


def test_a_set_that_nothing_feeds(tmp_path, stage):
    made = report(sittings(typed(tmp_path, stage, "reads V1.6 150 V"))[0], compared(stage))
    assert "nothing is fed" in " ".join(made.remarks)
    assert [line.off for line in made.lines] == [True]


def test_a_set_fed_from_outside_takes_its_supply_from_the_reading_there(tmp_path, stage):
    """0.8 mA through 122k from 250 V: about 150 V on the anode, as the drawing says."""
    loaded = typed(
        tmp_path, stage, "reads SK1.1 250 V", "reads V1.6 150 V", "reads V1.8 0.0 V",
    )  # fmt: skip
    made = report(sittings(loaded)[0], compared(stage))
    assert [str(r.at) for r, _ in made.skipped] == ["SK1.1"]
    anode, cathode = made.lines
    assert not anode.off
    assert anode.low < 150 < anode.high
    assert cathode.off


@pytest.mark.parametrize(("text", "digit"), [
    ("168V", 1.0), ("1.12V", 0.01), ("350mV", 1e-3), ("0.95V", 0.01), ("1.2kV", 100.0),
])  # fmt: skip
def test_last_digit(text, digit):
    assert last_digit(parse(text, "V")) == pytest.approx(digit)
