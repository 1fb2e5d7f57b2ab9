"""The README's lesson does what it says."""

import re
from pathlib import Path

import pytest

import buzzout
from buzzout.language import load, render

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```\w*\n(.*?)^```", README, re.DOTALL | re.MULTILINE)


def block(start):
    return next(text for text in BLOCKS if text.startswith(start))


@pytest.fixture
def lesson(tmp_path):
    for name, start in (("stage.reference.buzz", "reference"), ("stage.found.buzz", "found")):
        (tmp_path / name).write_text(block(start), encoding="utf-8")
    return tmp_path


def test_three_things_are_wrong_with_this_board(lesson):
    drawing = buzzout.read(lesson / "stage.reference.buzz")
    chassis = buzzout.read(lesson / "stage.found.buzz")
    told = buzzout.compare(drawing, chassis)
    assert sorted((f.kind, f.parts) for f in told.findings) == [
        ("reversed", ("C1",)),
        ("wrong-point", ("C2",)),
        ("wrong-point", ("R3",)),
    ]
    assert told.proof.sufficient
    assert told.proof.minimal


def test_the_slip_is_told_as_printed(lesson):
    path = lesson / "stage.reference.buzz"
    path.write_text(path.read_text(encoding="utf-8").replace("1M  ", "lM  "), encoding="utf-8")
    loaded = load(path)
    said = render(loaded.problems, loaded.sources).replace(f"{lesson.as_posix()}/", "")
    assert said + "\n" == block("stage.reference.buzz:7")
