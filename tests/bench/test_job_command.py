"""The job walked through as a new user would, by its commands alone."""

import csv
import io
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from buzzout.cli.job import job as command

REFERENCE = "examples/valve-stage/valve-stage.reference.buzz"
FOUND = Path("examples/valve-stage/with-three-mistakes.found.buzz")


def run(*words, status=0):
    done = CliRunner().invoke(command, [str(w) for w in words], catch_exceptions=False)
    assert done.exit_code == status, done.output
    return done.output


def lines(text, *changes):
    """A chassis file with its columns closed up and some lines changed."""
    text = re.sub(r"(?<=\S) +", " ", text)
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return text


def test_a_whole_job(tmp_path):
    folder = tmp_path / "job"
    chassis = folder / "chassis.found.buzz"
    assert "Next: fill in" in run("new", REFERENCE, folder)
    assert "left as it is" in run("new", REFERENCE, folder)
    assert "1. V1" in run("next", "--quick", folder, status=1)

    chassis.write_text(FOUND.read_text(encoding="utf-8"), encoding="utf-8")
    run("keep", folder, "as-received")
    plan = run("plan", folder, status=1)
    assert plan.startswith("Lethal voltages")
    finding = re.search(r"restore (value-wrong:R3\S*)", plan)[1]
    (folder / "decisions.txt").write_text(f"restore {finding}\n", encoding="utf-8")
    assert "restore: R3" in run("plan", folder, status=1)
    assert "1 x resistor 100k 5% 0.5W" in run("order", folder)
    rows = list(csv.DictReader(io.StringIO(run("order", "--csv", folder))))
    assert [(r["for"], r["decided"]) for r in rows] == [("R3", "yes"), ("C1", "no")]

    repaired = lines(
        chassis.read_text(encoding="utf-8"),
        ("brown black orange silver to TS1.3", "brown black yellow silver to TS1.3"),
        ("brown black orange silver to TS1.2", "brown black yellow silver to TS1.2"),
    )
    chassis.write_text(repaired, encoding="utf-8")
    text = run("as-left", folder, "--before", "as-received", status=1)
    assert "closed 1" in text
    record = run("record", folder)
    assert "wrong value: R3" in record
    page = folder / "record.html"
    run("record", folder, "--for", "technician", "--html", page)
    assert "<td>closed</td>" in page.read_text(encoding="utf-8")


def test_the_readme_names_every_command():
    text = Path("README.md").read_text(encoding="utf-8")
    named = re.findall(r"^    buzzout job (\S+)", text, re.MULTILINE)
    assert set(named) == set(command.commands)
    order = [name for name in command.commands if name in named]
    assert order.index("new") < order.index("plan") < order.index("record")


def test_a_folder_with_a_space_is_told_as_one_types_it(tmp_path):
    told = run("new", REFERENCE, tmp_path / "my job")
    assert f'buzzout job next "{tmp_path / "my job"}"' in told


def test_bring_up_is_refused_or_told_why_there_is_none(job):
    text = run("bring-up", job.path, status=1)
    assert "no bring-up plan" in text or "could not be computed" in text


def test_pages_to_print(job, tmp_path):
    page = tmp_path / "it.html"
    run("plan", job.path, "--html", page, status=1)
    assert "R3" in page.read_text(encoding="utf-8")
    run("bring-up", job.path, "--html", page, status=1)
    assert "no bring-up plan" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize("words", [
    ("plan", "--html"), ("order", "--html"), ("bring-up", "--html"), ("next", "--sheet"),
    ("record", "--html"),
])  # fmt: skip
def test_a_page_never_replaces_what_a_person_typed(job, words):
    name, option = words
    before = job.chassis.read_bytes()
    assert "nothing was written over" in run(name, job.path, option, job.chassis, status=2)
    assert job.chassis.read_bytes() == before
    page = job.path / "page.html"
    page.write_bytes(b"")
    for _ in range(2):  # an empty file, then a page of ours
        CliRunner().invoke(command, [name, str(job.path), option, str(page)])
        assert page.read_bytes().startswith(b"<!DOCTYPE html>")


