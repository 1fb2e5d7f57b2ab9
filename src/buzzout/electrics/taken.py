"""What is known of an output stage: told outright, read at the bench, else computed.

Every figure carries where it comes from, because a computed drop is no reading.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from buzzout.catalogue import device
from buzzout.circuit import CHASSIS, Circuit, Part, Point, Reading
from buzzout.electrics.common import common
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.network import Network, network
from buzzout.electrics.operating import Operating, operate
from buzzout.electrics.output import Readings, output_model
from buzzout.electrics.ranges import source_ohms
from buzzout.electrics.resistance import resistances

TOLD, READ, MARKED, COMPUTED = "told", "read", "as marked, not measured", "COMPUTED, not read"
_HELD = 1.0  # a grid that is more negative hangs on a bias supply; common practice [V]
_NOISE = 1e-12  # grid current that is none [A]
_MARKING = 0.2  # tolerance of a resistor that states none; common practice


@dataclass(frozen=True, slots=True)
class Given:
    """Figures told outright; NaN where not. [V], [ohm], [1]."""

    drop: float = math.nan
    ohms: float = math.nan
    anode: float = math.nan
    screen: float = math.nan
    accuracy: float = 0.01
    grid: float = math.nan


@dataclass(frozen=True, slots=True)
class Taken:
    """Readings for `output_stage`, with the origin of each and the stiffness of the supply.

    `points` tells where each figure belongs; `supply_ohms` by how much the HT rises for each
    ampere less. [ohm]
    """

    readings: Readings
    origin: Mapping[str, str]
    points: Mapping[str, str]
    supply_ohms: float


class NoStage(Exception):
    """The valves named are no output stage that can be judged; says why."""


def output_valves(circuit: Circuit) -> tuple[tuple[str, ...], ...]:
    """Names of the output valves of a set, those with one cathode together, as the file has them.

    Valves whose cathode sits on the chassis have no resistor that tells their current.
    """
    groups: dict[int, list[str]] = {}
    for part in circuit.parts.values():
        valve = device(part.type) if part.kind == "socket" and part.type else None
        if valve is None or not valve.output_pins or not valve.sections:
            continue
        pin = valve.sections[-1].pins.get("cathode")
        if pin is not None and part.point(pin) in circuit.node_of:
            groups.setdefault(circuit.node_of[part.point(pin)], []).append(part.name)
    ground = circuit.node_of.get(common(circuit))
    return tuple(tuple(names) for node, names in groups.items() if node != ground)


def take(
    circuit: Circuit,
    valves: Iterable[str],
    given: Given | None = None,
    read: Iterable[Reading] | None = None,
) -> Taken:
    """Collect the figures of valves that share a cathode resistor.

    `read` are the readings to go by, where not all of the circuit's are meant.

    Raises
    ------
    NoStage
        A name is unknown, a valve has no cathode, cathodes are apart, or nothing leads to chassis.
    """
    told, names = given or Given(), tuple(valves)
    circuit = circuit if read is None else replace(circuit, readings=tuple(read))
    state = operate(circuit)
    pins = _joined(state.net, names)
    ohms, whence, tolerance = _resistor(circuit, pins[0]["cathode"], told.ohms)
    found = {"ohms": (ohms, whence)}
    for role, own in (("cathode", told.drop), ("anode", told.anode), ("screen", told.screen)):
        found[role] = _volts(state, [p[role] for p in pins if role in p], own)
    if math.isnan(told.grid):
        grid, whence_grid = _grid(state, [p["grid"] for p in pins if "grid" in p]), READ
    else:
        grid, whence_grid = held(told.grid), TOLD
    if grid:
        found["grid"] = grid, "unknown" if math.isnan(grid) else whence_grid
    if math.isnan(found["cathode"][0]) or math.isnan(found["anode"][0]):
        raise NoStage("drop or anode voltage not read, and the circuit could not be computed")
    readings = Readings(
        state.net.circuit.parts[names[0]].type, found["cathode"][0], ohms, found["anode"][0],
        found["screen"][0], len(names), told.accuracy, tolerance if whence == MARKED else None,
        grid,
    )  # fmt: skip
    places = {role: ", ".join(str(p[role]) for p in pins if role in p) for role in pins[0]}
    origin = {role: words for role, (_, words) in found.items()}
    return Taken(readings, origin, places, _supply_ohms(state))


def electrodes(circuit: Circuit, valves: Iterable[str]) -> tuple[Mapping[str, Point], ...]:
    """Electrodes of the sections that deliver the power; see `take` for what it raises."""
    return _joined(network(circuit, Conditions(valves="warm")), tuple(valves))


def _joined(net: Network, names: tuple[str, ...]) -> tuple[Mapping[str, Point], ...]:
    pins = tuple(_pins(net, name) for name in names)
    if len({net.of[p["cathode"]] for p in pins}) != 1:
        raise NoStage(f"{', '.join(names)}: their cathodes are not joined")
    return pins


def _pins(net: Network, name: str) -> Mapping[str, Point]:
    """Electrodes of the section that delivers the power."""
    part: Part | None = net.circuit.parts.get(name)
    if part is None or part.kind != "socket":
        raise NoStage(f"there is no socket {name}")
    if not part.type or output_model(part.type) is None:
        raise NoStage(f"{name}: no model of {part.type or 'an unnamed valve'}")
    own = [v.electrodes for v in net.valves if v.part == name and v.kind != "diode"]
    if not own or not {"cathode", "anode"} <= set(own[-1]):
        raise NoStage(f"{name}: no cathode and anode known")
    return own[-1]


def _resistor(circuit: Circuit, cathode: Point, told: float) -> tuple[float, str, float]:
    """Resistance from cathode to chassis, where it comes from, and its tolerance."""
    if not math.isnan(told):
        return told, TOLD, 0.0
    minus = common(circuit)
    node, ground = circuit.node_of[cathode], circuit.node_of[minus]
    for reading in reversed(circuit.readings):
        ends = {circuit.node_of.get(reading.at), circuit.node_of.get(reading.to)}
        if reading.value.unit == "ohm" and ends == {node, ground}:
            return reading.value.value, READ, 0.0
    lifted = [p for p in circuit.parts.values() if _spans(circuit, p, {node, ground})]
    if lifted and all(p.measured and not p.in_circuit for p in lifted):
        ohms = 1 / sum(1 / p.measured.value for p in lifted if p.measured)
        return ohms, READ, 0.0
    span = resistances(circuit).between(cathode, minus)
    if not math.isfinite(span.nominal) or span.nominal <= 0:
        raise NoStage(f"no resistor from {cathode} to {minus}: give --ohms if there is one")
    share = max(span.high / span.nominal - 1, 1 - span.low / span.nominal)
    return span.nominal, MARKED, share or _MARKING


def _spans(circuit: Circuit, part: Part, nodes: set[int]) -> bool:
    return part.kind == "resistor" and {circuit.node_of[p] for p in part.points} == nodes


def _volts(state: Operating, points: list[Point], told: float) -> tuple[float, str]:
    """Mean voltage of like electrodes to the common line: told, else read, else computed."""
    if not math.isnan(told):
        return told, TOLD
    read = list(_read(state.net.circuit, points))
    if read:
        return sum(read) / len(read), READ
    minus = common(state.net.circuit)
    found = [v for p in points if not math.isnan(v := state.volts(p, minus))]
    return (sum(found) / len(found), COMPUTED) if found and state.settled else (math.nan, "unknown")


def _grid(state: Operating, grids: list[Point]) -> float:
    """What a bias supply holds the grids at: as read; NaN where it was not; 0 without any. [V]."""
    read = list(_read(state.net.circuit, grids))
    if read:
        return held(sum(read) / len(read))
    minus = common(state.net.circuit)
    # what nothing feeds, its own grid current makes negative: that is no supply
    flows = (state.flow(v.name) for v in state.net.valves if v.electrodes.get("grid") in grids)
    alone = all(flow is not None and flow.grid > _NOISE for flow in flows)
    fed = state.settled and any(held(state.volts(p, minus)) for p in grids)
    return math.nan if fed and not alone else 0.0


def held(volts: float) -> float:
    """What a bias supply holds a grid at; 0 where it is so little that none does. [V]."""
    return volts if volts < -_HELD else 0.0


def _read(circuit: Circuit, points: Iterable[Point]) -> Iterator[float]:
    """The last reading at each node."""
    minus = {circuit.node_of[CHASSIS], circuit.node_of[common(circuit)]}
    for node in dict.fromkeys(circuit.node_of[p] for p in points):
        told = [
            r.value.value
            for r in circuit.readings
            if r.value.unit == "V" and not r.alternating and circuit.node_of.get(r.to) in minus
            and circuit.node_of.get(r.at) == node
        ]  # fmt: skip
        yield from told[-1:]


def _supply_ohms(state: Operating) -> float:
    """By how much the supply rises for each ampere less. [ohm]; 0 where nothing was computed."""
    if not state.settled:
        return 0.0
    fed = [n for way in state.ways for n in (way.k, way.a) if n != state.net.chassis][:1]
    points = tuple(state.net.groups[n][0] for n in fed)
    return max(source_ohms(state, points, common(state.net.circuit))[0], 0.0) if points else 0.0
