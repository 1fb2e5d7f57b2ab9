"""The output stage of a job: what the readings say of it, and what another resistor would do."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from buzzout.bench.readings import Sitting, names
from buzzout.catalogue import device
from buzzout.circuit import CHASSIS, Circuit, Part, Point, Reading, printed
from buzzout.compare import Comparison
from buzzout.electrics.draft import Power
from buzzout.electrics.operating import operate
from buzzout.electrics.output import (
    CLASS_A,
    CLASS_AB,
    Figure,
    OutputStage,
    Proposal,
    Readings,
    output_stage,
    propose,
)
from buzzout.electrics.ranges import source_ohms

_METER = 0.01  # accuracy of a hand-held meter; common practice


@dataclass(frozen=True)
class Found:
    """Output valves that share a cathode resistor, with what was read there.

    `missing` says in words which readings are wanted still; `stage` is None while there are any.
    `measured` tells whether the resistor itself was measured; its marking is no measurement.
    """

    valves: tuple[str, ...]
    resistors: tuple[str, ...]
    missing: tuple[str, ...] = ()
    measured: bool = False
    stage: OutputStage | None = None
    proposal: Proposal | None = None
    share: float = CLASS_AB


def stages(sitting: Sitting, comparison: Comparison) -> tuple[Found, ...]:
    """Every output stage with a cathode resistor, in the order of the chassis."""
    circuit = comparison.found
    called = names(comparison)
    groups: dict[int, list[Part]] = {}
    for part in circuit.parts.values():
        pins = _pins(part)
        if "cathode" in pins and _output(part):
            groups.setdefault(circuit.node_of[pins["cathode"]], []).append(part)
    return tuple(
        _found(sitting, circuit, (node, valves), called)
        for node, valves in groups.items()
        if node != circuit.node_of[CHASSIS]
    )


def _output(part: Part) -> bool:
    valve = device(part.type) if part.kind == "socket" and part.type else None
    return valve is not None and "output" in valve.kind.lower()


def _pins(part: Part) -> Mapping[str, Point]:
    """Electrode to point of the valve's amplifying section."""
    valve = device(part.type) if part.kind == "socket" and part.type else None
    if valve is None or not valve.sections:
        return {}
    return {role: part.point(pin) for role, pin in valve.sections[-1].pins.items()}


def _found(
    sitting: Sitting, circuit: Circuit, group: tuple[int, list[Part]], called: Mapping[str, str]
) -> Found:
    node, valves = group
    resistors = [p for p in circuit.parts.values() if _from_node(p, circuit, node)]
    shown = tuple(called.get(p.name, p.name) for p in resistors)
    cathode = _pins(valves[0])["cathode"]
    ohms, measured = _ohms(sitting, circuit, cathode, resistors)
    read = _Read(sitting.readings, circuit)
    drop = read.volts(cathode)
    anodes = [read.volts(_pins(v)["anode"]) for v in valves]
    screens = [read.volts(_pins(v)["screen"]) for v in valves if "screen" in _pins(v)]
    missing = tuple(_missing(valves, (drop, anodes, ohms), cathode, shown))
    plain = Found(tuple(v.name for v in valves), shown, missing, measured)
    if missing:
        return plain
    told = Readings(
        valves[0].type, _mean([drop]), ohms, _mean(anodes), _mean(screens), len(valves),
        _METER if measured else _tolerance(resistors),
    )  # fmt: skip
    share = CLASS_AB if len(valves) > 1 else CLASS_A
    better = propose(told, share, supply_ohms=_supply_ohms(circuit, _pins(valves[0])["anode"]))
    return Found(plain.valves, shown, (), measured, output_stage(told), better, share)


def _from_node(part: Part, circuit: Circuit, node: int) -> bool:
    """Whether a resistor goes from this node to the chassis."""
    if part.kind != "resistor":
        return False
    ends = {circuit.node_of[p] for p in part.points}
    return ends == {node, circuit.node_of[CHASSIS]}


def _ohms(
    sitting: Sitting, circuit: Circuit, cathode: Point, resistors: Sequence[Part]
) -> tuple[float, bool]:
    """The cathode resistor: as read between its points, as measured lifted, else its marking."""
    for reading in (*sitting.readings, *circuit.readings):
        ends = {circuit.node_of.get(reading.at), circuit.node_of.get(reading.to)}
        wanted = {circuit.node_of[cathode], circuit.node_of[CHASSIS]}
        if reading.value.unit == "ohm" and ends == wanted:
            return reading.value.value, True
    lifted = [p.measured.value for p in resistors if p.measured and not p.in_circuit]
    if resistors and len(lifted) == len(resistors):
        return 1 / sum(1 / r for r in lifted), True
    marked = [p.value.value for p in resistors if p.value]
    if marked and len(marked) == len(resistors):
        return 1 / sum(1 / r for r in marked), False
    return math.nan, False


