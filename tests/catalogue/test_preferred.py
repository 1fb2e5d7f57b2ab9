"""The preferred numbers and rounding to them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buzzout.catalogue.preferred import SERIES, TOLERANCE, nearest_preferred, preferred, series_of

POSITIVE = st.floats(1e-12, 1e12)


def test_the_old_series():
    assert preferred("e12") == (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
    assert [len(preferred(s)) for s in SERIES] == [3, 6, 12, 24, 48, 96, 192]
    assert tuple(TOLERANCE) == SERIES


@pytest.mark.parametrize(
    ("value", "series", "rule", "rounded"),
    [
        (18.1, "E6", "ratio", 15),  # the borders: 18.17 by ratio, 18.5 by difference
        (18.3, "E6", "ratio", 22),
        (18.3, "E6", "difference", 15),
        (18.6, "E6", "difference", 22),
        (47, "E12", "ratio", 47),
        (9.9, "E12", "ratio", 10),
        (0.099, "E12", "ratio", 0.1),
        (319e3, "E24", "ratio", 330e3),
        (4712, "E96", "ratio", 4750),
    ],
)
def test_rounding(value, series, rule, rounded):
    assert nearest_preferred(value, series, rule) == rounded


@pytest.mark.parametrize(
    ("value", "series", "rule"), [(0, "E24", "ratio"), (-1, "E24", "ratio"), (1, "E24", "luck")]
)
def test_rounding_refuses(value, series, rule):
    with pytest.raises(ValueError, match="no preferred value"):
        nearest_preferred(value, series, rule)


def test_an_unknown_series_is_refused():
    with pytest.raises(ValueError, match="there is no series 'E5'; there are E3, E6"):
        preferred("E5")


@pytest.mark.parametrize(
    ("value", "series"),
    [(4700, "E3"), (330, "E6"), (120, "E12"), (5.1e6, "E24"), (4.12e3, "E96"), (50e3, ""), (0, "")],
)
def test_the_coarsest_series_of_a_value(value, series):
    assert series_of(value) == series


@given(POSITIVE, st.sampled_from(SERIES), st.sampled_from(["ratio", "difference"]))
def test_a_rounded_value_is_preferred_and_stays(value, series, rule):
    rounded = nearest_preferred(value, series, rule)
    assert nearest_preferred(rounded, series, rule) == rounded
    assert series_of(rounded)
    step = max(b / a for a, b in zip(preferred(series), preferred(series)[1:], strict=False))
    step = max(step, 10 * preferred(series)[0] / preferred(series)[-1])
    assert max(rounded / value, value / rounded) <= step


@given(POSITIVE, st.sampled_from(SERIES))
def test_no_preferred_value_is_nearer_by_ratio(value, series):
    rounded = nearest_preferred(value, series)
    error = max(rounded / value, value / rounded)
    for power in range(-14, 14):
        for figure in preferred(series):
            other = float(f"{figure}e{power}")
            assert error <= max(other / value, value / other) * (1 + 1e-9)
