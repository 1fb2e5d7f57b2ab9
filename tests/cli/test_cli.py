"""Commands: exit status, what goes to which stream, files written whole."""

import csv
import io
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from buzzout.cli import main

DRAWING = """\
reference "Line stage"
socket V1 B9A ECC83
connector SK1 3 pins
R1 resistor 1M V1.2 chassis
R2 resistor 100k V1.1 SK1.3
R3 resistor 1k5 V1.3 chassis
C1 electrolytic 25u 25V V1.3 + chassis -
C2 capacitor 22n 400V V1.1 SK1.2
wire SK1.1 V1.2
"""
CHASSIS = """\
found "Line stage as received"
of "stage.reference.buzz"
fitted V1 ECC83
resistor 1M from V1.2 to chassis
resistor 100k from V1.1 to SK1.3
resistor 1k5 from V1.3 to chassis
electrolytic 25u 25V from V1.3 + to chassis -
capacitor 22n 400V from V1.1 to SK1.2
wire SK1.1 V1.2
"""


@pytest.fixture
def folder(tmp_path, monkeypatch):
    (tmp_path / "stage.reference.buzz").write_text(DRAWING, encoding="utf-8")
    (tmp_path / "right.found.buzz").write_text(CHASSIS, encoding="utf-8")
    wrong = CHASSIS.replace("V1.3 + to chassis -", "V1.3 - to chassis +").replace("100k", "10k")
    (tmp_path / "wrong.found.buzz").write_text(wrong, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*words, **more):
    return CliRunner().invoke(main, list(words), **more)


@pytest.mark.parametrize("command", [[], *[[name] for name in main.commands]])
def test_every_command_has_help(command):
    done = run(*command, "--help")
    assert done.exit_code == 0
    assert len(done.stdout.splitlines()) > 5


def test_the_package_itself_runs_as_the_command(folder):
    words = [sys.executable, "-m", "buzzout", "check", "stage.reference.buzz"]
    done = subprocess.run(words, capture_output=True, text=True, timeout=600, check=False)
    same = run("check", "stage.reference.buzz")
    assert (done.returncode, done.stdout) == (same.exit_code, same.stdout)
    assert done.stdout


def test_stopped_by_ctrl_c_is_no_status_of_a_comparison(monkeypatch):
    def stop(_words):
        raise KeyboardInterrupt

    monkeypatch.setattr("buzzout.catalogue.card.card", stop)
    done = CliRunner().invoke(main, ["card", "ECC83"])
    assert (done.exit_code, done.stderr) == (130, "stopped\n")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize("words", [["card", "ECC83"], ["--help"]])
def test_an_output_that_cannot_be_written(words):
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "buzzout", *words],
            stdout=full, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr.startswith("cannot write the output: ")
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize("command", ["compare", "volts", "stress"])
def test_prose_is_no_wider_than_the_terminal(folder, monkeypatch, command):
    monkeypatch.setenv("COLUMNS", "50")
    (folder / "swapped.found.buzz").write_text(CHASSIS.replace("1k5", "15k"), encoding="utf-8")
    files = ["stage.reference.buzz", "swapped.found.buzz"][: 2 if command == "compare" else 1]
    text = CliRunner().invoke(main, [command, *(str(folder / name) for name in files)]).stdout
    rows = [row for row in text.splitlines() if not re.search(r"\S  +\S.*\S  +\S|---", row)]
    assert len(rows) > 10
    assert max(map(len, rows)) <= 50


def test_help_carries_the_cautions():
    assert "Lethal voltages" in run("--help").stdout


@pytest.mark.parametrize(
    "words", [["wibble"], ["compare"], ["compare", "--wibble", "a", "b"], ["check"]]
)
def test_a_wrong_call_is_status_2(words):
    done = run(*words)
    assert done.exit_code == 2
    assert done.stdout == ""


@pytest.mark.parametrize(
    ("files", "status"),
    [
        (["stage.reference.buzz", "right.found.buzz"], 0),
        (["stage.reference.buzz", "wrong.found.buzz"], 1),
        (["right.found.buzz", "stage.reference.buzz"], 2),
        (["stage.reference.buzz", "missing.buzz"], 2),
        (["stage.reference.buzz", "."], 2),
    ],
)
def test_compare_status(folder, files, status):
    done = run("compare", *files)
    assert done.exit_code == status, done.output
    assert bool(done.stdout) == (status != 2)
    assert bool(done.stderr) == (status == 2)


def test_compare_as_json(folder):
    done = run("compare", "stage.reference.buzz", "wrong.found.buzz", "--format", "json")
    told = json.loads(done.stdout)
    named = sorted((f["kind"], f["parts"]) for f in told["findings"])
    assert named == [("reversed", ["C1"]), ("value-wrong", ["R2"])]
    assert told["proof"]["sufficient"]
    assert told["proof"]["minimal"]
    assert all(f["remedy"] for f in told["findings"])


