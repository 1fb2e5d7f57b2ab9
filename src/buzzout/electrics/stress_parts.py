"""Stresses of resistors, capacitors, windings, heaters and fuses."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from buzzout.circuit import Element, Part, Quantity
from buzzout.electrics.alternating import piece_current
from buzzout.electrics.branch import Branch
from buzzout.electrics.operating import Operating
from buzzout.electrics.stress import (
    CURRENT_SHARE,
    FINE,
    MAINS_SHARE,
    NEAR,
    ORDER,
    OVER,
    POWER_SHARE,
    SURGE,
    VOLTAGE_SHARE,
    WATTS,
    States,
    Stress,
    across,
    alternating_across,
    device_in,
    judge,
    shop_volts,
)
from buzzout.electrics.windings import volts_of

SHEETS = "by the sheets"
_NO_CURRENT = 1e-3  # a winding or choke with less is not worth telling [A]
_IDLE = 0.01  # a control that carries less is under no stress, whatever its make [W]


def resistors(states: States) -> Iterator[Stress]:
    """Power of every resistor and track, the worse of the two states."""
    for branch in states.warm.net.resistive:
        if branch.role not in ("resistor", "track") or not math.isfinite(branch.value):
            continue
        worst, when = max((_watts(state, branch), name) for name, state in states.both())
        part = states.warm.net.circuit.parts[branch.part]
        if branch.role == "track" and part.power is None and worst < _IDLE:
            continue
        yield _sized(branch.name, "power", worst, when, part.power.value if part.power else None)


def _watts(state: Operating, branch: Branch) -> float:
    volts = across(state, branch)
    steady = 0.0 if math.isnan(volts) else volts
    return (steady**2 + alternating_across(state, branch) ** 2) / max(branch.value, 1e-3)


def _sized(name: str, what: str, watts: float, when: str, rated: float | None) -> Stress:
    margin = f"{POWER_SHARE:.0%} of the rated power"
    need = next((w for w in WATTS if w >= watts / POWER_SHARE), WATTS[-1])
    if rated is None:
        return Stress(name, what, watts, "W", math.nan, ORDER, when, need, margin)
    return Stress(
        name, what, watts, "W", rated, judge(watts, rated, POWER_SHARE), when, need, margin
    )


def capacitors(states: States) -> Iterator[Stress]:
    """Voltage of every capacitor, running and at the surge; reversal; ripple current."""
    for branch in states.warm.net.branches:
        if branch.kind != "capacitor":
            continue
        part = states.warm.net.circuit.parts[branch.part]
        rated = rated_volts(part, branch)
        if branch.role == "electrolytic":
            yield from _reversed(states, branch)
            yield from _ripple(states.warm, branch)
        running, surge = _peak(states.warm, branch), _peak(states.surge, branch)
        if part.mains_class:
            yield _mains_rated(part, branch, running, surge)
            continue
        worst, when = max(zip((running, surge), (n for n, _ in states.both()), strict=True))
        margin = f"{VOLTAGE_SHARE:.0%} of the rating running, all of it at the surge"
        need = shop_volts(max(running / VOLTAGE_SHARE, surge))
        if rated is None:
            yield Stress(branch.name, "voltage", worst, "V", math.nan, ORDER, when, need, margin)
            continue
        verdict = OVER if worst > rated else judge(running, rated, VOLTAGE_SHARE)
        yield Stress(branch.name, "voltage", worst, "V", rated, verdict, when, need, margin)


def _mains_rated(part: Part, branch: Branch, running: float, surge: float) -> Stress:
    """A capacitor of a mains class: r.m.s. for the peaks that it has to stand. [V]."""
    shares = ((running, "running", 1.0), (surge, SURGE, MAINS_SHARE))
    peak, when, share = max(shares, key=lambda each: each[0] / each[2])
    volts = peak / math.sqrt(2)
    need = shop_volts(volts / share, mains=True)
    margin = f"r.m.s.; the rating running, {MAINS_SHARE:.0%} of it with the mains high"
    if part.voltage is None:
        return Stress(branch.name, "voltage", volts, "V", math.nan, ORDER, when, need, margin)
    limit = share * part.voltage.value
    verdict = OVER if volts > limit else FINE
    return Stress(branch.name, "voltage", volts, "V", limit, verdict, when, need, margin)


def rated_volts(part: Part, branch: Branch) -> float | None:
    """Rating of a capacitor or of one section of a can; the peak of alternating volts. [V]."""
    for element in part.elements:
        if branch.name == f"{part.name}.{element.label or element.terminals[0]}":
            return element.voltage.value if element.voltage else None
    volts = part.voltage.value if part.voltage else None
    return math.sqrt(2) * volts if volts and part.mains_class else volts


def _peak(state: Operating, branch: Branch) -> float:
    """Highest voltage across a capacitor: direct, with ripple or alternating on top. [V]."""
    steady = across(state, branch)
    top = math.sqrt(2) * alternating_across(state, branch)
    nodes = set(state.net.ends(branch))
    for index, held in enumerate(state.reservoirs):
        if smoothed(state, [index]) in nodes:
            top = max(top, held.ripple / 2)
    return (0.0 if math.isnan(steady) else abs(steady)) + top


def _reversed(states: States, branch: Branch) -> Iterator[Stress]:
    for when, state in states.both():
        volts = across(state, branch)
        if volts < -0.5:
            yield Stress(branch.name, "reverse voltage", -volts, "V", 0.5, OVER, when)
            return


def smoothed(state: Operating, members: list[int]) -> int:
    """Node on which the reservoir of some paths stands: the end they share, never the chassis."""
    ends = {state.ways[i].k for i in members}
    if len(ends) == 1 and state.net.chassis not in ends:
        return ends.pop()
    return state.ways[members[0]].a


def _ripple(state: Operating, branch: Branch) -> Iterator[Stress]:
    """Ripple current of a reservoir: what the pulses hold beyond the steady current. [A]."""
    nodes = set(state.net.ends(branch))
    for number in {r.group for r in state.reservoirs}:
        members = [i for i, r in enumerate(state.reservoirs) if r.group == number]
        if smoothed(state, members) not in nodes or not state.reservoirs[members[0]].farads:
            continue
        squares = sum(state.pulses[i].rms ** 2 for i in members)
        mean = sum(state.pulses[i].mean for i in members)
        amps = math.sqrt(max(squares - mean**2, 0.0))
        if amps > 1e-3:
            yield Stress(branch.name, "ripple current", amps, "A", math.nan, ORDER, "running", amps)


def windings(state: Operating) -> Iterator[Stress]:
    """Current of the mains transformer's windings and of chokes, against that stated.

    Direct for chokes and for windings that feed rectifiers, else alternating. What heaters and
    lamps draw by their sheets counts in full, though the winding may give them fewer volts.
    """
    for branch in state.net.resistive:
        part = state.net.circuit.parts.get(branch.part)
        if part is not None and part.kind == "choke":
            volts = across(state, branch)
            amps = 0.0 if math.isnan(volts) else abs(volts) / branch.value
            rated = next((e.current for e in part.elements if e.current), part.current)
            yield from _carried(part.name, "direct current", amps, rated)
    if state.side is None:
        return
    for name, element in state.net.windings():
        if element.load is not None or name not in state.side.plan.cores:
            continue
        fed = _rectified(state, name, element.label)
        called = f"{name} {element.label}"
        if fed:
            yield from _carried(called, "direct current", sum(fed), element.current)
            continue
        sheets = heater_amps(state, name, element)
        amps = max(winding_amps(state, name, element.label), sum(sheets.values()))
        told = ", ".join(f"{part} {each:.3g} A" for part, each in sheets.items())
        for stress in _carried(called, "current", amps, element.current):
            yield replace(stress, margin=f"{stress.margin}; {SHEETS} {told}") if told else stress


def heater_amps(state: Operating, name: str, element: Element) -> dict[str, float]:
    """What the heaters and lamps across a winding draw by their sheets, by part. [A]."""
    net, volts = state.net, volts_of(element)
    part = net.circuit.parts[name]
    table = {net.of[part.point(t)]: v for t, v in zip(element.terminals, volts, strict=False)}

    def share(a: int, b: int, nominal: float) -> float:
        return abs(table[a] - table[b]) / nominal if a in table and b in table else 0.0

    found: dict[str, float] = {}
    for each in net.circuit.parts.values():
        pieces, device = net.heaters.get(each.name, ()), device_in(state, each.name)
        if pieces and device is not None:
            heater = max(_single(device), key=lambda h: h.volts)
            whole = share(net.of[pieces[0].a], net.of[pieces[-1].b], heater.volts)
            halves = (share(*net.ends(b), heater.volts / len(pieces)) for b in pieces)
            found[each.name] = heater.amps * (whole or sum(halves))
        elif each.kind == "lamp" and each.current is not None and each.value is not None:
            a, b = (net.of[p] for p in each.points[:2])
            found[each.name] = each.current.value * share(a, b, each.value.value)
    return {part: amps for part, amps in found.items() if amps > 0}


def _single(device: Any) -> list[Any]:
    """The ways of feeding a heater that have one pin at either end."""
    return [h for h in device.heaters if len(h.one) == len(h.other) == 1]


def _rectified(state: Operating, part: str, label: str) -> list[float]:
    """Mean current of each rectifier path whose pulses flow in a winding. [A]."""
    side = state.side
    if side is None or label.lower().startswith(("primary", "mains")):
        return []
    rows = [side.plan.current(i) for i, p in enumerate(side.plan.pieces)
            if (p.part, p.label) == (part, label)]  # fmt: skip
    through = abs(side.responses[rows]).max(axis=0, initial=0.0)
    return [pulse.mean for pulse, share in zip(state.pulses, through, strict=True) if share > 0.5]


def _carried(name: str, what: str, amps: float, rated: Quantity | None) -> Iterator[Stress]:
    """A current against the stated one; what to order where none is stated."""
    margin = f"{CURRENT_SHARE:.0%} of the stated current"
    if rated is not None:
        verdict = judge(amps, rated.value, CURRENT_SHARE)
        yield Stress(name, what, amps, "A", rated.value, verdict, "running", margin=margin)
    elif amps > _NO_CURRENT:
        need = amps / CURRENT_SHARE
        yield Stress(name, what, amps, "A", math.nan, ORDER, "running", need, margin)


def winding_amps(state: Operating, part: str, label: str) -> float:
    """Largest r.m.s. current at mains frequency in a winding. [A]."""
    side, x = state.side, state.fundamental
    if side is None or x is None:
        return 0.0
    currents = piece_current(side.plan, x, part, label)
    return max((abs(i) for i in currents), default=0.0) / math.sqrt(2)


def heaters(state: Operating) -> Iterator[Stress]:
    """Voltage of every heater against the sheet, 10 % either way."""
    for valve in state.net.circuit.parts.values():
        pieces = state.net.heaters.get(valve.name, ())
        device = device_in(state, valve.name)
        if not pieces or device is None:
            continue
        nominal = max(h.volts for h in _single(device))
        for branch in pieces:
            volts, share = alternating_across(state, branch), nominal / len(pieces)
            direct = across(state, branch)
            volts = math.hypot(volts, 0.0 if math.isnan(direct) else direct)
            verdict = OVER if volts > 1.1 * share else NEAR if volts < 0.9 * share else FINE
            low = " TOO LOW" if verdict == NEAR else ""
            yield Stress(
                valve.name, f"heater voltage {branch.a.pin}-{branch.b.pin}{low}", volts, "V",
                1.1 * share, verdict, "running", margin=f"{share:.3g} V, 10 % either way",
            )  # fmt: skip


def fuses(state: Operating) -> Iterator[Stress]:
    """Current of every fuse that carries any."""
    for branch in state.net.resistive:
        part = state.net.circuit.parts.get(branch.part)
        if branch.role != "fuse" or part is None:
            continue
        amps = fuse_amps(state, branch)
        if amps < 1e-4:
            continue
        rated = part.value or part.current
        if rated is None:
            yield Stress(branch.name, "current", amps, "A", math.nan, ORDER, "running", 2 * amps)
            continue
        close = amps > rated.value / 1.3 or amps < rated.value / 4
        verdict = OVER if amps > rated.value else NEAR if close else FINE
        yield Stress(branch.name, "current", amps, "A", rated.value, verdict, "running",
                     2 * amps, "rated 1.3 to 4 times the current")  # fmt: skip


def fuse_amps(state: Operating, branch: Branch) -> float:
    """Current of a fuse: direct, and alternating; with the pulses where it carries the mains."""
    direct = across(state, branch)
    steady = 0.0 if math.isnan(direct) else abs(direct) / branch.value
    swinging = alternating_across(state, branch) / branch.value
    near = state.line_amps and abs(swinging - state.line_amps) < 0.5 * state.line_amps
    return math.hypot(steady, state.line_amps if near else swinging)
