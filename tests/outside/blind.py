"""Published operating points that a model has not seen, three ways, and published stage tables.

held: rows of `references/models/points.yaml` kept back from the fit of their own type.
one:  a type with several points, fitted to the first of them only; far from it that is a guess.
kin:  a type whose systems are those of another by the catalogue (another heater or base), at a
      point other than those that the other was fitted to.
Sources stand beside the points, in `points.yaml` and in `references/devices/`. Figures from memory
are neither fitted to nor predicted here, except inside the shipped fit of a type marked so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from buzzout.catalogue import device
from buzzout.electrics import models
from buzzout.electrics.fit import fit, residuals
from buzzout.electrics.valves import Model

HERE = Path(__file__).parents[2] / "references" / "models"
# Kin with a point of its own: its systems are the other's (catalogue, `similar`; UF80, UF85, 42 by
# their sheets, which print the same figures for both heaters where they print the same voltages).
KIN = {"UBC41": "EBC41", "UBC81": "EBC81", "UF80": "EF80", "UF85": "EF85", "42": "6F6", "6F6": "42"}
ONE = ("300B",)  # of the catalogue; those with shipped models come from `points.yaml`


@dataclass(frozen=True)
class Blind:
    """One figure that was predicted. [mA], [mA/V]."""

    way: str
    type: str
    by: str
    what: str
    printed: float
    modelled: float

    @property
    def error(self) -> float:
        return self.modelled / self.printed - 1


def single() -> Iterator[Blind]:
    """Predictions of models that rest on a single printed point."""
    for name, kind, _, block in _shipped():
        rows = [row for row in block if row["source"] != "from-memory"]
        if len(rows) > 1:
            model = fit([{**rows[0], "use": "fit"}], kind)
            yield from _told("one", name, "its first point", model, rows[1:])
    for name in ONE:
        rows = _rows(name)
        model = fit(rows[:1], models.KINDS[_kind(name)])
        yield from _told("one", name, rows[0]["where"], model, rows[1:])
    for name, other in KIN.items():
        model = fit(_rows(other), models.KINDS[_kind(other)])
        yield from _told("kin", name, other, model, _rows(name))


def held() -> Iterator[Blind]:
    """Predictions of the shipped models at the points kept back from their fit."""
    for name, _, model, block in _shipped():
        rows = [r for r in block if r["use"] == "held" and r["source"] != "from-memory"]
        yield from _told("held", name, "the other points", model, rows)


def _shipped() -> Iterator[tuple[str, str, Model, list[dict[str, Any]]]]:
    """Key, kind, model as written and rows of each type."""
    told = yaml.safe_load((HERE / "points.yaml").read_text(encoding="utf-8"))["types"]
    written = yaml.safe_load((HERE / "models.yaml").read_text(encoding="utf-8"))
    for name, block in told.items():
        values = {k: v for k, v in written[name].items() if k not in ("kind", "names", "memory")}
        yield name, block["kind"], Model(**values), block["rows"]


@dataclass(frozen=True)
class Gain:
    """Printed gain of a stage beside the model's. `like` is the kind of circuit."""

    type: str
    like: str
    maker: str
    what: str
    use: str
    printed: float
    modelled: float

    @property
    def error(self) -> float:
        return self.modelled / self.printed - 1

    def __str__(self) -> str:
        return f"{self.type} {self.what} {self.maker}"


# Supplies and loads that the makers' tables treat alike. [V], [ohm]
SUPPLIES = (
    (120, "90 to 100 V"),
    (220, "170 to 200 V"),
    (320, "250 to 300 V"),
    (999, "350 V and up"),
)
LOADS = ((60, "47 k"), (120, "100 k"), (300, "220 k"), (999, "470 k"))


def gains() -> Iterator[Gain]:
    """All stage gains in print, with the models as shipped."""
    for name, _, model, rows in _shipped():
        for row in rows:
            if "gain" not in row:
                continue
            told = row["stage"]
            supply = next(words for top, words in SUPPLIES if told["vb"] <= top)
            load = next(words for top, words in LOADS if told["ra_k"] <= top)
            like = f"{supply}, {load}" + (", triode" if row.get("triode") else "")
            maker = row["source"].split("-")[0]
            (line,) = residuals(model, [{k: v for k, v in row.items() if k in ROW}])
            yield Gain(name, like, maker, line.what, line.use, line.printed, line.modelled)


ROW = ("stage", "gain", "triode", "use", "source")


def like_circuits() -> dict[tuple[str, str], list[Gain]]:
    """Gains by type and kind of circuit."""
    told: dict[tuple[str, str], list[Gain]] = {}
    for gain in gains():
        told.setdefault((gain.type, gain.like), []).append(gain)
    return told


def apart(told: list[Gain]) -> float:
    """How far the model is outside what makers print for like circuits, 0 inside. Relative."""
    errors = [gain.error for gain in told]
    return 0.0 if min(errors) <= 0 <= max(errors) else min(errors, key=abs)


def _told(
    way: str, name: str, by: str, model: Model, rows: list[dict[str, Any]]
) -> Iterator[Blind]:
    for line in residuals(model, [{"source": "", **row} for row in rows]):
        if line.what.split()[0] in ("ia", "ik", "is", "gm") and line.printed > 0.05:
            yield Blind(way, name, by, line.what, line.printed, line.modelled)


def _kind(name: str) -> str:
    return next(s.kind for s in device(name).sections if s.kind in models.KINDS)


def _rows(name: str) -> list[dict[str, Any]]:
    """Points of the catalogue at different voltages, none from memory."""
    rows: dict[str, dict[str, Any]] = {}
    for row in models._rows(device(name), _kind(name)):
        told = {k: dict(v) if k == "stage" else v for k, v in row}
        where = str(told.get("point") or told["stage"])
        rows.setdefault(where, {**told, "where": where})
    return list(rows.values())
