"""Two faults at once, or a fault and a slip, where no single one explains the readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from buzzout.bench.case import Case
from buzzout.bench.faults import NOTHING, Fault
from buzzout.bench.probe import Predicted, Taken
from buzzout.bench.score import Fit, deviation, fit
from buzzout.bench.slips import slipped
from buzzout.electrics.laws import Floats

_CHOSEN = 400  # pairs that are solved
_SIZES = 3  # pairs of sizes of the same two faults among them
_EACH = 40  # partners of one fault that are looked at
_FORGIVEN = 16.0  # square of the deviations beyond which a reading is no worse
# other circuits, no changes of this one
_ALONE = ("nothing", "finding not there", "wrong tap", "control elsewhere", "control moved")
_RARE = 0.02  # two faults at once are so much rarer than one: common practice


@dataclass(frozen=True)
class Paired:
    """What comes together: rows of single faults, the number of a reading that is a slip.

    With how often it happens, what it shows and how it fits; all empty where there is none.
    """

    rows: tuple[tuple[int, ...], ...]
    slip: tuple[int | None, ...]
    weights: Floats
    mean: Floats
    fit: Fit


def pairs(
    asked: Case, taken: Sequence[Taken], figures: tuple[Floats, Floats], known: Predicted
) -> Paired:
    """The pairs that explain the readings best; `known` is what each single fault would show."""
    return _joined(_two(asked, taken, figures, known), _with_slip(asked, figures, known))


def _joined(one: Paired, other: Paired) -> Paired:
    fits = (one.fit, other.fit)
    return Paired(
        one.rows + other.rows,
        one.slip + other.slip,
        np.concatenate([one.weights, other.weights]),
        np.concatenate([one.mean, other.mean]),
        Fit(*(np.concatenate([getattr(f, name) for f in fits]) for name in ("log", "chi", "off"))),
    )


def _with_slip(asked: Case, figures: tuple[Floats, Floats], known: Predicted) -> Paired:
    """The likeliest faults with each reading in its turn taken for a slip."""
    every = slipped(known, *figures)
    log = np.log(np.maximum(asked.likely * _RARE, 1e-300))
    at = [
        (row, number)
        for number, got in enumerate(every)
        for row in np.argsort(-(got.log + log), kind="stable")[:_EACH].tolist()
        if asked.faults[row] is not NOTHING
    ]
    rows, slips = [row for row, _ in at], [number for _, number in at]
    table = {name: np.array([getattr(f, name) for f in every]) for name in ("log", "chi", "off")}
    return Paired(
        tuple((row,) for row in rows),
        tuple(slips),
        asked.likely[rows] * _RARE,
        known.mean[rows],
        Fit(*(table[name][slips, rows] for name in ("log", "chi", "off"))),
    )


def _two(
    asked: Case, taken: Sequence[Taken], figures: tuple[Floats, Floats], known: Predicted
) -> Paired:
    rows = tuple(_likely(asked, known, figures))
    if not rows:
        nothing, none = np.zeros(0), known.mean[:0]
        return Paired((), (), nothing, none, Fit(nothing, nothing, none))
    made = [_pair(asked.faults[a], asked.faults[b]) for a, b in rows]
    bare = asked.at(taken, made)
    singles = known.moved[:, :, -1]
    moved = bare.moved.copy()
    moved[:, :, -1] = [np.hypot(singles[a], singles[b]) for a, b in rows]
    better = fit(replace(bare, moved=moved), *figures)
    weights = np.array([asked.weights[a] * asked.weights[b] * _RARE for a, b in rows])
    return Paired(rows, (None,) * len(rows), weights, bare.mean, better)


def _likely(asked: Case, known: Predicted, figures: tuple[Floats, Floats]) -> list[tuple[int, int]]:
    """The pairs that explain most where the effects of two faults simply add up.

    They do not quite: readings that are far off are forgiven, and what is chosen is solved.
    """
    values, step = figures
    usable = [
        row for row, fault in enumerate(asked.faults)
        if fault.kind not in _ALONE and known.settled[row]
    ]  # fmt: skip
    moved = known.mean[usable] - known.mean[0]
    spread = deviation(known, values, step)[usable]
    weight = np.log(asked.weights[usable])
    rest = values - known.mean[0]
    found: list[tuple[float, int, int]] = []
    for i, row in enumerate(usable[:-1]):
        off = (rest - moved[i] - moved[i + 1 :]) / np.maximum(spread[i], spread[i + 1 :])
        chi = np.sum(np.minimum(off * off, _FORGIVEN), axis=1)
        score = weight[i] + weight[i + 1 :] - chi / 2
        best = np.argsort(-score, kind="stable")[:_EACH]
        found += [(float(score[j]), row, usable[i + 1 + int(j)]) for j in best]
    sizes: dict[tuple[tuple[str, str], tuple[str, str]], int] = {}
    chosen: list[tuple[int, int]] = []
    for _, a, b in sorted(found, key=lambda f: (-f[0], f[1], f[2])):
        key = (asked.faults[a].key, asked.faults[b].key)
        if sizes.get(key, 0) < _SIZES and _both(asked, a, b):
            sizes[key] = sizes.get(key, 0) + 1
            chosen.append((a, b))
    return chosen[:_CHOSEN]


def _both(asked: Case, a: int, b: int) -> bool:
    """Whether two faults can be there at once."""
    one, other = asked.faults[a], asked.faults[b]
    return one.thing != other.thing and not (one.change.apart and other.change.apart)


def _pair(one: Fault, other: Fault) -> Fault:
    return Fault("pair", one.thing, f"{one.words} and {other.words}", one.change.and_(other.change))
