"""Letter codes, capacitor codes and old measures."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buzzout.catalogue.letters import TOLERANCE_LETTERS, capacitor_code, rkm
from buzzout.circuit import NotAQuantity


@pytest.mark.parametrize(
    ("said", "unit", "value", "plus"),
    [
        ("4K7J", "ohm", 4700, 0.05),
        ("R22M", "ohm", 0.22, 0.2),
        ("6M8K", "ohm", 6.8e6, 0.1),
        ("47KJ", "ohm", 47e3, 0.05),
        ("4k7", "ohm", 4700, None),
        ("0R1", "ohm", 0.1, None),
        ("1E5", "ohm", 1.5, None),
        ("4L7", "ohm", 0.0047, None),
        ("4n7K", "F", 4.7e-9, 0.1),
        ("n47", "F", 0.47e-9, None),
        ("4µ7", "F", 4.7e-6, None),
        ("2m2", "H", 2.2e-3, None),
        ("1MEG", "ohm", 1e6, None),
        ("2Meg2", "ohm", 2.2e6, None),
        ("50pF", "F", 50e-12, None),
        ("4p7F", "F", 4.7e-12, round(1 / 4.7, 9)),
    ],
)
def test_letter_codes(said, unit, value, plus):
    read = rkm(said, unit)
    assert (read.value, read.unit, read.plus) == (value, unit, plus)


@pytest.mark.parametrize(
    ("said", "unit", "words"),
    [
        ("K", "ohm", "'K' is no letter code such as 4K7 or 4K7J"),
        ("", "ohm", "'' is no letter code such as 4K7 or 4K7J"),
        ("4Q7", "ohm", "'Q' in '4Q7' is no multiplier for ohm"),
        (
            "4k7",
            "F",
            "'k' in '4k7' is no multiplier for F; for 4k7 picofarads say n for k",
        ),
        ("R47", "H", "'R' in 'R47' is no multiplier for H"),
        ("4K7A", "ohm", "'A' at the end of '4K7A' is no tolerance letter"),
    ],
)
def test_letter_codes_that_mean_nothing(said, unit, words):
    with pytest.raises(NotAQuantity) as caught:
        rkm(said, unit)
    assert str(caught.value) == words


@pytest.mark.parametrize(
    ("said", "value", "plus"),
    [
        ("103K", 10e-9, 0.1),
        ("473J", 47e-9, 0.05),
        ("479", 4.7e-12, None),
        ("228", 0.22e-12, None),
        ("107", 100e-6, None),
        ("220", 22e-12, None),
        ("22", 22e-12, None),
        ("22J", 22e-12, 0.05),
        ("4n7K", 4.7e-9, 0.1),
        ("33pJ", 33e-12, 0.05),
        (".022", 22e-9, None),
        (".022M", 22e-9, 0.2),
        ("0.1 mfd", 100e-9, None),
        ("25 mmfd", 25e-12, None),
        ("2u2", 2.2e-6, None),
        ("104Z", 100e-9, 0.8),
    ],
)
def test_capacitor_codes(said, value, plus):
    read = capacitor_code(said)
    assert read.value == pytest.approx(value, rel=1e-12)
    assert (read.unit, read.plus) == ("F", plus)


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("8 MF", 8e-6),
        ("8 mF", 8e-6),
        ("8 Mfd", 8e-6),
        ("8 mfds.", 8e-6),
        ("8 uF", 8e-6),
        ("0,1 µF", 0.1e-6),
        ("250 MMF", 250e-12),
        ("250 mmfd", 250e-12),
        ("250 µµF", 250e-12),
        ("1500 pF", 1500e-12),
        ("100nF", 100e-9),
    ],
)
def test_units_as_lettered_on_cans_and_papers(said, value):
    """The F of the unit is no tolerance letter."""
    read = capacitor_code(said)
    assert (read.value, read.plus) == (pytest.approx(value, rel=1e-12), None)


@pytest.mark.parametrize("said", ["22F", "100F"])
def test_a_letter_behind_bare_figures_is_a_tolerance(said):
    assert capacitor_code(said).plus == 0.01


@pytest.mark.parametrize(
    ("said", "picofarads"), [("3p3C", 0.25), ("4R7D", 0.5), ("479C", 0.25), ("1p0B", 0.1)]
)
def test_below_ten_picofarads_the_letter_is_in_picofarads(said, picofarads):
    read = capacitor_code(said)
    assert read.plus * read.value * 1e12 == pytest.approx(picofarads, rel=1e-6)


def test_old_measures():
    """A jar is 1000 centimetres of capacitance, and both are about 1.1 nF."""
    assert capacitor_code("1 jar").value == pytest.approx(capacitor_code("1000cm").value)
    assert capacitor_code("2 jars").value == pytest.approx(2.222e-9, rel=1e-3)
    assert capacitor_code("10kcm").value == pytest.approx(11.11e-9, rel=1e-3)


def test_a_lopsided_tolerance():
    read = capacitor_code("223S")
    assert (read.minus, read.plus) == (0.2, 0.5)


@pytest.mark.parametrize("said", ["abc", "103A", "", "4k7"])
def test_no_capacitor_code(said):
    with pytest.raises(NotAQuantity):
        capacitor_code(said)


@given(
    st.integers(1, 999),
    st.sampled_from(["R", "K", "M"]),
    st.integers(0, 2),
    st.sampled_from(["", *TOLERANCE_LETTERS]),
)
def test_the_letter_stands_for_the_point(figures, letter, place, tolerance):
    """Wherever the letter stands, the value is what a point there says."""
    digits = str(figures)
    cut = min(place, len(digits))
    said = f"{digits[:cut]}{letter}{digits[cut:]}{tolerance}"
    if not digits[cut:] and tolerance:
        said = f"{digits}{letter}{tolerance}"
    power = {"R": 1, "K": 1e3, "M": 1e6}[letter]
    assert rkm(said).value == pytest.approx(float(f"{digits[:cut] or 0}.{digits[cut:]}0") * power)
    assert rkm(said).plus == (TOLERANCE_LETTERS[tolerance][1] if tolerance else None)
