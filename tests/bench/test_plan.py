from dataclasses import replace

from buzzout.bench.decisions import Decision, open_lines, settle
from buzzout.bench.decisions import told as decided
from buzzout.bench.plan import plan, told


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
    assert check in made.readings or len(made.readings) < 3


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
