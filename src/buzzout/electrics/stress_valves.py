"""Stresses of valves and rectifiers against their published limits."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from buzzout.circuit import Point
from buzzout.electrics.gridleak import grid_circuits
from buzzout.electrics.operating import Operating
from buzzout.electrics.stress import (
    NEAR,
    OVER,
    SURGE,
    States,
    Stress,
    alternating_at,
    device_in,
    judge,
)
from buzzout.electrics.strike import gas_amps
from buzzout.electrics.unmodelled import unmodelled

GRID = "grid circuit"


def _limits(
    name: str, when: str, rows: Iterable[tuple[str, float, str, float | None]]
) -> Iterator[Stress]:
    """Stresses of a valve where a limit is published."""
    for what, value, unit, limit in rows:
        if limit is not None and math.isfinite(value):
            verdict = judge(value, limit, 0.9)
            yield Stress(name, what, value, unit, limit, verdict, when, margin="published limit")


def valves(states: States) -> Iterator[Stress]:
    """Every amplifying section against the limits that its maker printed."""
    state = states.warm
    for valve in state.net.valves:
        flow, device = state.flow(valve.name), state.net.conditions.device(valve.type)
        if flow is None or device is None:
            continue
        at = valve.electrodes
        va = state.volts(at["anode"], at["cathode"])
        vs = state.volts(at["screen"], at["cathode"]) if "screen" in at else 0.0
        limit = device.limit
        rows = [
            ("anode dissipation", va * flow.anode, "W", limit("anode_w")),
            ("anode voltage", va, "V", limit("anode_v")),
            ("cathode current", 1e3 * flow.cathode, "mA", limit("cathode_ma")),
        ]
        if "screen" in at:
            rows.append(("screen dissipation", vs * flow.screen, "W", limit("screen_w")))
            rows.append(("screen voltage", vs, "V", limit("screen_v")))
        yield from _limits(valve.name, "running", rows)
        yield from _limits(valve.name, "running", _heater_cathode(state, at["cathode"], device))
        cold = states.surge.volts(at["anode"])
        bare = limit("anode_cold_v")
        without = [("anode voltage without current", cold, "V", bare)]
        yield from _limits(valve.name, SURGE, without)


def blind(states: States) -> Iterator[Stress]:
    """Sections without a model: what their electrodes stand at, not what they draw."""
    state = states.warm
    for valve in unmodelled(state.net):
        device, at = state.net.conditions.device(valve.type), valve.electrodes
        rows = [
            (f"{role} voltage", state.volts(at[role], at["cathode"]), "V",
             device.limit(f"{role}_v", valve.kind))
            for role in ("anode", "screen", "target") if role in at
        ]  # fmt: skip
        yield from _limits(valve.name, "running", rows)
        yield from _limits(valve.name, "running", _heater_cathode(state, at["cathode"], device))


def _heater_cathode(
    state: Operating, cathode: Point, device: Any
) -> list[tuple[str, float, str, float | None]]:
    """Voltage between heater and cathode, with the heater's own alternating peak."""
    limit = device.limit("heater_cathode_v")
    worst = 0.0
    for branch in state.net.heaters.get(cathode.owner, ()):
        for end in (branch.a, branch.b):
            steady = state.volts(cathode, end)
            top = math.sqrt(2) * alternating_at(state, end)
            worst = max(worst, (0.0 if math.isnan(steady) else abs(steady)) + top)
    return [("heater to cathode", worst, "V", limit)]


def grids(states: States) -> Iterator[Stress]:
    """Every grid circuit of an output valve against the ohms that its sheet allows."""
    for each in grid_circuits(states.warm.net):
        if math.isfinite(each.ohms):
            near = judge(each.ohms, each.limit, 0.9)
            verdict = OVER if each.over else NEAR if near == OVER else near
            bias = "fixed" if each.fixed else "self"
            margin = f"published limit with {bias} bias"
            yield Stress(each.part, GRID, each.ohms, "ohm", each.limit, verdict, "running",
                         margin=margin)  # fmt: skip


def rectifiers(states: States) -> Iterator[Stress]:
    """Every rectifier valve against its limits."""
    state = states.warm
    total: dict[str, float] = {}
    for path, way, pulse in zip(state.system.paths, state.ways, state.pulses, strict=True):
        part = way.parts[0]
        device = device_in(state, part)
        if device is None:
            continue
        total[part] = total.get(part, 0.0) + pulse.mean
        ends = (state.net.groups[n][0] for n in (way.k, way.a))
        back = path.peak + abs(state.volts(*ends))
        yield from _limits(path.name, "running", [
            ("peak current", 1e3 * pulse.peak, "mA", device.limit("peak_anode_ma")),
            ("inverse voltage", back, "V", device.limit("peak_inverse_v")),
        ])  # fmt: skip
        yield from _least(path.name, path.ohms, device.limit("source_ohm"))
    for part, amps in total.items():
        device = device_in(state, part)
        if device is not None:
            yield from _limits(
                part, "running", [("direct current", 1e3 * amps, "mA", device.limit("dc_ma"))]
            )


def stabilisers(states: States) -> Iterator[Stress]:
    """Every gas stabiliser: does it strike, and its current against what is published."""
    for dark in states.warm.dark:
        yield Stress(dark.name, "voltage too low to strike", dark.volts, "V", dark.strike, OVER,
                     "running", margin="published striking voltage")  # fmt: skip
    types = {valve.name: valve.type for valve in states.warm.net.valves}
    for tube in states.warm.system.gas:
        device = states.warm.net.conditions.device(types.get(tube.name, ""))
        if device is None or tube.dark:
            continue
        amps = gas_amps(tube, states.warm.solution.x)
        most, least = (device.limit(key) for key in ("current_max_ma", "current_min_ma"))
        yield from _limits(tube.name, "running", [("current", 1e3 * amps, "mA", most)])
        if least is not None and 1e3 * amps < least:
            yield Stress(tube.name, "current too low to hold its voltage", 1e3 * amps, "mA", least,
                         OVER, "running", margin="published least current")  # fmt: skip
    yield from _at_switch_on(states.surge, types)


def _at_switch_on(surge: Operating, types: Mapping[str, str]) -> Iterator[Stress]:
    """Stabilisers carry what the cold valves do not draw yet; for seconds, so it is a warning."""
    for tube in surge.system.gas:
        device = surge.net.conditions.device(types.get(tube.name, ""))
        most = None if device is None else device.limit("current_max_ma")
        amps = 1e3 * gas_amps(tube, surge.solution.x)
        if most is not None and amps > most:
            yield Stress(tube.name, "current at switch-on", amps, "mA", most, NEAR, SURGE,
                         margin="published limit of the running current")  # fmt: skip


def _least(name: str, ohms: float, needed: float | None) -> Iterator[Stress]:
    """Resistance that the rectifier must have in front of it."""
    if needed is not None and ohms < needed:
        yield Stress(name, "source resistance too low", ohms, "ohm", needed, OVER, "running")
