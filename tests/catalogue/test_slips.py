"""One slip that explains a wrong value."""

from __future__ import annotations

import pytest

from buzzout.catalogue.slips import colour_slip
from buzzout.circuit import parse


@pytest.mark.parametrize(
    ("marked", "wanted", "words"),
    [
        # a figure band
        ("330k", "430k", "orange read for yellow?"),
        ("68k", "58k", "blue read for green?"),
        ("220", "120", "red read for brown?"),
        # a multiplier band: the nearest of the explanations, before "ten times"
        ("220k", "22k", "yellow read for orange?"),
        ("12k", "1k2", "orange read for red?"),
        # three bands from the wrong end: red black yellow is 200 k, yellow black red is 4 k
        ("200k", "4k", "bands read from the wrong end?"),
        # a factor where no two colours look alike, or no bands can be had
        ("5M6", "56k", "the same figures, a hundred times more: a slip in the multiplier?"),
        ("22n", "220n", "the same figures, ten times less: a slip in the multiplier?"),
        ("100n", "100p", "the same figures, a thousand times more: a slip in the multiplier?"),
        ("0.1 mmf", "0.1 mfd", "the same figures, a million times less: a slip in the multiplier?"),
        # nothing explains it
        ("220k", "270k", ""),
        ("100k", "47k", ""),
        ("4k7", "4k7", ""),
    ],
)
def test_slips(marked, wanted, words):
    unit = "F" if marked[-1] in "npf" else "ohm"
    assert colour_slip(parse(marked, unit), parse(wanted, unit)) == words


def test_different_units_are_no_slip():
    assert colour_slip(parse("100n", "F"), parse("1k", "ohm")) == ""


def test_nothing_is_no_slip():
    assert colour_slip(parse("0", "ohm"), parse("1k", "ohm")) == ""
