"""Values as the trade prints them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buzzout.circuit import NotAQuantity, Quantity, parse, printed


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("4k7", "ohm", 4700),
        ("4.7k", "ohm", 4700),
        ("4,7k", "ohm", 4700),
        ("0,047u", "F", 47e-9),
        ("0,100", "F", 100e-9),
        ("470R", "ohm", 470),
        ("47", "ohm", 47),
        ("R47", "ohm", 0.47),
        ("4R7", "ohm", 4.7),
        ("k33", "ohm", 330),
        ("1M", "ohm", 1e6),
        ("1Meg", "ohm", 1e6),
        ("2M2", "ohm", 2.2e6),
        ("100 ohms", "ohm", 100),
        ("22n", "F", 22e-9),
        ("22nF", "F", 22e-9),
        ("22nf", "F", 22e-9),
        ("n47", "F", 0.47e-9),
        (".022", "F", 22e-9),
        ("0.1 mfd", "F", 0.1e-6),
        ("100 mmf", "F", 100e-12),
        ("25uF", "F", 25e-6),
        ("25µF", "F", 25e-6),
        ("100", "F", 100e-12),
        ("450V", "V", 450),
        ("6V3", "V", 6.3),
        ("80mA", "A", 0.08),
        ("0.5W", "W", 0.5),
        ("10H", "H", 10),
        ("50 Hz", "Hz", 50),
        ("10%", "%", 10),
    ],
)
def test_values_as_printed(text, unit, value):
    assert parse(text, unit).value == pytest.approx(value, rel=1e-12)
    assert parse(text, unit).unit == unit


@pytest.mark.parametrize(
    ("text", "unit", "told"),
    [
        ("lk", "ohm", "'lk' is not a value; did you mean '1k'?"),
        ("l0k", "ohm", "'l0k' is not a value; did you mean '10k'?"),
        ("1Ok", "ohm", "'1Ok' is not a value; did you mean '10k'?"),
        ("4kl", "ohm", "'4kl' is not a value; did you mean '4k1'?"),
        ("22x", "F", "'22x' has no unit that I know behind the number"),
        ("450V", "ohm", "'450V' is in V, expected ohm"),
        ("abc", "ohm", "'abc' is not a value"),
    ],
)
def test_slips_are_told_with_their_likely_fix(text, unit, told):
    with pytest.raises(NotAQuantity) as caught:
        parse(text, unit)
    assert str(caught.value) == told


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (4700, "ohm", "4.7k"),
        (0.47, "ohm", "0.47R"),
        (470, "ohm", "470R"),
        (999999.9, "ohm", "1M"),
        (22e-9, "F", "22n"),
        (0.1e-6, "F", "100n"),
        (450, "V", "450V"),
        (0.08, "A", "80mA"),
        (10, "%", "10%"),
        (0, "V", "0V"),
    ],
)
def test_printed(value, unit, text):
    assert printed(value, unit) == text


@given(st.floats(1e-3, 1e9), st.sampled_from(["ohm", "F", "V", "A"]))
def test_what_is_printed_reads_back(value, unit):
    value *= 1e-9 if unit == "F" else 1
    assert parse(printed(value, unit), unit).value == pytest.approx(value, rel=6e-4)


def test_spelling_takes_no_part_in_equality():
    assert Quantity(4700.0, "ohm", text="4k7") == Quantity(4700.0, "ohm", text="4.7k")
    assert Quantity(4700.0, "ohm") != Quantity(4700.0, "ohm", 0.1, 0.1)


def test_tolerance_spans():
    assert parse("100k", "ohm").span() == pytest.approx((80e3, 120e3))
    assert parse("100k", "ohm").within(0.1).span() == pytest.approx((90e3, 110e3))
    assert parse("32u", "F").within(0.2, 1.0).span() == pytest.approx((25.6e-6, 64e-6))
