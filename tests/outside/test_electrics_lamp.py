"""A lamp in series with the mains against the published exponent for tungsten lamps.

Current goes with the 0.55th power of the voltage near the rating (Fink and Beaty, Standard Handbook
for Electrical Engineers, 11th ed., page 22-8). The operating points below solve
I0 (v/V0)^0.55 = (V0 - v)/R by hand for a load R given by its watts at full mains.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from buzzout.circuit import Link, Part
from buzzout.electrics.draft import Power
from buzzout.electrics.mains import Lamp, lamp_ohms, lamp_volts
from buzzout.electrics.operating import operate

sys.path.insert(0, str(Path(__file__).parents[1] / "electrics"))
from boards import Board, point


def heater(mains, watts):
    """A plain resistive load on a mains lead."""
    board = Board(mains=(f"{mains}V", "50Hz")).r("R1", f"{mains**2 / watts}R", "LINE", "NEUTRAL")
    board.parts["M1"] = Part("M1", "cord", ("L", "N"))
    board.links += [Link(point("M1.L"), point("LINE")), Link(point("M1.N"), point("NEUTRAL"))]
    return board.circuit()


# lamp watts, load watts, mains volts, volts across the lamp, amps
CASES = [
    (100, 60, 230, 55.2, 0.198),
    (100, 60, 120, 28.8, 0.380),
    (60, 60, 230, 91.5, None),
    (60, 60, 120, 47.7, None),
    (40, 60, 230, 121.9, None),
    (100, 30, 230, 21.5, None),
    (40, 100, 120, 81.3, None),
]


@pytest.mark.parametrize(("lamp", "load", "mains", "volts", "amps"), CASES)
def test_series_lamp(lamp, load, mains, volts, amps):
    got = operate(heater(mains, load), Power(limiter=Lamp(lamp, mains)))
    assert got.settled
    assert got.lamp_volts == pytest.approx(volts, abs=0.3)
    if amps is not None:
        assert got.line_amps == pytest.approx(amps, rel=0.01)


@pytest.mark.parametrize("watts", [25, 40, 60, 100, 150])
def test_series_lamp_against_a_root_finder(watts):
    load, rated = 230**2 / 45, watts / 230
    volts = brentq(lambda v: rated * (v / 230) ** 0.55 - (230 - v) / load, 1e-6, 230)
    got = operate(heater(230, 45), Power(limiter=Lamp(watts, 230)))
    # below a fifth of the rated voltage the law gives way to a floor at the cold resistance
    if volts > 0.05 * 230:
        assert got.lamp_volts == pytest.approx(volts, rel=2e-3)


def test_cold_lamp_is_a_tenth_to_a_fifteenth_of_the_hot_one():
    lamp = Lamp(60, 230)
    assert 10 <= lamp_ohms(lamp, 230) / lamp_ohms(lamp, 0) <= 15
    assert lamp_ohms(lamp, 230) == pytest.approx(230**2 / 60)


def test_the_voltage_of_a_lamp_at_a_current_is_its_law_turned_round():
    lamp = Lamp(60, 230)
    amps = np.geomspace(1e-3, 0.3, 20)
    volts = lamp_volts(lamp, amps)
    assert volts / amps == pytest.approx([lamp_ohms(lamp, v) for v in volts], rel=1e-6)
