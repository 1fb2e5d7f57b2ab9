"""Many sets on the mains: what each draws, and what a limiter lamp in the line leaves it.

Seen from the mains a set is an impedance Z (its heaters and cores) beside the currents of its
rectifiers; both as computed for the middle set. Behind a lamp a set that draws more makes the lamp
hotter and gets less voltage, so ranges are narrower there than a fixed resistance would make them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from buzzout.electrics.alternating import Complex
from buzzout.electrics.mains import Lamp, MainsSide, lamp_volts, line_current
from buzzout.electrics.network import Floats
from buzzout.electrics.rectifier import Pulse


@dataclass(frozen=True)
class Driven:
    """What the line leaves to each set: a factor on the peaks [1], resistances added [ohm]."""

    peaks: Floats
    coupled: Floats


class Line:
    """The line into many sets, one a row. `ratio` is the secondaries' voltage over that marked.

    `ohms` is the resistance in the line of each set: that of a limiter lamp. [ohm]
    """

    def __init__(self, side: MainsSide, pulses: tuple[Pulse, ...], ratio: Floats) -> None:
        """Take the middle set."""
        self._side, self._pulses, self._ratio = side, pulses, ratio
        self._volts, self._series = math.sqrt(2) * side.fed.volts, side.fed.series
        idle = side.idle if abs(side.idle) > 1e-9 else complex(1e-9)
        self._load = self._volts / idle - self._series
        self._part = self._load / (self._series + self._load)
        self._turns = np.asarray(side.transfer) / self._part
        self.ohms = np.full(len(ratio), self._series)

    def drive(self) -> Driven:
        """What the sets get with the resistances as they are now."""
        load = self._loads()
        shares = np.abs(load / (self.ohms + load)) / abs(self._part)
        behind = self._ratio**2 * self.ohms * load / (self.ohms + load)
        pairs = self._turns[:, None] * self._turns[None, :]
        more = (behind - self._series * self._part)[:, None, None]
        return Driven(shares, np.real(pairs[None] * more))

    def amps(self, means: Floats) -> Floats:
        """R.m.s. current of each set, its paths carrying these mean currents. [A]."""
        load = self._loads()
        given = load / (self.ohms + load)
        drawn, beyond = self._pulsed(means)
        first = np.abs(self._volts / (self.ohms + load) + self._ratio * given * drawn)
        rest = beyond * self._ratio * np.abs(given / self._part)
        return np.asarray(np.sqrt(first**2 / 2 + rest**2))

    def follow(self, lamp: Lamp, means: Floats) -> None:
        """Take the resistance that a lamp has at the current of each set."""
        amps = np.maximum(self.amps(means), 1e-9)
        self.ohms = lamp_volts(lamp, amps) / amps

    def _loads(self) -> Complex:
        return np.asarray(self._load / self._ratio**2)

    def _pulsed(self, means: Floats) -> tuple[Complex, Floats]:
        """The paths' currents at mains frequency in the primary, and r.m.s. of what is beyond."""
        phase = np.exp(1j * np.angle(self._side.open_circuit))
        middle = np.array([p.mean for p in self._pulses])
        inphase = np.array([p.inphase for p in self._pulses])
        share = np.where(middle > 1e-9, means / np.maximum(middle, 1e-9), 1.0)
        drawn = share @ (self._turns * inphase * phase)
        first = self._side.idle + complex(np.sum(self._side.transfer * inphase * phase))
        whole = line_current(self._side, self._pulses)
        beyond = math.sqrt(max(whole**2 - abs(first) ** 2 / 2, 0.0))
        total = float(middle.sum())
        grown = means.sum(axis=1) / total if total > 1e-9 else np.ones(len(means))
        return drawn, beyond * grown
