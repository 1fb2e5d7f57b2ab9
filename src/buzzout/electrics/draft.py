"""A network made ready for its operating point: rows, models, rectifier paths, what floats."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from buzzout.circuit import Point, pieces
from buzzout.electrics.mains import Lamp, outlet_nodes
from buzzout.electrics.models import Known, model
from buzzout.electrics.network import Floats, Network
from buzzout.electrics.paths import Way, diodes, ways
from buzzout.electrics.system import GROUND, Fitted, Source, Stabiliser, System
from buzzout.electrics.unmodelled import remark, stand_ins

WARM, STARTING, COLD = "warm", "starting", "cold"
ENOUGH_HEAT = 0.8  # share of the heater voltage below which emission fails (common practice)


@dataclass(frozen=True, slots=True)
class Supply:
    """A voltage given instead of the mains: from a to b. [V], [ohm]."""

    a: Point
    b: Point
    volts: float
    ohms: float = 0.0


@dataclass(frozen=True)
class Power:
    """How power comes on.

    Parameters
    ----------
    heat : str
        WARM; STARTING (rectifiers conduct, no other valve does yet: the surge); COLD (nothing).
    volts : float or None
        Mains voltage, r.m.s.; None takes the file's. [V]
    fraction : float
        Share of that voltage on a variable transformer. [1]
    limiter : Lamp or None
        A lamp in series with the mains.
    supplies : tuple of Supply
        Direct voltages connected from outside; the mains stays off when there are any.
    emission : mapping
        Valve name (or part) to a factor on its currents; 1 is the sheet's valve. [1]
    """

    heat: str = WARM
    volts: float | None = None
    fraction: float = 1.0
    limiter: Lamp | None = None
    supplies: tuple[Supply, ...] = ()
    emission: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Draft:
    """Everything that does not change between turns of mains side and direct current.

    `valves` are those of the system on nodes of the network instead of rows.
    """

    net: Network
    power: Power
    rows: Mapping[int, int]
    system: System
    valves: tuple[Fitted, ...]
    ways: tuple[Way, ...]
    remarks: tuple[str, ...]
    floating: tuple[Point, ...]
    piece: tuple[int, ...]


def draft(net: Network, power: Power) -> Draft:
    """Prepare a network for stated power."""
    if power.heat == WARM:
        net = replace(net, branches=(*net.branches, *stand_ins(net)))
    found, remarks = diodes(net)
    live = [d for d in found if not (d.heated and power.heat == COLD)]
    used = ways(net, tuple(live))
    valves, more = _valves(net, power)
    gas = _gas(net, power)
    ends = [*_joined(net, used, power), *_through(valves, gas)]
    piece = tuple(pieces(net.size, ends))
    rows = _rows(net, piece)
    system = System(
        _conductance(net, rows),
        tuple(
            Source(rows[net.of[s.a]], rows[net.of[s.b]], s.volts, s.ohms)
            for s in power.supplies
            if s.a in net.of and s.b in net.of
        ),
        tuple(_placed(v, rows) for v in valves),
        (),
        tuple(replace(g, a=rows[g.a], b=rows[g.b]) for g in gas),
    )
    floating = tuple(
        p for n, group in enumerate(net.groups) if piece[n] != piece[net.chassis] for p in group
    )
    everything = (*net.remarks, *remarks, *more, *_heat_remarks(used, power))
    return Draft(net, power, rows, system, valves, used, everything, floating, piece)


def _heat_remarks(used: tuple[Way, ...], power: Power) -> Iterator[str]:
    if power.heat == STARTING and any(way.heated for way in used):
        yield "indirectly heated rectifiers are taken as warm before all other valves"
    if 0 < power.fraction < ENOUGH_HEAT and power.heat == WARM:
        yield "heaters below 80 % of their voltage: emission is lower than computed here"


def mains_volts(net: Network, power: Power) -> float:
    """Mains voltage that is applied; none while a supply is connected from outside. [V]."""
    if power.supplies:
        return 0.0
    told = net.circuit.mains.voltage.value if net.circuit.mains else 0.0
    return (told if power.volts is None else power.volts) * power.fraction


def _joined(net: Network, used: tuple[Way, ...], power: Power) -> list[tuple[int, int]]:
    """Pairs of nodes between which a direct current can flow."""
    ends = [net.ends(b) for b in net.resistive if not math.isinf(b.value)]
    ends += [(w.a, w.k) for w in used]
    ends += [(net.of[s.a], net.of[s.b]) for s in power.supplies if s.a in net.of and s.b in net.of]
    outlet = outlet_nodes(net)
    if outlet is not None and mains_volts(net, power):
        ends.append(outlet)  # for a direct current the mains is a short
    return ends


def _through(valves: tuple[Fitted, ...], gas: tuple[Stabiliser, ...]) -> Iterator[tuple[int, int]]:
    """Pairs of nodes between which a valve or a discharge can carry current."""
    for valve in valves:
        for end in (valve.grid, valve.screen, valve.anode):
            yield end, valve.cathode
    for tube in gas:
        yield tube.a, tube.b


def _placed(valve: Fitted, rows: Mapping[int, int]) -> Fitted:
    grid, screen, anode, cathode = (
        rows[n] for n in (valve.grid, valve.screen, valve.anode, valve.cathode)
    )
    return replace(valve, grid=grid, screen=screen, anode=anode, cathode=cathode)


def _rows(net: Network, piece: tuple[int, ...]) -> Mapping[int, int]:
    """Rows of the nodes; every piece has a zero of its own, the chassis' being the chassis."""
    grounded = {piece[net.chassis]: net.chassis}
    rows: dict[int, int] = {net.chassis: GROUND}
    count = 0
    for node in range(net.size):
        if grounded.setdefault(piece[node], node) == node:
            rows[node] = GROUND
        else:
            rows[node] = count
            count += 1
    return rows


