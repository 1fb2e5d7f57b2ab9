"""Fitting a valve's parameters to published figures, by least squares on relative errors.

Published figures of one type are few; where they leave a parameter open it stays near what valves
of its kind have (a weak prior, listed below, common practice). Nothing is taken from anybody's
parameter set.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from buzzout.electrics.network import Floats
from buzzout.electrics.stages import Stage, settle
from buzzout.electrics.valves import Flow, Model, flow

# How well a printed figure is meant, as a relative deviation.
TRUST = {"ia": 0.02, "is": 0.05, "ik": 0.02, "gm": 0.06, "ra": 0.12, "mu": 0.05, "gain": 0.04}

# Prior: parameter, centre, how far it may reasonably go (in the logarithm, except "contact").
_TRIODE = (
    ("power", 1.35, 0.08),
    ("sharpness", 5.0, 0.8),
    ("bend", 17.0, 0.4),
    ("contact", 0.5, 0.3),
    ("soft", 0.2, 0.3),
)
_PENTODE = (*_TRIODE, ("slope", 0.6, 0.8), ("knee", 0.09, 0.3), ("rise", 2e-4, 1.0))
_BEAM = (*_TRIODE, ("slope", 1.0, 0.4), ("knee", 0.07, 0.3), ("rise", 2e-4, 1.0))
# Two pitches: what the curves of EBF80, EBF89 and EF89 have in common.
_REMOTE = (*_PENTODE, ("far", 0.06, 0.6), ("wide", 0.4, 0.3))
PRIORS = {
    "triode": _TRIODE,
    "pentode": _PENTODE,
    "beam": _BEAM,
    "remote": tuple((n, 2.5, 0.5) if n == "sharpness" else (n, c, w) for n, c, w in _REMOTE),
}


@dataclass(frozen=True, slots=True)
class Residual:
    """One printed figure and what the model says. `error` is relative."""

    what: str
    printed: float
    modelled: float
    use: str
    source: str

    @property
    def error(self) -> float:
        """Modelled over printed, less one. [1]."""
        return self.modelled / self.printed - 1


def stage_of(row: Mapping[str, Any]) -> Stage:
    """A stage as the data file writes it."""
    told = row["stage"]
    return Stage(
        supply=told["vb"],
        load=told.get("ra_k", 0) * 1e3,
        cathode=told["rk"],
        following=told["next_k"] * 1e3 if told.get("next_k") else math.inf,
        screen_volts=told.get("vs", 0.0),
        screen_ohms=told.get("rs_k", 0) * 1e3,
        grid_volts=told.get("vg", 0.0),
        leak=told.get("leak_k", 100) * 1e3,
        valves=2 if row.get("pair") else 1,
        triode=bool(row.get("triode")),
        to_cathode=bool(told.get("to_cathode")),
    )


def figures(model: Model, row: Mapping[str, Any]) -> dict[str, float]:
    """All figures that a row could print, from the model. [mA], [mA/V], [kohm]."""
    if "point" in row:
        va, vs, vg = row["point"]
        got, gain = flow(model, vg, va if row.get("triode") else vs, va), math.nan
    else:
        point = settle(model, stage_of(row))
        got, gain = point.flow, point.gain
    return _figures(model, got, gain, triode=bool(row.get("triode")))


def _figures(model: Model, got: Flow, gain: float, *, triode: bool) -> dict[str, float]:
    (_, _, _), screen, anode = got.slopes
    gm, ga = anode[0], anode[2]
    if triode and model.screen:
        gm, ga = anode[0] + screen[0], anode[1] + anode[2] + screen[1] + screen[2]
    told = {"ia": got.anode, "is": got.screen, "ik": got.anode + got.screen, "gm": gm}
    scaled = {key: 1e3 * value for key, value in told.items()}
    mu = _screen_mu(got) if model.screen and not triode else gm / max(ga, 1e-15)
    return {**scaled, "ra": 1e-3 / max(ga, 1e-15), "mu": mu, "gain": gain}


def _screen_mu(got: Flow) -> float:
    """Screen to grid amplification: what screen voltage a grid volt is worth at the cathode."""
    grid = got.slopes[1][0] + got.slopes[2][0]
    return grid / max(got.slopes[1][1] + got.slopes[2][1], 1e-15)


def residuals(model: Model, rows: Iterable[Mapping[str, Any]]) -> list[Residual]:
    """Every printed figure of the rows against the model."""
    told: list[Residual] = []
    for row in rows:
        got, where = figures(model, row), _name(row)
        told.extend(
            Residual(f"{key} {where}", row[key], got[key], row["use"], row["source"])
            for key in TRUST
            if key in row
        )
    return told


def _name(row: Mapping[str, Any]) -> str:
    mark = " triode" if row.get("triode") else ""
    mark += " pair" if row.get("pair") else ""
    if "point" in row:
        va, vs, vg = row["point"]
        return f"at {va}/{vs}/{vg} V{mark}" if vs else f"at {va}/{vg} V"
    told = row["stage"]
    return f"stage {told['vb']} V, {told.get('ra_k', 0)} k, Rk {told['rk']}{mark}"


@dataclass(frozen=True, slots=True)
class Prior:
    """What valves of a kind have, and how far one may be from it (in the logarithm)."""

    name: str
    centre: float
    width: float

    @property
    def start(self) -> float:
        """The centre as an unknown: contact potential as it is, all others as logarithms."""
        return self.centre if self.name == "contact" else math.log(self.centre)


def amplification(rows: Sequence[Mapping[str, Any]], kind: str) -> Prior:
    """Amplification factor (screen to grid in a pentode) as printed, else as slopes suggest it.

    A current that goes with the 1.4th power of Vg + V/mu has V/mu = 1.4 I/S - Vg. [1]
    """
    own = [r for r in rows if not r.get("triode")]
    printed = [float(r["mu"]) for r in own if "mu" in r]
    if printed:
        return Prior("mu", printed[0], 0.15)
    if kind == "triode":
        printed = [r["gm"] * r["ra"] for r in own if "gm" in r and "ra" in r]
        if printed:
            return Prior("mu", printed[0], 0.15)
    for row in own:
        if {"point", "ia", "gm"} <= set(row):
            va, vs, vg = row["point"]
            needed = 1.4 * row["ia"] / row["gm"] - vg - 0.3
            if needed > 0:
                return Prior("mu", (va if kind == "triode" else vs) / needed, 0.25)
    return Prior("mu", 20.0 if kind == "triode" else 9.0, 0.5)


def priors(rows: Sequence[Mapping[str, Any]], kind: str) -> list[Prior]:
    """The unknowns of a fit: those of the kind, then what the figures themselves suggest."""
    told = [Prior(*row) for row in PRIORS[kind]] + [amplification(rows, kind)]
    if kind != "triode":
        share = next((r["is"] / r["ia"] for r in rows if "is" in r and "ia" in r), 0.15)
        told.append(Prior("share", share, 0.5))
    return told


def unpack(kind: str, unknowns: Sequence[Prior], x: Floats) -> Model:
    """The model for a vector of unknowns; the last one is the logarithm of k."""
    told: dict[str, Any] = {
        prior.name: float(v) if prior.name == "contact" else math.exp(float(v))
        for prior, v in zip(unknowns, x, strict=False)
    }
    sharp = told.pop("sharpness") * told["mu"]
    return Model(**told, sharp=sharp, k=math.exp(float(x[-1])), screen=kind != "triode")


def _trust(figure: Residual) -> float:
    """How far off a figure may be; twice as far when it was read off a chart."""
    return TRUST[figure.what.split()[0]] * (2 if figure.source.endswith("curve") else 1)


def fit(rows: Sequence[Mapping[str, Any]], kind: str) -> Model:
    """Fit a model of a kind ("triode", "pentode", "beam", "remote") to the rows marked `fit`."""
    from scipy.optimize import least_squares  # noqa: PLC0415 - slow to import, rarely needed

    use = [row for row in rows if row["use"] == "fit"]
    unknowns = priors(use, kind)

    def cost(x: Floats) -> Floats:
        off = [
            math.log(max(r.modelled, 1e-9) / r.printed) / _trust(r)
            for r in residuals(unpack(kind, unknowns, x), use)
        ]
        pull = [(float(v) - p.start) / p.width for p, v in zip(unknowns, x, strict=False)]
        return np.array(off + pull)

    start = np.array([prior.start for prior in unknowns] + [math.log(1e-3)])
    start[-1] = _scale(unpack(kind, unknowns, start), use)
    best = least_squares(cost, start, x_scale=0.1, max_nfev=200)
    return unpack(kind, unknowns, best.x)


def _scale(model: Model, rows: Sequence[Mapping[str, Any]]) -> float:
    """Logarithm of the k that gives the first printed current."""
    first = next(r for r in rows if "ia" in r)
    for _ in range(12):
        got = figures(model, first)["ia"]
        model = replace(model, k=model.k * (first["ia"] / max(got, 1e-6)) ** 0.8)
    return math.log(model.k)
