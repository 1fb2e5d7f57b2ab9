"""How to confirm: what the meter reads now and once it is right, checked against the drawing."""

import re
from pathlib import Path

import pytest
from small_set import SET, changed

from buzzout.circuit import CHASSIS, Point, parse
from buzzout.compare import compare
from buzzout.electrics.resistance import resistances
from buzzout.job import punch_list
from buzzout.language import load

DEMO = Path(__file__).parents[2] / "examples" / "hall-amplifier"
HALL = ("hall-amplifier.reference", "as-received.found")

TOLD = re.compile(
    r"Unplugged, discharged, valves out[^:]*: (\S+) to (\S+) reads (.+) now and (.+) once"
)


def point(text):
    return CHASSIS if text == "chassis" else Point(*text.split("."))


def ohms(words):
    if words == "open":
        return float("inf")
    return 0.0 if words == "less than 1R" else parse(words.removeprefix("about "), "ohm").value


@pytest.mark.parametrize(
    "swap",
    [
        ("R5 resistor 1k5 V1.3 chassis", "R5 resistor 15k V1.3 chassis"),
        ("R6 resistor 470k V2.2 chassis", "# R6 away"),
        ("wire V2.9 HT2", "wire V2.9 HT2\nwire V2.2 V2.9"),
        ("wire V2.9 HT2", "wire V2.8 HT2"),
        ("wire J1.tip V1.2", "# open"),
        ("wire M1.E PE1", "# open"),
    ],
)
def test_the_second_reading_is_that_of_the_drawing(punched, circuit, swap):
    """With one finding, putting it right makes the drawing: its resistance is the reading."""
    [item] = punched(swap).items
    told = TOLD.search(item.confirm)
    assert told, item.confirm
    a, b, now, right = told.groups()
    drawn = resistances(circuit(SET)).between(point(a), point(b))
    low, high = drawn.widened()
    assert low * 0.95 <= ohms(right) <= high * 1.05
    assert now != right


def test_every_later_reading_of_the_demo_is_that_of_the_mended_board():
    """A bridged heater line would make V1.4 read less than 1R with V1 alone put right."""
    hall = compare(*(load(DEMO / f"{name}.buzz").circuit for name in HALL))
    mended = resistances(hall.repaired)
    told = [(item, TOLD.search(item.confirm)) for item in punch_list(hall).items]
    assert "socket-mirrored" in {item.finding.kind for item, found in told if found}
    for item, found in told:
        if found:
            a, b, _, right = found.groups()
            low, high = mended.between(point(a), point(b)).widened()
            assert low * 0.95 <= ohms(right) <= high * 1.05, item.confirm


def test_where_every_reading_hangs_on_another_finding_that_one_is_named(punched, circuit):
    """R6 is wrong and bridged to R3: its own reading is that of the drawing with both mended."""
    swaps = [
        ("R6 resistor 470k V2.2 chassis", "R6 resistor 1M V2.2 chassis"),
        ("wire J1.tip V1.2", "wire J1.tip V1.2\nwire V1.2 V2.2"),
    ]
    bridge, wrong = punched(*swaps).items
    assert (bridge.finding.kind, wrong.finding.kind) == ("bridge", "value-wrong")
    now, alone, whole = (
        resistances(circuit(text)).ohms(Point("V2", "2"), CHASSIS)
        for text in (changed(*swaps), changed(swaps[1]), SET)
    )
    told = re.search(
        r"V2.2 to chassis reads (.+) now, (.+) once this alone is put right, and (.+) once number"
        r" (\d) is too\.",
        wrong.confirm,
    )
    assert [ohms(told[n]) for n in (1, 2, 3)] == pytest.approx([now, alone, whole], rel=0.06)
    assert int(told[4]) == bridge.number


@pytest.mark.parametrize(
    ("at", "said"),
    [
        (("V1.3", "V2.3"), r"numbers \d and \d are"),
        (("V1.3", "V2.3", "T2.green", "T1.h4"), "everything else is"),
    ],
)
def test_a_reading_that_hangs_on_several_names_them_and_on_many_does_not(punched, at, said):
    """R6 is wrong, and of the resistors too many on its grid each would spoil its reading."""
    more = "".join(f"\nR9{n} resistor 1M V2.2 {each}" for n, each in enumerate(at))
    wrong = ("R6 resistor 470k V2.2 chassis", f"R6 resistor 100k V2.2 chassis{more}")
    [item] = [i for i in punched(wrong).items if i.finding.kind == "value-wrong"]
    told = rf" now, .+ once this alone is put right, and about 470k once {said} too\."
    assert re.search(told, item.confirm)


def test_line_and_neutral_are_told_apart_at_the_fuse(punched):
    swaps = [("wire M1.L F1.1", "wire M1.N F1.1"), ("wire M1.N T1.0", "wire M1.L T1.0")]
    [item] = punched(*swaps).items
    assert TOLD.search(item.confirm)
    assert "F1." in item.confirm or "S1." in item.confirm


def test_where_no_ohmmeter_tells_nothing_is_claimed(punched):
    swap = ("C1 capacitor 22n 630V V1.1 V2.2", "C1 capacitor 220n 630V V1.1 V2.2")
    [item] = punched(swap).items
    assert item.confirm == ("Lift one lead and use a capacitance meter: no ohmmeter tells this.")


def test_a_harmless_difference_needs_no_meter(punched):
    swap = ("socket V1 B9A ECC83", "socket V1 B9A 12AX7")
    [item] = punched(swap).items
    assert item.finding.harmless
    assert item.confirm == ""
