from dataclasses import replace

import pytest

from buzzout.bench.decisions import Decision, read_decisions, settle, told
from buzzout.bench.state import decided


def read(text):
    decisions, problems = read_decisions(text, "decisions.txt")
    return [str(d) for d in decisions], [(p.span.line, p.message) for p in problems]


def test_one_line_a_decision():
    text = """\
# a comment

restore part-missing:R24:TS4.1:chassis
  Accept value-drifted:R36:TS3.2:TS3.5  by "A. Miller"  because "not # used"   # remark
DEPARTURE part-extra:P2.ccw:P2.cw
"""
    assert read(text) == (
        [
            "restore part-missing:R24:TS4.1:chassis",
            'accept value-drifted:R36:TS3.2:TS3.5 because "not # used" by "A. Miller"',
            "departure part-extra:P2.ccw:P2.cw",
        ],
        [],
    )


@pytest.mark.parametrize(("line", "message"), [
    ("restor part-missing:R24", "'restor' is no decision"),
    ("restore", "which finding?"),
    ("restore R24", "which finding?"),
    ("restore a:b c:d", "which finding?"),
    ('accept value-wrong:R1 because "x"', "who accepts it, and why?"),
    ('accept value-wrong:R1 by "x"', "who accepts it, and why?"),
    ('accept value-wrong:R1 because "" by "x"', "who accepts it, and why?"),
])  # fmt: skip
def test_slips_are_told_with_their_line(line, message):
    decisions, problems = read("\n" + line + "\nrestore value-wrong:R2\n")
    assert decisions == ["restore value-wrong:R2"]
    assert problems == [(2, message)]


def test_decided_twice():
    text = "restore value-wrong:R2\ndeparture value-wrong:R2\n"
    assert read(text) == (
        ["departure value-wrong:R2"],
        [(2, "value-wrong:R2 is decided twice: this line holds")],
    )


def ids(items):
    return [item.finding.id for item in items]


def test_kept_by_what_the_finding_is(stage):
    items = stage.punch.items
    first, second, third = ids(items)
    settled = settle(
        [Decision("restore", second), Decision("departure", "bridge:V9.1:V9.2")], items
    )
    assert list(settled.of) == [second]
    assert ids(settled.undecided) == [first, third]
    assert [d.finding for d in settled.stale] == ["bridge:V9.1:V9.2"]


def test_a_decision_is_carried_to_other_points_and_told(stage):
    items = stage.punch.items
    item = next(i for i in items if i.finding.kind == "value-wrong")
    moved = f"value-wrong:{item.finding.parts[0]}:TS9.1:TS9.2"
    settled = settle([Decision("restore", moved)], items)
    assert settled.of[item.finding.id].finding == moved
    assert settled.stale == ()
    assert any("carried over" in line for line in told(settled, items))


def test_a_decision_on_another_part_is_not_carried(stage):
    settled = settle([Decision("restore", "value-wrong:R99:TS9.1")], stage.punch.items)
    assert settled.of == {}
    assert len(settled.stale) == 1


def test_an_accepted_danger_stays_a_danger(stage):
    item = replace(stage.punch.items[0], severity="danger")
    accept = Decision("accept", item.finding.id, "seen it", "A. Miller")
    text = "\n".join(told(settle([accept], [item]), [item]))
    assert "stays what it is: danger" in text


def test_a_departure_that_is_not_written_down_yet(stage):
    item = next(i for i in stage.punch.items if i.finding.kind == "value-wrong")
    decision = Decision("departure", item.finding.id, "less gain wanted")
    text = "\n".join(told(settle([decision], [item]), [item]))
    assert 'as in: change R3 to … because "less gain wanted"' in text


def test_the_file_is_read_with_the_state(stage, job):
    item = stage.punch.items[0]
    job.decisions.write_text(f"restore {item.finding.id}\nnonsense\n")
    now = decided(replace(stage, folder=job))
    assert list(now.settled.of) == [item.finding.id]
    assert [p.message for p in now.problems] == ["'nonsense' is no decision"]