def _conductance(net: Network, rows: Mapping[int, int]) -> Floats:
    size = 1 + max(rows.values(), default=GROUND)
    matrix = np.zeros((size + 1, size + 1))  # the last row and column are for ground and fall away
    edges = net.edges(lambda b: b.value)
    row = np.array([rows[node] for node in range(net.size)])
    ends = row[np.stack([edges.a, edges.b], axis=1)]
    four = np.outer(edges.siemens, [1.0, -1.0, 1.0, -1.0])
    np.add.at(matrix, (ends[:, [0, 0, 1, 1]], ends[:, [0, 1, 1, 0]]), four)
    return matrix[:-1, :-1]


def _valves(net: Network, power: Power) -> tuple[tuple[Fitted, ...], tuple[str, ...]]:
    """Amplifying sections with their models, on nodes; remarks about those without one."""
    found, remarks = [], []
    for valve in net.valves:
        if valve.kind == "diode":
            continue
        known: Known | None = model(net.conditions.device(valve.type), valve.kind)
        if "grid" not in valve.electrodes:
            remarks.append(f"{valve.name}: no model of a {valve.kind} {valve.type}, taken as open")
            continue
        if known is None:
            remarks.append(remark(net, valve))
            continue
        if known.origin != "fitted":
            remarks.append(f"{valve.name}: model of {valve.type} {known.origin}")
        if power.heat != WARM:
            continue
        at = {role: net.of[p] for role, p in valve.electrodes.items()}
        scale = power.emission.get(valve.name, power.emission.get(valve.part, 1.0))
        screen = at.get("screen", at["cathode"])
        found.append(
            Fitted(valve.name, known.model, at["grid"], screen, at["anode"], at["cathode"], scale)
        )
    return tuple(found), tuple(dict.fromkeys(remarks))


# common practice: a small neon lamp burns at 60 V and strikes at 90 V at most; the discharge of a
# stabiliser is 100 ohm steep
_NEON, _NEON_STRIKES, _NEON_OHMS, _GAS_OHMS = 60.0, 90.0, 2e3, 100.0


def _gas(net: Network, power: Power) -> tuple[Stabiliser, ...]:
    """Gas stabilisers by their sheet, and neon lamps, on nodes; whether they strike is not said."""
    found = [
        Stabiliser(
            b.name, net.of[b.a], net.of[b.b], _NEON, _NEON_OHMS, _NEON_STRIKES, 0.8 * _NEON,
            1.2 * _NEON,
        )
        for b in net.branches
        if b.kind == "neon"
    ]  # fmt: skip
    for valve in net.valves:
        device = net.conditions.device(valve.type)
        if device is not None and device.kind == "stabiliser" and power.heat != COLD:
            burning, low, high = (
                next((p.get(key) for p in device.points if p.get(key)), math.nan)
                for key in ("burning_v", "burning_min_v", "burning_max_v")
            )
            if not math.isnan(burning):
                a, k = (net.of[valve.electrodes[r]] for r in ("anode", "cathode"))
                strike = device.limit("start_v") or math.nan
                found.append(Stabiliser(valve.name, a, k, burning, _GAS_OHMS, strike, low, high))
    return tuple(found)
