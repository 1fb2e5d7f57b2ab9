"""What the mains leave to each of many sets that differ from one in something, a lamp in the line.

Behind a limiter lamp a set that draws more makes the lamp brighter and gets less: at its heaters,
its windings, everywhere. The lamp of each set is in balance with what that very set draws. Where so
little is left that the cathodes cool, the set draws less again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property

import numpy as np

from buzzout.bench.board import Board, Change
from buzzout.electrics.alternating import Complex
from buzzout.electrics.laws import Bools, Floats, Ints, pulses
from buzzout.electrics.line import Drawn, Line
from buzzout.electrics.mains import Feed, solve_fed
from buzzout.electrics.system import GROUND

# Shares of its usual heater voltage at which a cathode still gives all and gives nothing any more,
# evenly in between. Common practice.
GLOWS, DARK = 0.7, 0.5
_STEEP = 0.8  # exponent of a lamp's resistance with its current, by the law in `electrics.mains`
_EASED = 0.3  # share of the way that the warmth of the cathodes goes in one round
_STILL = 3e-4  # a lamp or a cathode that changes less has settled; as a share
_FELT = 0.1  # a conductance on the windings that takes less power is not felt by the mains [W]


class Behind:
    """What the mains leave to some sets, one a row, and what their rectifier paths carry.

    `warmth` is the share of its emission that what is left of the heater voltage leaves a cathode.
    """

    def __init__(self, board: Board, changes: Sequence[Change]) -> None:
        """Take sets that the mains feed, each with the lamp as it is in the whole set."""
        state, count = board.state, len(changes)
        assert state.side is not None
        self.board, self.lamp = board, state.power.limiter
        paths = state.system.paths
        more = np.array([change.draws + taken(board, change) for change in changes])
        self.line = Line(state.side, state.pulses, np.ones(count), more)
        carried = [np.zeros((count, len(paths))) for _ in range(3)]
        self.drawn = Drawn(*carried)
        self.warmth = np.ones(count)
        self._driven = self.line.drive()

    @property
    def coupled(self) -> Floats:
        """Resistances between the paths of each set, the reservoir's ripple as one. [ohm]."""
        return self.board.coupled + self._driven.coupled

    @property
    def peaks(self) -> Floats:
        """What is left of the voltage that drives the paths. [1]."""
        return self._driven.peaks

    def carry(self, index: int, volts: Floats, share: Floats, pick: Ints) -> tuple[Floats, Floats]:
        """Mean current [A] and slope [A/V] of a path in some of the sets, driven by `volts`."""
        path, left = self.board.state.system.paths[index], self.peaks[pick]
        if path.choke:
            mean, slope = self.board.tables[index].at(volts / left)
            mean = left * mean
            inphase, square = 2 * path.choke * mean / math.pi, path.choke * mean**2
        else:
            ohms = np.maximum(path.ohms + self._driven.coupled[pick, index, index], 0.0)
            mean, slope, inphase, square = pulses(path.law, volts, left * path.peak, ohms)
        self.drawn.mean[pick, index] = share * mean
        self.drawn.inphase[pick, index] = share * inphase
        self.drawn.square[pick, index] = share * square
        return share * mean, share * slope

    def primary(self) -> Complex:
        """What each set gets at its primary with what its paths carry. Peak. [V]."""
        return self.line.primary(self.drawn)

    def follow(self, pick: Ints) -> Bools:
        """Let lamp and cathodes of some sets go after what they carry; which still move.

        A lamp that has more resistance lets less current pass and has less again: it goes as far as
        a load without rectifiers would let it go at once.
        """
        assert self.lamp is not None
        side = self.board.state.side
        assert side is not None
        before, fed = self.line.ohms, math.sqrt(2) * side.fed.volts
        self.line.follow(self.lamp, self.drawn)
        across = np.maximum(1 - np.abs(self.primary())[pick] / fed, 0.0)
        moved = np.log(self.line.ohms[pick] / before[pick]) / (1 + _STEEP * across)
        self.line.ohms = before.copy()
        self.line.ohms[pick] *= np.exp(moved)
        self._driven = self.line.drive()
        left = np.abs(self.primary())[pick] / self._usual
        aim = np.clip((left - DARK) / (GLOWS - DARK), 0.0, 1.0)
        cooled = _EASED * (aim - self.warmth[pick])
        self.warmth[pick] += cooled
        return np.asarray(np.maximum(np.abs(moved), np.abs(cooled)) > _STILL)

    @cached_property
    def _usual(self) -> float:
        """What the whole set gets at its primary. Peak. [V]."""
        side, state = self.board.state.side, self.board.state
        assert side is not None
        amps = side.idle + sum(
            t * p.inphase * np.exp(1j * np.angle(v))
            for t, p, v in zip(side.transfer, state.pulses, side.open_circuit, strict=True)
        )
        return float(abs(math.sqrt(2) * side.fed.volts - side.fed.series * amps))


def taken(board: Board, change: Change) -> complex:
    """What conductances of a change take from the mains beside the rectifiers. [S].

    Nothing without a lamp in the line, where nobody feels it.
    """
    state, swings = board.state, board.state.swings
    of = state.net.of
    extra: dict[tuple[int, int], float] = {}
    for a, b, siemens in change.siemens if state.power.limiter is not None else ():
        if not {a, b} <= of.keys() or {a, b} & change.apart:
            continue
        volts = abs(swings[of[a]] - swings[of[b]])
        if abs(siemens) * volts**2 / 2 > _FELT:
            assert state.side is not None
            ends = [state.side.plan.node[of[p]] for p in (a, b)]
            for row, other in (ends, ends[::-1]):
                extra[row, row] = extra.get((row, row), 0.0) + siemens
                extra[row, other] = extra.get((row, other), 0.0) - siemens
    return _idle(board, extra) - _idle(board, {}) if extra else 0.0


def _idle(board: Board, extra: dict[tuple[int, int], float]) -> complex:
    """Admittance of the set as the mains see it, no path conducting. [S]."""
    side, linear = board.state.side, board.mains
    assert side is not None
    assert linear is not None
    whole = dict(side.fed.extra)
    for place, siemens in extra.items():
        if GROUND not in place:
            whole[place] = whole.get(place, 0.0) + siemens
    return solve_fed(linear, Feed((), 1.0, 0.0, whole)).idle / math.sqrt(2)
