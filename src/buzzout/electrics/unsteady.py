"""Where a computed gain means nothing: behind a valve of a loop that oscillates by itself.

A growing mode grows until a valve of its loop limits; what passes that valve is then no longer what
the slopes at the operating point make of it. The valves of the loop are those whose slopes move the
mode: the residues of the network at the mode tell by how much. What the mode merely leads to (the
amplifier behind a tone generator) is in no loop, and its gain stands.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from buzzout.circuit import Point
from buzzout.electrics.alternating import Admittances, Complex
from buzzout.electrics.signal import Linear, Signals, answer, connected
from buzzout.electrics.sockets import Valve
from buzzout.electrics.stability import Growth, Stability, under
from buzzout.electrics.system import GROUND

_MOVES = 0.2  # share of what the first valve does to a mode from which one is of its loop [1]
_CHANGED = 0.1  # a gain that hangs on those valves by less than this stands [1]
_CIRCLE, _RADIUS = 8, 1e-3  # points of the circle round a mode; radius as a share of it [1]
_ROLES = ("grid", "screen", "anode")  # the order of the slopes of a valve


def unsteady(got: Signals) -> tuple[Stability, frozenset[Point]]:
    """Growing modes of an answer's network, and the points whose gain means nothing for them."""
    told = under(got)
    made = connected(got.view, got.drive)
    valves = frozenset(name for mode in told.growing for name in looped(got.view, made, mode))
    if not valves:
        return told, frozenset()
    still = answer(replace(got.view, still=valves), got.drive, got.hertz)
    moved = np.abs(still.x - got.x) > _CHANGED * np.abs(got.x)
    rows, node = {*np.flatnonzero(moved).tolist()}, got.plan.node
    return told, frozenset(p for p, n in got.net.of.items() if node[n] in rows)


def looped(view: Linear, made: Admittances, mode: Growth) -> Iterator[str]:
    """Valves whose slopes move a mode of a network, `made` of the view with what drives it."""
    valves = [v for v in view.net.valves if view.state.flow(v.name) is not None]
    voltages = _residues(view, made, mode.s, valves)
    moves = [abs(_moved(view, v, voltages[:, 3 * i : 3 * i + 3])) for i, v in enumerate(valves)]
    most = max(moves, default=0.0)
    return (v.name for v, by in zip(valves, moves, strict=True) if by > _MOVES * most)


def _residues(view: Linear, made: Admittances, s: complex, valves: list[Valve]) -> Complex:
    """What 1 A at each electrode of each valve brings of a mode, a mean round it. [V/s]."""
    size = view.plan.size
    right = np.zeros((size, 3 * len(valves)), dtype=np.complex128)
    for number, valve in enumerate(valves):
        at = _rows(view, valve)
        for place, role in enumerate(_ROLES):
            for row, sign in ((at.get(role, GROUND), 1.0), (at["cathode"], -1.0)):
                if role in at and row != GROUND:
                    right[row, 3 * number + place] += sign
    total = np.zeros_like(right)
    for turn in np.exp(2j * math.pi * (np.arange(_CIRCLE) + 0.5) / _CIRCLE):
        step = complex(_RADIUS * abs(s) * turn)
        total += step * view.solve((s + step) / 1j, right, made.at((s + step) / 1j)) / _CIRCLE
    return total


def _moved(view: Linear, valve: Valve, voltages: Complex) -> complex:
    """By how much a mode moves for each share of what a valve amplifies. [1/s].

    A column of voltages for a current into grid, screen and anode each.
    """
    flow, at = view.state.flow(valve.name), _rows(view, valve)
    assert flow is not None
    whole = np.concatenate([voltages, np.zeros((1, voltages.shape[1]))])  # the chassis last
    total = 0j
    for column, line in enumerate(flow.slopes):
        for role, slope in zip(_ROLES, line, strict=True):
            if role != _ROLES[column] and role in at:
                total += slope * complex(whole[at[role], column] - whole[at["cathode"], column])
    return total


def _rows(view: Linear, valve: Valve) -> dict[str, int]:
    return {role: view.plan.node[view.net.of[p]] for role, p in valve.electrodes.items()}
