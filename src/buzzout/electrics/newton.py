"""Damped Newton for networks with valves and rectifiers, with continuation, and honest about it.

Unknowns are the node voltages, then one current for each source, then one for each rectifier
path. Every law has an analytic slope. From a cold start the supplies are raised in steps when the
direct way does not converge; steps are halved until a floor is reached. Budgets count steps.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from buzzout.electrics.balance import balance
from buzzout.electrics.network import Floats
from buzzout.electrics.system import System

_ITERATIONS, _HALVINGS, _FLOOR = 60, 20, 1 / 256
_NEAR = 3  # halvings after which a start is given up that was thought to be near
_AMPS, _VOLTS = 1e-9, 1e-6  # settled: currents balance to this, last step smaller than that
_DENSE = 400


@dataclass(frozen=True)
class Solution:
    """Node voltages [V], source and path currents [A]; or the best that was reached.

    `fraction` is the share of the supplies at which the last settled state was found: 1 when all
    is well. `worst` is the row that is furthest from balance.
    """

    x: Floats
    settled: bool
    fraction: float
    steps: int
    worst: int


def _step(jacobian: Floats, rest: Floats) -> Floats | None:
    try:
        if len(rest) <= _DENSE:
            moved: Floats = np.linalg.solve(jacobian, -rest).astype(np.float64)
        else:
            from scipy.sparse import csc_array  # noqa: PLC0415 - slow to import, rarely needed
            from scipy.sparse.linalg import splu  # noqa: PLC0415

            moved = splu(csc_array(jacobian)).solve(-rest)
    except (np.linalg.LinAlgError, RuntimeError):
        return None
    return moved if bool(np.all(np.isfinite(moved))) else None


def _weights(system: System) -> Floats:
    """Rows in comparable units: milliamps for nodes and paths, volts for sources."""
    weights = np.full(system.size, 1e3)
    weights[system.nodes : system.nodes + len(system.sources)] = 1.0
    return weights


def _descend(
    system: System, x: Floats, fraction: float, halvings: int = _HALVINGS
) -> tuple[Floats, bool, int, int]:
    """Newton with backtracking at one fraction of the supplies."""
    weights = _weights(system)
    rest, jacobian = balance(system, x, fraction)
    off = float(np.linalg.norm(weights * rest))
    for step in range(_ITERATIONS):
        moved = _step(jacobian, rest)
        if moved is None:
            break
        length = 1.0
        for _ in range(halvings):
            trial = x + length * moved
            new_rest, new_jacobian = balance(system, trial, fraction)
            new_off = float(np.linalg.norm(weights * new_rest))
            if new_off <= off * (1 - 1e-4 * length) or new_off < 1e-9:
                break
            length /= 2
        else:
            break
        x, rest, jacobian, off = trial, new_rest, new_jacobian, new_off
        largest = float(np.max(np.abs(length * moved[: system.nodes]), initial=0.0))
        worst = float(np.max(np.abs(weights * rest), initial=0.0))
        if worst < _AMPS * 1e3 or (worst < 1e-4 and largest < _VOLTS):
            return x, True, step + 1, int(np.argmax(np.abs(weights * rest)))
    balanced = float(np.max(np.abs(weights * rest), initial=0.0)) < 1e-5
    return x, balanced, _ITERATIONS, int(np.argmax(np.abs(weights * rest)))


def solve(system: System, start: Floats | None = None) -> Solution:
    """The operating point of a system.

    Tries from `start`, then from zero, then raises the supplies from nothing in steps.
    """
    zero, steps = np.zeros(system.size), 0
    if system.size == 0:
        return Solution(zero, settled=True, fraction=1.0, steps=0, worst=0)
    tries = [(zero, _HALVINGS)] if start is None else [(start, _NEAR), (zero, _HALVINGS)]
    for begin, halvings in tries:
        x, settled, used, worst = _descend(system, begin, 1.0, halvings)
        steps += used
        if settled:
            return Solution(x, settled=True, fraction=1.0, steps=steps, worst=worst)
    return _raise(system, zero, steps)


def _raise(system: System, x: Floats, steps: int) -> Solution:
    done, stride, worst = 0.0, 0.125, 0
    while done < 1.0 and stride >= _FLOOR:
        aim = min(done + stride, 1.0)
        trial, settled, used, at = _descend(system, x, aim)
        steps += used
        if settled:
            x, done, stride = trial, aim, stride * 1.5
        else:
            worst, stride = at, stride / 2
    return Solution(x, settled=done >= 1.0, fraction=done, steps=steps, worst=worst)