def test_compare_as_csv(folder):
    done = run("compare", "stage.reference.buzz", "wrong.found.buzz", "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(done.stdout)))
    assert {row["kind"] for row in rows} == {"value-wrong", "reversed"}


def test_compare_with_departures(folder):
    text = 'departures "x"\nof "stage.reference.buzz"\nchange R2 to 10k because "wanted"\n'
    (folder / "x.departures.buzz").write_text(text, encoding="utf-8")
    done = run("compare", "stage.reference.buzz", "wrong.found.buzz", "--with", "x.departures.buzz",
               "--format", "json")  # fmt: skip
    told = json.loads(done.stdout)
    assert [f["kind"] for f in told["findings"]] == ["reversed"]
    assert "wanted" in json.dumps(told["departures"])


def test_the_same_input_gives_the_same_bytes(folder):
    words = ["compare", "stage.reference.buzz", "wrong.found.buzz", "--format", "json"]
    assert run(*words).stdout_bytes == run(*words).stdout_bytes


def test_drawing_is_written(folder):
    run("compare", "stage.reference.buzz", "wrong.found.buzz", "--drawing", "out.svg")
    assert "<svg" in (folder / "out.svg").read_text(encoding="utf-8")
    done = run("draw", "stage.reference.buzz", "out.png")
    assert done.exit_code == 0, done.output
    assert (folder / "out.png").read_bytes().startswith(b"\x89PNG")


def test_a_drawing_of_another_kind_is_refused(folder):
    done = run("draw", "stage.reference.buzz", "out.pdf")
    assert done.exit_code == 2
    assert ".svg or .png" in done.stderr
    assert not (folder / "out.pdf").exists()


def test_a_folder_that_is_not_there(folder):
    done = run("draw", "stage.reference.buzz", "no/out.svg")
    assert done.exit_code == 2
    assert "cannot write" in done.stderr


def test_check_tells_contradictions_with_status_1(folder):
    lines = "at V1.8\nresistor 1k to V1.3\nat V1.3\nresistor 10k to V1.8\n"
    path = folder / "right.found.buzz"
    path.write_text(CHASSIS + lines, encoding="utf-8")
    done = run("check", "right.found.buzz")
    assert done.exit_code == 1
    assert "CONTRADICTION: read as 1k on one line and 10k on the other" in done.stdout


def test_check_tells_mistakes_with_status_2(folder):
    (folder / "x.buzz").write_text('reference "x"\nR1 resistor lk\n', encoding="utf-8")
    done = run("check", "stage.reference.buzz", "x.buzz")
    assert done.exit_code == 2
    assert "did you mean '1k'?" in done.stdout
    assert "stage.reference.buzz: in order" in done.stdout


def test_format_in_place_check_and_standard_input(folder):
    path = folder / "x.buzz"
    path.write_text('reference   "x"   # head\n', encoding="utf-8")
    assert run("format", "--check", "x.buzz").exit_code == 1
    assert run("format", "x.buzz").exit_code == 0
    assert path.read_text(encoding="utf-8") == 'reference "x"  # head\n'
    assert run("format", "--check", "x.buzz").exit_code == 0
    assert run("format", "-", input='reference   "y"\n').stdout == 'reference "y"\n'


def test_format_leaves_no_scraps_and_keeps_the_mode(folder):
    path = folder / "x.buzz"
    path.write_text('reference   "x"\n', encoding="utf-8")
    path.chmod(0o640)
    run("format", "x.buzz")
    assert path.stat().st_mode & 0o777 == 0o640
    assert [p.name for p in folder.iterdir() if p.name.startswith(".")] == []


@pytest.mark.parametrize(
    "words", [["ECC83"], ["B9A"], ["bands", "brown", "black", "yellow"], ["code", "103K"]]
)
def test_card(words):
    done = run("card", *words)
    assert done.exit_code == 0, done.output
    assert done.stdout


def test_card_of_something_unknown_suggests():
    done = run("card", "ECC38")
    assert done.exit_code == 2
    assert "ECC8" in done.stderr


def test_a_restorers_own_valve_beside_the_circuit(folder):
    done = run("check", "stage.reference.buzz")
    assert done.exit_code == 0
    text = DRAWING.replace("ECC83", "MINE1")
    (folder / "stage.reference.buzz").write_text(text, encoding="utf-8")
    assert "I know no valve 'MINE1'" in run("check", "stage.reference.buzz").stdout
    (folder / "devices.yaml").write_text("MINE1:\n  kind: 5\n", encoding="utf-8")
    done = run("check", "stage.reference.buzz")
    assert done.exit_code == 2
    assert "devices.yaml" in done.stderr


@pytest.mark.parametrize(
    "words",
    [
        ["body", "green", "end", "blue", "dot", "orange"],
        ["red/yellow"],
        ["value", "100", "mmf"],
        ["ECC81", "for", "ECC83"],
        ["sources"],
    ],
)
def test_cards_in_the_words_of_the_guide(words):
    assert run("card", *words).exit_code == 0
