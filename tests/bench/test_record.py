import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from buzzout.bench.decisions import Decision
from buzzout.bench.diagnose import Diagnosis
from buzzout.bench.folder import Folder, keep_state
from buzzout.bench.readings import Report, Step
from buzzout.bench.record import as_page, as_text, record
from buzzout.bench.reported import told as reported
from buzzout.bench.sittings import Sitting
from buzzout.bench.state import state

HALL = Path("examples/hall-amplifier")
NAMES = ("chromium", "chromium-browser", "google-chrome")
BROWSER = next(filter(None, map(shutil.which, NAMES)), "")


def made(job, decisions=""):
    job.decisions.write_text(decisions, encoding="utf-8")
    return record(state(job))


def test_the_same_files_give_the_same_bytes(job):
    first, again = made(job), made(job)
    for reader in ("owner", "technician"):
        assert as_page(first, reader) == as_page(again, reader)
        assert as_text(first, reader) == as_text(again, reader)


def test_decisions_with_reason_and_name_are_on_both(job, stage):
    wanted = next(i.finding.id for i in stage.punch.open if "R3" in i.finding.parts)
    got = made(job, f'accept {wanted} because "matched to <the> tape" by "A. Miller"\n')
    for reader in ("owner", "technician"):
        page, text = as_page(got, reader), as_text(got, reader)
        assert "matched to &lt;the&gt; tape" in page
        assert "A. Miller" in page
        assert "matched to <the> tape (A. Miller)" in text
        assert "Lethal voltages" in page
        assert "Lethal voltages" in text


def test_what_was_put_right_comes_from_the_comparison_and_not_from_a_tick(job):
    keep_state(job, "as-received")
    assert made(job, "restore value-wrong:R3:TS1.2:TS1.3\n").change.closed == ()
    text = job.chassis.read_text(encoding="utf-8")
    for end in ("TS1.3", "TS1.2"):
        text = text.replace(f"orange silver  to {end}", f"yellow silver  to {end}")
    job.chassis.write_text(text, encoding="utf-8")
    got = made(job)
    assert [i.finding.parts for i in got.change.closed] == [("R3",)]
    text = as_text(got, "owner")
    assert "What was found and is put right\n  wrong value: R3" in text
    assert " line " not in text.partition("What is left")[0]


def test_what_was_only_looked_at_is_not_put_right(job):
    right = job.chassis.read_text(encoding="utf-8")
    unread = right.replace("capacitor  22n 400V  to V1.8", "capacitor  unread  to V1.8")
    unread = unread.replace("capacitor     22n 400V  ", "capacitor     unread  ")
    job.chassis.write_text(unread, encoding="utf-8")
    keep_state(job, "as-received")
    job.chassis.write_text(right, encoding="utf-8")
    got = made(job)
    assert [i.finding.kind for i in got.change.closed] == ["not-verified"]
    assert got.put_right == ()
    told = "Could not be told when it came in, and was looked at since: C2."
    for reader in ("owner", "technician"):
        assert told in as_text(got, reader)
        assert "not verified" not in as_text(got, reader).partition("What is left")[0]
    assert told in as_page(got, "owner")
    assert "<td>seen since</td>" in as_page(got, "technician")


def test_readings_that_were_taken_again_are_in_the_technicians_record(job):
    job.readings.write_text(
        'found "r"\ninclude "chassis.found.buzz"\nreads V1.6 to chassis 47R\nstep 0\n'
        "reads V1.6 to chassis 90k\n",
        encoding="utf-8",
    )
    got = made(job)
    told = "running, before it was read again: V1.6 to chassis 47R"
    assert told in as_text(got, "technician")
    assert told in as_page(got, "technician")
    assert "47R" not in as_text(got, "owner")


def test_mains_before_a_lamp_are_told_as_such(job):
    steps = (Step(Sitting(5, ()), 229.0, lamp=100.0), Step(Sitting(6, ()), 229.0))
    got = replace(made(job), readings=Report(steps, Diagnosis((), ())))
    for told in (as_text(got, "technician"), as_page(got, "technician")):
        assert re.search(r"step 5\W+229 V before the 100 W lamp", told)
        assert re.search(r"step 6\W+229 V at the primary", told)


@pytest.fixture(scope="module")
def hall_job(tmp_path_factory):
    """The hall amplifier as drawn, but for a resistor; departures of which one is carried out."""
    path = tmp_path_factory.mktemp("hall")
    for name in ("hall-amplifier.reference.buzz", "as-drawn.found.buzz"):
        text = (HALL / name).read_text(encoding="utf-8")
        (path / name.replace("as-drawn", "chassis")).write_text(text, encoding="utf-8")
    (path / "wanted.departures.buzz").write_text(
        'departures "Wanted"\nof "hall-amplifier.reference.buzz"\n'
        'change F1 to 500mA because "the set draws about 0.3 A"\n'
        'remove C1 because "line-to-chassis capacitor deleted"\n',
        encoding="utf-8",
    )
    chassis = path / "chassis.found.buzz"
    chassis.write_text(chassis.read_text(encoding="utf-8").replace("fuse F1 1A", "fuse F1 500mA"))
    return Folder(path)


