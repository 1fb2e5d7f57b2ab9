"""Voltage selectors: the switches that lead the mains to a tap of the primary, and how they stand.

A selector is a switch of several ways whose position is written down, one or more poles of it on
the mains side. All its poles turn together.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from buzzout.circuit import Circuit, Part
from buzzout.job.passages import Passage
from buzzout.job.rulebook import figure
from buzzout.job.supplyline import SupplyLine, as_set, series


@dataclass(frozen=True, slots=True)
class Way:
    """A selector in one of its positions: what primary the mains finds then [V], and the set."""

    selector: Part
    position: str
    volts: float
    circuit: Circuit


def other_ways(side: SupplyLine) -> Iterator[Way]:
    """Every position in which a selector does not stand now, where the mains finds a primary."""
    for part in side.selectors:
        for position in dict.fromkeys(e.label[1:] for e in part.elements):
            if position == part.setting:
                continue
            circuit = turned(side.circuit, part, position)
            tap = tap_volts(SupplyLine(circuit))
            if tap is not None:
                yield Way(part, position, tap[0], circuit)


def turned(circuit: Circuit, selector: Part, position: str) -> Circuit:
    """The circuit with a selector set to a position."""
    elements = (replace(e, closed=e.label[1:] == position) for e in selector.elements)
    other = replace(selector, setting=position, elements=tuple(elements))
    return circuit.but({**circuit.parts, selector.name: other})


def belongs(side: SupplyLine) -> Way | None:
    """The position of a selector in which the primary suits the mains better than now, and well."""
    tap = tap_volts(side)
    if side.volts <= 0 or tap is None:
        return None
    fitting = [(abs(side.volts / w.volts - 1), w) for w in other_ways(side) if fits(side, w.volts)]
    best = min(fitting, key=lambda each: each[0], default=None)
    return best[1] if best is not None and best[0] < abs(side.volts / tap[0] - 1) else None


def fits(side: SupplyLine, volts: float) -> bool:
    """Whether a primary of so many volts suits the mains. [V]."""
    return -figure("tap-low") <= side.volts / volts - 1 <= figure("tap-high")


def tap_volts(side: SupplyLine) -> tuple[float, tuple[str, ...]] | None:
    """Voltage of the winding that lies between line and neutral [V], and its transformer.

    Several windings in series count as aiding.
    """
    path = side.ways.path([side.line], frozenset([side.neutral]), _fed, side.bare)
    if not path:
        return None
    volts = 0.0
    wound = [step for step in path if step.how == "winding" and not series(step)]
    for step in wound:
        element = step.element
        if element is None or len(element.taps) != len(element.terminals):
            return None
        table = dict(zip(element.terminals, element.taps, strict=True))
        volts += abs(table[step.a.pin] - table[step.b.pin])
    return (volts, tuple(dict.fromkeys(s.part.name for s in wound))) if volts > 0 else None


def _fed(passage: Passage) -> bool:
    """The way of the mains through the primary, switches as they are set."""
    return as_set(passage) or (passage.how == "winding" and passage.part.kind == "transformer")
