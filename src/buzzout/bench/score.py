"""How well each fault explains the readings, and what another reading would tell.

A reading is what the fault predicts, give or take what good parts, the model and the meter may do.
Each fault gets the logarithm of its likelihood; with its weight that gives its share among all that
was thought of. The next measurement is the one that is expected to leave the least doubt (least
entropy): J. de Kleer and B. C. Williams, Diagnosing multiple faults, Artificial Intelligence 32
(1987), section 4.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from buzzout.bench.probe import ALTERNATING, DIRECT, LEAST_LEVEL, OHMS, RIPPLE, TONE, Predicted
from buzzout.electrics.laws import Floats, Ints

ACCURACY = 0.005  # deviation of a hand-held meter, as a share; half of the 1 % it is sold for
MODEL = 0.012  # deviation of our own laws beside the spread of the parts
FLOOR = 0.004  # below this nobody reads [V]
# What our laws miss of a point that should have been high and is not: contact potentials, leakage
# of what hangs in the air; as a share of the voltage there should be.
FALLEN = 0.004
# And where there should be next to nothing: a cathode that is cut off still stands at hundredths of
# a volt, by what its heater leaks and by the speed of the electrons. Common practice. [V]
_IDLE = 0.02
# Alternating volts: what a loaded winding is off its marking, the crest that a plain meter takes
# for granted, hum that is left where nothing should be. Common practice. [1], [V]
_WINDING, _HUM = 0.03, 0.1
# Ohms: the same meter, and leads that were not zeroed. Common practice. [1], [ohm]
_OHMMETER, _LEADS = 0.006, 0.3
# A level: what our laws miss of a slope beside the spread of the parts. Common practice.
_GAIN = 0.05
# Ripple beside that: a meter is made for a sine, the half waves are none. Common practice.
_SHAPE = 0.12
_REST = 3 * LEAST_LEVEL  # and what hum and hiss leave where nothing should be [V]
# A reading that is not taken yet is looked at where each fault foresees it: the three nodes of
# Gauss and Hermite in a normal distribution, in deviations, and how much each counts.
_NODES, _CHANCES = np.array([-(3**0.5), 0.0, 3**0.5]), np.array([1.0, 4.0, 1.0]) / 6


@dataclass(frozen=True)
class Fit:
    """How each fault fits a set of readings, one entry a fault.

    `log` is the logarithm of the likelihood, `chi` the squared misfit in deviations, `off` each
    reading's misfit in its own deviations.
    """

    log: Floats
    chi: Floats
    off: Floats


def noise(ways: Ints, mean: Floats, healthy: Floats, values: Floats, step: Floats) -> Floats:
    """Variance of each reading that is its own: meter, last digit, model; as it is scored.

    `healthy` is what should be there.
    """
    digits = step**2 / 12
    floor = np.where(np.abs(healthy) < _IDLE, _IDLE, FLOOR)
    own = (ACCURACY * values) ** 2 + floor**2 + (FALLEN * healthy) ** 2
    variance = (MODEL * mean) ** 2 + own
    swinging = (_WINDING * mean) ** 2 + (ACCURACY * values) ** 2 + _HUM**2
    variance = np.where(ways == ALTERNATING, swinging, variance)
    ohms = np.where(ways == OHMS, values, 0.0)
    variance = np.where(ways == OHMS, _OHMMETER**2 + (_LEADS * np.exp(-ohms)) ** 2, variance)
    for way, off in ((TONE, _GAIN), (RIPPLE, _SHAPE)):
        levels = np.where(ways == way, values, 0.0)
        variance = np.where(ways == way, off**2 + (_REST * np.exp(-levels)) ** 2, variance)
    return np.asarray(variance + digits, dtype=np.float64)


def fit(predicted: Predicted, values: Floats, step: Floats) -> Fit:
    """Likelihood of readings, one a column of `predicted`, under every fault.

    `values` as they are scored; `step` is the smallest difference that each shows, likewise.
    """
    mean = predicted.mean
    cov = _covariance(predicted, values, step)
    rest = values - mean
    chi = np.einsum("hi,hi->h", rest, np.linalg.solve(cov, rest[:, :, None])[:, :, 0])
    _sign, size = np.linalg.slogdet(cov)
    number = np.arange(mean.shape[1])
    off = rest / np.sqrt(cov[:, number, number])
    return Fit(np.where(predicted.settled, -0.5 * (chi + size), -np.inf), chi, off)


def _covariance(predicted: Predicted, values: Floats, step: Floats) -> Floats:
    """Covariance of the readings under each fault, the meter's own error included. [V^2]."""
    moved = predicted.moved
    cov = moved @ np.swapaxes(moved, 1, 2)
    number = np.arange(predicted.mean.shape[1])
    own = noise(predicted.ways, predicted.mean, predicted.healthy, values, step)
    cov[:, number, number] += own + predicted.unsure**2
    return np.asarray(cov, dtype=np.float64)


