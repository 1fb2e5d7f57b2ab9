"""Which part of a set a node belongs to: mains, protective earth, HT, output stage, outside."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from buzzout.catalogue import device
from buzzout.circuit import CHASSIS, Circuit, Element, Part, Point

# Above this a winding or a capacitor belongs to the HT. [V] common practice
HT_WINDING = 60.0
HT_RATING = 160.0
_ELECTRODES = ("anode", "grid", "screen", "cathode")


@dataclass(frozen=True)
class Places:
    """Node indices of one circuit by the part of the set they belong to.

    "mains" is what the line and neutral conductors reach through fuses, switch contacts, lamps and
    the windings across them; it does not go through the core of a transformer. "ht" are the
    windings above 60 V, the rectifiers on them and every node with a capacitor of 160 V or more.
    "output" are the electrodes of output valves, "outside" what a person can touch from outside.
    "earth" is the conductor and its bolt themselves; what merely sits on the chassis is not.
    """

    circuit: Circuit

    def of(self, points: Iterable[Point]) -> frozenset[str]:
        """The places that any of these points belong to."""
        told = tuple(points)
        nodes = {self.circuit.node_of[p] for p in told if p in self.circuit.node_of}
        at = {name for name, members in self.table.items() if nodes & members}
        return frozenset(at | ({"earth"} if set(told) & set(self._earth_points()) else set()))

    @cached_property
    def table(self) -> dict[str, frozenset[int]]:
        """All places by name."""
        return {
            "mains": self._mains,
            "earth": self._nodes(self._earth_points()) - self._nodes([CHASSIS]),
            "chassis": self._nodes([CHASSIS]),
            "ht": self._ht,
            "output": self._nodes(self._output_points()),
            "outside": self._nodes(self._outside_points()) - self._nodes([CHASSIS]),
        }

    def _nodes(self, points: Iterable[Point]) -> frozenset[int]:
        return frozenset(self.circuit.node_of[p] for p in points if p in self.circuit.node_of)

    def _parts(self, *kinds: str) -> Iterator[Part]:
        return (part for part in self.circuit.parts.values() if part.kind in kinds)

    @cached_property
    def _mains(self) -> frozenset[int]:
        """Follow line and neutral until nothing more is reached."""
        chassis = self.circuit.node_of[CHASSIS]
        through = list(self._bridges())
        reached = self._nodes(
            p for cord in self._parts("cord") for p in cord.points if p.pin != "E"
        )
        reached -= {chassis}
        while True:
            grown = reached | {n for group in through if group & reached for n in group} - {chassis}
            if grown == reached:
                return reached
            reached = grown

    def _bridges(self) -> Iterator[frozenset[int]]:
        """Groups of nodes that the mains goes through: fuses, contacts, lamps, one winding."""
        for part in self._parts("fuse", "lamp", "thermistor"):
            yield self._nodes(part.points)
        for part, element in self._elements("contact", "winding"):
            if element.kind == "contact" or _primary(element):
                yield self._nodes(part.point(t) for t in element.terminals)

    def _elements(self, *kinds: str) -> Iterator[tuple[Part, Element]]:
        for part in self.circuit.parts.values():
            for element in part.elements:
                if element.kind in kinds:
                    yield part, element

    def _earth_points(self) -> Iterator[Point]:
        yield from (p for cord in self._parts("cord") for p in cord.points if p.pin == "E")
        yield from (p for bond in self._parts("bond") for p in bond.points)

    @cached_property
    def _ht(self) -> frozenset[int]:
        ends = [
            part.point(t)
            for part, element in self._elements("winding")
            if part.kind == "transformer"
            and not _primary(element)
            and _spread(element) > HT_WINDING
            for t in element.terminals
        ]
        points = [*ends, *self._ht_capacitors(), *self._rectifier_points()]
        return self._nodes(points) - self._nodes([CHASSIS])

    def _ht_capacitors(self) -> Iterator[Point]:
        for part in self._parts("electrolytic"):
            if part.voltage and part.voltage.value >= HT_RATING:
                yield from part.points
        for part, element in self._elements("capacitor"):
            if element.voltage and element.voltage.value >= HT_RATING:
                yield part.point(element.terminals[0])

    def _sockets(self, word: str) -> Iterator[tuple[Part, dict[str, str]]]:
        """Sockets whose valve is of a kind, with pin to electrode."""
        for part in self._parts("socket"):
            valve = device(part.type) if part.type else None
            if valve is not None and word in valve.kind.lower():
                yield part, {pin: e.role for pin, e in valve.pins.items()}

    def _rectifier_points(self) -> Iterator[Point]:
        for part, roles in self._sockets("rectifier"):
            yield from (
                part.point(pin) for pin, role in roles.items() if role in ("anode", "cathode")
            )

    def _output_points(self) -> Iterator[Point]:
        for part, roles in self._sockets("output"):
            yield from (part.point(pin) for pin, role in roles.items() if role in _ELECTRODES)

    def _outside_points(self) -> Iterator[Point]:
        for part in self._parts("jack", "connector", "speaker"):
            yield from part.points


def _spread(element: Element) -> float:
    return max(element.taps) - min(element.taps) if element.taps else 0.0


def _primary(element: Element) -> bool:
    return element.label.lower().startswith(("primary", "mains"))
