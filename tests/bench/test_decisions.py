import re
from dataclasses import replace

import pytest

from buzzout.bench.decisions import Decision, new_line, read_decisions, settle, told
from buzzout.bench.state import decided, state
from buzzout.circuit import Point


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
    ('accept value-wrong:R1 because "not closed by "A"', "a quotation mark is not closed"),
    ('"', "a quotation mark is not closed"),
])  # fmt: skip
def test_slips_are_told_with_their_line(line, message):
    decisions, problems = read("\n" + line + "\nrestore value-wrong:R2\n")
    assert decisions == ["restore value-wrong:R2"]
    assert problems == [(2, message)]


def test_the_quotation_marks_of_a_word_processor():
    line = "accept value-wrong:R1 because \u201cso\u201d by \u201cA\u201d"
    assert read(line) == (['accept value-wrong:R1 because "so" by "A"'], [])


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
    assert any("carried over" in line for line in told(settled, stage.punch))


def test_a_decision_on_another_part_is_not_carried(stage):
    settled = settle([Decision("restore", "value-wrong:R99:TS9.1")], stage.punch.items)
    assert settled.of == {}
    assert len(settled.stale) == 1


def test_an_accepted_danger_stays_a_danger(stage):
    item = replace(stage.punch.items[0], severity="danger")
    accept = Decision("accept", item.finding.id, "seen it", "A. Miller")
    text = "\n".join(told(settle([accept], [item]), replace(stage.punch, items=(item,))))
    assert "stays what it is: danger" in text


def test_a_departure_that_is_not_written_down_yet(stage):
    item = next(i for i in stage.punch.items if i.finding.kind == "value-wrong")
    decision = Decision("departure", item.finding.id, "less gain wanted")
    text = "\n".join(told(settle([decision], [item]), replace(stage.punch, items=(item,))))
    assert 'as in: change R3 to … because "less gain wanted"' in text


def test_the_file_is_read_with_the_state(stage, job):
    item = stage.punch.items[0]
    job.decisions.write_text(f"restore {item.finding.id}\nnonsense\n")
    now = decided(replace(stage, folder=job))
    assert list(now.settled.of) == [item.finding.id]
    assert [p.message for p in now.problems] == ["'nonsense' is no decision"]


def test_a_part_names_what_is_on_its_pins_too(stage):
    """Two findings on one socket, of which one names a part: which is meant is asked."""
    item = stage.punch.items[0]
    named = replace(item.finding, id="pins-exchanged:V9:V9.1:V9.3", parts=("V9",))
    moved = replace(item.finding, id="wrong-point:V9.9:V9.8", parts=(), points=(Point("V9", "9"),))
    punch = replace(stage.punch, items=tuple(replace(item, finding=f) for f in (named, moved)))
    with pytest.raises(ValueError, match="2 findings answer to V9; did you mean pins-exchanged"):
        new_line(("restore", "V9"), "", "", punch)


# -- written down anew --------------------------------------------------------------------------


def worse(job):
    """The chassis with a wire too much, one that is missing, and a resistor that nobody drew."""
    text = job.chassis.read_text(encoding="utf-8")
    text = text.replace("  wire  brown  to SK1.3\n", "").replace("  wire  brown  to V1.4\n", "")
    text += "at V1.1\n  wire yellow to V1.7\nat V1.7\n  wire yellow to V1.1\n"
    text = text.replace("at V1.1 nothing\n", "").replace("at V1.2 nothing\n", "")
    text += "at V1.2\n  resistor 47k to TS1.8\nat TS1.8\n  resistor 47k to V1.2\n"
    text = text.replace("at TS1.8 nothing\n", "")
    text = text.replace("at TS1.7 nothing\n", "at TS1.7\n  wire pink to J1.tip\n")
    text += "at J1.tip\n  wire pink to TS1.7\n"
    job.chassis.write_text(text, encoding="utf-8")


def anew(job):
    """The same chassis by another hand: strip named and counted otherwise, headings reversed."""
    text = job.chassis.read_text(encoding="utf-8")
    text = re.sub(r"TS1\.(\d)", lambda m: f"TB7.{9 - int(m[1])}", text)
    text = text.replace("strip TS1 8 tags earthed 4", "strip TB7 8 tags earthed 5")
    head, *blocks = re.split(r"^(?=at )", text, flags=re.MULTILINE)
    job.chassis.write_text(head + "".join(reversed(blocks)), encoding="utf-8")


