"""A job on the small valve stage with the mistakes that its example has; the hall amplifier."""

import shutil
from pathlib import Path

import pytest

from buzzout.bench.case import case
from buzzout.bench.folder import Folder
from buzzout.bench.state import state
from buzzout.electrics.operating import operate
from buzzout.language import read

STAGE = Path("examples/valve-stage")


@pytest.fixture
def job(tmp_path):
    """A job folder of its own with the chassis filled in."""
    shutil.copy(STAGE / "valve-stage.reference.buzz", tmp_path)
    shutil.copy(STAGE / "with-three-mistakes.found.buzz", tmp_path / "chassis.found.buzz")
    return Folder(tmp_path)


@pytest.fixture(scope="session")
def stage(tmp_path_factory):
    """The same, compared once for all tests that only read."""
    path = tmp_path_factory.mktemp("stage")
    shutil.copy(STAGE / "valve-stage.reference.buzz", path)
    shutil.copy(STAGE / "with-three-mistakes.found.buzz", path / "chassis.found.buzz")
    return state(Folder(path))


@pytest.fixture(scope="session")
def hall():
    return read("examples/hall-amplifier/hall-amplifier.reference.buzz")


@pytest.fixture(scope="session")
def asked(hall):
    """The hall amplifier in order, ready to be asked about readings."""
    return case(operate(hall))
