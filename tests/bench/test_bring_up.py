import math
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from buzzout.bench.bring_up import _cold, bring_up, told
from buzzout.bench.pages import rendered
from buzzout.bench.settings import ALL, NO_OUTPUT, NOTHING, RECTIFIER, settings
from buzzout.circuit import CHASSIS, Element, Fit, Join, Part, Point, apply, parse
from buzzout.electrics.draft import Power
from buzzout.electrics.operating import operate
from buzzout.job.gate import LIMITED, REFUSED
from buzzout.language import load, read

HALL = "examples/hall-amplifier/hall-amplifier.reference.buzz"


@pytest.fixture(scope="module")
def hall():
    return read(HALL)


@pytest.fixture(scope="module")
def plan(hall):
    return bring_up(hall)


def test_the_valves_go_in_one_stage_after_the_other(plan):
    fitted = [step.fitted for step in plan.steps]
    assert fitted == [NOTHING, RECTIFIER, RECTIFIER, NO_OUTPUT, ALL, ALL, ALL]
    assert [step.number for step in plan.steps] == [1, 2, 3, 4, 5, 6, 7]
    assert [step.limiter is not None for step in plan.steps] == [True] * 5 + [False] * 2


def test_no_positive_volts_at_the_grids_before_the_output_valves_go_in(hall, plan):
    step = next(s for s in plan.steps if s.fitted == NO_OUTPUT)
    assert {n for n in hall.parts if step.circuit.parts[n] != hall.parts[n]} == {"V4", "V5"}
    grids = {str(x.at): x for x in step.lines if str(x.at) in ("V4.2", "V5.2")}
    assert len(grids) == 2
    leak = Part("Rx", "resistor", ("1", "2"), parse("3M", "ohm"))
    ends = [hall.landing(p) for p in hall.parts["C14"].points]
    leaky = apply(step.circuit, [Fit(leak, tuple(zip(("1", "2"), ends, strict=True)))])
    for circuit, over in ((step.circuit, False), (leaky, True)):
        volts = operate(circuit, step.power).volts(Point("V4", "2"))
        assert (volts > grids["V4.2"].most) == over


def test_a_set_without_an_output_transformer_has_no_such_step():
    stage = read("examples/pickup-preamplifier/pickup-preamplifier.reference.buzz")
    assert NO_OUTPUT not in [s.fitted for s in settings(stage)]


def test_a_cold_rectifier_is_not_asked_to_work(plan):
    """An indirectly heated one gives nothing at half the mains: it begins at 80 %."""
    assert [s.fraction for s in plan.steps if s.fitted == RECTIFIER] == [0.8, 1.0]


def test_the_lamp_leaves_the_heaters_their_voltage(plan):
    step = plan.steps[4]
    assert step.lamp_volts <= 0.2 * 230
    assert step.limiter.watts in (60, 100)


def test_nothing_stands_on_the_ht_without_a_rectifier(plan):
    assert not [x for x in plan.steps[0].lines if not x.alternating]
    assert {str(x.at) for x in plan.steps[0].lines} == {"T1.red1", "T1.h1", "T1.r1"}


def test_the_makers_chart_lies_in_the_expected_range(hall, plan):
    step = next(s for s in plan.steps if s.fitted == ALL and s.limiter is None)
    chart = {str(r.at): r.value.value for r in hall.expected}
    shared = [line for line in step.lines if str(line.at) in chart]
    assert len(shared) >= 5
    for line in shared:
        assert line.low <= chart[str(line.at)] <= line.high


def test_stop_lies_above_the_range_and_not_above_the_rating(plan):
    for step in plan.steps:
        for line in step.lines:
            assert line.most > line.high
            if "HT" in str(line.at) or "C30" in str(line.at):
                assert line.most <= 450


def test_a_long_pair_of_points_breaks_no_column(plan):
    step = plan.steps[1]
    ends = {"at": Point("T1", "green/yellow"), "to": Point("T1", "red/yellow")}
    long = replace(step, lines=(replace(step.lines[0], **ends), *step.lines[1:]))
    rows = [row for row in told(replace(plan, steps=(long,))) if "read ______" in row]
    assert rows[0].startswith("  [ ] T1.green/yellow to T1.red/yellow  ")
    assert len({row.index("read ______") for row in rows}) == 1


def test_before_the_heaters_are_warm_is_told(plan):
    line = next(x for x in plan.steps[5].lines if str(x.at) == "HT1")
    assert "until the valves are warm" in line.remark


