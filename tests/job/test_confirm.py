"""How to confirm: what the meter reads now and once it is right, checked against the drawing."""

import re

import pytest
from small_set import SET

from buzzout.circuit import CHASSIS, Point, parse
from buzzout.electrics.resistance import resistances

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
