"""Two faults at once, where no single one explains the readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from buzzout.bench.case import Case
from buzzout.bench.faults import Fault
from buzzout.bench.probe import Taken
from buzzout.bench.score import Fit, capped, fit
from buzzout.electrics.laws import Floats

_CHOSEN = 26  # faults of which pairs are made
_SIZES = 2  # sizes of each of them
_RARE = 0.02  # two faults at once are so much rarer than one: common practice


@dataclass(frozen=True)
class Paired:
    """Pairs as rows of single faults, with how each fits; all empty where there are none."""

    rows: tuple[tuple[int, int], ...]
    weights: Floats
    mean: Floats
    fit: Fit


def pairs(asked: Case, taken: Sequence[Taken], figures: tuple[Floats, Floats], got: Fit) -> Paired:
    """Pairs of the faults that each explain some of the readings."""
    rows = tuple(p for p in combinations(_chosen(asked, got), 2) if _both(asked, *p))
    if not rows:
        nothing = np.zeros(0)
        return Paired((), nothing, nothing, Fit(nothing, nothing, nothing))
    made = [_pair(asked.faults[a], asked.faults[b]) for a, b in rows]
    bare = asked.at(taken, made)
    singles = asked.at(taken).moved[:, :, -1]
    moved = bare.moved.copy()
    moved[:, :, -1] = [np.hypot(singles[a], singles[b]) for a, b in rows]
    better = fit(replace(bare, moved=moved), *figures)
    weights = np.array([asked.weights[a] * asked.weights[b] * _RARE for a, b in rows])
    return Paired(rows, weights, bare.mean, better)


def _chosen(asked: Case, got: Fit) -> list[int]:
    """The faults that explain most when readings that are far off are forgiven."""
    robust = capped(got) + np.log(np.maximum(asked.weights, 1e-9))
    sizes: dict[tuple[str, str], int] = {}
    found: list[int] = []
    for row in np.argsort(-robust, kind="stable"):
        fault = asked.faults[int(row)]
        if fault.kind in ("nothing", "finding not there") or not np.isfinite(got.log[row]):
            continue
        if sizes.get(fault.key, 0) < _SIZES and len(found) < _CHOSEN * _SIZES:
            sizes[fault.key] = sizes.get(fault.key, 0) + 1
            found.append(int(row))
    return found


def _both(asked: Case, a: int, b: int) -> bool:
    """Whether two faults can be there at once."""
    one, other = asked.faults[a], asked.faults[b]
    return one.thing != other.thing and not (one.change.apart and other.change.apart)


def _pair(one: Fault, other: Fault) -> Fault:
    return Fault("pair", one.thing, f"{one.words} and {other.words}", one.change.and_(other.change))
