"""Slips of the meter and of the pen: what the readings themselves contradict."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from buzzout.bench.probe import DIRECT, LEVELS, OHMS, OPEN, Predicted, Source, Taken
from buzzout.bench.score import Fit, fit
from buzzout.circuit import Point, metered
from buzzout.electrics.laws import Floats

# Weights beside those of the faults: one reading is a slip, all else is right. Common practice.
_ANY, _DECADE = 0.6, 0.4
_ANYWHERE = 1 / math.log(1e4)  # a slip may be anything over four decades
# Readings that are to agree may differ by so much: two accuracies of a hand-held meter, two digits,
# and the mains moving meanwhile.
_SHARE = 0.02
_MENDED = "a `step` line of their own above the later readings makes the earlier ones history"


def slipped(predicted: Predicted, values: Floats, step: Floats) -> tuple[Fit, ...]:
    """How every fault fits when one reading, each in its turn, is a slip.

    A slip is anything, or ten times too much or too little (the range, the point). It explains its
    own reading alone: the others are as far off as the fault leaves them.
    """
    return tuple(_slipped(predicted, values, step, number) for number in range(len(values)))


def _slipped(predicted: Predicted, values: Floats, step: Floats, number: int) -> Fit:
    rest = [i for i in range(len(values)) if i != number]
    off = np.zeros(predicted.mean.shape)
    log, chi = np.zeros(len(off)), np.ones(len(off))  # the slip itself counts as one that fits
    if rest:
        others = fit(predicted.columns(rest), values[rest], step[rest])
        log, chi, off[:, rest] = others.log, chi + others.chi, others.off
    shares = predicted.ways[number] in (OHMS, *LEVELS)  # scored by their logarithm
    wide = 1.0
    if not shares:
        wide = max(abs(values[number]), abs(predicted.healthy[number]) / 10, 0.1)
    ways = [log + math.log(_ANY * _ANYWHERE / wide)]
    for factor in (0.1, 10.0):
        turned, digits = values.copy(), step.copy()
        if shares:
            turned[number] += math.log(factor)
        else:
            turned[number] *= factor
            digits[number] *= factor
        log = fit(predicted, turned, digits).log
        ways.append(log + math.log((1.0 if shares else factor) * _DECADE / 2))
    return Fit(np.logaddexp.reduce(ways), chi, off)


@dataclass(frozen=True)
class Slip:
    """Readings that cannot all be right, whatever is wrong with the set.

    `gap` is what they miss by [V] or [ohm]. `suspects` are those of which one must be wrong: a
    single one where the others agree without it.
    """

    readings: tuple[Taken, ...]
    gap: float
    suspects: tuple[Taken, ...]
    words: str


def slips(taken: Sequence[Taken], nodes: Mapping[Point, int]) -> tuple[Slip, ...]:
    """Readings of one step that contradict each other.

    Direct volts round a loop add up to nothing (Kirchhoff). Alternating volts have a phase that no
    meter shows, so the largest of three is at most the sum of the others; the same holds for
    resistances (the resistance between nodes is a distance: D. J. Klein and M. Randic, J. Math.
    Chem. 12 (1993) 81). `nodes` tells which points are one: two readings there must agree.
    """
    by_view: dict[tuple[int, int, Source | None], list[Taken]] = {}
    for one in taken:
        if one.probe.at in nodes and one.probe.to in nodes:
            by_view.setdefault(one.probe.view, []).append(one)
    return tuple(slip for own in by_view.values() for slip in _of_one_way(own, nodes))


def _of_one_way(taken: Sequence[Taken], nodes: Mapping[Point, int]) -> Iterator[Slip]:
    loops = _loops(taken, nodes)
    good = {t for loop in loops if abs(loop.gap) <= _allowed(loop.readings) for t in loop.readings}
    for loop in loops:
        if abs(loop.gap) > _allowed(loop.readings):
            suspects = tuple(t for t in loop.readings if t not in good) or loop.readings
            yield Slip(loop.readings, loop.gap, suspects, _words(loop, suspects))


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
                turned = first.probe.way == DIRECT and a != c
                gap = first.value - (-second.value if turned else second.value)
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
    readings = tuple(t for _, _, t in three)
    if readings[0].probe.way != DIRECT:
        sizes = sorted(abs(t.value) for t in readings)
        return _Loop(readings, max(sizes[2] - sizes[1] - sizes[0], 0.0))
    _, b, first = three[0]
    second, third = three[1:] if b in three[1][:2] else (three[2], three[1])
    other = next(n for n in second[:2] if n != b)
    forth = second[2].value if second[0] == b else -second[2].value
    back = third[2].value if third[0] == other else -third[2].value
    return _Loop(readings, first.value + forth + back)


def _allowed(readings: Sequence[Taken]) -> float:
    leads = 1.0 if readings[0].probe.way == OHMS else 0.0
    return sum(_SHARE * min(abs(t.value), OPEN) / 2 + 2 * t.step + leads for t in readings)


def _words(loop: _Loop, suspects: Sequence[Taken]) -> str:
    told = ", ".join(str(t) for t in loop.readings)
    way = loop.readings[0].probe.way
    if len(loop.readings) == 2:
        why = "are read at the same two nodes and differ"
        one, other = (frozenset((t.probe.at, t.probe.to)) for t in loop.readings)
        if one == other:
            return f"{told} {why}; if the set was mended in between: {_MENDED}"
    elif way == DIRECT:
        why = f"do not add up: {metered(abs(loop.gap), 'V')} are left over"
    else:
        what = "two paths in a row" if way == OHMS else "the two others together"
        why = f"cannot all be right: one is larger than {what}"
    likely = f"; likely the slip: {suspects[0]}" if len(suspects) == 1 else ""
    return f"{told} {why}{likely}"
