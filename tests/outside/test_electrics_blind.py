"""Anode and screen currents at published points that the models have not seen, 15 types and more.

The table is printed by `python bench/electrics_points.py`; sources stand as `blind.py` says.
"""

from __future__ import annotations

import statistics

import pytest
from blind import everything

TOLD = tuple(everything())


def off(figure, way=None):
    return {
        f"{b.type} {b.what}": abs(b.error)
        for b in TOLD
        if b.what.split()[0] == figure and (way is None or b.way == way)
    }


def test_fifteen_types():
    assert len({b.type for b in TOLD if b.what.split()[0] in ("ia", "ik")}) >= 15


# aim: anode current within 10 %; the far edge is cut-off and grid leak bias (both named below)
HARD = {
    "EL84 ia at 250/250/-11.6 V": 0.11,
    "EABC80 ia stage 100 V, 220 k, Rk 0": 0.13,
    "EABC80 ia stage 100 V, 100 k, Rk 0": 0.11,
}


@pytest.mark.parametrize("figure", ["ia", "ik"])
def test_shipped_models(figure):
    beyond = {what: error for what, error in off(figure, "held").items() if error > 0.1}
    assert all(error < HARD.get(what, 0) for what, error in beyond.items()), beyond
    assert statistics.median(off(figure, "held").values()) < 0.03


def test_a_model_from_a_single_point():
    """Half of these lie within 7 %; far from the one point they are guesses, up to 60 % near
    cut-off. That is why a set that rests on such a model says so in its remarks."""
    errors = sorted([*off("ia", "one").values(), *off("ia", "kin").values()])
    assert statistics.median(errors) < 0.07
    assert errors[-1] < 0.6


def test_slope():
    assert statistics.median(off("gm").values()) < 0.07
    assert max(off("gm").values()) < 0.2