def test_diagnose_without_readings(job):
    job.readings.write_text('found "r"\ninclude "chassis.found.buzz"\n', encoding="utf-8")
    assert "no readings" in run("diagnose", job.path, status=2)


def test_decide_adds_one_line_and_keeps_the_rest(job):
    job.decisions.write_text("# mine", encoding="utf-8")
    run("decide", job.path, "restore", "value-wrong:R3")
    run("decide", job.path, "accept", "reversed:C1", status=2)
    run("decide", job.path, "accept", "reversed:C1", "--because", "off the board", "--by", "A. M.")
    run("decide", job.path, "restore", "bridge:V1.1", status=2)
    text = job.decisions.read_text(encoding="utf-8")
    first, second, third = text.splitlines()
    assert first == "# mine"
    assert second.startswith("restore value-wrong:R3:")
    assert third.endswith('because "off the board" by "A. M."')
    assert "undecided: 1" in run("plan", job.path, status=1)


def test_a_set_without_an_output_stage_is_told_as_such(job):
    job.readings.write_text(
        'found "r"\ninclude "chassis.found.buzz"\nreads V1.6 150 V\n', encoding="utf-8"
    )
    assert "No output stage to tell of" in run("output-stage", job.path)


def test_an_accepted_danger_stays_one_and_bars_power(tmp_path):
    """A lead without a protective earth: the decision is written, and what it does not do."""
    drawing = Path("examples/hall-amplifier/hall-amplifier.reference.buzz")
    shutil.copy(drawing, tmp_path)
    folder = tmp_path / "hall"
    run("new", tmp_path / drawing.name, folder)
    chassis = folder / "chassis.found.buzz"
    of = next(r for r in chassis.read_text(encoding="utf-8").splitlines() if r.startswith("of "))
    head, text = drawing.read_text(encoding="utf-8").split("reference ", 1)
    title, _, rest = text.partition("\n")
    chassis.write_text(f"{head}found {title}\n{of}\n{rest}", encoding="utf-8")
    who = ("--because", "its owner knows", "--by", "A. M.")
    told = " ".join(run("decide", folder, "accept", "no-earth", *who).split())
    assert "It stays a danger" in told
    assert "it still bars power: no decision lifts that" in told
    assert "accept no-earth:M1" in (folder / "decisions.txt").read_text(encoding="utf-8")


def test_sheets_to_write_on(job, tmp_path):
    run("next", job.path, "--sheet", tmp_path / "sheets.html")
    assert "TS1.8" in (tmp_path / "sheets.html").read_text(encoding="utf-8")


@pytest.mark.parametrize("words", [
    ("plan", "FOLDER"), ("order", "FOLDER"), ("next", "FOLDER"), ("bring-up", "FOLDER"),
    ("record", "FOLDER"), ("as-left", "FOLDER", "--before", "x"), ("keep", "FOLDER", "x"),
    ("diagnose", "FOLDER"), ("output-stage", "FOLDER"),
])  # fmt: skip
def test_a_folder_that_is_no_job_is_told(words, tmp_path):
    run(*(tmp_path if w == "FOLDER" else w for w in words), status=2)


def test_a_mistake_in_a_file_is_told_with_its_line(job):
    job.chassis.write_text(job.chassis.read_text(encoding="utf-8") + "at V1.77\n", encoding="utf-8")
    assert "no pin 77" in run("plan", job.path, status=2)


def test_a_mistake_in_the_decisions_is_told_and_the_rest_holds(job):
    job.decisions.write_text("restor value-wrong:R3\n", encoding="utf-8")
    text = run("plan", job.path, status=1)
    assert "did you mean restore?" in text


def test_every_command_has_help():
    for name in command.commands:
        assert run(name, "--help").startswith("Usage")


HALF = """\
at SK1.1
  wire red to TS1.1
strip TS1 8 tags earthed 4
at TS1.1
  wire red to SK1.1
"""


@pytest.fixture
def half(tmp_path):
    """A job of which two points were written down: R5 is not there, the rest is not known."""
    run("new", REFERENCE, tmp_path / "half")
    with (tmp_path / "half" / "chassis.found.buzz").open("a", encoding="utf-8") as file:
        file.write(HALF)
    return tmp_path / "half"


