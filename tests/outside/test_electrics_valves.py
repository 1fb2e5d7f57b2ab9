"""Valve models against published operating points and stage tables that they were not fitted to.

Sources stand beside every figure in `references/models/points.yaml`. Prints nothing; the tables are
printed by `python bench/electrics_points.py` and `python tools/fit_valves.py --check`.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from blind import apart, gains, like_circuits

from buzzout.electrics.fit import residuals
from buzzout.electrics.models import SPREAD
from buzzout.electrics.valves import Model

HERE = Path(__file__).parents[2] / "references" / "models"
POINTS = yaml.safe_load((HERE / "points.yaml").read_text(encoding="utf-8"))
MODELS = yaml.safe_load((HERE / "models.yaml").read_text(encoding="utf-8"))


def lines(use, figure):
    for name, told in POINTS["types"].items():
        values = {k: v for k, v in MODELS[name].items() if k not in ("kind", "names", "memory")}
        rows = [r for r in told["rows"] if r["use"] == use and r["source"] != "from-memory"]
        for line in residuals(Model(**values), rows):
            if line.what.split()[0] in figure:
                yield pytest.param(line, id=f"{name} {line.what} {line.source}")


# Printed as approximate, 10 microamps: judged below in absolute terms.
CUT_OFF = "ia at 250/-24 V"
# Beyond 10 %, how far [1], and why.
EXPLAINED = {
    "EBF80 ia at 250/250/-31.46 V": 0.17,  # far down a variable-mu grid
    "EL84 ia at 250/250/-14.41 V": 0.22,  # table and curve of this sheet: a third apart
    "EL84 ia at 250/250/-10.21 V": 0.13,  # the same
    "7591 ia at 400/400/-20.5 V": 0.14,  # 40 mA; the row at 450/400/-21 V of this sheet has 33
    "12SR7 ia at 281.2/-18 V": 0.18,  # this curve is drawn 4 V left of its neighbours' spacing
    "12SR7 ia stage 26.5 V, 0 k, Rk 0": 0.28,  # grid current at 26 V on the anode: not modelled
    "ECC88 ia at 220/-6.5 V": 0.17,  # 6.5 V is also its cut-off at 150 V, spread 5 to 8.5 V
}


@pytest.mark.parametrize("line", list(lines("held", ("ia", "ik"))))
def test_current_at_points_held_back(line, request):
    if line.what == CUT_OFF:
        assert line.modelled < 0.05
        return
    name = request.node.callspec.id.removesuffix(f" {line.source}")
    assert abs(line.error) < EXPLAINED.get(name, 0.1)


@pytest.mark.parametrize("line", list(lines("fit", ("ia", "ik"))))
def test_current_at_points_fitted(line):
    """Within 6 %, 15 % read off a chart; the EL84 sheet contradicts itself near cut-off."""
    near_cut_off = line.what in {"ia at 250/250/-13.22 V", "ia at 300/300/-14.7 V"}
    assert abs(line.error) < (0.2 if near_cut_off else 0.15 if "curve" in line.source else 0.06)


SEVERAL = {k: told for k, told in like_circuits().items() if len({g.maker for g in told}) > 1}


@pytest.mark.parametrize("like", SEVERAL, ids=" ".join)
def test_stage_gain_lies_within_what_several_makers_print(like):
    """Inside their spread for like circuits, or within 4 % of the nearest."""
    assert abs(apart(SEVERAL[like])) < 0.04


# Tables that other makers, or the curves beside them, contradict: lowest and highest error.
DOUBTFUL = {
    ("ECC83", "brimar"): (-0.07, 0.15),
    ("ECC82", "brimar"): (0.0, 0.18),
    ("12SR7", "ge"): (0.0, 0.28),
    ("ECC83", "tungsol"): (-0.1, 0.07),  # the one row of 90 V and 100 k; its 470 k is 1 % off
    ("ECC82", "tungsol"): (-0.11, 0.07),  # the one row of 90 V and 100 k into 100 k
    ("EBF80", "philips"): (-0.11, 0.13),  # prints 110 and 160 for like circuits
}


@pytest.mark.parametrize("gain", [g for g in gains() if g.use == "held"], ids=str)
def test_stage_gain_of_each_table_that_was_not_fitted(gain):
    """Within 7 %, the aim."""
    low, high = DOUBTFUL.get((gain.type, gain.maker), (-0.07, 0.07))
    assert low < gain.error < high


def test_worked_example_of_the_low_table():
    values = {k: v for k, v in MODELS["ECC83"].items() if k not in ("kind", "names", "memory")}
    row = {
        "stage": {"vb": 250, "ra_k": 470, "next_k": 470, "rk": 4300},
        "gain": 97 * 235 / (235 + 109),
        "mu": 97,
        "ra": 109,
        "use": "held",
        "source": "",
    }
    for line in residuals(Model(**values), [row]):
        assert abs(line.error) < 0.12, line


def test_all_sources_are_named():
    for told in POINTS["types"].values():
        for row in told["rows"]:
            assert row["source"] in POINTS["sources"]


# Production limits of a present maker (Electro-Harmonix sheets 6SN7EH, 6V6EH, EL34EH): lowest,
# nominal, highest anode current. The assumed spread must cover most of that and not much more.
LIMITS = [(7, 9, 13), (33, 45, 59), (80, 100, 120)]


@pytest.mark.parametrize(("low", "nominal", "high"), LIMITS)
def test_assumed_spread_against_production_limits(low, nominal, high):
    width = 2 * SPREAD * nominal
    assert 0.85 * (high - low) < width < 1.6 * (high - low)
