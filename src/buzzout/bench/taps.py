"""Mains on the wrong tap of the primary: a voltage selector that stands otherwise, or a wire.

On a tap for less than the mains everything is too high by the ratio of the two, heaters and all; on
one for more, too low. How often that is: common practice. Where a selector leads to the taps it is
told before a wire: it turns with a screwdriver, and nobody has to solder for it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from buzzout.bench.faults import Fault, primary
from buzzout.circuit import Circuit, Element, Part
from buzzout.electrics.common import feeding
from buzzout.electrics.network import Network
from buzzout.job.selector import belongs, fits, other_ways, tap_volts
from buzzout.job.supplyline import SupplyLine

WRONG_TAP = "wrong tap"
_LEAST, _MOST = 0.4, 2.5  # ratio of two taps between which a set is switched on and measured at all


def wrong_taps(net: Network) -> Iterator[tuple[Fault, Circuit]]:
    """Each other tap that the mains could be on, with the circuit as it is then."""
    circuit = net.circuit
    yield from _selectors(SupplyLine(circuit))
    for name in sorted(feeding(circuit)):
        part = circuit.parts[name]
        for element in part.elements:
            if primary(element.label) and len(element.taps) == len(element.terminals) > 2:
                yield from _others(circuit, part, element)


def _selectors(side: SupplyLine) -> Iterator[tuple[Fault, Circuit]]:
    """Each selector in each position in which the chassis file has it not."""
    tap = tap_volts(side)
    if tap is None:
        return
    right = belongs(side)
    for way in other_ways(side):
        ratio = tap[0] / way.volts
        if not _LEAST < ratio < _MOST:
            continue
        name, stands = way.selector.name, way.selector.setting
        words = (
            f"{name} stands at {way.position}, not at {stands} as written down (a primary of"
            f" {way.volts:g} V instead of {tap[0]:g} V): {_all(ratio)}"
        )
        look = f"look at {name} before any meter: the chassis file has it at {stands}"
        if right is not None or fits(side, tap[0]):
            position = stands if right is None else right.position
            look += f"; for this mains set {name} to {position}, unplugged: no wire is to be moved"
        yield Fault(WRONG_TAP, name, words, look=look), way.circuit


def _all(ratio: float) -> str:
    return f"all voltages {abs(ratio - 1):.0%} too {'high' if ratio > 1 else 'low'}"


def _others(circuit: Circuit, part: Part, element: Element) -> Iterator[tuple[Fault, Circuit]]:
    volts = {
        part.point(t): v for t, v in zip(element.terminals, element.taps, strict=True) if v > 0
    }
    for link in circuit.links:
        used = [p for p in (link.a, link.b) if p in volts]
        if len(used) != 1 or link.other(used[0]).owner == part.name:
            continue
        for other, marked in volts.items():
            ratio = volts[used[0]] / marked
            if other == used[0] or not _LEAST < ratio < _MOST:
                continue
            rest = [each for each in circuit.links if each is not link]
            ends = [other if p == used[0] else p for p in (link.a, link.b)]
            moved = replace(link, a=ends[0], b=ends[1])
            words = (
                f"the wire from {link.other(used[0])} is on {other} instead of {used[0]}:"
                f" {_all(ratio)}"
            )
            yield Fault(WRONG_TAP, part.name, words), circuit.but(links=[*rest, moved])
