"""Preferred numbers against the package `eseries` (the published tables of IEC 60063)."""

from __future__ import annotations

import eseries
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buzzout.catalogue.preferred import SERIES, TOLERANCE, nearest_preferred, preferred

# The page of the package prints 319 in E24 as 330; MathWorks' exchange, entry 48840, prints the
# E12 values of 5, 42, 18 and 100.
PRINTED = [
    (319, "E24", 330),
    (5, "E12", 4.7),
    (42, "E12", 39),
    (18, "E12", 18),
    (100, "E12", 100),
    (500, "E12", 470),
]


@pytest.mark.parametrize("name", SERIES)
def test_every_series_is_the_published_one(name):
    assert preferred(name) == tuple(eseries.series(eseries.ESeries[name]))


@pytest.mark.parametrize("name", SERIES)
def test_every_tolerance_is_the_published_one(name):
    assert TOLERANCE[name] == pytest.approx(eseries.tolerance(eseries.ESeries[name]))


@pytest.mark.parametrize(("value", "name", "rounded"), PRINTED)
def test_printed_examples_of_rounding(value, name, rounded):
    """Clear cases: both rules give the printed value."""
    assert nearest_preferred(value, name, "ratio") == rounded
    assert nearest_preferred(value, name, "difference") == rounded


@given(st.floats(1e-3, 1e6), st.sampled_from(SERIES))
def test_rounding_by_difference_against_eseries(value, name):
    """The package takes the arithmetic rule; on a border, or within 1e-9 of it, either will do."""
    theirs = eseries.find_nearest(eseries.ESeries[name], value)
    ours = nearest_preferred(value, name, "difference")
    assert abs(ours - value) == pytest.approx(abs(theirs - value), rel=1e-9, abs=1e-9 * value)
