"""What a set draws from the mains: at full load, running, heaters cold, switched on, shorted.

Running, cold and shorted are computed. For the moment of switching on there is a bound: whatever
the core, the reservoir and the cold heaters do, no more can flow than the peak of the mains over
the resistance of what the current must pass, which is the primary and what stands before it. A
resistance that nobody told gives no bound.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from buzzout.circuit import Circuit, Edit, Element, Join, Point, apply, listed
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.draft import COLD, WARM, Power
from buzzout.electrics.operating import Operating, operate
from buzzout.electrics.resistance import resistances
from buzzout.job.passages import Passage
from buzzout.job.rails import Rails
from buzzout.job.rulebook import figure
from buzzout.job.supplyline import HT_WINDING, SupplyLine

_HALVES = 1.6  # alternating current of a half winding for its direct current, common practice


@dataclass(frozen=True)
class Draws:
    """Currents of the mains lead. [A], r.m.s.; 0 or NaN where they cannot be told."""

    side: SupplyLine

    @cached_property
    def full_load(self) -> float:
        """From the voltages and currents marked on the windings; 0 where one tells no current.

        An HT winding with a middle feeds two diodes: its marked direct current draws about 1.6
        times as much from one half (common practice).
        """
        side = self.side
        if side.volts <= 0 or not side.isolated or side.transformerless:
            return 0.0
        fed = {part.name for part, _ in side.primaries}
        primary = {id(element) for _, element in side.primaries}
        watts = 0.0
        for part, element in side.windings:
            if part.name in fed and id(element) not in primary:
                if element.current is None or not element.taps:
                    return 0.0
                watts += _apparent(element)
        return watts / figure("transformer-efficiency") / side.volts

    @cached_property
    def running(self) -> float:
        """Computed without signal; 0 where it cannot be."""
        return self._amps(self.state, valves=True)

    @cached_property
    def bias(self) -> tuple[str, ...]:
        """Controls of a negative supply, taken as fully clockwise because nobody told otherwise."""
        minus = Rails(self.side.circuit, known=self.side.ways).minus
        return tuple(
            part.name
            for part in self.side.circuit.parts.values()
            if part.kind == "pot" and not part.setting and self.side.ways.nodes(part.points) & minus
        )

    @cached_property
    def turned(self) -> float:
        """Running with those fully anticlockwise; 0 without any, or where it cannot be told."""
        if not self.bias:
            return 0.0
        stand = self._on(rotations=dict.fromkeys(self.bias, 0.0))
        return self._amps(self._computed(self.side.circuit, WARM, self.state, stand), valves=True)

    @cached_property
    def state(self) -> Operating | None:
        """The set running; None where it cannot be told."""
        near = self.side.like.draws.state if self.side.like else None
        return self._computed(self.side.circuit, WARM, near)

    @cached_property
    def cold(self) -> float:
        """Computed with all heaters cold, as in the first seconds; 0 where it cannot be."""
        return self._amps(self._computed(self.side.circuit, COLD), valves=True)

    @property
    def marked(self) -> str:
        """Whose figures those of the windings are."""
        return "as the drawing marks them" if self.side.lent else "as marked"

    @property
    def guessed(self) -> str:
        """That a current hangs on windings whose ohms nobody told, "" where it does not."""
        fed = {part.name for part, _ in self.side.primaries}
        told = [
            f"{part.name} {element.label}"
            for part, element in self.side.windings
            if part.name in fed and not element.resistance
            and (not element.taps or max(element.taps) - min(element.taps) > HT_WINDING)
        ]  # fmt: skip
        return f" (with a guess for the ohms of {listed(told)}, which nobody told)" if told else ""

    @property
    def most(self) -> tuple[float, str]:
        """The current that a fuse must carry for good, and where it is from; 0 for unknown."""
        if self.full_load > 0:
            return self.full_load, f"the windings {self.marked} draw {{}} at most"
        return max(self.running, self.turned), "the set draws {}, computed without signal"

    @cached_property
    def peak(self) -> float:
        """The most that can flow at the worst instant of switching on, mains high.

        Infinite where the primary or what it hangs on is not told.
        """
        side = self.side
        ends = side.conductor("L"), side.conductor("N")
        if side.volts <= 0 or None in ends or not all(e.resistance for _, e in side.primaries):
            return math.inf
        line, neutral = (p for p in ends if p is not None)
        passed = resistances(self._charging, self._on(valves="cold")).between(line, neutral)
        volts = math.sqrt(2) * side.volts * (1 + figure("mains-high"))
        return volts / passed.low if 0 < passed.low < math.inf else math.inf

    @property
    def surge(self) -> float:
        """The most that the first half cycle can hold: half a sine of that peak. [A²s]."""
        return self.peak**2 / (4 * self.side.hertz)

    @property
    def usual_surge(self) -> float:
        """What the trade expects of the first half cycle of a transformer, 0 if unknown. [A²s]."""
        current, _ = self.most
        return (figure("inrush-factor") * current) ** 2 / (2 * self.side.hertz)

    @cached_property
    def shorted(self) -> tuple[float, Point | None]:
        """With the reservoir behind the rectifier shorted, and where that is; NaN if unknown.

        The leakage of the transformer is not in it, so a little less flows. A short that draws no
        more than the set does was not computed: the short took the rectifier out of the circuit.
        """
        first = self._reservoir
        if first is None or not self.running:
            return math.nan, None
        current = self._amps(self.short, valves=False)
        return (current, first[0]) if current > max(self.running, 1e-3) else (math.nan, None)

    @cached_property
    def _reservoir(self) -> tuple[Point, Point] | None:
        return next(_reservoirs(Rails(self.side.circuit, known=self.side.ways)), None)

    @cached_property
    def short(self) -> Operating | None:
        """The set running with that reservoir shorted; None where it cannot be told."""
        if self._reservoir is None:
            return None
        near = self.side.like.draws.short if self.side.like else None
        circuit = apply(self.side.circuit, [Join(*self._reservoir)])
        return self._computed(circuit, WARM, near)

    @property
    def _charging(self) -> Circuit:
        """Where no transformer stands between, rectifiers and empty reservoirs are shorts."""
        if not self.side.transformerless:
            return self.side.circuit
        return apply(self.side.circuit, list(_shorts(self.side)))

    def _computed(
        self,
        circuit: Circuit,
        heat: str,
        near: Operating | None = None,
        stand: Conditions | None = None,
    ) -> Operating | None:
        if self.side.volts <= 0 or not self.side.load:
            return None
        return operate(circuit, Power(heat=heat), stand or self._on(), near)

    @staticmethod
    def _amps(state: Operating | None, *, valves: bool) -> float:
        """Current from the mains, 0 where it is not known."""
        if state is None or not state.settled or state.side is None:
            return 0.0
        return state.line_amps if state.net.valves or not valves else 0.0

    def _on(self, **more: Any) -> Conditions:
        """Switched on at the mains, whatever the file says; a selector stays as it is set."""
        near = self.side.line_side | self.side.neutral_side
        switches = {
            p.part.name: True
            for p in self.side.ways.passages
            if p.how == "contact" and self.side.ways.node(p.a) in near and _on_off(p)
        }
        return Conditions(contacts=switches, power=True, **more)


def _on_off(passage: Passage) -> bool:
    throws = [e for e in passage.part.elements if e.terminals[0] == passage.a.pin]
    return len(throws) == 1


def _apparent(element: Element) -> float:
    current = element.current.value if element.current else 0.0
    halves = len(element.taps) == 3 and element.taps[1] == 0 and element.taps[0] * element.taps[2]
    if halves:
        return abs(element.taps[2]) * current * _HALVES
    return (max(element.taps) - min(element.taps)) * current


def _reservoirs(rails: Rails) -> Iterator[tuple[Point, Point]]:
    """Reservoirs at the output of a rectifier, those behind a choke or a resistor last."""
    straight = {node for _, _, node in rails.cathodes}
    straight |= rails.ways.nodes(p.b for p in rails.ways.passages if p.how == "diode")
    known = [(p, m) for p, m, _ in rails.reservoirs if rails.ways.node(p) in rails.plus]
    yield from sorted(known, key=lambda pair: rails.ways.node(pair[0]) not in straight)


def _shorts(side: SupplyLine) -> Iterator[Edit]:
    for plus, minus, _ in Rails(side.circuit, known=side.ways).reservoirs:
        yield Join(plus, minus)
    for passage in side.ways.passages:
        if passage.how == "diode":
            yield Join(passage.a, passage.b)
