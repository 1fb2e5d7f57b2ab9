"""How a set stands at each step of its bring-up plan: valves in or out, lamp, supply."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from buzzout.bench.bias import Bias, bias
from buzzout.bench.faults import primary
from buzzout.catalogue import Device, device
from buzzout.circuit import CHASSIS, Circuit, Element, Part, Point, listed
from buzzout.electrics.common import feeding
from buzzout.electrics.draft import Power
from buzzout.electrics.mains import Lamp
from buzzout.electrics.operating import operate

# Lamps that are used as limiters. [W]. The smallest is taken that leaves four fifths of the mains
# to the running set: heaters lose their emission below that (common practice).
LAMPS = (25, 40, 60, 100, 150, 200, 300)
LAMP_SHARE = 0.2
NOTHING, RECTIFIER, ALL = "all valves out", "rectifier in, all others out", "all valves in"
NO_OUTPUT = "output valves out, all others in"
_ROLES = ("grid", "cathode", "screen", "anode")
_CHAIN = (
    "The heaters are one chain: one valve out, and all are dark; they warm up unevenly. The lamp"
    " is bright at first, then dims. Read when nothing changes any more."
)

_HOUR = "One hour under observation; smell, look, listen; the readings must not creep."


@dataclass(frozen=True)
class Setting:
    """How the set stands at one step: what is in its sockets and how it is fed.

    `output` are the electrodes of the output valves, in or out, each with its role. `controls` say
    how bias pots must stand of which the chassis file says nothing; the circuit has them so.
    """

    title: str
    fitted: str
    circuit: Circuit
    power: Power
    wait: str = ""
    output: tuple[tuple[str, Point], ...] = ()
    controls: tuple[str, ...] = ()


def settings(circuit: Circuit) -> tuple[Setting, ...]:
    """The steps of the plan, not yet computed. Step 1 is the first."""
    output = tuple(_output(circuit))
    own = unstated(circuit)
    circuit = own.turned(0.0) if own is not None else circuit
    lamp = Lamp(_lamp_watts(circuit), _mains(circuit))
    bare = _without(circuit, lambda _: True)
    rectified = _without(circuit, lambda part: _amplifies(device(part.type)))
    found: list[Setting] = []
    if feeding(circuit):
        found.append(Setting("transformer alone", NOTHING, bare, Power(limiter=lamp)))
        if bare != rectified or _semiconductors(circuit):
            found += [
                Setting("rectifier, no load: electrolytics reform", RECTIFIER, rectified,
                        Power(fraction=fraction, limiter=lamp))
                for fraction in _fractions(circuit)
            ]  # fmt: skip
        driven = _without(circuit, lambda part: part.name in {p.owner for _, p in output})
        if driven not in (circuit, rectified):
            title = "output valves out: no positive volts at their grids"
            found.append(Setting(title, NO_OUTPUT, driven, Power(limiter=lamp)))
    if circuit != rectified or not found:  # a supply by itself was behind the lamp already
        found.append(Setting("everything in, behind the lamp", ALL, circuit, Power(limiter=lamp)))
    found.append(Setting("everything in, no lamp", ALL, circuit, Power()))
    if not feeding(circuit):
        found[0] = replace(found[0], wait=_CHAIN)
    found.append(Setting("the same after an hour", ALL, circuit, Power(), _HOUR))
    found = [replace(setting, output=output) for setting in found]
    return tuple(_biased(found, own) if own is not None else found)


def bias_pots(circuit: Circuit) -> Bias | None:
    """The bias pots of the output valves; None without any."""
    return bias(circuit, tuple(_output(circuit)))


def unstated(circuit: Circuit) -> Bias | None:
    """Those of which the chassis file says nothing; None where there are none."""
    own = bias_pots(circuit)
    return None if own is None or own.stated else own


def _biased(found: Sequence[Setting], own: Bias) -> Iterator[Setting]:
    """The same with what is to be done about bias pots that may stand anywhere."""
    used = own.aimed
    for setting in found:
        first = f"first turn {own.fully}: the bias at its most negative"
        if setting.fitted not in (NO_OUTPUT, ALL):
            yield setting
        elif setting.wait == _HOUR:
            told = f"{own.names} as set in the step before; computed for {own.at(used)}"
            yield replace(setting, circuit=used, controls=(told,))
        elif setting.power.limiter is None:
            yield replace(setting, controls=(first, own.raised(used)))
        else:
            yield replace(setting, controls=(first,))


def untold(circuit: Circuit) -> str:
    """That a mains transformer is written down without the volts of its windings; else ""."""
    silent = [part for part in circuit.parts.values() if _silent(part)]
    reached = _at_mains(circuit)
    fed = [part for part in silent if not reached.isdisjoint(part.points)]
    # Coils of a receiver have primaries too: where nothing else tells, any may be the one.
    for part in fed or ([] if feeding(circuit) else silent):
        named = listed([e.label for e in _silent(part)])
        return (
            f"The chassis file does not say the volts of {part.name} ({named}): nothing can be"
            " computed. Write them behind the terminals of each winding line, as printed on the"
            " transformer, as measured, or as drawn where nothing tells."
        )
    return ""


def _silent(part: Part) -> list[Element]:
    """The windings without volts of a part that has a primary, but for those of a load."""
    own = [e for e in part.elements if e.kind == "winding" and e.load is None]
    return [e for e in own if not e.taps] if any(primary(e.label) for e in own) else []


def _at_mains(circuit: Circuit) -> frozenset[Point]:
    """The points that a mains lead reaches by wires, fuses and switches, however they stand."""
    of, parts = circuit.node_of, circuit.parts.values()
    ways = [part.points for part in parts if part.kind == "fuse"]
    ways += [
        tuple(part.point(t) for t in element.terminals)
        for part in parts for element in part.elements if element.kind == "contact"
    ]  # fmt: skip
    cores = (p.point(core) for p in parts if p.kind == "cord" for core in p.terminals)
    reached = {of[core] for core in cores if core.pin in ("L", "N")}
    count = 0
    while count != len(reached):
        count = len(reached)
        for points in ways:
            nodes = {of[p] for p in points if p in of}
            if not nodes.isdisjoint(reached):
                reached |= nodes
    return frozenset(point for point, node in of.items() if node in reached)


def _lamp_watts(circuit: Circuit) -> float:
    """The smallest lamp that leaves the running set enough voltage for its heaters."""
    mains = _mains(circuit)
    for watts in LAMPS:
        state = operate(circuit, Power(limiter=Lamp(watts, mains)))
        if state.settled and state.lamp_volts <= LAMP_SHARE * mains:
            return float(watts)
    return float(LAMPS[-1])


def _mains(circuit: Circuit) -> float:
    return circuit.mains.voltage.value if circuit.mains else 230.0


def _amplifies(valve: Device | None) -> bool:
    return valve is None or "rectifier" not in valve.kind


def _output(circuit: Circuit) -> Iterator[tuple[str, Point]]:
    """Electrodes of the valves that feed an output transformer, each with its role."""
    of, parts = circuit.node_of, circuit.parts
    fed = {
        of.get(part.point(t))
        for part in parts.values() for e in part.elements if e.load is not None
        for t in e.terminals
    } - {of.get(CHASSIS), None}  # fmt: skip
    for part in sorted(parts.values(), key=lambda part: part.name):
        valve = device(part.type) if part.kind == "socket" and part.type else None
        for section in valve.sections if valve is not None else ():
            at = {role: part.point(pin) for role, pin in section.pins.items()}
            if "anode" in at and of.get(at["anode"]) in fed:
                yield from ((role, at[role]) for role in _ROLES if role in at)


def _without(circuit: Circuit, out: Callable[[Part], bool]) -> Circuit:
    """The circuit with some valves taken out of their sockets."""
    parts = {
        name: replace(part, type="none") if part.kind == "socket" and out(part) else part
        for name, part in circuit.parts.items()
    }
    return circuit.but(parts)


def _semiconductors(circuit: Circuit) -> bool:
    return any(part.kind in ("diode", "bridge") for part in circuit.parts.values())


def _fractions(circuit: Circuit) -> tuple[float, ...]:
    """How the supply is raised: a rectifier with a cold heater gives nothing below 80 %."""
    kinds = [device(p.type) for p in circuit.parts.values() if p.kind == "socket" and p.type]
    indirect = any(
        d is not None
        and "rectifier" in d.kind
        and any(e.role == "cathode" for e in d.pins.values())
        for d in kinds
    )
    return (0.8, 1.0) if indirect else (0.5, 0.75, 1.0)