def test_decisions_survive_another_transcription(job):
    worse(job)
    first = state(job)
    ids = [item.finding.id for item in first.punch.items]
    assert any(not item.finding.parts for item in first.punch.items)
    job.decisions.write_text(
        "".join(f'accept {one} because "{n}" by "A"\n' for n, one in enumerate(ids)),
        encoding="utf-8",
    )
    anew(job)
    second = state(job)
    assert second.settled.stale == ()
    kinds = [(i.finding.kind, i.finding.parts) for i in second.punch.items]
    assert sorted(kinds) == sorted((i.finding.kind, i.finding.parts) for i in first.punch.items)
    for item in second.punch.items:
        decision = second.settled.of[item.finding.id]
        assert ids[int(decision.reason)].split(":")[0] == item.finding.kind


def test_places_in_another_order_are_the_same_finding(stage):
    items = stage.punch.items
    bridge = replace(items[0], finding=replace(
        items[0].finding, id="bridge:V1.1:V1.7", kind="bridge", parts=(),
        points=(Point("V1", "1"), Point("V1", "7")),
    ))  # fmt: skip
    for name in ("bridge:V1.7:V1.1", "bridge:V1.1:TS9.3", "bridge:R9:V1.1:V1.7"):
        settled = settle([Decision("restore", name)], [bridge])
        assert list(settled.of) == ["bridge:V1.1:V1.7"], name
    for name in ("bridge:V2.7:V2.1", "part-extra:V1.1:V1.7"):
        settled = settle([Decision("restore", name)], [bridge])
        assert settled.of == {}, name


def test_points_of_one_node_are_one_place(stage):
    """A finding may be named by either of two points that a wire joins."""
    item = stage.punch.items[0]
    other = replace(item, finding=replace(
        item.finding, id="connection-missing:TS1.3", kind="connection-missing", parts=(),
        points=(Point("TS1", "3"),),
    ))  # fmt: skip
    decision = Decision("restore", "connection-missing:V1.6")
    assert settle([decision], [other]).of == {}
    assert settle([decision], [other], stage.chassis.circuit).of


@pytest.fixture
def tags(job):
    """A job with a wire too much between two tags and nothing else; and what its list says."""
    text = job.chassis.read_text(encoding="utf-8").replace("at TS1.7 nothing\n", "")
    text += "at TS1.3\n  wire pink to TS1.6\nat TS1.6\n  wire pink to TS1.3\n"
    job.chassis.write_text(text, encoding="utf-8")
    return job


def bridge(now):
    (item,) = [i for i in now.punch.items if i.finding.kind == "bridge"]
    return item.finding


def test_tags_are_known_by_what_lands_there(tags):
    """The strip is called otherwise in the next transcription; nothing but its tags was named."""
    first = state(tags)
    assert bridge(first).id == "bridge:TS1.3:TS1.6"
    line = new_line(("accept", "bridge"), "wanted", "A", first.punch)
    assert line == (
        'accept bridge:TS1.3:TS1.6 near "TS1.3 V1.6 J2.tip; TS1.6 J2.tip V1.6"'
        ' because "wanted" by "A"'
    )
    assert f"  restore {line.split(' because')[0].split(' ', 1)[1]}" in told(
        first.settled, first.punch
    )
    tags.decisions.write_text(line + "\n", encoding="utf-8")
    assert state(tags).settled.carried == ()
    anew(tags)
    now = state(tags)
    new = bridge(now)
    assert new.id != bridge(first).id
    assert now.settled.stale == ()
    assert now.settled.of[new.id].reason == "wanted"
    paste = next(x for x in told(now.settled, now.punch) if x.startswith(f"  accept {new.id}"))
    tags.decisions.write_text(paste, encoding="utf-8")
    after = state(tags)
    assert after.settled.of[new.id].by == "A"
    assert after.settled.carried == ()


def test_a_stale_line_is_mended_by_one_paste(tags):
    """The same from a line that nobody wrote what lands there into."""
    tags.decisions.write_text('accept bridge:TS1.3:TS1.6 because "so" by "A"\n', encoding="utf-8")
    anew(tags)
    now = state(tags)
    assert [d.finding for d in now.settled.stale] == ["bridge:TS1.3:TS1.6"]
    lines = told(now.settled, now.punch)
    at = next(i for i, line in enumerate(lines) if line.startswith("line 1: accept bridge"))
    assert lines[at + 1] == "  if it is called otherwise now, put in its place:"
    tags.decisions.write_text(lines[at + 2], encoding="utf-8")
    assert state(tags).settled.of[bridge(now).id].reason == "so"
