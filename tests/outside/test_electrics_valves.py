"""Valve models against published operating points and stage tables that they were not fitted to.

Sources stand beside every figure in `references/models/points.yaml`. Prints nothing; the table is
printed by `python tools/fit_valves.py --check`.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

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
# Grid leak bias at 100 V rests on a tenth of a volt of contact potential.
STARVED = ("stage 100 V, 220 k, Rk 0", "stage 100 V, 100 k, Rk 0")


@pytest.mark.parametrize("line", list(lines("held", ("ia", "ik"))))
def test_current_at_points_held_back(line):
    """Within 10 % (the aim), 11 % near cut-off, 20 % where contact potential alone is the bias."""
    if line.what == CUT_OFF:
        assert line.modelled < 0.05
        return
    limit = 0.2 if line.what.endswith(STARVED) else 0.115
    assert abs(line.error) < limit


@pytest.mark.parametrize("line", list(lines("fit", ("ia", "ik"))))
def test_current_at_points_fitted(line):
    assert abs(line.error) < 0.06


def gains(*sources):
    return [p for p in lines("held", ("gain",)) if p.values[0].source in sources]


@pytest.mark.parametrize("line", gains("philips-ecc82", "philips-eabc80"))
def test_stage_gain_of_two_makers_tables(line):
    assert abs(line.error) < (0.09 if line.what.endswith(STARVED) else 0.07)


HIGH_LOADS = ("470 k", "510 k")


@pytest.mark.parametrize("line", gains("tungsol-12ax7", "ge-12ax7"))
def test_stage_gain_of_the_ecc83(line):
    """Two American tables; with loads of half a megohm the model is high by up to 16 %."""
    high = any(load in line.what for load in HIGH_LOADS)
    assert -0.07 < line.error < (0.16 if high else 0.07)


@pytest.mark.parametrize("line", gains("brimar-12ax7", "brimar-12au7"))
def test_stage_gain_lies_above_the_low_tables(line):
    """One maker prints gains a fifth below the others' and below its own curves.

    Its own worked example (250 V, 470 k and 470 k, mu 97, 109 k) multiplies out to 66, its table
    prints 57. The model is held to the example, not to the table.
    """
    assert -0.05 < line.error < 0.26


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


def test_types_with_points_held_back_and_all_sources_named():
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
