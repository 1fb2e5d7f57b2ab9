"""The demo: what was planted as dangerous ranks as danger, stands first, and says why."""

from pathlib import Path

import pytest
import yaml

from buzzout.compare import compare
from buzzout.job import REFUSED, punch_list
from buzzout.language import load
from buzzout.language.coverage import coverage
from buzzout.language.departures import depart

DEMO = Path(__file__).parents[2] / "examples" / "hall-amplifier"
PLANTED = yaml.safe_load((DEMO / "planted.yaml").read_text(encoding="utf-8"))["planted"]
DANGEROUS = {(p["kind"], *p["parts"]) for p in PLANTED if p["dangerous"]}


@pytest.fixture(scope="module")
def punch():
    drawing = load(DEMO / "hall-amplifier.reference.buzz").circuit
    chassis = load(DEMO / "as-received.found.buzz", drawing)
    return punch_list(compare(drawing, chassis.circuit), coverage(chassis), consequences=True)


def planted(item):
    return (item.finding.kind, *item.finding.parts)


def test_exactly_the_planted_dangers_rank_as_danger(punch):
    assert {planted(i) for i in punch.items if i.severity == "danger"} == DANGEROUS


def test_they_stand_before_everything_else(punch):
    numbers = [i.number for i in punch.everything if i.severity == "danger"]
    assert numbers == list(range(1, len(numbers) + 1))
    assert punch.gate.state == REFUSED


def test_what_can_reach_a_person_stands_first(punch):
    first = [planted(i) for i in punch.items[:2]]
    assert set(first) == {("value-wrong", "C1"), ("leads-exchanged", "M1")}


def test_the_drawing_itself_is_told(punch):
    assert [i.rule for i in punch.rules] == ["path-to-chassis", "no-earth", "fuse-stays"]
    assert all(i.finding.text.startswith("The drawing itself has it") for i in punch.rules)


def test_the_line_capacitor_tells_its_current(punch):
    """7.2 mA: 2 pi 50 Hz 100 nF 230 V, as planted.yaml tells."""
    item = next(i for i in punch.items if "C1" in i.finding.parts)
    assert "can pass 7.2mA at 230 V 50 Hz" in item.consequence


@pytest.mark.parametrize(
    ("part", "told"),
    [
        ("R24", "the anode of V4 has to stand"),
        ("C31", "the wrong way round"),
        ("C32", "of its 350 V before the heaters are warm"),
        ("R40", "nothing goes over its limit"),
        ("V1", "no rating is passed, but mains hum drives V2/2, V4 and V5 as far as the supply"),
        ("V1", "the heater of V1 gets 0.14 V and needs 6.3 V, 10 % either way"),
    ],
)
def test_consequences(punch, part, told):
    item = next(i for i in punch.items if part in i.finding.parts and not i.finding.harmless)
    assert told in item.consequence


def test_with_the_departures_the_drawing_is_told_no_more():
    """As drawn, with the departures made on both sides: no line, and no rule broken."""
    drawing = load(DEMO / "hall-amplifier.reference.buzz").circuit
    made = depart(drawing, DEMO / "later-practice.departures.buzz").circuit
    from buzzout.job.judge import judged

    assert judged(made).violations == ()


def test_no_line_tells_to_fit_what_another_takes_out(punch):
    line = next(i for i in punch.everything if i.rule and i.finding.parts == ("C1",))
    fit = next(i for i in punch.items if planted(i) == ("value-wrong", "C1"))
    assert line.finding.action.startswith("Take it out")
    assert fit.finding.action.startswith(f"Number {line.number} comes first")
