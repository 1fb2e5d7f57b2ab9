import pytest

from buzzout.bench.diagnose import Diagnosis, Explanation, Next
from buzzout.bench.faults import Fault
from buzzout.bench.probe import Probe
from buzzout.bench.readings import Report, report
from buzzout.bench.reported import told
from buzzout.bench.sittings import sittings
from buzzout.circuit import CHASSIS, Point, last_digit, parse
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
    got = [(s.step, [str(r.at) for r in s.readings]) for s in sittings(loaded.circuit)]
    assert got == [(0, ["V4.7"]), (3, ["V4.7", "V4.3", "V3.3"])]


def test_an_undisturbed_set_reads_as_expected(tmp_path, drawing):
    loaded = typed(
        tmp_path, drawing, "reads V4.7 302 V meter 10M mains 230 V",
        "reads V4.3 10.4 V meter 20k/V mains 230 V",
    )  # fmt: skip
    made = report(sittings(loaded.circuit), compared(drawing))
    assert made.steps[0].volts == 230
    assert [line.off for line in made.steps[0].lines] == [False, False]
    for line in made.steps[0].lines:
        assert line.low < line.expected < line.high


def test_a_low_mains_is_taken_into_account(tmp_path, drawing):
    """200 V on the primary: a tenth and more less everywhere, and nothing is off."""
    loaded = typed(tmp_path, drawing, "reads V4.7 259 V meter 10M mains 200 V")
    made = report(sittings(loaded.circuit), compared(drawing))
    assert made.steps[0].volts == 200
    assert [line.off for line in made.steps[0].lines] == [False]


def test_what_is_off_is_explained(tmp_path, drawing):
    loaded = typed(
        tmp_path, drawing, "reads V4.7 325 V mains 230 V", "reads V4.3 0.0 V mains 230 V",
        "reads V1.1 230 V mains 230 V",
    )  # fmt: skip
    made = report(sittings(loaded.circuit), compared(drawing))
    assert any(line.off for line in made.steps[0].lines)
    assert made.diagnosis.explanations
    assert any(row.startswith("  OFF V4.3") for row in told(made))


def test_a_pointer_meter_stays_on_the_range_of_what_is_expected(tmp_path, drawing):
    """Nothing at all on an anode is off, not the load of a 2.5 V range."""
    loaded = typed(tmp_path, drawing, "reads V2.1 0.0 V meter 20k/V mains 230 V")
    made = report(sittings(loaded.circuit), compared(drawing))
    assert made.steps[0].lines[0].low > 50
    assert made.steps[0].lines[0].off


def test_readings_that_take_no_part_are_told(tmp_path, drawing):
    loaded = typed(
        tmp_path, drawing, "reads V4.3 to V4.7 40mA", "reads V4.7 12 V ac", "reads V4.7 302 V",
    )  # fmt: skip
    made = report(sittings(loaded.circuit), compared(drawing))
    reasons = {str(r.value): why for r, why in made.steps[0].skipped}
    assert "known resistor" in reasons["40mA"]
    assert "hum, ripple or a signal" in reasons["12 V"]


def test_ohms_and_alternating_volts_have_their_ranges(tmp_path, drawing):
    loaded = typed(
        tmp_path, drawing, "reads V4.3 to chassis 135R", "reads V4.3 to chassis 90R",
        "reads V2.3 >20M", "reads V4.4 to V4.5 6.3 V ac", "reads V4.4 to V4.5 3.1 V ac",
    )  # fmt: skip
    made = report(sittings(loaded.circuit), compared(drawing))
    assert [line.off for line in made.steps[0].lines] == [False, True, True, False, True]
    rows = told(made)
    assert any("V4.3 to chassis" in row and "135R, expected 12" in row for row in rows)
    assert any("read >20M, expected" in row for row in rows)


def test_what_a_step_line_says_holds_until_the_next(tmp_path, drawing):
    loaded = typed(
        tmp_path, drawing, "step 3 meter 20k/V mains 200 V", "reads V4.7 180 V",
        "reads V4.3 130R", "reads V4.9 250 V meter 10M mains 201 V", "step 4", "reads V4.3 7 V",
    )  # fmt: skip
    r = loaded.circuit.readings
    assert [(x.step, x.meter, x.per_volt, x.supply and x.supply.value) for x in r] == [
        (3, 20e3, True, 200.0), (3, None, False, None), (3, 10e6, False, 201.0),
        (4, None, False, None),
    ]  # fmt: skip


def test_a_pot_stays_as_it_was_set_until_it_is_set_again(tmp_path):
    path = tmp_path / "readings.found.buzz"
    path.write_text(
        'found "r"\npot P6 22k lin\npot P7 22k lin\nsocket V4 octal EL34\nreads V4.5 -40 V\n'
        "step 5 mains 228 V\nset P6 12,5% P7 100%\nreads V4.5 -39 V\nstep 6\nreads V4.5 -38 V\n"
        "set p7 40%\nreads V4.5 -37 V\nreads V4.5 1M\nset P7 40%\nreads V4.8 0.3 V\n",
        encoding="utf-8",
    )
    circuit = load(path, wanted="found").sound().circuit
    both, after = (("P6", "12.5%"), ("P7", "100%")), (("P6", "12.5%"), ("P7", "40%"))
    turned = [r.turned for r in circuit.readings]
    assert turned == [(), both, both, after, after, after]
    got = [(s.name, s.again, len(s.readings)) for s in sittings(circuit)]
    assert got == [
        ("running", False, 1),
        ("step 5 with P6 at 12.5% and P7 at 100%", False, 1),
        ("step 6 with P6 at 12.5% and P7 at 100%", True, 1),
        ("step 6 with P6 at 12.5% and P7 at 40%", False, 3),
    ]