def deviation(predicted: Predicted, values: Floats, step: Floats) -> Floats:
    """Deviation of each reading under each fault, as it is scored."""
    spread = np.einsum("hic,hic->hi", predicted.moved, predicted.moved)
    own = noise(predicted.ways, predicted.mean, predicted.healthy, values, step)
    return np.asarray(np.sqrt(spread + own + predicted.unsure**2), dtype=np.float64)


def shares(log: Floats, weights: Floats) -> Floats:
    """Share of each fault among all, from likelihood and weight; they sum to one."""
    whole = log + np.log(np.maximum(weights, 1e-300))
    top = np.max(whole)
    if not np.isfinite(top):
        return np.asarray(weights / np.sum(weights))
    grown = np.exp(whole - top)
    return np.asarray(grown / np.sum(grown), dtype=np.float64)


def mass(log: Floats, weights: Floats) -> float:
    """Logarithm of the likelihood of all of them together, each with its weight."""
    return float(np.logaddexp.reduce(log + np.log(np.maximum(weights, 1e-300))))


@dataclass(frozen=True)
class Question:
    """What is known when the next reading is chosen.

    `known` predicts the readings that are there, `points` the ones that could be taken, both for
    the faults still in play; `share` of each fault, `group` the number of the explanation it
    belongs to (sizes of one fault belong together).
    """

    known: Predicted
    points: Predicted
    values: Floats
    step: Floats
    share: Floats
    group: Ints


def expected_gain(asked: Question, candidate: int) -> float:
    """By how much a reading at one more point is expected to lessen the doubt. [bit]."""
    mean, deviation = _foreseen(asked, candidate)
    first, counts = _outcomes(mean, deviation, asked.share)
    at = (mean[first, None] + _NODES * deviation[first, None]).ravel()
    off = (at[None] - mean[:, None]) / deviation[:, None]
    density = np.exp(-0.5 * off * off) * (asked.share / deviation)[:, None]
    belongs = np.zeros((int(np.max(asked.group)) + 1, len(mean)))
    belongs[asked.group, np.arange(len(mean))] = 1.0
    joint = belongs @ density
    left = _entropy(joint / np.maximum(np.sum(joint, axis=0), 1e-300))
    then = float(np.sum((counts[:, None] * _CHANCES).ravel() * left))
    now = float(_entropy((belongs @ asked.share)[:, None])[0])
    return max(now - then, 0.0)


def _outcomes(mean: Floats, deviation: Floats, share: Floats) -> tuple[Ints, Floats]:
    """Rows that foresee something else each, and the share of all that foresee the same."""
    cells = np.stack([np.round(4 * mean / np.min(deviation)), np.round(4 * np.log(deviation))], 1)
    _, first, cell = np.unique(cells, axis=0, return_index=True, return_inverse=True)
    together = np.bincount(cell.ravel(), share)
    return first.astype(np.int64), np.asarray(together, dtype=np.float64)


def _entropy(p: Floats) -> Floats:
    safe = np.maximum(p, 1e-300)
    return np.asarray(-np.sum(np.where(p > 0, p * np.log2(safe), 0.0), axis=0))


def _foreseen(asked: Question, candidate: int) -> tuple[Floats, Floats]:
    """What each fault foresees at a point, given the readings that are there. [V]."""
    extra = asked.points.moved[:, candidate]
    cov = _covariance(asked.known, asked.values, asked.step)
    across = np.einsum("hic,hc->hi", asked.known.moved, extra)
    gain = np.linalg.solve(cov, across[:, :, None])[:, :, 0]
    rest = asked.values - asked.known.mean
    middle = asked.points.mean[:, candidate]
    mean = middle + np.einsum("hi,hi->h", gain, rest)
    own = np.sum(extra**2, axis=1) - np.einsum("hi,hi->h", gain, across)
    points, way = asked.points, asked.points.ways[candidate]
    digits = (
        0.01 + 0.005 * np.abs(middle)
        if way in (DIRECT, ALTERNATING)
        else np.full_like(middle, 0.005)
    )
    own = np.maximum(own, 0.0) + points.unsure[:, candidate] ** 2
    spread = noise(np.full(middle.shape, way), middle, points.healthy[candidate], mean, digits)
    return mean, np.sqrt(own + spread)
