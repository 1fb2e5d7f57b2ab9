"""The made-up bench behind a lamp: one mains cycle after the other, no electrics of ours.

The line feeds lamp and primary, the core its iron and the heaters, the HT winding the rectifier and
the reservoir, from which the set takes what the bench's own equations give at that voltage. After
each cycle the lamp takes the resistance that tungsten has at the current of that cycle: current
goes with the 0.55th power of the voltage (Fink and Beaty, see `test_electrics_lamp`).
"""

import math

import numpy as np
from made_up_bench import HALF, PERVEANCE, PRIMARY, RESERVOIR, TURNS, Bench
from made_up_mains import DOUBLE, HEATERS, IRON

from buzzout.circuit import Point

STEPS, CYCLES = 200, 160
HEATER_TURNS, HEATER_COPPER = 6.45 / 230, 0.03
LAMPS_AND_BALANCE = 1 / 21.0 + 1 / 200.0  # the pilot lamp; the two resistors across the heaters [S]
TAKEN = np.array([0.0, 15.0, 40.0, 80.0, 120.0, 160.0, 200.0, 240.0, 280.0, 340.0])  # [V]


class Held(Bench):
    """The bench with its reservoir held at a voltage."""

    held = 0.0

    def source(self, _it):
        return lambda v: 10.0 * (self.held - v)


def taken(drawing, it, volts):
    """Current out of the reservoir held at a voltage, every node, and whether it settled."""
    bench = Held(drawing)
    bench.held = volts
    x, of, settled = bench.solve(it)
    return 10.0 * (volts - x[of[Point("V6", "3")]]), x, of, settled


def heaters(missing=()):
    """Conductance of all heaters and the pilot lamp, seen from the primary. [S]."""
    amps = {**HEATERS, **dict.fromkeys(DOUBLE, 0.3)}
    load = sum(a / 6.3 for name, a in amps.items() if name not in missing) + LAMPS_AND_BALANCE
    return HEATER_TURNS**2 / (1 / load + HEATER_COPPER)


def pulse(core, peak_ohms, v, half):
    """Current of one half of the winding: `core` volts on it, `peak_ohms` behind it. [A]."""
    if core <= v:
        return 0.0
    low, high = 0.0, (core - v) / (peak_ohms + half)
    for _ in range(30):
        amps = (low + high) / 2
        lost = (peak_ohms + half) * amps + (amps / PERVEANCE) ** (2 / 3)
        low, high = (amps, high) if core - v > lost else (low, amps)
    return (low + high) / 2


def behind_lamp(drawing, it, watts, missing=()):
    """Volts at every node, the table of nodes, heater volts, lamp volts, and whether it settled.

    The lamp is of so many watts; `missing` are valves that are not in their sockets.
    """
    draws = np.array([taken(drawing, it, v)[0] for v in TAKEN])
    load, hot = heaters(missing), 230.0**2 / watts
    ohms, v, iron, dt = hot / 3, 200.0, 0.0, 1 / 50 / STEPS
    for _ in range(CYCLES):
        line, core, held = 0.0, 0.0, 0.0
        for n in range(STEPS):
            e = math.sqrt(2) * it.mains * math.sin(2 * math.pi * n / STEPS)
            given = 1 / (1 / (ohms + PRIMARY) + load)
            bare = (e / (ohms + PRIMARY) - iron) * given
            sign, half = (1, HALF[0]) if bare > 0 else (-1, HALF[1])
            amps = pulse(abs(bare) * TURNS, given * TURNS**2, v, half)
            volts = bare - sign * TURNS * amps * given
            iron += volts * 2 * math.pi * 50 / IRON * dt
            line += ((e - volts) / (ohms + PRIMARY)) ** 2 / STEPS
            core += volts**2 / STEPS
            v += (amps - float(np.interp(v, TAKEN, draws))) * dt / RESERVOIR
            held += v / STEPS
        now = math.sqrt(line)
        new = hot * max((now * hot / 230.0) ** (0.45 / 0.55), 1 / 14)
        settled = abs(new / ohms - 1) < 1e-4
        ohms *= (new / ohms) ** 0.4
    _, x, of, fine = taken(drawing, it, held)
    left = 1 - HEATER_COPPER * load / HEATER_TURNS**2  # by the copper of the heater winding
    return x, of, math.sqrt(core) * HEATER_TURNS * left, now * ohms, settled and fine
