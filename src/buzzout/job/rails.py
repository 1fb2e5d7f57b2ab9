"""The HT side of a circuit: where the rectified voltage stands without any resistor before it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

from buzzout.catalogue import Device, device
from buzzout.circuit import CHASSIS, Circuit, Part, Point
from buzzout.electrics.resistance import Resistances, resistances
from buzzout.job.passages import Passage, Ways
from buzzout.job.supplyline import HT_WINDING

# From this marked voltage on a capacitor belongs to the HT. [V] common practice
HT_RATING = 160.0


def direct(passage: Passage) -> bool:
    """What direct current passes with next to no drop."""
    return passage.how in ("fuse", "contact", "winding")


def ohmic(passage: Passage) -> bool:
    """What direct current passes at all, rectifiers and heaters aside."""
    return passage.how in ("fuse", "contact", "winding", "resistor", "track", "lamp")


def _fed(passage: Passage) -> bool:
    """What the alternating voltage of a winding comes through on its way to a rectifier."""
    return ohmic(passage) or (passage.how == "capacitor" and passage.part.kind == "capacitor")


def _poles(diode: Passage) -> Iterator[tuple[Point, Point]]:
    """Anode and cathode of a diode, or of one in a bridge; both ways round where nobody read it."""
    ends = (diode.b, diode.a) if diode.b.pin == "-" else (diode.a, diode.b)
    yield ends
    if "polarity" in diode.part.unread:
        yield ends[1], ends[0]


@dataclass(frozen=True)
class Rails:
    """Nodes of the HT side. `plus` stands at rectified voltage, `raw` at that of the winding.

    `like` is that of a circuit that differs little, `known` the passages where they are known.
    """

    circuit: Circuit
    like: Rails | None = field(default=None, compare=False, repr=False)
    known: Ways | None = field(default=None, compare=False, repr=False)

    @cached_property
    def ways(self) -> Ways:
        """Passages of the circuit."""
        return self.known or Ways(self.circuit)

    @cached_property
    def cold(self) -> Resistances:
        """Resistances between points with the set unplugged and the valves out."""
        return resistances(self.circuit, like=self.like.cold if self.like else None)

    @cached_property
    def chassis(self) -> frozenset[int]:
        """The chassis."""
        return self.ways.nodes([CHASSIS])

    @cached_property
    def sockets(self) -> tuple[tuple[Part, Device], ...]:
        """Sockets whose valve is in the catalogue."""
        found = ((p, device(p.type)) for p in self.circuit.parts.values() if p.kind == "socket")
        return tuple((part, valve) for part, valve in found if valve is not None)

    @cached_property
    def raw(self) -> frozenset[int]:
        """Ends of the HT windings."""
        ends = (
            part.point(t)
            for part in self.circuit.parts.values()
            if part.kind == "transformer"
            for element in part.elements
            if element.kind == "winding" and element.load is None and element.taps
            and max(element.taps) - min(element.taps) > HT_WINDING
            and not element.label.lower().startswith(("primary", "mains"))
            for t in element.terminals
        )  # fmt: skip
        return self.ways.nodes(ends) - self.chassis

    @cached_property
    def plus(self) -> frozenset[int]:
        """Cathodes of rectifiers, plus ends of HT capacitors, and what they reach directly."""
        start = self.ways.nodes(self._sources()) - self.chassis - self.raw
        return self.ways.reached(start, direct, self.chassis | self.raw)

    @cached_property
    def minus(self) -> frozenset[int]:
        """Negative lines, bias among them: from the anode of a diode whose cathode a winding feeds.

        With what resistors reach from there, and the middle of an HT winding, which the HT current
        makes negative where it returns through a resistor.
        """
        walls = self.plus | self.chassis
        wound = {node for nodes in self._windings for node in nodes} - walls
        middles = {node for nodes in self._windings for node in nodes[1:-1]} & self.raw
        fed = self.ways.reached(wound, _fed, walls)
        poles = (ends for p in self.ways.passages if p.how == "diode" for ends in _poles(p))
        start = {
            self.ways.node(anode) for anode, cathode in poles if self.ways.node(cathode) in fed
        }
        return self.ways.reached((start - fed - walls) | middles, ohmic, walls | self.raw)

    @cached_property
    def _windings(self) -> tuple[tuple[int, ...], ...]:
        """Nodes of each winding that feeds, in the order of its terminals."""
        return tuple(
            tuple(self.ways.node(part.point(t)) for t in element.terminals)
            for part in self.circuit.parts.values() if part.kind == "transformer"
            for element in part.elements if element.kind == "winding" and element.load is None
        )  # fmt: skip

    def _sources(self) -> Iterator[Point]:
        for part, valve in self.sockets:
            if "rectifier" in valve.kind.lower():
                for pin, electrode in valve.pins.items():
                    if electrode.role in ("cathode", "filament") and pin in part.terminals:
                        yield part.point(pin)
        for plus, _, volts in self.reservoirs:
            if volts >= HT_RATING:
                yield plus

    @cached_property
    def reservoirs(self) -> tuple[tuple[Point, Point, float], ...]:
        """Every electrolytic and section of a can: plus, minus, marked voltage (0 if none)."""
        found: list[tuple[Point, Point, float]] = []
        for part in self.circuit.parts.values():
            if part.kind == "electrolytic" and {"+", "-"} <= set(part.terminals):
                volts = part.voltage.value if part.voltage else 0.0
                found.append((part.point("+"), part.point("-"), volts))
            for element in part.elements:
                if part.kind == "can" and element.kind == "capacitor":
                    volts = element.voltage.value if element.voltage else 0.0
                    plus, minus = (part.point(t) for t in element.terminals[:2])
                    found.append((plus, minus, volts))
        return tuple(found)

    @cached_property
    def cathodes(self) -> tuple[tuple[Part, Device, int], ...]:
        """Rectifier valves with the node of their cathode."""
        return tuple(
            (part, valve, self.ways.node(part.point(pin)))
            for part, valve in self.sockets
            if "rectifier" in valve.kind.lower()
            for pin in [p for p, e in valve.pins.items() if e.role in ("cathode", "filament")][:1]
        )

    def farads(self, plus: Point) -> float:
        """Marked capacitance of an electrolytic or of a section; 0 where none is told. [F]."""
        part = self.circuit.parts[plus.owner]
        inner = [e.value for e in part.elements if plus.pin in e.terminals]
        value = inner[0] if inner else part.value
        return value.value if value else 0.0

    @cached_property
    def everywhere(self) -> frozenset[int]:
        """Rectified or raw."""
        return self.plus | self.raw

    @cached_property
    def peak(self) -> float:
        """Highest voltage the reservoir can reach: peak of one half of the HT winding. [V]."""
        halves = [
            max(abs(v) for v in element.taps)
            for part in self.circuit.parts.values()
            if part.kind == "transformer"
            for element in part.elements
            if element.kind == "winding" and element.load is None and element.taps
            and not element.label.lower().startswith(("primary", "mains"))
        ]  # fmt: skip
        return 2**0.5 * max(halves, default=0.0)