def test_what_nobody_has_looked_at_is_no_work_and_not_bought(half, tmp_path):
    plan = run("plan", half, status=1)
    assert "R5 (22k resistor) is missing" in plan
    assert "R3" not in plan
    assert "restore part-missing:R5" in plan
    assert "lines of the list only seem to miss something" in plan
    order = " ".join(run("order", half).split())
    assert "1 x resistor 22k" in order
    assert re.search(r"nobody has looked there yet: [CR\d, ]*R3", order)
    assert "100k" not in order
    for reader in ("owner", "technician"):
        text = run("record", half, "--for", reader)
        assert "R5 (22k resistor)" in text
        assert "R3" not in text
        run("record", half, "--for", reader, "--html", tmp_path / "it.html")
        assert "only seem to miss something" in (tmp_path / "it.html").read_text(encoding="utf-8")


def test_a_part_is_enough_to_name_a_finding(job):
    assert run("decide", job.path, "restore", "R3").startswith("restore value-wrong:R3:")
    told = run("decide", job.path, "restore", "R99", status=2)
    assert "there is no open finding R99" in told


def test_the_same_decision_is_written_once(job):
    run("decide", job.path, "restore", "R3")
    once = job.decisions.read_bytes()
    assert "says so already" in run("decide", job.path, "restore", "R3")
    assert job.decisions.read_bytes() == once


def test_a_contrary_decision_is_refused_with_the_line_that_stands(job):
    run("decide", job.path, "restore", "R3")
    once = job.decisions.read_bytes()
    told = run("decide", job.path, "accept", "R3", "--because", "so", "--by", "A", status=2)
    assert "decisions.txt:1:1: error: decided already: restore; nothing was added" in told
    assert "    1 | restore value-wrong:R3:" in told
    assert "take this line away" in told
    assert job.decisions.read_bytes() == once


def test_a_departure_is_told_at_once_where_it_is_to_be_written(job):
    told = run("decide", job.path, "departure", "R3", "--because", "less gain")
    assert "The comparison still shows it: write it into a .departures.buzz file" in told
    assert 'change R3 to … because "less gain"' in " ".join(told.split())
    assert "nothing to buy" in " ".join(told.split())


def test_an_unknown_state_is_told_with_those_that_are_kept(job):
    run("keep", job.path, "as-received")
    told = run("as-left", job.path, "--before", "as-recieved", status=2)
    assert "kept so far: as-received" in told


def test_prose_of_a_job_is_no_wider_than_the_terminal(job, monkeypatch):
    monkeypatch.setenv("COLUMNS", "50")
    rows = run("plan", job.path, status=1).splitlines()
    whole = [r for r in rows if len(r) > 50]
    assert all(r.lstrip().startswith(("restore ", "id ")) for r in whole), whole
    assert any(r.startswith("Lethal") for r in rows)


def test_long_lines_are_broken_but_not_what_is_copied(job):
    lines_ = run("plan", job.path, status=1).splitlines()
    long = [line for line in lines_ if len(line) > 100]
    assert all(line.lstrip().startswith(("restore", "id")) for line in long), long
    assert any(line.startswith("              ") for line in lines_)


OWN = """\
EC900:
  kind: triode
  base: B9A
  sections: {"1": triode}
  pins: {"1": unused, "2": unused, "3": unused, "4": heater, "5": heater, "6": anode, "7": grid,
         "8": cathode, "9": unused, source: measured on two samples}
  heaters:
    - {volts: 6.3, amps: 0.15, between: "4", and: "5", source: carton}
"""


def test_the_persons_own_devices_are_known(job):
    """A type of one's own in the job folder, as for every other command."""
    drawing = job.drawings[0]
    text = drawing.read_text(encoding="utf-8").replace("B9A ECC83", "B9A EC900")
    drawing.write_text(text, encoding="utf-8")
    told = CliRunner().invoke(command, ["next", "--quick", str(job.path)])
    assert "I know no valve 'EC900'" in told.output
    (job.path / "devices.yaml").write_text(OWN, encoding="utf-8")
    run("next", "--quick", job.path)
