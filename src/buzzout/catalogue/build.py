"""From checked plain data to a `Device`. Reads nothing, checks nothing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any

from buzzout.catalogue.bases import base
from buzzout.catalogue.records import COMMON, Device, Electrode, Figures, Heater, Section

_TITLES = ("system", "service")
_WORDS = (*_TITLES, "of", "each", "note", "source")


def build(name: str, data: Mapping[str, Any]) -> Device:
    """The device that one entry of a device file describes."""
    kinds = data.get("sections", {})
    told = dict(data["pins"])
    sources = {"pins": _sources(told.pop("source"))}
    only = len(kinds) == 1
    electrodes = {pin: electrode(text, only=only) for pin, text in told.items()}
    cap = electrodes.pop("cap", None)
    also = data.get("also", [])
    sources["also"] = tuple(key for group in also for key in _sources(group["source"]))
    return Device(
        name=name,
        designations=tuple(dict.fromkeys([name, *(n for group in also for n in group["names"])])),
        kind=data["kind"],
        base=found.name if (found := base(data["base"])) else data["base"],
        pins=MappingProxyType(electrodes),
        cap=cap,
        sections=tuple(_sections(kinds, electrodes, cap)),
        heaters=tuple(_heater(h) for h in data.get("heaters", [])),
        limits=_figures(data.get("limits", [])),
        points=_figures(data.get("points", [])),
        rectifier=_figures(data.get("rectifier", [])),
        similar=MappingProxyType({s["name"]: s["differs"] for s in data.get("similar", [])}),
        unlike=data.get("unlike", ""),
        notes=tuple(note["text"] for note in data.get("notes", [])),
        sources=MappingProxyType(sources),
    )


def electrode(text: str, *, only: bool = False) -> Electrode:
    """`anode 2`, `cathode + suppressor`, `heater` as an electrode; `only` says one section.

    >>> electrode("cathode + suppressor", only=True)
    Electrode(role='cathode', section=1, also=('suppressor',))
    """
    words, _, last = text.rpartition(" ")
    section = int(last) if words and last.isdigit() else 0
    roles = [r.strip() for r in (words if section else text).split("+")]
    if not section and only and roles[0] not in COMMON:
        section = 1
    return Electrode(roles[0], section, tuple(roles[1:]))


def _sections(
    kinds: Mapping[str, str], electrodes: Mapping[str, Electrode], cap: Electrode | None
) -> Iterable[Section]:
    everything = dict(electrodes) | ({"cap": cap} if cap else {})
    shared = {pin: e for pin, e in everything.items() if not e.section and e.role not in COMMON}
    for number, kind in kinds.items():
        own = {pin: e for pin, e in everything.items() if e.section == int(number)}
        pins: dict[str, str] = {}
        for pin, each in (own | shared).items():  # its own electrodes go first
            for role in each.roles:
                pins.setdefault(role, pin)
        if "cathode" not in pins:  # directly heated: the filament emits
            filament = [pin for pin, each in everything.items() if "filament" in each.roles]
            pins |= {"cathode": filament[-1]} if filament else {}
        yield Section(number, kind, MappingProxyType(pins))


def _heater(data: Mapping[str, Any]) -> Heater:
    return Heater(
        data["volts"],
        data["amps"],
        tuple(data["between"].split()),
        tuple(data["and"].split()),
        _sources(data["source"]),
    )


def _figures(blocks: Iterable[Mapping[str, Any]]) -> tuple[Figures, ...]:
    return tuple(
        Figures(
            MappingProxyType({k: float(v) for k, v in block.items() if k not in _WORDS}),
            _sources(block["source"]),
            next((block[key] for key in _TITLES if key in block), ""),
            block.get("of", ""),
            block.get("each") == "section",
            block.get("note", ""),
        )
        for block in blocks
    )


def _sources(told: str | list[str]) -> tuple[str, ...]:
    return (told,) if isinstance(told, str) else tuple(told)
