"""Valve sections without a model: what their electrodes draw, by the sheet, give or take all of it.

Nobody fitted a current law to a heptode or a tuning indicator. Each electrode that stands at a
positive voltage is taken as a resistance to the cathode that draws what the sheet prints; a good
valve may draw anything from nothing to twice that. So the ranges hold whatever it does, and they
are wide where it matters.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from buzzout.circuit import CHASSIS, Part, Point
from buzzout.electrics.branch import ELECTRODE, Branch
from buzzout.electrics.models import model
from buzzout.electrics.network import Network
from buzzout.electrics.sockets import Valve

_LEAST, _MOST = 0.01, 2.0  # of the current of the sheet: as good as nothing, and twice
_DRAWING = ("anode", "screen", "oscillator-anode", "target")
# What an electrode draws where no sheet tells: volts, and share of the rated cathode current, or
# milliamperes where that is not published either. Common practice.
_USUAL = {
    "anode": (200.0, 0.5, 3.0),
    "screen": (100.0, 0.3, 4.0),
    "oscillator-anode": (100.0, 0.3, 4.0),
    "target": (250.0, 0.5, 2.0),
}
_SHADOW = (30.0, 0.5)  # the triode of a tuning indicator, behind its half megohm or so [V], [mA]
_SWUNG = 0.3  # mean current of the grid of an oscillator, common practice [mA]
MOST_BIAS = 50.0  # more than an oscillator in a receiver makes for itself, common practice [V]
OSCILLATES = 0.9  # how far its mean current may be from that at rest: nothing to twice [1]


def unmodelled(net: Network) -> tuple[Valve, ...]:
    """Sections with a grid of which there is no model."""
    return tuple(
        v
        for v in net.valves
        if v.kind != "diode"
        and "grid" in v.electrodes
        and model(net.conditions.device(v.type), v.kind) is None
    )


def unknown(net: Network) -> Iterator[tuple[Part, tuple[Point, ...]]]:
    """Sockets with a valve that is in no catalogue, with their pins that are off the chassis."""
    for name, inside in net.inside.items():
        part = inside.part
        if part.kind != "socket" or part.type in ("", "none") or name in net.conditions.empty:
            continue
        if net.conditions.valves != "out" and net.conditions.device(part.type) is None:
            yield part, tuple(p for p in part.points if net.of[p] != net.chassis)


def unforeseen(net: Network, volts: Callable[[Point], float]) -> frozenset[int]:
    """The nodes at such pins that stand near the chassis without the valve.

    A cathode lifts itself, a grid is driven: nobody knows how far.
    """
    pins = (p for _, points in unknown(net) for p in points)
    return frozenset(net.of[p] for p in pins if not abs(volts(p)) > MOST_BIAS)


def stand_ins(net: Network) -> Iterator[Branch]:
    """One branch for each electrode of such a section that draws current when it is warm.

    Of a valve in no catalogue every pin may draw as an anode does, from nothing to twice; it is
    computed with nothing.
    """
    for part, points in unknown(net):
        volts, _, milliamps = _USUAL["anode"]
        ohms = 1e3 * volts / milliamps
        for at in {net.of[p]: p for p in points}.values():
            yield Branch(
                f"{part.name} {at.pin}", part.name, "resistor", at, CHASSIS, ohms / _LEAST,
                ohms / _MOST, ohms / _LEAST, family=f"{part.name} {at.pin}", role=ELECTRODE,
            )  # fmt: skip
    seen: set[Point] = set()  # two sections may share a target
    for valve in unmodelled(net):
        device = net.conditions.device(valve.type)
        for role in _DRAWING:
            if role in valve.electrodes and valve.electrodes[role] not in seen:
                seen.add(valve.electrodes[role])
                volts, milliamps = _drawn(device, valve.kind, role)
                ohms = 1e3 * volts / milliamps
                yield Branch(
                    f"{valve.name} {role}", valve.part, "resistor", valve.electrodes[role],
                    valve.electrodes["cathode"], ohms, ohms / _MOST, ohms / _LEAST,
                    family=valve.name, role=ELECTRODE,
                )  # fmt: skip


def swung(net: Network) -> tuple[tuple[Point, Point, float], ...]:
    """Grids that the oscillator of a frequency changer drives: grid, cathode, mean current. [A].

    Whether and how far it oscillates is not computed: the current is anything from nothing to twice
    this, and makes the grid as negative as its leak lets it.
    """
    found: dict[int, tuple[Point, Point, float]] = {}
    for valve in net.valves:
        device = net.conditions.device(valve.type)
        told = (point.get("oscillator_grid_ma") for point in device.points)
        milliamps = next((m for m in told if m), _SWUNG)
        for role in ("mixer-grid", "oscillator-grid"):
            if role in valve.electrodes:
                at = valve.electrodes[role]
                found[net.of[at]] = at, valve.electrodes["cathode"], milliamps / 1e3
    return tuple(found.values())


def remark(net: Network, valve: Valve) -> str:
    """What is taken instead of a model."""
    device = net.conditions.device(valve.type)
    told = [
        f"{role} {milliamps:.2g} mA at {volts:.0f} V"
        for role in _DRAWING
        if role in valve.electrodes
        for volts, milliamps in [_drawn(device, valve.kind, role)]
    ]
    draws = f"taken to draw from nothing to twice: {', '.join(told)}"
    return f"{valve.name}: no model of the {valve.kind} of {valve.type}, {draws}"


def _drawn(device: Any, kind: str, role: str) -> tuple[float, float]:
    """Volts and milliamperes of an electrode, of the first point of the sheet that has them."""
    key = role.replace("-", "_")
    for point in device.points:
        milliamps = point.get(f"{key}_ma")
        if not milliamps or point.of not in ("", kind):
            continue
        load = point.get("screen_kohm" if role == "screen" else "load_kohm") or 0.0
        supply = point.get("supply_v") or point.get("anode_v") or 0.0
        fed = supply if role == "target" else supply - load * milliamps
        volts = point.get(f"{key}_v") or fed
        if volts > 1:
            return volts, milliamps
    if kind == "indicator" and role == "anode":
        return _SHADOW
    volts, share, usual = _USUAL[role]
    rated = device.limit("cathode_ma", kind)
    return volts, share * rated if rated else usual
