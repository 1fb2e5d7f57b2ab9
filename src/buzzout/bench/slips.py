"""Slips of the meter and of the pen: what the readings themselves contradict."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from buzzout.bench.case import Taken
from buzzout.bench.predict import Predicted
from buzzout.bench.score import fit
from buzzout.circuit import Point
from buzzout.electrics.laws import Floats

# Weights beside those of the faults: one reading is a slip, all else is right. Common practice.
_ANY, _DECADE = 0.6, 0.4
_ANYWHERE = 1 / math.log(1e4)  # a slip may be anything over four decades
# Readings that are to agree may differ by so much: two accuracies of a hand-held meter, two digits,
# and the mains moving meanwhile.
_SHARE = 0.02


def decades(healthy: Predicted, values: Floats, step: Floats) -> tuple[Floats, Floats]:
    """Likelihood of each reading being a slip while nothing else is wrong, and its weight.

    A slip is anything, or ten times too much or too little (the range, the point).
    """
    logs = []
    for number in range(len(values)):
        rest = [i for i in range(len(values)) if i != number]
        others = fit(healthy.columns(rest), values[rest], step[rest]).log[0] if rest else 0.0
        wide = max(abs(values[number]), abs(healthy.healthy[number]) / 10, 0.1)
        ways = [others + math.log(_ANY * _ANYWHERE / wide)]
        for factor in (0.1, 10.0):
            turned, digit = values.copy(), step.copy()
            turned[number] *= factor
            digit[number] *= factor
            log = fit(healthy, turned, digit).log[0]
            ways.append(log + math.log(factor * _DECADE / 2))
        logs.append(np.logaddexp.reduce(ways))
    return np.array(logs), np.ones(len(values))


@dataclass(frozen=True)
class Slip:
    """Readings that cannot all be right, whatever is wrong with the set. [V].

    `suspects` are those of which one must be wrong: a single one where the others agree without it.
    """

    readings: tuple[Taken, ...]
    gap: float
    suspects: tuple[Taken, ...]
    words: str


def slips(taken: Sequence[Taken], nodes: Mapping[Point, int]) -> tuple[Slip, ...]:
    """Loops of readings whose voltages do not add up to nothing (Kirchhoff).

    `nodes` tells which points are one (joined by wire): two readings there must agree.
    """
    known = [t for t in taken if t.probe.at in nodes and t.probe.to in nodes]
    found = [loop for loop in _loops(known, nodes) if abs(loop.gap) > _allowed(loop.readings)]
    good = {id(t) for loop in _loops(known, nodes) if abs(loop.gap) <= _allowed(loop.readings)
            for t in loop.readings}  # fmt: skip
    told = []
    for loop in found:
        suspects = tuple(t for t in loop.readings if id(t) not in good) or loop.readings
        told.append(Slip(loop.readings, loop.gap, suspects, _words(loop, suspects)))
    return tuple(told)


@dataclass(frozen=True)
class _Loop:
    readings: tuple[Taken, ...]
    gap: float


def _loops(taken: Sequence[Taken], nodes: Mapping[Point, int]) -> list[_Loop]:
    """Every loop of two or three readings: more are not taken by hand."""
    edges = [(nodes[t.probe.at], nodes[t.probe.to], t) for t in taken]
    loops = []
    for i, (a, b, first) in enumerate(edges):
        for j in range(i + 1, len(edges)):
            c, d, second = edges[j]
            if {a, b} == {c, d}:
                gap = first.volts - (second.volts if a == c else -second.volts)
                loops.append(_Loop((first, second), gap))
                continue
            for third in edges[j + 1 :]:
                closed = _closed((edges[i], edges[j], third))
                if closed is not None:
                    loops.append(closed)
    return loops


def _closed(three: Sequence[tuple[int, int, Taken]]) -> _Loop | None:
    """Three readings round a triangle of nodes, with what they miss by."""
    corners = {n for a, b, _ in three for n in (a, b)}
    ends = [frozenset((a, b)) for a, b, _ in three]
    if len(corners) != 3 or len(set(ends)) != 3 or any(len(e) != 2 for e in ends):
        return None
    a, b, first = three[0]
    total, here = first.volts, b
    left = list(three[1:])
    while left:
        step = next(((x, y, t) for x, y, t in left if here in (x, y)), None)
        if step is None:
            return None
        x, y, taken = step
        total += taken.volts if here == x else -taken.volts
        here = y if here == x else x
        left.remove(step)
    return _Loop(tuple(t for _, _, t in three), total) if here == a else None


def _allowed(readings: Sequence[Taken]) -> float:
    return sum(_SHARE * abs(t.volts) / 2 + 2 * t.step for t in readings)


def _words(loop: _Loop, suspects: Sequence[Taken]) -> str:
    told = ", ".join(str(t) for t in loop.readings)
    if len(loop.readings) == 2:
        why = "are read at the same two nodes and differ"
    else:
        why = f"do not add up: {abs(loop.gap):.3g} V are left over"
    likely = f"; likely the slip: {suspects[0]}" if len(suspects) == 1 else ""
    return f"{told} {why}{likely}"
