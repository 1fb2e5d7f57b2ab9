"""Mains on the wrong tap of the primary: by a wire, or by a voltage selector set otherwise.

On a tap for less than the mains everything is too high by the ratio of the two, heaters and all; on
one for more, too low. How often that is: common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from buzzout.bench.faults import Fault, primary
from buzzout.circuit import Circuit, Element, Part, Point
from buzzout.electrics.common import feeding
from buzzout.electrics.network import Network

WRONG_TAP = "wrong tap"
_LEAST, _MOST = 0.4, 2.5  # ratio of two taps between which a set is switched on and measured at all


def wrong_taps(net: Network) -> Iterator[tuple[Fault, Circuit]]:
    """Each other tap that the mains could be on, with the circuit as it is then."""
    circuit = net.circuit
    for name in sorted(feeding(circuit)):
        part = circuit.parts[name]
        for element in part.elements:
            if primary(element.label) and len(element.taps) == len(element.terminals) > 2:
                yield from _others(circuit, part, element)


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
            yield _fault(part, used[0], other, ratio), circuit.but(links=[*rest, moved])


def _fault(part: Part, used: Point, other: Point, ratio: float) -> Fault:
    how = "high" if ratio > 1 else "low"
    words = (
        f"mains on {other} instead of {used}, by a wire or the voltage selector: all voltages"
        f" {abs(ratio - 1):.0%} too {how}"
    )
    return Fault(WRONG_TAP, part.name, words)
