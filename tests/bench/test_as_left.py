import re

from buzzout.bench.as_left import as_left, told
from buzzout.bench.folder import keep_state
from buzzout.bench.state import state


def edited(job, *changes):
    """The chassis file with its columns closed up and some lines changed."""
    text = re.sub(r"(?<=\S) +", " ", job.chassis.read_text(encoding="utf-8"))
    for old, new in changes:
        assert text.count(old) == 1
        text = text.replace(old, new)
    job.chassis.write_text(text, encoding="utf-8")


def test_closed_still_open_and_new(job, stage):
    """R3 is put right, C1 stays reversed, and a lead that was right is now on the next tag."""
    keep_state(job, "as-received")
    edited(
        job,
        ("brown black orange silver to TS1.3", "brown black yellow silver to TS1.3"),
        ("brown black orange silver to TS1.2", "brown black yellow silver to TS1.2"),
        ("at J1.tip\n  wire green to TS1.5", "at J1.tip\n  wire green to TS1.7"),
        ("  wire green to J1.tip\n", ""),
        ("at TS1.7 nothing", "at TS1.7\n  wire green to J1.tip"),
    )
    made = as_left(state(job, job.kept("as-received")).punch, state(job).punch)
    assert [i.finding.parts for i in made.closed] == [("R3",)]
    kinds = {pair.after.finding.kind for pair in made.still}
    assert "reversed" in kinds
    assert len(made.new) == 1
    assert "TS1.7" in {str(p) for p in made.new[0].right}
    lines = told(made)
    assert lines[0] == f"closed 1, still open {len(made.still)}, new 1"
    assert lines[1] == "NEW"
    assert "right before" in lines[2]


def test_nothing_done_is_nothing_closed(stage):
    made = as_left(stage.punch, stage.punch)
    assert (made.closed, made.new) == ((), ())
    assert not any(pair.changed for pair in made.still)


def test_another_wrong_value_is_still_open_and_told_so(job, stage):
    edited(
        job,
        ("brown black orange silver to TS1.3", "brown black red silver to TS1.3"),
        ("brown black orange silver to TS1.2", "brown black red silver to TS1.2"),
    )
    made = as_left(stage.punch, state(job).punch)
    pair = next(p for p in made.still if "R3" in p.after.finding.parts)
    assert pair.changed
    assert made.closed == ()


def test_moved_lines_change_nothing(job, stage):
    text = job.chassis.read_text(encoding="utf-8")
    head, _, rest = text.partition("strip TS1")
    job.chassis.write_text(head + "# one more line\n\nstrip TS1" + rest, encoding="utf-8")
    made = as_left(stage.punch, state(job).punch)
    assert (made.closed, made.new) == ((), ())
    assert not any(pair.changed for pair in made.still)
