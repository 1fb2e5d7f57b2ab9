"""Files are written in the language itself, inside the tests."""

import pytest
from one_stage import DRAWING

from buzzout.language import load, render


@pytest.fixture
def write(tmp_path):
    def _write(text, name="it.buzz"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return _write


@pytest.fixture
def drawing(write):
    return write(DRAWING, "drawing.buzz")


@pytest.fixture
def found(write, drawing):
    """Load a found file with strips, from the lines below its head."""

    def _found(lines):
        head = 'found "as received"\nof "drawing.buzz"\nstrip TS1 12 tags earthed 3\n'
        return load(write(head + lines, "found.buzz"))

    return _found


@pytest.fixture
def told():
    """Problems as text, without the folder."""

    def _told(loaded):
        text = render(loaded.problems, loaded.sources)
        for file in loaded.sources:
            text = text.replace(file, file.rsplit("/", 1)[-1])
        return text

    return _told
