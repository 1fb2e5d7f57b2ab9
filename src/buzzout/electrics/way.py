"""The way of a signal: which points it passes, in the order of the stages."""

from __future__ import annotations

import math
from collections import defaultdict, deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from buzzout.circuit import Point
from buzzout.electrics.signal import Signals
from buzzout.electrics.sockets import Valve

_HEARD = 0.01  # a stage whose grid gets less of the input is not on the way
_OUTPUT = 0.1  # an electrode with less than this of its grid's signal is no output
_LEFT = 0.03  # a part that lets less through leads off the way
_MORE = 1.1  # a part behind which there is more is fed from elsewhere
_ENDS = ("connector", "speaker", "jack")


def along(signals: Signals) -> tuple[Point, ...]:
    """Points of a signal's way: input, wipers, grids and outputs of each stage, sockets at the end.

    In the order in which the signal meets them: by the number of parts between.
    """
    net = signals.net
    steps = _steps(signals)
    found: dict[Point, tuple[int, int]] = {}
    for valve in net.valves:
        for rank, point in enumerate(_stage(signals, valve)):
            if net.of[point] in steps:
                found[point] = (steps[net.of[point]].hops, rank)
    passed = {node for point in found for node in _behind(steps, net.of[point])}
    grids = {net.of[p] for p, (_, rank) in found.items() if rank == 0}
    outputs = {net.of[p] for p, (_, rank) in found.items() if rank > 0}
    for part in net.circuit.parts.values():
        for point in part.points:
            step = steps.get(net.of[point])
            if step is None or _size(signals, point) < _HEARD:
                continue
            wiper = part.kind == "pot" and point.pin.startswith("wiper")
            met = (n for n in _behind(steps, net.of[point]) if n in grids or n in outputs)
            onward = next(met, -1) not in grids - outputs  # else it is another input
            if (wiper and net.of[point] in passed) or (part.kind in _ENDS and onward):
                found.setdefault(point, (step.hops, 0))
    return (
        signals.drive.at,
        *(p for p in sorted(found, key=lambda p: (*found[p], str(p))) if p != signals.drive.at),
    )


@dataclass(frozen=True, slots=True)
class _Step:
    """How a node is reached: so many parts from the input, and from which node."""

    hops: int
    before: int


def _behind(steps: Mapping[int, _Step], node: int) -> Iterator[int]:
    """A node and those through which it is reached."""
    while node >= 0:
        yield node
        node = steps[node].before


def _size(signals: Signals, point: Point) -> float:
    size = abs(signals.gain(point))
    return 0.0 if math.isnan(size) else size


def _stage(signals: Signals, valve: Valve) -> Iterator[Point]:
    """Grid and outputs of a section that the signal drives."""
    at = valve.electrodes
    if "grid" not in at or valve.kind == "diode":
        return
    grid = _size(signals, at["grid"])
    driven = abs(signals.gain(at["grid"], at["cathode"]))
    if math.isnan(driven) or driven < _HEARD:
        return
    yield at["grid"]
    outputs = [p for p in (at["anode"], at["cathode"]) if _size(signals, p) > _OUTPUT * grid]
    yield from outputs


def _steps(signals: Signals) -> Mapping[int, _Step]:
    """How each node is reached from the input, along ways that carry the signal.

    The chassis leads nowhere, nor does a part behind which next to nothing is left (a supply line)
    or more than before it (a feedback seen from its end). A valve leads from its grid to its anode
    and cathode and never back; a transformer from any winding to all.
    """
    net = signals.net
    ways = _ways(signals)
    start = net.of[signals.drive.at]
    found, queue = {start: _Step(0, -1)}, deque([start])
    while queue:
        here = queue.popleft()
        for way in ways[here]:
            if way.to in found or way.to == net.chassis:
                continue
            before, after = (_size(signals, net.groups[n][0]) for n in (here, way.to))
            if way.free or _LEFT * before < after < _MORE * before:
                found[way.to] = _Step(found[here].hops + 1, here)
                queue.append(way.to)
    return found


@dataclass(frozen=True, slots=True)
class _Way:
    """One way on; `free` where any change of level may happen."""

    to: int
    free: bool = False


def _ways(signals: Signals) -> Mapping[int, list[_Way]]:
    net = signals.net
    ways: dict[int, list[_Way]] = defaultdict(list)
    for branch in net.branches:
        a, b = net.ends(branch)
        into = [branch.role == "track" and p.pin.startswith("wiper") for p in (branch.b, branch.a)]
        ways[a].append(_Way(b, into[0]))
        ways[b].append(_Way(a, into[1]))
    for valve in net.valves:
        at = {role: net.of[p] for role, p in valve.electrodes.items()}
        if "grid" in at:
            ways[at["grid"]] += [_Way(at["anode"], free=True), _Way(at["cathode"], free=True)]
    for part in net.circuit.parts.values():
        wound = [net.of[p] for p in part.points] if part.kind == "transformer" else []
        for node in wound:
            ways[node] += [_Way(other, free=True) for other in wound]
    return ways
