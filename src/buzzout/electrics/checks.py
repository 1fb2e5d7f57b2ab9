"""Meter checks: where to put the probes to tell a finding from a slip of the pen, power off.

A finding says: the board is as transcribed, not as drawn. Two circuits stand for the two cases: the
found one, and the found one with this finding repaired. Wherever their resistances lie apart beyond
all tolerances, one reading decides. Where none does, the check names what would.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from buzzout.circuit import CHASSIS, Circuit, Part, Point
from buzzout.electrics.conditions import METER_OHMS, METER_SHARE, Conditions
from buzzout.electrics.network import Floats
from buzzout.electrics.resistance import Range, Resistances, places, resistances

LARGE = 1200  # nodes beyond which only readings to chassis are looked at
METER_MOST = 20e6  # a hand-held meter shows nothing beyond this [ohm]
_OPEN = 4 * METER_MOST  # stands for an open reading when gaps are compared
_NEAR = 4 / 3  # by so much of its gap a reading to chassis is preferred: one probe stays clipped
_ENOUGH = 0.05  # least gap in the logarithm of the readings, about 5 %
_CLEAR = 0.7  # a gap beyond this, a factor of two, tells no better


@dataclass(frozen=True, slots=True)
class Check:
    """One reading that decides. Ranges in ohms, without the meter's own error.

    Where several findings were asked for, `decides` are the numbers of those that it bears on, and
    `readings` what it would show if that one alone were a slip; `repaired` is the first of these.
    """

    at: Point
    to: Point
    found: Range
    repaired: Range
    decides: tuple[int, ...] = ()
    readings: tuple[Range, ...] = ()


@dataclass(frozen=True, slots=True)
class Advice:
    """How to confirm one finding: the best reading, or what else would tell (`instead`)."""

    check: Check | None
    instead: str = ""


@dataclass(frozen=True)
class _Table:
    """Resistances between all places of a circuit, three corners. Rows follow `points`."""

    points: tuple[Point, ...]
    nominal: Floats
    low: Floats
    high: Floats

    def range(self, i: int, j: int) -> Range:
        """The range of one pair."""
        return Range(float(self.nominal[i, j]), float(self.low[i, j]), float(self.high[i, j]))


def meter_check(found: Circuit, repaired: Circuit, conditions: Conditions | None = None) -> Advice:
    """The pair of points that tells the two circuits apart most clearly."""
    points = _shared(found, repaired)
    gaps, ours, theirs = _gaps(found, repaired, points, conditions)
    best = _best(points, gaps)
    if best is None:
        return Advice(None, instead(found, repaired))
    i, j = best
    return Advice(Check(points[i], points[j], ours.range(i, j), theirs.range(i, j)))


def fewest_checks(
    found: Circuit, repairs: Sequence[Circuit], conditions: Conditions | None = None
) -> tuple[tuple[Check, ...], tuple[int, ...]]:
    """The fewest readings that bear on all findings, and the numbers of those left undecided.

    `repairs[i]` is the found circuit with finding i alone repaired. A reading that agrees with the
    found circuit confirms the transcription for every finding that it decides; one that does not
    says that at least one of them was a slip, and their own checks tell which.
    """
    if not repairs:
        return (), ()
    points = _common(found, repairs)
    gaps = [_gaps(found, other, points, conditions) for other in repairs]
    decides = np.array([g.ravel() > _ENOUGH for g, _, _ in gaps])
    clear = np.array([g.ravel() for g, _, _ in gaps])
    worth = np.where(decides, np.minimum(clear, _CLEAR), _CLEAR).min(axis=0)
    undecided = tuple(i for i, row in enumerate(decides) if not row.any())
    near = np.ones((len(points), len(points)))
    near[0, :] = near[:, 0] = _NEAR
    chosen = _cover(decides, near.ravel() * worth)
    checks = []
    for flat in chosen:
        i, j = divmod(flat, len(points))
        i, j = (j, i) if i == 0 else (i, j)
        told = tuple(n for n, row in enumerate(decides) if row[flat])
        readings = tuple(gaps[n][2].range(i, j) for n in told)
        ours = gaps[0][1].range(i, j)
        checks.append(Check(points[i], points[j], ours, readings[0], told, readings))
    checks.sort(key=lambda c: (-len(c.decides), c.decides))
    return tuple(checks), undecided


def _cover(decides: np.ndarray, worth: Floats) -> list[int]:
    """Columns that together cover all rows that can be covered: exact for few, greedy for many.

    Columns that cover the same rows are one; the clearest of them stands for all.
    """
    classes: dict[frozenset[int], int] = {}
    for column in np.argsort(-worth, kind="stable"):
        rows = frozenset(np.flatnonzero(decides[:, column]).tolist())
        if rows:
            classes.setdefault(rows, int(column))
    wanted = frozenset().union(*classes) if classes else frozenset()
    sets = sorted(classes, key=lambda s: (-len(s), sorted(s)))
    sets = [s for s in sets if not any(s < other for other in sets)]
    limit = _greedy(sets, wanted)
    best = _exact(sets, wanted, len(limit)) or limit
    return [classes[s] for s in best]


def _greedy(sets: list[frozenset[int]], wanted: frozenset[int]) -> list[frozenset[int]]:
    chosen: list[frozenset[int]] = []
    left = wanted
    while left:
        best = max(sets, key=lambda s: (len(s & left), -sets.index(s)))
        chosen.append(best)
        left -= best
    return chosen


_STEPS = 20_000  # nodes of the search for a smaller cover; a count, so that results repeat


def _exact(
    sets: list[frozenset[int]], wanted: frozenset[int], limit: int
) -> list[frozenset[int]] | None:
    """A cover with fewer sets than `limit`, by depth-first search on the hardest row."""
    budget = [_STEPS]

    def search(left: frozenset[int], room: int) -> list[frozenset[int]] | None:
        if not left:
            return []
        if room == 0 or budget[0] <= 0:
            return None
        budget[0] -= 1
        row = min(left, key=lambda r: (sum(r in s for s in sets), r))
        for s in sets:
            if row in s:
                rest = search(left - s, room - 1)
                if rest is not None:
                    return [s, *rest]
        return None

    for room in range(1, limit):
        found = search(wanted, room)
        if found is not None:
            return found
    return None


def _shared(found: Circuit, repaired: Circuit) -> tuple[Point, ...]:
    """Places that both circuits have: chassis first, then as the file has them.

    What has an end that nobody saw may join anything: where it lands no reading is promised.
    """
    both = [p for p in places(found) if p.pin and p in repaired.node_of]
    for circuit in (found, repaired):
        ends = [p for part in circuit.parts.values() if part.unseen for p in part.points]
        unsure = {circuit.node_of[p] for p in ends if p in circuit.node_of}
        both = [p for p in both if circuit.node_of[p] not in unsure]
    return (CHASSIS, *both)


def _common(found: Circuit, repairs: Iterable[Circuit]) -> tuple[Point, ...]:
    points = _shared(found, found)
    for other in repairs:
        points = tuple(p for p in points if p in other.node_of)
    return points


def _gaps(
    found: Circuit,
    repaired: Circuit,
    points: tuple[Point, ...],
    conditions: Conditions | None,
) -> tuple[Floats, _Table, _Table]:
    """Gap between the readings of two circuits for every pair of points, as a logarithm."""
    ours, theirs = (_table(resistances(c, conditions), points) for c in (found, repaired))
    gap = np.maximum(_log_low(ours) - _log_high(theirs), _log_low(theirs) - _log_high(ours))
    return np.asarray(gap, dtype=np.float64), ours, theirs


def _log_low(table: _Table) -> Floats:
    low = np.clip(table.low * (1 - METER_SHARE) - METER_OHMS, 1.0, _OPEN)
    return np.asarray(np.log(low), dtype=np.float64)


def _log_high(table: _Table) -> Floats:
    high = np.clip(table.high * (1 + METER_SHARE) + METER_OHMS, 1.0, _OPEN)
    high = np.where(table.high > METER_MOST, _OPEN, high)
    return np.asarray(np.log(high), dtype=np.float64)


def _table(ready: Resistances, points: tuple[Point, ...]) -> _Table:
    nodes = [ready.network.of[p] for p in points]
    told = []
    for solver in (ready.nominal, ready.low, ready.high):
        if ready.network.size <= LARGE:
            told.append(solver.table()[np.ix_(nodes, nodes)])
        else:
            told.append(_only_chassis(solver.to(ready.network.chassis)[nodes]))
    return _Table(points, *told)


def _only_chassis(column: Floats) -> Floats:
    """A table in which only the readings to the first point are known."""
    table = np.full((len(column), len(column)), np.inf)
    np.fill_diagonal(table, 0.0)
    table[0, :] = table[:, 0] = column
    return table


def _best(points: tuple[Point, ...], gaps: Floats) -> tuple[int, int] | None:
    """The clearest pair. Readings to chassis are preferred by a third of their gap."""
    weighed = np.triu(gaps, 1)
    weighed[0, :] *= _NEAR
    flat = int(np.argmax(weighed))
    i, j = divmod(flat, len(points))
    return (j, i) if gaps[i, j] > _ENOUGH else None


_INSTEAD = {
    "capacitor": "lift one lead and use a capacitance meter",
    "electrolytic": "look at the polarity mark; lift one lead and use a capacitance meter",
    "can": "read the mark beside the section; lift its lead and use a capacitance meter",
    "diode": "look at the band; use the diode range both ways round",
    "bridge": "look at the marks; use the diode range between each pair",
    "socket": "read the type on the valve itself",
    "transformer": "follow the lead by eye to the winding; low ohms differ too little",
}


def instead(found: Circuit, repaired: Circuit) -> str:
    """What would tell two circuits apart when no resistance does."""
    kinds = [part.kind for part in _changed(found.parts, repaired.parts)]
    kinds += [
        found.parts[p.owner].kind
        for p in _moved(found, repaired)
        if p.owner in found.parts and not found.parts[p.owner].furniture
    ]
    for kind in kinds:
        if kind in _INSTEAD:
            return _INSTEAD[kind]
    return "lift one lead and follow it by eye: no resistance tells the two apart"


def _changed(ours: Mapping[str, Part], theirs: Mapping[str, Part]) -> list[Part]:
    names = dict.fromkeys([*ours, *theirs])
    pairs = ((ours.get(n), theirs.get(n)) for n in names)
    return [a or b for a, b in pairs if a != b and (a or b) is not None]  # type: ignore[misc]


def _moved(found: Circuit, repaired: Circuit) -> list[Point]:
    """Ends of links that only one of the circuits has."""
    one = {(x.a, x.b) for x in found.links}
    two = {(x.a, x.b) for x in repaired.links}
    return [p for pair in sorted(one ^ two) for p in pair]


def gap_of(check: Check) -> float:
    """How far apart the two readings of a check are, as a ratio; infinite when one is open."""
    low, high = sorted((check.found, check.repaired), key=lambda r: r.nominal)
    return high.low / low.high if low.high > 0 and math.isfinite(high.low) else math.inf
