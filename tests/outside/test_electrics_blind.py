"""Anode and screen currents at published points that the models have not seen, 15 types and more.

The table is printed by `python bench/electrics_points.py`; sources stand as `blind.py` says. What
is beyond 10 % in anode current stands, with the reason, in `test_electrics_valves.py`.
"""

from __future__ import annotations

import statistics

import pytest
from blind import held, single

SHIPPED, SINGLE = tuple(held()), tuple(single())


def off(told, figure):
    return [abs(b.error) for b in told if b.what.split()[0] == figure]


def test_fifteen_types_with_points_kept_back_from_their_own_fit():
    assert len({b.type for b in SHIPPED if b.what.split()[0] in ("ia", "ik")}) >= 15


@pytest.mark.parametrize("figure", ["ia", "ik"])
def test_shipped_models(figure):
    errors = off(SHIPPED, figure)
    assert statistics.median(errors) < 0.04
    assert sum(e <= 0.1 for e in errors) >= 0.93 * len(errors)


def test_screen_current():
    """Makers print it as nominal, and differently for like points (6V6: 6 % and 10 % of anode)."""
    errors = off(SHIPPED, "is")
    assert statistics.median(errors) < 0.07
    assert sum(e <= 0.15 for e in errors) >= 0.85 * len(errors)


def test_a_model_from_a_single_point():
    """Half of these lie within 6 %; far from the one point, towards cut-off most of all, they are
    guesses. That is why a set that rests on such a model says so in its remarks."""
    errors = off(SINGLE, "ia")
    assert statistics.median(errors) < 0.06
    assert sum(e <= 0.1 for e in errors) >= 0.6 * len(errors)
    assert max(errors) < 0.95


@pytest.mark.parametrize(
    ("told", "worst"), [(SHIPPED, 0.15), (SINGLE, 0.3)], ids=["shipped", "one"]
)
def test_slope(told, worst):
    assert statistics.median(off(told, "gm")) < 0.08
    assert max(off(told, "gm")) < worst