def test_cautions_and_discharge_come_first(plan):
    lines = told(plan)
    assert lines[0] == "Before each hand goes in"
    assert "measure it" in lines[1]


def test_cold_readings_would_catch_a_short(hall, plan):
    cold = {str(c.at): c for c in plan.cold if c.to == CHASSIS}
    assert cold["C30.square"].ohms.low > 100e3
    shorted = _cold(apply(hall, [Join(Point("HT3"), CHASSIS)]))
    bad = next(c for c in shorted if str(c.at) == "HT3")
    assert bad.ohms.high < 1
    assert math.isinf(cold["M1.L"].ohms.low)


def test_refused_while_the_gate_says_no(hall):
    gate = SimpleNamespace(state=REFUSED, verdict="Not fit for power: 3 open.", discharge=())
    made = bring_up(hall, gate)
    assert made.steps == ()
    assert told(made) == [
        "Not fit for power: 3 open. There is no bring-up plan until they are closed."
    ]


def test_behind_the_lamp_only_means_no_step_without_it(hall, plan):
    gate = SimpleNamespace(state=LIMITED, verdict="Behind a lamp.", watch=(), discharge=())
    made = bring_up(hall, gate)
    assert [bool(step.held) for step in made.steps] == [False] * 5 + [True] * 2
    assert sum(line.startswith("  NOT YET") for line in told(made)) == 2
    assert rendered("bring_up.html", title="it", plan=made).count("NOT YET") == 2
    assert not any(step.held for step in plan.steps)


def test_the_ht_is_read_at_a_reservoir_and_not_at_a_winding():
    """A rectifier whose heater winding stands at the HT: the can is easier to find."""
    drawing = read(HALL)
    path = Path("examples/hall-amplifier/as-drawn.found.buzz")
    steps = bring_up(load(path, drawing).circuit).steps
    direct = {str(line.at) for step in steps for line in step.lines if not line.alternating}
    assert "C30.square" in direct
    assert not any(point.startswith("T1.") for point in direct)


def test_a_set_that_nothing_feeds_has_no_plan():
    made = bring_up(read("examples/valve-stage/valve-stage.reference.buzz"))
    assert made.steps == ()
    assert "nothing is fed" in made.refused


def test_semiconductors_give_ht_at_the_first_step(tmp_path):
    path = tmp_path / "it.reference.buzz"
    path.write_text("""reference "it"
mains 230 V 50 Hz
cord M1 L brown N blue E green/yellow
transformer T1
winding T1 primary 0 230  0-230V dcr 20R
winding T1 ht a b  0-200V 50mA dcr 100R
wire M1.L T1.230
wire M1.N T1.0
wire M1.E chassis
B1 bridge T1.a ~ T1.b ~ HT + chassis -
node HT
C1 electrolytic 32u 450V HT + chassis -
R1 resistor 100k 2W HT chassis
""")
    circuit = load(path).sound().circuit
    first = bring_up(circuit).steps[0]
    line = next(x for x in first.lines if str(x.at) == "HT")
    state = operate(circuit, Power(limiter=first.limiter))
    assert line.low < state.volts(Point("HT")) < line.high
    assert state.volts(Point("HT")) == pytest.approx(
        200 * math.sqrt(2), rel=0.12
    )  # the lamp takes some


def test_the_page_has_every_point_with_room_for_the_reading(plan):
    page = rendered("bring_up.html", title="<it>", plan=plan)
    assert "&lt;it&gt;" in page
    assert page.count("<td></td></tr>") == len(plan.cold) + sum(len(s.lines) for s in plan.steps)
    assert "Lethal voltages" in page


def test_windings_without_volts_are_asked_for(hall):
    """Else a mains transformer would be taken for none, and the chassis for live."""
    bare = [replace(e, taps=()) for e in hall.parts["T1"].elements]
    circuit = hall.but({**hall.parts, "T1": replace(hall.parts["T1"], elements=tuple(bare))})
    assert "does not say the volts of T1 (primary, ht" in bring_up(circuit).refused
    assert not bring_up(hall).refused


def test_coils_of_a_receiver_need_no_volts(hall):
    """They have primaries too, which no mains feeds."""
    windings = tuple(
        Element("winding", label, (f"{label[0]}1", f"{label[0]}2"))
        for label in ("primary", "secondary")
    )
    coil = replace(
        hall.parts["T1"], name="L7", terminals=("p1", "p2", "s1", "s2"), elements=windings
    )
    circuit = hall.but({**hall.parts, "L7": coil})
    assert not bring_up(circuit).refused
