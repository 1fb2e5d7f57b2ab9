"""What kind of part a place asks for: mains classes of capacitors, resistors that fuse."""

from __future__ import annotations

import math
from dataclasses import dataclass

from buzzout.bench.sizes import Sized
from buzzout.catalogue import Device, device
from buzzout.circuit import Circuit, Part, Point, article
from buzzout.compare.values import AS_GOOD
from buzzout.job.places import Places
from buzzout.job.rulebook import figure

# IEC 60384-14: class X across the mains, class Y from the mains to what can be touched. Y1
# bridges double or reinforced insulation, Y2 basic insulation; X1 and X2 differ in the peaks that
# they stand (4 kV and 2.5 kV). The classes as quoted in capacitor makers' guides, from memory.
_SOURCE = "IEC 60384-14"
# A resistor that a short behind it would load more than so many times its rating will burn or must
# fuse. Common practice.
_OVERLOAD = 5.0


@dataclass(frozen=True)
class Fitness:
    """What to ask for beside the figures, and why. `mains`: rated in volts of the mains."""

    words: tuple[str, ...] = ()
    why: tuple[str, ...] = ()
    mains: bool = False


def fitness(part: Part, places: Places, sized: Sized) -> Fitness:
    """What the place asks of a part of the drawing that is bought by its value."""
    if part.kind in ("capacitor", "electrolytic"):
        return _capacitor(part, places, sized)
    if part.kind == "resistor":
        return _resistor(part, places, sized)
    return Fitness()


def _ends(part: Part, places: Places) -> tuple[frozenset[str], frozenset[str]]:
    """The places of its two ends."""
    one, other = part.points[:2]
    return places.of([one]), places.of([other])


def _capacitor(part: Part, places: Places, sized: Sized) -> Fitness:
    one, other = _ends(part, places)
    if "mains" in one and "mains" in other:
        asked = _at_least("X2", part)
        words = (f"class {asked}" + " (X1 where surges are to be expected)" * (asked == "X2"),)
        return Fitness(words, (f"across the mains: {_SOURCE}",), mains=True)
    touch = {"chassis", "earth", "outside"}
    if "mains" in one | other and touch & (one | other):
        return _to_chassis(part, places.circuit, sized)
    low_loss = {"mica": "silvered mica or C0G ceramic", "ceramic": "ceramic as drawn"}
    if part.kind == "electrolytic":
        return _reservoir(part, places.circuit, sized)
    kinds = [low_loss[s] for s in part.style if s in low_loss]
    if "paper" in part.style and part.kind == "capacitor":
        kinds.append("film for paper: old paper leaks (common practice)")
    return Fitness(tuple(kinds))


def _at_least(asked: str, part: Part) -> str:
    """The class that a place asks for, or the one drawn where that stands more."""
    return part.mains_class if part.mains_class in AS_GOOD[asked] else asked


def _reservoir(part: Part, circuit: Circuit, sized: Sized) -> Fitness:
    """A reservoir no larger than the rectifier stands; nothing to say of any other."""
    plus = circuit.node_of.get(_plus(part))
    for socket in circuit.parts.values():
        valve = device(socket.type) if socket.kind == "socket" and socket.type else None
        if valve is None or "rectifier" not in valve.kind:
            continue
        ends = [socket.point(pin) for s in valve.sections for r, pin in s.pins.items()
                if r in ("cathode", "filament")]  # fmt: skip
        most = _most(valve)
        if most and plus is not None and plus in {circuit.node_of.get(p) for p in ends}:
            words = f"not above {most:g}u: the most that {article(socket.type)} may feed"
            why = f"{most:g}u: the published limit of the {socket.type}"
            over = sized.value.value > most * 1e-6 * (1 + 1e-9)
            return Fitness((f"TOO LARGE, {words}" if over else words,), (why,))
    return Fitness()


def _most(valve: Device) -> float | None:
    """The largest reservoir that is published for a rectifier. [uF]."""
    told = [block.get("reservoir_uf") for block in valve.rectifier]
    return valve.limit("reservoir_uf") or max((u for u in told if u), default=None)


def _plus(part: Part) -> Point:
    """The plus end; a section of a can is called by its own point, as C30.square."""
    owner, _, section = part.name.partition(".")
    return Point(owner, section) if section else part.point("+")


def _to_chassis(part: Part, circuit: Circuit, sized: Sized) -> Fitness:
    """A capacitor from the mains to the chassis: class by whether the chassis is earthed."""
    earthed = any("E" in part.terminals for part in circuit.parts.values() if part.kind == "cord")
    volts = circuit.mains.voltage.value if circuit.mains else 230.0
    hertz = circuit.mains.frequency.value if circuit.mains and circuit.mains.frequency else 50.0
    milliamps = 2e3 * math.pi * hertz * sized.value.value * volts
    most = figure("y-milliamps" if earthed else "touch-milliamps")
    passes = f"{milliamps:.2g} mA to the chassis at {volts:g} V {hertz:g} Hz"
    limit = f"{most:g} mA at most" + ("" if earthed else " where the chassis is not earthed")
    words = [f"class {_at_least('Y2' if earthed else 'Y1', part)}, nothing else"]
    if milliamps > most:
        words.append(f"too large: it passes {passes}, {limit}; better leave it out as a departure")
    why = f"from the mains to the chassis: {_SOURCE}; it passes {passes}, {limit}"
    return Fitness(tuple(words), (why,), mains=True)


def _resistor(part: Part, places: Places, sized: Sized) -> Fitness:
    one, other = _ends(part, places)
    if "mains" in one & other:
        return Fitness(("flameproof, fusible",), ("it carries the mains (common practice)",))
    if "ht" not in one & other or sized.watts is None:
        return Fitness()
    volts = _highest(places)
    burned = volts**2 / sized.value.value
    if burned <= _OVERLOAD * sized.watts:
        return Fitness()
    why = (
        f"a short behind it puts {volts:.0f} V and {burned:.2g} W on it:"
        " it must go open without a flame (common practice)"
    )
    return Fitness(("flameproof",), (why,))


def _highest(places: Places) -> float:
    """Highest peak voltage of the windings that feed the HT. [V]."""
    circuit = places.circuit
    peaks = [
        math.sqrt(2) * max(abs(v) for v in element.taps)
        for part in circuit.parts.values()
        for element in part.elements
        if element.kind == "winding" and element.taps
        and not element.label.lower().startswith(("primary", "mains"))
    ]  # fmt: skip
    return max(peaks, default=0.0)
