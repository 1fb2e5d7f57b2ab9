"""Where the figures of an output stage come from: told, read, marked, computed."""

import pytest

from buzzout.electrics.taken import COMPUTED, MARKED, READ, TOLD, Given, NoStage, take
from buzzout.language import load

HALL = "examples/hall-amplifier/hall-amplifier.reference.buzz"


@pytest.fixture(scope="module")
def hall():
    return load(HALL).sound().circuit


def found(tmp_path, drawing, *lines):
    path = tmp_path / "x.found.buzz"
    path.write_text("\n".join(['found "x"', *lines, ""]), encoding="utf-8")
    return load(path, drawing, wanted="found").sound().circuit


def test_a_drawing_has_nothing_read(hall):
    got = take(hall, ("V4", "V5"))
    assert got.origin == {
        "ohms": MARKED, "cathode": COMPUTED, "anode": COMPUTED, "screen": COMPUTED,
    }  # fmt: skip
    assert got.readings.valves == 2
    assert got.readings.ohms == pytest.approx(150)
    assert got.readings.marked == pytest.approx(0.1)
    assert got.supply_ohms > 100


def test_readings_of_a_chassis_and_what_is_told(hall, tmp_path):
    lines = (
        "resistor 150R 3W from V4.3 to chassis", "wire V4.3 V5.3", "reads V4.3 to chassis 148R",
        "reads V5.3 10.1 V", "reads V4.7 270 V", "reads V5.7 274 V",
    )  # fmt: skip
    got = take(found(tmp_path, hall, *lines), ("V4", "V5"), Given(screen=276.0))
    assert (got.readings.ohms, got.readings.drop) == (148, 10.1)
    assert got.readings.anode == 272  # the mean of the two
    assert got.readings.screen == 276
    assert got.readings.marked is None
    assert got.origin == {"ohms": READ, "cathode": READ, "anode": READ, "screen": TOLD}


@pytest.mark.parametrize(
    ("valves", "word"),
    [(("V4", "V1"), "not joined"), (("V9",), "no socket"), (("V6",), "no model")],
)
def test_what_is_no_stage_is_said(hall, valves, word):
    with pytest.raises(NoStage, match=word):
        take(hall, valves)


def test_a_cathode_without_resistor(hall, tmp_path):
    with pytest.raises(NoStage, match="no resistor"):
        take(found(tmp_path, hall, "wire V4.3 V5.3"), ("V4", "V5"))
    given = Given(ohms=150.0, drop=10.0, anode=275.0)
    told = take(found(tmp_path, hall, "wire V4.3 V5.3"), ("V4", "V5"), given)
    assert told.readings.ohms == 150
    assert told.origin["cathode"] == TOLD


def test_neither_read_nor_computed(hall, tmp_path):
    floats = found(tmp_path, hall, "wire V4.3 V5.3", "wire V4.7 V5.7")
    with pytest.raises(NoStage, match="not read"):
        take(floats, ("V4", "V5"), Given(ohms=150.0))
