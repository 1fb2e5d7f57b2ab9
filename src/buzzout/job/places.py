"""Which part of a set a node belongs to: mains, protective earth, HT, output stage, outside."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from buzzout.circuit import CHASSIS, Circuit, Part, Point
from buzzout.job.rails import Rails
from buzzout.job.supplyline import SupplyLine

_ELECTRODES = ("anode", "grid", "screen", "cathode")
_HANGS_ON = ("fuse", "contact", "lamp", "resistor")


@dataclass(frozen=True)
class Places:
    """Node indices of one circuit by the part of the set they belong to.

    "mains" is what line and neutral reach through fuses, switches, lamps, resistors and the
    windings that they feed; it does not go through the core of a transformer. "ht" are the windings
    above 60 V, the rectifiers, and what they reach without a resistor, and every capacitor of 160 V
    or more. "output" are the electrodes of output valves that are not straight on the HT, "outside"
    what a person can touch from outside. "earth" is the conductor and its bolt themselves; what
    merely sits on the chassis is not.
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
        side, rails = SupplyLine(self.circuit), Rails(self.circuit)
        chassis = self._nodes([CHASSIS])
        return {
            "mains": side.ways.reached(side.live, lambda p: p.how in _HANGS_ON, side.bare),
            "earth": self._nodes(self._earth_points()) - chassis,
            "chassis": chassis,
            "ht": rails.everywhere - chassis,
            "output": self._nodes(self._output_points(rails)) - rails.everywhere - chassis,
            "outside": side.outside - chassis,
        }

    def _nodes(self, points: Iterable[Point]) -> frozenset[int]:
        return frozenset(self.circuit.node_of[p] for p in points if p in self.circuit.node_of)

    def _parts(self, *kinds: str) -> Iterator[Part]:
        return (part for part in self.circuit.parts.values() if part.kind in kinds)

    def _earth_points(self) -> Iterator[Point]:
        yield from (p for cord in self._parts("cord") for p in cord.points if p.pin == "E")
        yield from (p for bond in self._parts("bond") for p in bond.points)

    def _output_points(self, rails: Rails) -> Iterator[Point]:
        for part, valve in rails.sockets:
            roles = valve.output_pins.items()
            yield from (part.point(pin) for pin, e in roles if e.role in _ELECTRODES)
