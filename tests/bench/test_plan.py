import re
from dataclasses import replace
from types import SimpleNamespace

import pytest

from buzzout.bench.decisions import Decision, open_lines, settle
from buzzout.bench.decisions import told as decided
from buzzout.bench.pages import rendered
from buzzout.bench.plan import _cold, plan, told
from buzzout.circuit import Point
from buzzout.electrics.checks import Check
from buzzout.electrics.resistance import resistances
from buzzout.language import read


def test_every_open_finding_is_once_in_the_plan(stage):
    made = plan(stage.punch, stage.settled)
    works = [w.item.finding.id for place in made.places for w in place.works]
    assert sorted(works) == sorted(item.finding.id for item in open_lines(stage.punch))
    assert not any(w.settled for place in made.places for w in place.works)


def test_what_is_accepted_is_left_and_said(stage):
    item = open_lines(stage.punch)[0]
    made = plan(stage.punch, settle([Decision("accept", item.finding.id, "x", "y")], [item]))
    works = [w.item.finding.id for place in made.places for w in place.works]
    assert item.finding.id not in works
    assert [i.finding.id for i in made.left] == [item.finding.id]
    assert "left as it is, decided: 1" in told(made)


def test_a_number_stays_beside_its_box_on_the_page(stage):
    made = plan(stage.punch, stage.settled)
    page = rendered("plan.html", title="x", plan=made)
    numbers = [work.item.number for place in made.places for work in place.works]
    assert [int(n) for n in re.findall(r"&#9744;&nbsp;(\d+)</td>", page)] == numbers != []


def test_worst_place_first(stage):
    severities = [place.severity for place in plan(stage.punch, stage.settled).places]
    order = ("danger", "damage", "fault", "note")
    assert severities == sorted(severities, key=order.index)


def test_check_before_and_test_after_differ(stage):
    """R3 was read 10k for 100k: across its two tags the meter tells."""
    made = plan(stage.punch, stage.settled)
    work = next(w for p in made.places for w in p.works if "R3" in w.item.finding.parts)
    assert work.kind == "replace"
    check = work.advice.check
    assert check.found.apart(check.repaired)
    pairs = [(c.at, c.to) for c in made.readings]
    assert (check.at, check.to) in pairs or len(pairs) < 3


def test_a_reversed_electrolytic_is_turned_and_no_ohmmeter_tells(stage):
    made = plan(stage.punch, stage.settled)
    work = next(w for p in made.places for w in p.works if w.item.finding.kind == "reversed")
    assert work.kind == "move"
    text = "\n".join(told(made))
    assert "To test it, look at the polarity mark" in text


def test_what_nobody_has_seen_is_looked_at_before_it_is_decided(stage):
    """A value that was not read may be right: there is nothing to restore yet."""
    item = open_lines(stage.punch)[0]
    blind = replace(item, finding=replace(item.finding, kind="not-verified", remedy=()))
    punch = replace(stage.punch, items=(blind,), rules=())
    settled = settle((), [blind])
    (place,) = plan(punch, settled).places
    assert [work.kind for work in place.works] == ["see"]
    text = "\n".join([*told(plan(punch, settled)), *decided(settled, punch)])
    assert "look first" in text
    assert "UNDECIDED" not in text
    assert "restore" not in text


def test_the_list_of_readings_says_how_the_set_must_stand(stage):
    made = plan(stage.punch, stage.settled)
    assert made.cold == (
        "UNPLUGGED; each reservoir discharged through a resistor and measured: below 10 V;"
        " valves out"
    )
    assert f"  {made.cold}" in told(made)


@pytest.mark.parametrize("setting", ["on", "off"])
def test_a_reading_through_the_mains_switch_says_how_it_stands(setting):
    drawing = read("examples/power-supply/power-supply.reference.buzz")
    parts = drawing.parts
    contacts = tuple(replace(e, closed=setting == "on") for e in parts["S1"].elements)
    turned = replace(parts["S1"], setting=setting, elements=contacts)
    there = SimpleNamespace(found=drawing.but({**parts, "S1": turned}))
    ohms = resistances(there.found)
    pairs = [(Point("M1", "L"), Point("T1", "230")), (Point("T1", "0"), Point("T1", "230"))]
    checks = tuple(Check(*pair, ohms.between(*pair), ohms.between(*pair)) for pair in pairs)
    assert [c.stands for c in _cold(checks, there)] == [f"S1 {setting}", ""]
