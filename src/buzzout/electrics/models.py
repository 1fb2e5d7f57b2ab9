"""The model of a valve: fitted and shipped, else fitted on the spot to the catalogue's points.

What neither gives is not modelled, and that is said; nothing is guessed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import yaml

from buzzout.catalogue.files import data_folder
from buzzout.electrics.rectifier import SILICON, Law, from_drop
from buzzout.electrics.valves import Model

# Kinds of section that have a current law, and what they are fitted as.
KINDS = {"triode": "triode", "pentode": "pentode", "tetrode": "beam"}

# How far a new valve may be from its sheet: anode current +-30 % (H. M. Knoll, collectors' forum,
# with makers' test limits: 6SN7 7 to 13 mA for 9, 6V6 33 to 59 for 45, EL34 80 to 120 for 100).
SPREAD = 0.3

# Signal diodes inside a valve: 2 mA at 10 V, common practice.
_SMALL_DIODE = from_drop(10.0, 2e-3)


@dataclass(frozen=True, slots=True)
class Known:
    """A model and where it comes from: "fitted", "fitted to memory", "fitted on the spot"."""

    model: Model
    origin: str


@cache
def _shipped() -> Mapping[str, Mapping[str, Any]]:
    text = (data_folder() / "models" / "models.yaml").read_text(encoding="utf-8")
    told: Mapping[str, Mapping[str, Any]] = yaml.safe_load(text)
    return told


def model(device: Any, kind: str) -> Known | None:
    """The model of a device's section of that kind, None where there is no telling."""
    if kind not in KINDS:
        return None
    for name in device.designations:
        told = _shipped().get(name)
        if told and (told["kind"] == "triode") == (kind == "triode"):
            values = {k: v for k, v in told.items() if k not in ("kind", "memory")}
            return Known(Model(**values), "fitted to memory" if told["memory"] else "fitted")
    return _on_the_spot(device.name, kind, tuple(_rows(device, kind)))


def _rows(device: Any, kind: str) -> list[tuple[tuple[str, Any], ...]]:
    """Operating points of the catalogue as rows for the fit."""
    rows = []
    for point in device.points:
        if {"anode_v", "grid_v", "anode_ma"} <= point.values.keys():
            vs = point.get("screen_v") or 0.0
            if (kind == "triode") != (vs == 0.0):
                continue
            row: dict[str, Any] = {"point": (point.get("anode_v"), vs, point.get("grid_v"))}
            keys = ("anode_ma", "screen_ma", "slope_ma_per_v", "internal_kohm", "mu")
            for key, short in zip(keys, ("ia", "is", "gm", "ra", "mu"), strict=True):
                if point.get(key) is not None:
                    row[short] = point.get(key)
            rows.append(tuple({**row, "use": "fit", "source": "catalogue"}.items()))
    return rows


@cache
def _on_the_spot(
    _name: str, kind: str, rows: tuple[tuple[tuple[str, Any], ...], ...]
) -> Known | None:
    from buzzout.electrics.fit import fit  # noqa: PLC0415 - scipy.optimize only when needed

    usable = [dict(row) for row in rows if dict(row)["ia"] > 0]
    if not usable:
        return None
    return Known(fit(usable, KINDS[kind]), "fitted on the spot")


def law(device: Any) -> Law | None:
    """The law of a rectifier or diode section, None where no drop is published."""
    for block in device.rectifier:
        volts, milliamps = block.get("drop_v"), block.get("drop_ma")
        if volts and milliamps:
            return from_drop(volts, milliamps / 1e3)
    if device.kind.startswith(("silicon", "semiconductor", "bridge")):
        return SILICON
    return None if "rectifier" in device.kind else _SMALL_DIODE
