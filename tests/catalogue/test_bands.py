"""Bands both ways, and what is said of bands that mean nothing."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buzzout.catalogue.bands import (
    COLOURS,
    DIGITS,
    MULTIPLIERS,
    TOLERANCES,
    bands,
    bands_for,
    colour,
)
from buzzout.catalogue.preferred import SERIES, preferred
from buzzout.circuit import NotAQuantity, Quantity


@pytest.mark.parametrize(
    ("said", "value", "tolerance"),
    [
        ("brown black yellow silver", 100e3, 0.1),
        ("brown black yellow", 100e3, 0.2),
        ("yellow violet gold gold", 4.7, 0.05),
        ("red red silver gold", 0.22, 0.05),
        ("red red pink gold", 0.022, 0.05),
        ("orange orange orange red gold", 33300, 0.05),
        ("brown black black red brown red", 10e3, 0.01),
        ("GN BU BN GD", 560, 0.05),
        ("Gray RED purple none", 820e6, 0.2),
    ],
)
def test_bands_are_read(said, value, tolerance):
    assert bands(said.split()) == Quantity(value, "ohm", tolerance, tolerance)
    assert bands(said.split()).text == said


@pytest.mark.parametrize(
    ("said", "value", "tolerance"),
    [
        ("green blue orange", 56e3, 0.2),
        ("red black yellow silver", 200e3, 0.1),
        ("blue grey black yellow", 68, 0.05),
        ("blue grey black white", 68, 0.1),
    ],
)
def test_body_end_and_dot_are_read(said, value, tolerance):
    assert bands(said.split(), body=True) == Quantity(value, "ohm", tolerance, tolerance)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (
            "pink brown red gold",
            "pink is no first band: it stands for no figure",
        ),
        (
            "gold violet yellow",
            "gold is no first band: it stands for no figure; from the other end it reads 4.7R",
        ),
        (
            "silver yellow black brown",
            "silver is no first band: it stands for no figure; from the other end it reads 100k",
        ),
        (
            "black brown red",
            "black is no first band: no value begins with 0; from the other end it reads 21R",
        ),
        ("brown gold red", "gold is no second band: it stands for no figure"),
        ("brown black none", "none is no multiplier as third band"),
        ("brown", "a resistor has three to six bands, not 1"),
        ("red red red red red red red", "a resistor has three to six bands, not 7"),
        ("redd red red", "'redd' is no colour of the code; did you mean 'red'?"),
        ("mauve black red", "'mauve' is no colour of the code"),
        (
            "brown black yellow pink",
            (
                "pink is no tolerance; it is one of brown, red, orange, yellow, green, blue, "
                "violet, grey, gold, silver, none"
            ),
        ),
        (
            "brown black black red brown gold",
            "gold says no temperature coefficient as sixth band",
        ),
    ],
)
def test_bands_that_mean_nothing_are_explained(said, words):
    with pytest.raises(NotAQuantity) as caught:
        bands(said.split())
    assert str(caught.value) == words


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("red black", "say body, end and dot, and the tolerance mark if there is one"),
        (
            "red black yellow brown",
            "brown is no tolerance; it is one of gold, yellow, silver, white, none",
        ),
        ("red black none", "none is no multiplier as dot band"),
    ],
)
def test_bodies_that_mean_nothing_are_explained(said, words):
    with pytest.raises(NotAQuantity) as caught:
        bands(said.split(), body=True)
    assert str(caught.value) == words


@pytest.mark.parametrize(
    ("value", "tolerance", "shown"),
    [
        (4700, 0.05, "yellow violet red gold"),
        (1e6, 0.1, "brown black green silver"),
        (150, None, "brown green brown"),
        (150, 0.2, "brown green brown"),
        (12.1, 0.01, "brown red brown gold brown"),
        (100, 0.01, "brown black black black brown"),
        (0.22, 0.05, "red red silver gold"),
        (33300, 0.05, "orange orange orange red gold"),
    ],
)
def test_a_value_is_shown_in_bands(value, tolerance, shown):
    assert " ".join(bands_for(value, tolerance)) == shown


@pytest.mark.parametrize(
    ("value", "tolerance", "words"),
    [
        (4712, 0.05, "4.712k cannot be shown in bands"),
        (27400, None, "27.4k cannot be shown in bands"),
        (0, 0.05, "0 ohm has no bands"),
        (-1, 0.05, "-1 ohm has no bands"),
        (4700, 0.07, "there is no colour for a tolerance of 7.0000%"),
    ],
)
def test_a_value_without_bands_says_so(value, tolerance, words):
    with pytest.raises(NotAQuantity) as caught:
        bands_for(value, tolerance)
    assert str(caught.value) == words


@given(
    st.sampled_from(SERIES).flatmap(lambda s: st.tuples(st.just(s), st.sampled_from(preferred(s)))),
    st.integers(-2, 6),
    st.sampled_from([None, *TOLERANCES.values()]),
)
def test_bands_of_a_value_give_it_back(choice, power, tolerance):
    series, figure = choice
    if tolerance is None or tolerance > 0.1:  # without a fourth band there are two figures
        figure = int(str(figure)[:2])
    value = float(f"{figure}e{power}")
    shown = bands_for(value, tolerance)
    again = bands(shown)
    assert (again.value, again.unit) == (value, "ohm"), series
    assert again.plus == again.minus == (0.2 if tolerance is None else tolerance)


@given(
    st.lists(st.sampled_from(DIGITS), min_size=2, max_size=3),
    st.sampled_from(list(MULTIPLIERS)),
    st.sampled_from(list(TOLERANCES)),
)
def test_figures_times_multiplier(figures, multiplier, tolerance):
    if figures[0] == "black" or tolerance == "none":
        return
    number = sum(DIGITS.index(f) * 10**i for i, f in enumerate(reversed(figures)))
    read = bands([*figures, multiplier, tolerance])
    assert read.value == pytest.approx(number * 10.0 ** MULTIPLIERS[multiplier], rel=1e-12)


@given(st.lists(st.sampled_from(COLOURS), max_size=8), st.booleans())
def test_any_colours_are_read_or_explained(said, body):
    try:
        value = bands(said, body).value
    except NotAQuantity as error:
        value = 1.0 if str(error) else 0.0
    assert value > 0


@pytest.mark.parametrize(("word", "meant"), [("GRAY", "grey"), ("sr", "silver"), (" Red ", "red")])
def test_spellings_of_colours(word, meant):
    assert colour(word) == meant
