"""Many sets on the mains: what each draws, and what a limiter lamp in the line leaves it.

Seen from the mains a set is an impedance Z (its heaters and cores) beside the currents of its
rectifiers; Z is that computed for the middle set, with what a set takes beside it. Behind a lamp a
set that draws more makes the lamp hotter and gets less voltage, so ranges are narrower there than a
fixed resistance would make them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from buzzout.electrics.alternating import Complex
from buzzout.electrics.mains import Lamp, MainsSide, lamp_volts
from buzzout.electrics.network import Floats
from buzzout.electrics.rectifier import Pulse


@dataclass(frozen=True)
class Driven:
    """What the line leaves to each set: a factor on the peaks [1], resistances added [ohm]."""

    peaks: Floats
    coupled: Floats


@dataclass(frozen=True)
class Drawn:
    """What the rectifier paths of each set carry, one path a column; see `rectifier.Pulse`.

    `mean`, the peak `inphase` with the mains, and `square` of the r.m.s. [A], [A^2]
    """

    mean: Floats
    inphase: Floats
    square: Floats


class Line:
    """The line into many sets, one a row. `ratio` is the secondaries' voltage over that marked.

    `more` is what a set takes from the mains beside what the middle one does [S]; `ohms` the
    resistance in the line of each set: that of a limiter lamp. [ohm]
    """

    def __init__(
        self,
        side: MainsSide,
        pulses: tuple[Pulse, ...],
        ratio: Floats,
        more: Complex | float = 0.0,
    ) -> None:
        """Take the middle set."""
        self._pulses, self._ratio = pulses, ratio
        self._volts, self._series = math.sqrt(2) * side.fed.volts, side.fed.series
        idle = side.idle if abs(side.idle) > 1e-9 else complex(1e-9)
        load = self._volts / idle - self._series
        self._part = load / (self._series + load)
        self._turns = np.asarray(side.transfer) / self._part
        self._phased = self._turns * np.exp(1j * np.angle(side.open_circuit))
        self._loads: Complex = np.asarray(1 / (1 / load + more) / ratio**2)
        self.ohms = np.full(len(ratio), self._series)

    def drive(self) -> Driven:
        """What the sets get with the resistances as they are now."""
        load = self._loads
        shares = np.abs(load / (self.ohms + load)) / abs(self._part)
        behind = self._ratio**2 * self.ohms * load / (self.ohms + load)
        pairs = self._turns[:, None] * self._turns[None, :]
        more = (behind - self._series * self._part)[:, None, None]
        return Driven(shares, np.real(pairs[None] * more))

    def like(self, means: Floats) -> Drawn:
        """What paths carry whose pulses have the shape of the middle set's, by their mean. [A]."""
        middle = np.array([p.mean for p in self._pulses])
        share = np.where(middle > 1e-9, means / np.maximum(middle, 1e-9), 1.0)
        inphase, rms = (np.array([getattr(p, f) for p in self._pulses]) for f in ("inphase", "rms"))
        return Drawn(means, share * inphase, (share * rms) ** 2)

    def amps(self, drawn: Drawn) -> Floats:
        """R.m.s. current of each set; see `mains.line_current`. [A]."""
        pulsed = drawn.inphase @ self._phased
        steady = np.abs(drawn.mean @ self._turns) ** 2
        squares = drawn.square @ np.abs(self._turns) ** 2
        beyond = np.maximum(squares - steady - np.abs(pulsed) ** 2 / 2, 0.0)
        given = self._ratio * np.abs(self._loads / (self.ohms + self._loads))
        first = np.abs(self._fundamental(drawn))
        return np.asarray(np.sqrt(first**2 / 2 + given**2 * beyond))

    def primary(self, drawn: Drawn) -> Complex:
        """What each set gets at its primary, at mains frequency. Peak. [V]."""
        return np.asarray(self._volts - self.ohms * self._fundamental(drawn))

    def follow(self, lamp: Lamp, drawn: Drawn) -> None:
        """Take the resistance that a lamp has at the current of each set."""
        amps = np.maximum(self.amps(drawn), 1e-9)
        self.ohms = lamp_volts(lamp, amps) / amps

    def _fundamental(self, drawn: Drawn) -> Complex:
        """Current of each set at mains frequency. Peak. [A]."""
        load, pulsed = self._loads, drawn.inphase @ self._phased
        given = load / (self.ohms + load)
        return np.asarray(self._volts / (self.ohms + load) + self._ratio * given * pulsed)
