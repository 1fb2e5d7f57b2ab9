"""Whether the oscillator of a frequency changer runs, from what its grid reads."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from buzzout.circuit import Point, Reading, metered
from buzzout.electrics.operating import Operating
from buzzout.electrics.unmodelled import swung

# Shares of what a running one pulls its grid down, by its sheet. Common practice. [1]
_STILL, _RUNS = 0.1, 0.3
_STOPPED = (
    "{}: the oscillator stands still, or nearly; a running one pulls its grid to some {} (by the"
    " sheet; common practice)"
)
_LEAST = 1.0  # a pull of less is not told from a grid at rest [V]


def oscillators(state: Operating, read: Iterable[Reading]) -> Iterator[tuple[bool, str]]:
    """What direct readings at oscillator grids tell, and whether it runs; nothing in between."""
    net, read = state.net, tuple(read)
    for number, (grid, _, _) in enumerate(swung(net)):
        for reading in read:
            if net.of.get(reading.at) != net.of[grid] or reading.to not in net.of:
                continue
            pull = _pull(state, number, reading.at) - _pull(state, number, reading.to)
            rest = state.volts(reading.at, reading.to)
            if not pull < -_LEAST:
                continue
            share = (reading.value.value - rest) / pull
            there = f"{reading.at} reads {reading.value}"
            if share < _STILL:
                yield False, _STOPPED.format(there, metered(rest + pull, "V"))
            elif share > _RUNS:
                yield True, f"{there}: the oscillator runs"


def _pull(state: Operating, number: int, point: Point) -> float:
    return float(state.pulls[number][state.rows[state.net.of[point]]])  # the last is ground
