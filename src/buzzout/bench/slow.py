"""Slow oscillations, as a tremolo makes them: points where no meter stands still, what stops them.

Growing modes of the whole set below a few cycles a second; how far each point swings follows from
the mode, with the anode of the valve that makes it being at the limit of its supply.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from buzzout.circuit import CHASSIS, CannotApply, Circuit, Join, Part, Point, apply, listed
from buzzout.electrics.draft import Power
from buzzout.electrics.operating import Operating, operate
from buzzout.electrics.signal import linear
from buzzout.electrics.stability import Growth, stability
from buzzout.electrics.system import GROUND
from buzzout.electrics.unsteady import looped

_SLOW = 20.0  # a meter averages what is faster [Hz]; common practice
_SEEN, _SEEN_VOLTS = 0.02, 0.05  # a swing that is seen on a meter, of what stands there; [V]
_GONE = 0.1  # share of the swing that is left where a control keeps it away
_NEAR = 1e-6  # how near to the mode the network is asked, as a share of it


@dataclass(frozen=True)
class Slow:
    """A slow oscillation: its frequency [Hz], the valves that make it, peak swings [V] by point.

    `quiet` says which controls stop it, or keep it from the output valves.
    """

    hertz: float
    valve: str
    swings: Mapping[Point, float]
    quiet: tuple[str, ...]

    def moves(self, point: Point, volts: float) -> bool:
        """Whether a meter would be seen to swing at a point that stands at so many volts."""
        return self.swings.get(point, 0.0) > max(_SEEN * abs(volts), _SEEN_VOLTS)

    @property
    def words(self) -> str:
        """What to know before the meter goes there."""
        said = (
            f"{self.valve} oscillates at about {self.hertz:.2g} Hz (a tremolo, if it is meant):"
            " where a line says that it swings, read the middle"
        )
        return "; ".join([f"{said}, or quiet it first", *self.quiet]) if self.quiet else said


def slow(circuit: Circuit, grids: Sequence[Point]) -> Slow | None:
    """The fastest growing slow oscillation of a set in use; None without any."""
    state = operate(circuit, Power())
    mode = _mode(state)
    if mode is None:
        return None
    name, swings = _swings(state, mode)
    reached = sum(swings.get(grid, 0.0) for grid in grids)
    return Slow(mode.hertz, name, swings, tuple(_quiet(circuit, grids, reached)))


def _mode(state: Operating) -> Growth | None:
    if not state.settled:
        return None
    return next((g for g in stability(state).growing if not g.drifts and g.hertz < _SLOW), None)


def _swings(state: Operating, mode: Growth) -> tuple[str, Mapping[Point, float]]:
    """The valves of its loop, and how far each point swings. [V], peak."""
    view = linear(state)
    names = list(looped(view, view.admittances, mode))
    own = [v.electrodes for v in state.net.valves if v.name in names]
    ends = [(view.plan.node[state.net.of[at["anode"]]], at) for at in own if "anode" in at]
    right = np.zeros((view.plan.size, 1), dtype=np.complex128)
    right[[row for row, _ in ends if row != GROUND], 0] = 1.0
    omega = mode.s * (1 + _NEAR) / 1j
    x = np.append(np.abs(view.solve(omega, right, view.admittances.at(omega))[:, 0]), 0.0)
    shares = [x[row] / abs(state.volts(at["anode"], at["cathode"])) for row, at in ends]
    most = max(shares, default=1.0) or 1.0
    rows = {p: view.plan.node[n] for p, n in state.net.of.items()}
    return listed(names), {p: float(x[row] / most) for p, row in rows.items() if row != GROUND}


def _quiet(circuit: Circuit, grids: Sequence[Point], reached: float) -> Iterator[str]:
    """Controls that stop it or keep it from the grids."""
    stopped, kept = [], []
    for words, other in _otherwise(circuit):
        state = operate(other, Power())
        mode = _mode(state)
        if state.settled and mode is None:
            stopped.append(words)
        elif mode is not None:
            swings = _swings(state, mode)[1]
            if sum(swings.get(grid, 0.0) for grid in grids) < _GONE * reached:
                kept.append(words)
    if stopped:
        yield f"it stops with {listed(stopped, 'or')}"
    if kept:
        yield f"it does not reach the output valves with {listed(kept, 'or')}"


def _otherwise(circuit: Circuit) -> Iterator[tuple[str, Circuit]]:
    """The set with each pot at its other end, and with each jack shorted as by a foot switch."""
    for name, part in circuit.parts.items():
        if part.kind == "pot" and not part.setting:
            yield f"{name} fully anticlockwise", circuit.but({**circuit.parts, name: _down(part)})
        elif part.kind == "jack" and "tip" in part.terminals:
            try:
                shorted = apply(circuit, [Join(part.point("tip"), CHASSIS)])
                yield f"the tip of {name} shorted to its sleeve", shorted
            except CannotApply:
                continue


def _down(pot: Part) -> Part:
    return replace(pot, setting="0%")