def _tolerance(resistors: Sequence[Part]) -> float:
    told = [p.value.minus for p in resistors if p.value and p.value.minus]
    return max(told, default=0.2)


@dataclass(frozen=True)
class _Read:
    """Direct voltages to chassis by node."""

    readings: Sequence[Reading]
    circuit: Circuit

    def volts(self, point: Point) -> float:
        """The last reading at a point, or at one joined with it by wire. [V]; NaN if none."""
        node = self.circuit.node_of[point]
        told = [
            r.value.value
            for r in self.readings
            if r.value.unit == "V" and not r.alternating and r.to == CHASSIS
            and self.circuit.node_of.get(r.at) == node
        ]  # fmt: skip
        return told[-1] if told else math.nan


def _mean(values: Sequence[float]) -> float:
    known = [v for v in values if not math.isnan(v)]
    return sum(known) / len(known) if known else math.nan


def _missing(
    valves: Sequence[Part],
    read: tuple[float, Sequence[float], float],
    cathode: Point,
    resistors: Sequence[str],
) -> Iterator[str]:
    drop, anodes, ohms = read
    if math.isnan(drop):
        yield f"reads {cathode} … V: the drop across the cathode resistor"
    for valve, anode in zip(valves, anodes, strict=True):
        if math.isnan(anode):
            yield f"reads {_pins(valve)['anode']} … V: the anode to chassis"
    if math.isnan(ohms):
        what = " and ".join(resistors) or "the resistor, if there is one"
        yield f"reads {cathode} to chassis … R, power off: {what}"


def _supply_ohms(circuit: Circuit, anode: Point) -> float:
    """By how much the supply rises for each ampere less. [ohm]; 0 where nothing was computed."""
    state = operate(circuit, Power())
    if not state.settled or anode not in state.net.of or state.side is None:
        return 0.0
    fed = [node for path in state.system.paths for node, r in state.rows.items() if r == path.k]
    if not fed:
        return 0.0
    return max(source_ohms(state, (state.net.groups[fed[0]][0],), CHASSIS)[0], 0.0)


def told(found: Found) -> list[str]:
    """One output stage as lines of text: both figures, and which is which."""
    lines = [
        f"{' and '.join(found.valves)}, cathode resistor {' and '.join(found.resistors) or '?'}"
    ]
    if found.stage is None:
        return [*lines, "  still to be read:", *(f"    {words}" for words in found.missing)]
    s = found.stage
    if not found.measured:
        lines.append("  THE RESISTOR WAS NOT MEASURED: its marking is taken, with its tolerance")
    lines += [
        f"  {_amps(s.cathode)} of cathode current in each, {_amps(s.total)} in all",
        f"  quick rule, anode to chassis times cathode current: {_watts(s.quick)} each",
        f"  exact, anode to cathode, without the screen's share: anode {_watts(s.anode)}",
        f"  screen {_watts(s.screen)}, {s.share:.0%} of the current, from {s.share_from}",
        f"  limit {s.anode_limit:g} W: {s.verdict}; the resistor burns {s.resistor_watts:.2g} W",
        *(f"  {remark}" for remark in s.remarks),
    ]
    return [*lines, *_proposed(found)]


def _proposed(found: Found) -> Iterator[str]:
    best = found.proposal
    if best is None:
        yield "  no proposal: the model of this valve, or its limit, is not known"
        return
    limit = f"{found.share:.0%} of the limit at rest (common practice)"
    yield (
        f"  the smallest preferred resistor that keeps the anode within {limit}:"
        f" {printed(best.ohms, 'ohm')}, {best.order:g} W"
    )
    yield (
        f"  then {best.drop:.3g} V across it, {best.cathode * 1e3:.3g} mA each, anode"
        f" {best.anode:.3g} W at {best.anode_volts:.0f} V; measure again"
    )


def _amps(figure: Figure) -> str:
    return f"{figure.value * 1e3:.1f} mA (+-{figure.off * 1e3:.1f})"


def _watts(figure: Figure) -> str:
    return f"{figure.value:.2f} W (+-{figure.off:.2f})"