def test_a_step_that_was_read_again_counts_as_it_is_now(tmp_path, drawing):
    loaded = typed(
        tmp_path, drawing, "step 0 mains 230 V", "reads V4.3 0.0 V", "step 0 mains 230 V",
        "reads V4.3 10.4 V",
    )  # fmt: skip
    read = sittings(loaded.circuit)
    assert [s.again for s in read] == [True, False]
    made = report(read, compared(drawing))
    assert made.in_order
    assert len(made.steps) == 1


def test_a_step_that_the_plan_has_not_is_told(tmp_path, drawing):
    """The readings of the other steps count all the same."""
    loaded = typed(
        tmp_path, drawing, "step 9 meter 10M mains 229 V", "reads V4.3 10.4 V",
        "step 5 meter 10M mains 230 V", "reads V4.7 302 V",
    )  # fmt: skip
    made = report(sittings(loaded.circuit), compared(drawing))
    assert not made.in_order
    assert told(made)[0].startswith("step 9: there is no such step: the plan")
    assert [len(step.lines) for step in made.steps] == [0, 1]


def test_mains_before_a_lamp_are_not_those_at_the_primary(tmp_path, drawing):
    loaded = typed(
        tmp_path, drawing, "step 5 mains 229 V", "reads V4.3 8.1 V", "step 6 mains 229 V",
        "reads V4.3 10.4 V",
    )  # fmt: skip
    rows = told(report(sittings(loaded.circuit), compared(drawing)))
    assert "step 5, computed for 229 V before the 150 W lamp" in rows
    assert "step 6, computed for 229 V at the primary" in rows


def test_steps_are_explained_together(tmp_path, drawing):
    """Cold, and running: the cathode resistor is open in both."""
    loaded = typed(
        tmp_path, drawing, "reads V4.3 to chassis open", "step 0 mains 230 V", "reads V4.3 35 V",
        "step 2 mains 230 V", "reads V4.7 325 V",
    )  # fmt: skip
    made = report(sittings(loaded.circuit), compared(drawing))
    assert [(s.sitting.step, len(s.lines)) for s in made.steps] == [(0, 2), (2, 1)]
    names = made.diagnosis.explanations[0].words
    assert "open" in names
    assert len(made.diagnosis.explanations[0].shows) == 3


@pytest.fixture(scope="module")
def stage():
    return load("examples/valve-stage/valve-stage.reference.buzz").sound().circuit


def test_a_set_that_nothing_feeds(tmp_path, stage):
    made = report(sittings(typed(tmp_path, stage, "reads V1.6 150 V").circuit), compared(stage))
    assert "nothing is fed" in " ".join(made.steps[0].remarks)
    assert [line.off for line in made.steps[0].lines] == [True]


def test_a_set_fed_from_outside_takes_its_supply_from_the_reading_there(tmp_path, stage):
    """0.8 mA through 122k from 250 V: about 150 V on the anode, as the drawing says."""
    loaded = typed(
        tmp_path, stage, "reads SK1.1 250 V", "reads V1.6 150 V", "reads V1.8 0.0 V",
    )  # fmt: skip
    made = report(sittings(loaded.circuit), compared(stage))
    assert [str(r.at) for r, _ in made.steps[0].skipped] == ["SK1.1"]
    anode, cathode = made.steps[0].lines
    assert not anode.off
    assert anode.low < 150 < anode.high
    assert cathode.off


@pytest.mark.parametrize(("text", "digit"), [
    ("168V", 1.0), ("1.12V", 0.01), ("350mV", 1e-3), ("0.95V", 0.01), ("1.2kV", 100.0),
])  # fmt: skip
def test_last_digit(text, digit):
    assert last_digit(parse(text, "V")) == pytest.approx(digit)


@pytest.mark.parametrize(("shares", "told_so"), [((0.6, 0.4), True), ((0.97, 0.03), False)])
def test_where_no_reading_tells_what_is_left_apart(shares, told_so):
    """Nothing to measure next is told as such, not left out."""
    faults_ = [Explanation((Fault("it", "R1", "R1 open"),), share, 1.0, ()) for share in shares]
    made = Report((), Diagnosis((), tuple(faults_)))
    assert ("no reading on offer tells these apart" in "\n".join(told(made))) == told_so


ELSE = "else none of the single faults above"


@pytest.mark.parametrize(
    ("shows", "lines"),
    [
        ((("R1 open", 6.4e-11), ("R2 open", 168.3)), ["0 V if R1 open", "168.3 V if R2 open"]),
        ((("R1 open", 3e-3),), ["3 mV would confirm R1 open", ELSE]),
        (
            (("", 12.0),),
            [
                "12 V would confirm the single faults above, and tell none of them apart",
                ELSE,
            ],
        ),
        ((), []),
    ],
)
def test_what_the_next_reading_would_tell(shows, lines):
    """What one outcome alone would confirm is said; a residue of the arithmetic is no voltage."""
    following = Next(Probe(Point("V1", "6"), CHASSIS), 0.2, shows)
    best = Explanation((Fault("it", "R1", "R1 open"),), 0.9, 1.0, ())
    rows = told(Report((), Diagnosis((), (best,), (following,))))
    at = rows.index("measure next: V1.6")
    assert [" ".join(row.split()) for row in rows[at + 1 :]] == lines
