"""The model of a valve: fitted and shipped, else fitted on the spot to the catalogue's points.

What neither gives is not modelled, and that is said; nothing is guessed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import Any

from buzzout import catalogue
from buzzout.catalogue.files import data_folder
from buzzout.catalogue.reading import read_plain
from buzzout.catalogue.shelf import cut
from buzzout.electrics.charging import law_from_output
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
def _shipped(name: str, kind: str) -> Known | None:
    """The shipped model of a designation; only the entries that mention it are read."""
    for entry, text in _entries():
        if name in text:
            told = read_plain(text)[entry]
            if name in told["names"] and (told["kind"] == "triode") == (kind == "triode"):
                values = {k: v for k, v in told.items() if k not in ("kind", "names", "memory")}
                return Known(Model(**values), "fitted to memory" if told["memory"] else "fitted")
    return None


@cache
def _entries() -> tuple[tuple[str, str], ...]:
    """Name and text of every shipped model, not yet read."""
    text = (data_folder() / "models" / "models.yaml").read_text(encoding="utf-8")
    return tuple(cut(text))


def model(device: Any, kind: str) -> Known | None:
    """The model of a device's section of that kind, None where there is no telling."""
    if kind not in KINDS:
        return None
    own = _own_model(device, kind)
    if own is not None:
        return own
    for name in relatives(device):
        other = catalogue.device(name)
        known = _own_model(other, kind) if other is not None else None
        if known is not None:
            return Known(known.model, f"taken as that of {name}")
    return None


def _own_model(device: Any, kind: str) -> Known | None:
    for name in device.designations:
        known = _shipped(name, kind)
        if known is not None:
            return known
    return _on_the_spot(device.name, kind, tuple(_rows(device, kind)))


def _rows(device: Any, kind: str) -> list[tuple[tuple[str, Any], ...]]:
    """Operating points of the catalogue as rows for the fit."""
    rows = []
    for point in device.points:
        vs = point.get("screen_v") or 0.0
        row = _where(point, vs) if _of_kind(point, kind) else {}
        if row and point.get("anode_ma"):
            own = "mu" if kind == "triode" else "mu_screen"
            keys = ("anode_ma", "screen_ma", "slope_ma_per_v", "internal_kohm", own)
            for key, short in zip(keys, ("ia", "is", "gm", "ra", "mu"), strict=True):
                if point.get(key) is not None:
                    row[short] = point.get(key)
            if _shared(point):
                row["pair"] = True
            rows.append(tuple({**row, "use": "fit", "source": "catalogue"}.items()))
    return rows


def _of_kind(point: Any, kind: str) -> bool:
    """Tell a point at rest of a section of that kind: a screen shows a pentode's."""
    if re.search(r"mixer|oscillator", point.title.lower()):
        return False
    screen = point.get("screen_v") or point.get("screen_ma")
    return not screen if kind == "triode" else bool(point.get("screen_v"))


def _shared(point: Any) -> bool:
    """Tell a point of two valves on one cathode resistor; its currents are each valve's."""
    words = point.title.lower()
    return point.get("grid_v") is None and ("push-pull" in words or "two valves" in words)


def _where(point: Any, vs: float) -> dict[str, Any]:
    """Voltages of a point, or the stage with the cathode resistor that gives them."""
    va, vg, rk = (point.get(key) for key in ("anode_v", "grid_v", "cathode_ohm"))
    if va and vg is not None:
        return {"point": (va, vs, vg)}
    if va and rk:
        stage = {"vb": va, "vs": vs, "ra_k": 0, "next_k": 0, "rk": rk, "to_cathode": True}
        return {"stage": tuple(stage.items())}
    return {}


@cache
def _on_the_spot(
    _name: str, kind: str, rows: tuple[tuple[tuple[str, Any], ...], ...]
) -> Known | None:
    from buzzout.electrics.fit import fit  # noqa: PLC0415 - scipy.optimize only when needed

    usable = [{k: dict(v) if k == "stage" else v for k, v in row} for row in rows]
    if not usable:
        return None
    return Known(fit(usable, KINDS[kind]), "fitted on the spot")


@dataclass(frozen=True, slots=True)
class KnownLaw:
    """The law of a rectifier and where it comes from; "published drop" needs no remark."""

    law: Law
    origin: str


PUBLISHED = "published drop"
# A rectifier of which nobody printed the drop: so many volts at its rated direct current.
# Directly heated ones drop about 50 V, indirectly heated ones about 20 V (common practice).
_DIRECT, _INDIRECT = 50.0, 20.0
# A selenium stack for radio HT: some 12 plates of half a volt, and 50 ohm (common practice).
_SELENIUM = Law(knee=6.0, ohms=50.0)


def law(device: Any) -> KnownLaw:
    """The law of a rectifier or diode section, with its origin."""
    if device.kind.startswith(("silicon", "semiconductor", "bridge")):
        return KnownLaw(SILICON, PUBLISHED)
    if device.kind.startswith("selenium"):
        return KnownLaw(_SELENIUM, "a usual selenium stack assumed")
    told = _own_law(device)
    if told is not None:
        return told
    if "rectifier" not in device.kind:
        return KnownLaw(_SMALL_DIODE, PUBLISHED)
    for name in relatives(device):
        other = catalogue.device(name)
        told = _own_law(other) if other is not None else None
        if told is not None:
            return KnownLaw(told.law, f"taken as that of {name}")
    direct = any(e.role == "filament" for e in device.pins.values())
    volts = _DIRECT if direct else _INDIRECT
    amps = (device.limit("dc_ma") or 100.0) / 1e3
    return KnownLaw(from_drop(volts, amps), f"{volts:.0f} V at {1e3 * amps:.0f} mA assumed")


def _own_law(device: Any) -> KnownLaw | None:
    """From a printed drop, else from a printed output of a full-wave supply."""
    for block in device.rectifier:
        volts, milliamps = block.get("drop_v"), block.get("drop_ma")
        if volts and milliamps:
            return KnownLaw(from_drop(volts, milliamps / 1e3), PUBLISHED)
    keys = ("dc_ma", "dc_v", "anode_rms_v", "source_ohm", "reservoir_uf")
    for point in device.points:
        figures = [point.get(key) for key in keys]
        if device.kind.startswith("full-wave") and all(figures):
            amps, volts, rms, ohms, farads = figures
            found = _from_output(amps / 1e3, volts, rms, ohms, farads / 1e6)
            if found is not None:
                return KnownLaw(found, "from a published output voltage")
    return None


@cache
def _from_output(amps: float, volts: float, rms: float, ohms: float, farads: float) -> Law | None:
    return law_from_output((amps, volts), rms, ohms, farads)


# Words by which the catalogue says that a near relative has other systems inside.
_UNLIKE = re.compile(r"\b(other|mu|relative|different|data|selected|half)\b")


def relatives(device: Any) -> list[str]:
    """Near relatives with the same systems inside (another heater, another base)."""
    return [name for name, differs in device.similar.items() if not _UNLIKE.search(differs)]
