"""Dots of moulded mica capacitors."""

from __future__ import annotations

import pytest

from buzzout.catalogue.mica import mica
from buzzout.circuit import NotAQuantity


@pytest.mark.parametrize(
    ("dots", "style", "value", "rest"),
    [
        ("red green black", "", 25e-12, (0.2, 500, "mica")),
        ("red green brown red gold", "", 250e-12, (0.05, 200, "mica")),
        ("red green brown blue gold brown", "old six", 2510e-12, (0.05, 600, "mica")),
        ("red green brown none green black", "old six", 251e-12, (0.05, 500, "mica")),
        ("white brown red black black red", "war six", 1200e-12, (0.2, None, "mica")),
        ("black brown red black blue red", "war six", 1200e-12, (None, None, "mica")),
        ("silver red brown black gold red", "war six", 2100e-12, (0.05, None, "paper")),
    ],
)
def test_dots(dots, style, value, rest):
    read = mica(dots.split(), style)
    assert read.value.value == pytest.approx(value, rel=1e-12)
    assert (read.value.plus, read.volts, read.material) == rest


@pytest.mark.parametrize(
    ("dots", "style", "words"),
    [
        (
            "red",
            "",
            "1 dots: say three, five, or six with the style 'old six' or 'war six'",
        ),
        (
            "red red red red red red",
            "",
            "6 dots: say three, five, or six with the style 'old six' or 'war six'",
        ),
        (
            "red red red",
            "war six",
            "3 dots: say three, five, or six with the style 'old six' or 'war six'",
        ),
        ("gold red brown", "", "gold stands for no figure"),
        ("red red none", "", "none is no multiplier"),
        ("red red red black red", "", "black is no voltage of a mica capacitor"),
        ("red red red red black", "", "black is no tolerance of a mica capacitor"),
        ("red red rod", "", "'rod' is no colour of the code; did you mean 'red'?"),
    ],
)
def test_dots_that_mean_nothing(dots, style, words):
    with pytest.raises(NotAQuantity) as caught:
        mica(dots.split(), style)
    assert str(caught.value) == words