def test_only_what_the_chassis_shows_was_changed_on_purpose(hall_job):
    got = made(hall_job)
    assert [d.text for d in got.changed] == ["change F1 to 500mA"]
    assert [d.text for d in got.wanted] == ["remove C1"]
    for told in (as_text(got, "owner"), as_text(got, "technician")):
        assert (
            told.index("change F1")
            < told.index("Wanted, and not carried out")
            < told.index("remove C1")
        )
    assert "Wanted, and not carried out, or not seen: remove C1." in as_page(got, "owner")


CAN = "can C30 square 32u 450V"


@pytest.mark.parametrize(
    ("before", "fitted", "done"),
    [
        (CAN, CAN, False),  # the old one is within the tolerance of the new one
        (CAN, "can C30 square 33u 450V", True),
        (CAN, "can C30 square 36u 450V", True),
    ],
)
def test_a_part_within_a_tolerance_of_the_wanted_one_is_not_the_wanted_one(
    hall_job, before, fitted, done
):
    chassis, wanted = hall_job.chassis, hall_job.chassis.parent / "wanted.departures.buzz"
    kept = chassis.read_text(encoding="utf-8"), wanted.read_text(encoding="utf-8")
    change = "change C30.square to 33u 450V"
    try:
        assert before in kept[0]
        chassis.write_text(kept[0].replace(before, fitted), encoding="utf-8")
        wanted.write_text(f'{kept[1]}{change} because "can be bought"\n', encoding="utf-8")
        got = made(hall_job)
    finally:
        chassis.write_text(kept[0], encoding="utf-8")
        wanted.write_text(kept[1], encoding="utf-8")
    assert (change in [d.text for d in got.changed]) is done
    assert (change in [d.text for d in got.wanted]) is not done


def test_what_was_read_above_a_rating_comes_before_the_answer(hall_job):
    hall_job.readings.write_text(
        'found "r"\ninclude "chassis.found.buzz"\nstep 0\nreads C30.square to chassis 470V\n',
        encoding="utf-8",
    )
    got = made(hall_job)
    assert got.over == ("running: C30.square read 470V, and a capacitor there bears 450 V",)
    for reader in ("owner", "technician"):
        text = as_text(got, reader)
        assert text.index("OVER A LIMIT") < text.index("Readings that are off")
        assert text.index("Readings that are off") < text.index("Answer on power")
        assert "The readings do not agree with the set" in text
        assert "C30.square read 470V" in as_page(got, reader)
    assert any("ABOVE A RATING" in line for line in reported(got.readings))


def test_files_are_named_with_their_hash(job):
    names = [name for name, _ in made(job).provenance]
    assert names == ["valve-stage.reference.buzz", "chassis.found.buzz", "decisions.txt"]


def test_the_page_fetches_nothing(job):
    for reader in ("owner", "technician"):
        page = as_page(made(job), reader)
        assert page.isascii()
        assert "http" not in page
        assert "src=" not in page


def test_what_was_not_checked_is_told(job):
    got = made(job)
    assert got.unchecked
    assert "Not checked" in as_text(got, "owner")


def test_readings_with_a_mistake_are_not_left_out_in_silence(job):
    job.readings.write_text('found "readings"\nreads V9.1 168 V\n', encoding="utf-8")
    got = made(job)
    assert "readings.found.buzz, line 2" in got.unreadable
    for reader in ("owner", "technician"):
        assert "could not be read" in as_page(got, reader)
        assert "could not be read" in as_text(got, reader)


def test_parts_of_one_kind_stand_together(job):
    keep_state(job, "as-received")
    shutil.copy("examples/valve-stage/with-three-mistakes.found.buzz", job.chassis)
    text = job.chassis.read_text(encoding="utf-8")
    for end in ("TS1.3", "TS1.2"):
        text = text.replace(f"orange silver  to {end}", f"yellow silver  to {end}")
    job.chassis.write_text(text, encoding="utf-8")
    assert made(job).put_right == ("wrong value (R3)",)


@pytest.mark.skipif(not BROWSER, reason="no browser is installed")
def test_the_owners_record_is_one_printed_page(job, tmp_path):
    """Even where everything is open and every reason is long."""
    keep_state(job, "as-received")
    got = made(job)
    long = Decision("accept", "x", "left as it is because " + 20 * "the owner wants it so ", "A")
    many = tuple(replace(line, decision=long) for line in got.open * 12)
    closed = tuple(line.item for line in got.open * 12)
    wide = replace(got, open=many, change=replace(got.change, closed=closed))
    page = tmp_path / "owner.html"
    page.write_text(as_page(wide, "owner"), encoding="ascii")
    subprocess.run(
        [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
         f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={tmp_path / 'owner.pdf'}",
         page.as_uri()], check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    pdf = (tmp_path / "owner.pdf").read_bytes()
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf)) == 1
