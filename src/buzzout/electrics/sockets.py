"""What lies inside a valve socket: sections with their electrodes, and the heater."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from buzzout.circuit import Part, Point
from buzzout.electrics.branch import Branch, Contents
from buzzout.electrics.conditions import Conditions

# Cold heater against hot: tungsten at 1000 to 1100 K, (T/300)^1.2 rule; common practice 5 to 7.
HEATER_COLD = 6.0
HEATER_SPREAD = 1.4
NOTHING = Contents()
CATHODES = ("cathode", "filament")


@dataclass(frozen=True, slots=True)
class Valve:
    """One section of a fitted valve.

    `electrodes` gives the point of each role: anode, grid, screen, cathode, …; a filament counts
    as the cathode.
    """

    name: str
    part: str
    type: str
    kind: str
    electrodes: Mapping[str, Point]


@dataclass(frozen=True, slots=True)
class Socket:
    """All that is in one socket."""

    valves: tuple[Valve, ...] = ()
    contents: Contents = NOTHING


def socket(part: Part, conditions: Conditions) -> Socket:
    """Sections, heater and inner joins of the valve in a socket; empty where none is fitted."""
    out = conditions.valves == "out" or part.name in conditions.empty
    if part.kind != "socket" or part.type in ("", "none") or out:
        return Socket()
    device = conditions.device(part.type)
    if device is None:
        remark = f"{part.name}: type {part.type} is not in the catalogue, taken as open"
        return Socket(contents=Contents(remarks=(remark,)))
    joins = tuple(
        (part.point(first), part.point(pin))
        for group in device.internal
        for first in [min(group)]
        for pin in sorted(group)
        if pin != first
    )
    heaters = tuple(_heaters(part, device, conditions))
    return Socket(tuple(_sections(part, device)), Contents(heaters, joins))


def _sections(part: Part, device: Any) -> Iterator[Valve]:
    several = len(device.sections) > 1
    for section in device.sections:
        electrodes = {role: part.point(pin) for role, pin in section.pins.items()}
        cathode = next((electrodes[r] for r in CATHODES if r in electrodes), None)
        if cathode is None:
            cathode = _filament(part, device)
        if cathode is None or "anode" not in electrodes:
            continue
        name = f"{part.name}/{section.name}" if several else part.name
        yield Valve(name, part.name, device.name, section.kind, {**electrodes, "cathode": cathode})


def _filament(part: Part, device: Any) -> Point | None:
    pins = [pin for pin, e in device.pins.items() if e.role == "filament"]
    return part.point(pins[0]) if pins else None


def _heaters(part: Part, device: Any, conditions: Conditions) -> Iterator[Branch]:
    """One branch for each piece of heater: two halves where the middle is brought out."""
    glow = conditions.glow(HEATER_COLD)
    spread = HEATER_SPREAD if glow < 0.5 else 1.1
    single = [h for h in device.heaters if len(h.one) == 1 and len(h.other) == 1]
    if not single:
        return
    heater = max(single, key=lambda h: h.volts)
    ends = [heater.one[0], heater.other[0]]
    taps = [pin for pin, e in device.pins.items() if e.role == "heater-tap"]
    path = [ends[0], *taps[:1], ends[1]]
    ohms = heater.volts / heater.amps / (len(path) - 1) * glow
    for a, b in itertools.pairwise(path):
        yield Branch(
            f"{part.name} heater {a}-{b}", part.name, "resistor", part.point(a), part.point(b),
            ohms, ohms / spread, ohms * spread, role="heater",
        )  # fmt: skip
