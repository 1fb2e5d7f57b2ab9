"""Forty and more broken files: each message must lead to the fix.

A case is a file, a line of dashes, and what `buzzout check` says of it. `python
tests/language/test_mistakes.py` writes what is said now into every case; read the difference.
"""

import pathlib
import sys

import pytest
from one_stage import DRAWING

from buzzout.language import load, render

FOLDER = pathlib.Path(__file__).parent / "mistakes"
CASES = sorted(FOLDER.glob("*.case"))
RULE = "----\n"


def said(folder, text):
    """Everything that is said of a file with this text, without the folder's name."""
    (folder / "drawing.buzz").write_text(DRAWING, encoding="utf-8")
    path = folder / "it.buzz"
    path.write_text(text, encoding="utf-8")
    loaded = load(path)
    out = render(loaded.problems, loaded.sources)
    return out.replace(f"{folder.as_posix()}/", "") + "\n"


@pytest.mark.parametrize("case", CASES, ids=lambda path: path.stem)
def test_mistake(case, tmp_path):
    text, _, expected = case.read_text(encoding="utf-8").partition(RULE)
    assert said(tmp_path, text) == expected
    assert "error:" in expected or "warning:" in expected


if __name__ == "__main__":
    import tempfile

    for one in CASES:
        with tempfile.TemporaryDirectory() as scratch:
            given = one.read_text(encoding="utf-8").partition(RULE)[0]
            one.write_text(given + RULE + said(pathlib.Path(scratch), given), encoding="utf-8")
    sys.stdout.write(f"{len(CASES)} cases written\n")
