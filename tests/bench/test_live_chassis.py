"""A set without a mains transformer: heaters in series, rectifier from the line, live chassis."""

from pathlib import Path

import pytest

from buzzout.bench.board import Board
from buzzout.bench.bring_up import LIVE, bring_up, told
from buzzout.bench.case import case
from buzzout.bench.diagnose import diagnose
from buzzout.bench.folder import Folder
from buzzout.bench.output_stage import stages
from buzzout.bench.probe import ALTERNATING, Probe, Taken
from buzzout.bench.ripple import ripple
from buzzout.bench.sittings import sittings
from buzzout.bench.state import state
from buzzout.circuit import CHASSIS, Join, Point, apply
from buzzout.compare import Comparison, Matching, Proof
from buzzout.electrics.common import common
from buzzout.electrics.operating import operate
from buzzout.electrics.rectifier import ripple as pulsating
from buzzout.job import punch_list
from buzzout.job.gate import LIMITED, REFUSED
from buzzout.language import load, read

LIVE_SET = Path("tests/electrics/cases/live_set.buzz")
MINUS = Point("MINUS")


@pytest.fixture(scope="module")
def small():
    return read(LIVE_SET)


@pytest.fixture(scope="module")
def hot(small):
    """The same with HT minus on the chassis itself."""
    return apply(small, [Join(MINUS, CHASSIS)])


@pytest.fixture(scope="module")
def plan(small):
    return bring_up(small)


def test_the_meter_is_clipped_to_the_common_line(small, hot, plan):
    assert common(small) == MINUS
    assert common(hot) == CHASSIS
    direct = [x for s in plan.steps for x in s.lines if not x.alternating]
    assert direct
    assert {x.to for x in direct} == {MINUS}
    assert {x.to for x in bring_up(hot).steps[0].lines if not x.alternating} == {CHASSIS}


def test_the_isolating_transformer_comes_first(plan, hot):
    for made in (plan, bring_up(hot)):
        assert made.before[: len(LIVE)] == LIVE
        rows = told(made)
        assert "isolating transformer" in rows[1]
        assert "variable transformer alone does not isolate" in rows[1]


def test_a_set_with_a_transformer_is_not_told_so():
    hall = read("examples/hall-amplifier/hall-amplifier.reference.buzz")
    assert not set(LIVE) & set(bring_up(hall).before)


def test_no_step_takes_a_valve_out_of_the_chain(plan):
    assert [s.fitted for s in plan.steps] == ["all valves in"] * 3
    assert plan.steps[0].limiter is not None
    assert "one chain" in plan.steps[0].wait


def test_every_heater_of_the_chain_has_its_voltage(plan):
    """12.6, 12.6, 50 and 35 V at 150 mA on 117 V: a little more than rated."""
    volts = {str(x.at): x.middle for x in plan.steps[1].lines if x.alternating}
    assert volts["V1.3"] == pytest.approx(12.6, rel=0.12)
    assert volts["V3.3"] == pytest.approx(50, rel=0.12)
    assert volts["V4.3"] + volts["V4.6"] == pytest.approx(35, rel=0.12)


def test_before_the_plug_goes_in(plan):
    checks = {(str(c.at), str(c.to)): c for c in plan.cold}
    chain = checks["M1.L", "M1.N"]
    assert "VALVES IN" in chain.tells
    assert 50 < chain.ohms.nominal < 300  # 780 ohm when hot
    assert checks["M1.N", "chassis"].ohms.nominal == pytest.approx(220e3)
    assert ("C20.square", "MINUS") in checks


def test_one_heater_open_and_all_are_dark(small):
    asked = case(operate(small))
    dead = [Taken(Probe(Point("HT"), MINUS), 0.0), Taken(Probe(Point("V3", "1"), MINUS), 0.0)]
    over = [
        Taken(Probe(Point("V3", "3"), Point("V3", "4"), way=ALTERNATING), 117.0),
        Taken(Probe(Point("V1", "3"), Point("V1", "4"), way=ALTERNATING), 0.0),
    ]
    words = diagnose(asked, [*dead, *over]).explanations[0].words
    assert words.startswith("V3 missing or its heater open")
    assert all(p.to != CHASSIS for p in asked.views[0].probes if p.at == Point("HT"))


def compared(circuit):
    return Comparison(circuit, circuit, (), Proof(True, True, 0, 0), Matching(), circuit)


def test_the_output_stage_is_read_against_ht_minus(tmp_path, small):
    path = tmp_path / "readings.found.buzz"
    path.write_text(
        'found "readings"\nstep 2 meter 10M mains 117 V\nreads V3.1 to C20.can 7.2 V\n'
        "reads V3.7 to C20.can 112 V\nreads V3.6 to C20.can 110 V\nreads V3.1 to C20.can 148R\n",
        encoding="utf-8",
    )
    circuit = load(path, small, wanted="found").sound().circuit
    (bias,) = stages(sittings(circuit), compared(small))
    assert bias.valves == ("V3",)
    assert bias.before.measured
    assert bias.before.stage.total.value == pytest.approx(7.2 / 148)


def test_the_gate_asks_for_the_isolating_transformer(hot):
    asked = punch_list(compared(hot)).gate.asked
    assert any("isolating transformer" in words for words in asked)


def test_accepted_with_a_name_it_may_be_brought_up(tmp_path):
    """Nothing changes such a set; who accepts it works behind an isolating transformer."""
    text = LIVE_SET.read_text(encoding="utf-8")
    text = text.replace(
        "wire M1.L V4.3", "fuse F1 1A\nwire M1.L F1.1\nwire F1.2 S1.a\nwire S1.a1 V4.3"
    )
    text = text.replace("wire M1.N S1.a\nnode MINUS S1.a1 C20.can", "node MINUS M1.N C20.can")
    text = text.replace("wire V4.5 M1.L", "wire V4.5 V4.3")
    (tmp_path / "set.reference.buzz").write_text(text, encoding="utf-8")
    drawing = load(tmp_path / "set.reference.buzz").sound().circuit
    found = text.replace("reference ", "found ", 1).replace("\ndefault", "\n#", 1)
    folder = Folder(tmp_path)
    folder.chassis.write_text(
        found.replace("# The chassis", 'of "set.reference.buzz"\n# The chassis'), encoding="utf-8"
    )
    now = state(folder)
    assert now.punch.gate.state == REFUSED
    wanted = [i for i in now.punch.everything if i.rule]
    assert [i.rule for i in wanted if i.severity == "danger"] == ["live-chassis"], drawing
    folder.decisions.write_text(
        "".join(f'accept {i.finding.id} because "made so" by "A"\n' for i in wanted),
        encoding="utf-8",
    )
    allowed = state(folder)
    assert allowed.punch.gate.state == LIMITED
    assert any("isolating transformer" in words for words in allowed.punch.gate.watch)
    assert bring_up(allowed.chassis.circuit, allowed.punch.gate).steps


def test_ripple_stands_against_ht_minus(small):
    """Half wave: below I / (f C) peak to peak by the share of the cycle in which it is charged."""
    view = ripple(Board(operate(small)))
    whole = zip(view.probes, view.levels.whole(view.probes), strict=True)
    got = {(str(p.at), str(p.to)): volts for p, volts in whole}
    assert got["HT2", "MINUS"] < 0.2 * got["HT", "MINUS"]
    drain = sum(pulse.mean for pulse in view.state.pulses)
    textbook = pulsating(drain, view.fed.farads, 50.0, full_wave=False) / 12**0.5
    assert 0.6 * textbook < got["HT", "MINUS"] < textbook
