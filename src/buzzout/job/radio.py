"""The radio side of a receiver: what lies before the detector, where no gain is computed.

Signals are computed from the volume control, or a socket for a gramophone, to the speaker. What an
aerial, coils and valves without a model lead to before that is the radio side: of a discrepancy
there nothing is said about reception, but whether the oscillator still starts, where its coil has
inductances and dots.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from buzzout.circuit import Point
from buzzout.electrics.alternating import coupled, inductive
from buzzout.electrics.common import feeding
from buzzout.electrics.inputs import Ways
from buzzout.electrics.loops import FACTORS, Cut, cut, oscillations
from buzzout.electrics.operating import Operating
from buzzout.electrics.unmodelled import unmodelled

_FAR, _POINTS = 5.0, 40  # how far an oscillator is looked for, at so many frequencies
_OTHERS = ("anode", "oscillator-anode", "screen", "cathode", "mixer-grid", "oscillator-grid")


@dataclass(frozen=True)
class Oscillator:
    """One that starts in the drawing: the grid at which its loop is opened, and where. [Hz]."""

    grid: Point
    hertz: float

    def beside(self, state: Operating) -> float | None:
        """Its frequency in another state, 0 where it does not start; None if unknown. [Hz]."""
        loop = cut(state, self.grid)
        if loop is None or loop.around.untold:
            return None
        if hertz := self._starts(loop):
            return hertz
        hangs = any(self._starts(loop.coupled(factor)) for factor in FACTORS[1::4])
        return None if hangs or loop.around.blind else 0.0

    def _starts(self, loop: Cut) -> float:
        """Where it starts not too far from where it did; 0 if nowhere. [Hz]."""
        found = oscillations(loop, self.hertz / _FAR, self.hertz * _FAR, _POINTS)
        return next((o.hertz for o in found if o.starts), 0.0)


@dataclass(frozen=True)
class Radio:
    """The radio side of a set as drawn.

    `silent` are inputs from which no signal is computed to come to the output, `beyond` the points
    on the ways that are computed.
    """

    state: Operating
    silent: tuple[Point, ...]
    beyond: tuple[Point, ...]

    def __contains__(self, point: Point) -> bool:
        return self.state.net.of.get(point) in self._nodes or point.owner in self._valves

    @cached_property
    def _valves(self) -> frozenset[str]:
        """Sockets that are in it with all that they have: their other pins are so as well."""
        of = self.state.net.of
        on, off = set[str](), set[str]()
        for valve in self.state.net.valves:
            at = {of[p] for p in valve.electrodes.values()} - self._ways.still
            on |= {valve.part} if at & self._nodes else set()
            off |= {valve.part} if at & self._walls else set()
        return frozenset(on - off)

    @cached_property
    def oscillators(self) -> tuple[Oscillator, ...]:
        """Those in it with a coil that start."""
        return tuple(self._starting()) if self._nodes else ()

    def _starting(self) -> Iterator[Oscillator]:
        told: set[tuple[str, ...]] = set()
        for valve in self.state.net.valves:
            grid = valve.electrodes.get("grid")
            if grid is None or grid not in self or self.state.flow(valve.name) is None:
                continue
            loop = cut(self.state, grid)
            if loop is None or not loop.coils or loop.coils in told:
                continue
            if loop.starts:
                told.add(loop.coils)
                yield Oscillator(grid, loop.oscillations[0].hertz)

    @cached_property
    def _ways(self) -> Ways:
        return Ways(self.state.net)

    @cached_property
    def _walls(self) -> frozenset[int]:
        return self._ways.still | {self.state.net.of[p] for p in self.beyond}

    @cached_property
    def _nodes(self) -> frozenset[int]:
        """From the coils on, and from a silent input that leads to one or to a blind valve."""
        of = self.state.net.of
        coils = {of[p] for p in self._coils if p in of}
        blind = {of[p] for v in unmodelled(self.state.net) for p in v.electrodes.values()}
        found = self._reached(coils)
        for point in self.silent:
            leads = self._reached([of[point]])
            if leads & (coils | blind):
                found |= leads
        return found

    @cached_property
    def _coils(self) -> tuple[Point, ...]:
        """Ends of the windings of coils for radio frequency."""
        fed = feeding(self.state.net.circuit)
        return tuple(
            part.point(terminal)
            for part in self.state.net.circuit.parts.values()
            if part.kind == "transformer" and not coupled(part) and part.name not in fed
            for element in part.elements
            if inductive(element)
            for terminal in element.terminals
        )

    def _reached(self, starts: Iterable[int]) -> frozenset[int]:
        """Through parts both ways, and from the grids of every valve on, as far as the ways go."""
        found = self._ways.reached(starts, self._walls)
        while True:
            onward = set(self._onward(found)) - found - self._walls
            if not onward:
                return found
            found |= self._ways.reached(onward, self._walls)

    def _onward(self, found: frozenset[int]) -> Iterator[int]:
        of = self.state.net.of
        for valve in self.state.net.valves:
            at = valve.electrodes
            grids = (p for role, p in at.items() if role.endswith("grid") or valve.kind == "diode")
            if any(of[p] in found for p in grids):
                yield from (of[at[role]] for role in _OTHERS if role in at)
