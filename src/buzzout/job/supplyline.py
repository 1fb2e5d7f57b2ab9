"""The mains side of a circuit: where line, neutral and earth go before anything else begins."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from buzzout.catalogue import device
from buzzout.circuit import CHASSIS, Circuit, Element, Part, Point
from buzzout.job.passages import Passage, Ways

if TYPE_CHECKING:
    from buzzout.job.draws import Draws

# A winding above this feeds the HT. [V] common practice
HT_WINDING = 60.0
_SERIES = ("fuse", "contact")
_WOUND = ("fuse", "contact", "winding")


def series(passage: Passage) -> bool:
    """What stands in a conductor on purpose: fuse, switch, and the choke of a filter."""
    return passage.how in _SERIES or passage.part.kind in ("inductor", "choke")


def as_set(passage: Passage) -> bool:
    """The same with every switch in the position it was found in; on-off ones count as on."""
    if passage.how != "contact" or passage.element is None or passage.element.closed:
        return series(passage)
    moving = passage.element.terminals[0]
    throws = [e for e in passage.part.elements if e.terminals[0] == moving]
    return len(throws) == 1 or not passage.part.setting


def wound(passage: Passage) -> bool:
    """Fuse, switch, and the windings that the mains feeds."""
    return passage.how in _WOUND and passage.part.kind != "speaker"


def _pole(contact: Passage) -> tuple[str, str]:
    """The part and the moving contact of one of its throws."""
    return contact.part.name, contact.a.pin


@dataclass(frozen=True)
class SupplyLine:
    """Nodes of the mains side of a circuit.

    `line`, `neutral` and `earth` are the nodes of the conductors at the mains lead. `live` is what
    the first two reach through fuses, switches and windings: every node that stands at mains
    voltage as the set is meant to work. The chassis never belongs to it. `like` is that of a
    circuit that differs little. `lent`: figures of its windings are those of the drawing.
    """

    circuit: Circuit
    like: SupplyLine | None = field(default=None, compare=False, repr=False)
    lent: bool = field(default=False, compare=False, repr=False)

    @cached_property
    def ways(self) -> Ways:
        """Passages of the circuit."""
        return Ways(self.circuit)

    @cached_property
    def cords(self) -> tuple[Part, ...]:
        """The mains leads of the set."""
        return tuple(p for p in self.circuit.parts.values() if p.kind == "cord")

    @cached_property
    def cord(self) -> Part | None:
        """The mains lead, None where the file has none."""
        return next((p for p in self.cords if {"L", "N"} <= set(p.terminals)), None)

    def conductor(self, pin: str) -> Point | None:
        """One conductor of the mains lead as a point."""
        cord = self.cord
        return cord.point(pin) if cord is not None and pin in cord.terminals else None

    def _node(self, pin: str) -> int:
        point = self.conductor(pin)
        return self.ways.node(point) if point is not None else -1

    @cached_property
    def line(self) -> int:
        """Node of the line conductor, -1 without one."""
        return self._node("L")

    @cached_property
    def neutral(self) -> int:
        """Node of the neutral, -1 without one."""
        return self._node("N")

    @cached_property
    def earth(self) -> int:
        """Node of the protective earth conductor, -1 without one."""
        return self._node("E")

    @cached_property
    def chassis(self) -> int:
        """Node of the chassis."""
        return self.ways.node(CHASSIS)

    @cached_property
    def bare(self) -> frozenset[int]:
        """What line and neutral must not meet: the chassis and the earth conductor."""
        return frozenset({self.chassis, self.earth}) - {-1}

    @cached_property
    def line_side(self) -> frozenset[int]:
        """Nodes behind fuse and switch from the line."""
        return self._side(self.line)

    @cached_property
    def neutral_side(self) -> frozenset[int]:
        """Nodes behind fuse and switch from the neutral."""
        return self._side(self.neutral)

    def _side(self, start: int) -> frozenset[int]:
        if start < 0 or start in self.bare:
            return frozenset()
        return self.ways.reached([start], series, self.bare)

    def breaks(self, passage: Passage) -> bool:
        """Whether a contact switches the mains off; a voltage selector does not."""
        return passage.how == "contact" and _pole(passage) in self._breaking

    @cached_property
    def switches(self) -> tuple[Part, ...]:
        """What switches the mains on and off, without voltage selectors."""
        found = (p.part for p in self._contacts if self.breaks(p))
        return tuple({part.name: part for part in found}.values())

    @cached_property
    def selectors(self) -> tuple[Part, ...]:
        """Switches that choose how the mains goes on, where their position is written down."""
        found = (p.part for p in self._contacts if not self.breaks(p))
        return tuple({p.name: p for p in found if p.setting.isdigit()}.values())

    @cached_property
    def _contacts(self) -> tuple[Passage, ...]:
        near = self.line_side | self.neutral_side
        every = (p for p in self.ways.passages if p.how == "contact")
        return tuple(p for p in every if near & self.ways.nodes((p.a, p.b)))

    @cached_property
    def _breaking(self) -> frozenset[tuple[str, str]]:
        """Poles that break the mains: with one way in use, or with a way that leads nowhere.

        The latter only where nothing else switches: a selector may have a way to spare.
        """
        leads: dict[tuple[str, str], list[bool]] = {}
        for contact in self._contacts:
            nodes = self.circuit.nodes
            used = len(nodes[self.ways.node(contact.b)].points) > 1
            leads.setdefault(_pole(contact), []).append(used)
        plain = frozenset(pole for pole, used in leads.items() if sum(used) <= 1)
        return plain or frozenset(pole for pole, used in leads.items() if not all(used))

    @cached_property
    def live(self) -> frozenset[int]:
        """Every node at mains voltage."""
        start = {self.line, self.neutral} - self.bare - {-1}
        return self.ways.reached(start, wound, self.bare)

    @cached_property
    def primaries(self) -> tuple[tuple[Part, Element], ...]:
        """Windings of transformers that the mains feeds: both line and neutral side touch them."""
        return tuple(
            (part, element)
            for part, element in self.windings
            if self._touched(part, element, self.line_side)
            or self._touched(part, element, self.neutral_side)
        )

    def _touched(self, part: Part, element: Element, side: frozenset[int]) -> bool:
        return bool(side & self.ways.nodes(part.point(t) for t in element.terminals))

    @cached_property
    def windings(self) -> tuple[tuple[Part, Element], ...]:
        """All windings of all transformers."""
        return tuple(
            (part, element)
            for part in self.circuit.parts.values()
            if part.kind == "transformer"
            for element in part.elements
            if element.kind == "winding"
        )

    @cached_property
    def isolated(self) -> bool:
        """Whether a transformer with a winding of its own stands between mains and set."""
        fed = {part.name for part, _ in self.primaries}
        own = (
            part.name
            for part, element in self.windings
            if not self.live & self.ways.nodes(part.point(t) for t in element.terminals)
        )
        return bool(fed & set(own))

    @cached_property
    def load(self) -> frozenset[int]:
        """Nodes where the mains does its work: ends of the primary; without one, of any part."""
        wound = (part.point(t) for part, element in self.primaries for t in element.terminals)
        nodes = self.ways.nodes(wound)
        if nodes:
            return nodes - self.bare
        busy = (
            node
            for passage in self.ways.passages
            if not series(passage) and passage.how != "capacitor"
            for node in self.ways.nodes((passage.a, passage.b))
        )
        return frozenset(busy) & (self.line_side | self.neutral_side)

    @cached_property
    def transformerless(self) -> bool:
        """A set that is made without a transformer between its HT and the mains."""
        if self.cord is None or not self.load:
            return False
        return not self.isolated or (not self._own_ht and bool(self._rectifiers & self.live))

    @cached_property
    def _own_ht(self) -> bool:
        """Whether any winding apart from the mains gives an HT voltage."""
        return any(
            element.taps
            and max(element.taps) - min(element.taps) > HT_WINDING
            and element.load is None
            and not self.live & self.ways.nodes(part.point(t) for t in element.terminals)
            for part, element in self.windings
        )

    @cached_property
    def _rectifiers(self) -> frozenset[int]:
        """Nodes with a diode or the anode of a rectifier on them."""
        points = [p for way in self.ways.passages if way.how == "diode" for p in (way.a, way.b)]
        for part in self.circuit.parts.values():
            valve = device(part.type) if part.kind == "socket" and part.type else None
            if valve is not None and "rectifier" in valve.kind:
                points += [part.point(pin) for pin, e in valve.pins.items() if e.role == "anode"]
        return self.ways.nodes(points)

    @cached_property
    def outside(self) -> frozenset[int]:
        """What a person can touch from outside: jacks, connectors, speakers; not the chassis."""
        points = (
            point
            for part in self.circuit.parts.values()
            if part.kind in ("jack", "connector", "speaker")
            for point in part.points
        )
        return self.ways.nodes(points) - self.bare

    @cached_property
    def draws(self) -> Draws:
        """What it draws from the mains."""
        from buzzout.job.draws import Draws  # noqa: PLC0415 - stands on this file

        return Draws(self)

    @cached_property
    def volts(self) -> float:
        """Stated mains voltage, 0 where the file states none. [V]."""
        return self.circuit.mains.voltage.value if self.circuit.mains else 0.0

    @cached_property
    def hertz(self) -> float:
        """Stated mains frequency; 50 Hz where none is. [Hz]."""
        mains = self.circuit.mains
        return mains.frequency.value if mains and mains.frequency else 50.0
