"""The laws on arrays are the laws of the electrics, one by one."""

import numpy as np
import pytest

from buzzout.catalogue import device
from buzzout.electrics.charging import current
from buzzout.electrics.laws import gas, table, valve
from buzzout.electrics.models import model
from buzzout.electrics.rectifier import Law, driven, pulse
from buzzout.electrics.system import Path
from buzzout.electrics.valves import flow

TYPES = (
    ("ECC83", "triode"),
    ("ECC82", "triode"),
    ("EL84", "pentode"),
    ("6V6GT", "tetrode"),
    ("EF89", "pentode"),
)


@pytest.mark.parametrize(("name", "kind"), TYPES)
def test_many_states_at_once_are_the_same_as_one_by_one(name, kind):
    known = model(device(name), kind).model
    rng = np.random.default_rng(7)
    points = np.concatenate([rng.uniform(-v, v, (300, 3)) for v in (1, 60, 500)])
    got = valve(known, *points.T)
    for row, point in enumerate(points):
        one = flow(known, *point)
        assert np.allclose(got.amps[row], one[:3], rtol=1e-9, atol=1e-12)
        assert np.allclose(got.slopes[row], one.slopes, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("law", [Law(k=0.06 / 10**1.5), Law()], ids=["valve", "silicon"])
def test_table_of_a_rectifier_path(law):
    path = Path("V6/1", law, 0, 1, peak=350.0, ohms=160.0)
    got = table(path)
    u = np.array([-340.0, -300.0, -277.3, -150.0, -20.0])
    amps, slopes = got.at(u)
    for number, volt in enumerate(u):
        exact = pulse(path.law, float(volt), path.peak, path.ohms)
        assert amps[number] == pytest.approx(exact.mean, rel=0.01, abs=5e-6)
        assert slopes[number] == pytest.approx(exact.slope, rel=0.03, abs=5e-6)


def test_a_path_into_a_choke_carries_its_share():
    """Above the crest's mean the current follows the resistance; two paths share it."""
    path = Path("V6/1", Law(), 0, 1, peak=350.0, ohms=200.0, choke=2)
    crest = 350 * 2 / np.pi
    amps, _ = table(path).at(np.array([20.7 + 0.7 - crest, -crest - 50]))
    assert amps[0] == pytest.approx((20.7 + 0.7 - 0.7) / 201 / 2, rel=0.02)
    assert abs(amps[1]) < 1e-6


def test_gas_burns_both_ways_and_not_below():
    amps, _ = gas(np.array([200.0, -200.0, 100.0]), 150.0, 1000.0)
    assert amps == pytest.approx([0.05, -0.05, 0.0], abs=1e-6)


@pytest.mark.parametrize("ohms", [0.0, 1.0, 160.0, 1e6])
def test_a_rectifier_and_the_resistance_before_it_share_the_voltage(ohms):
    law = Law(k=0.06 / 20**1.5)
    volts = np.array([-300.0, -1e-6, 0.0, 1e-6, 0.3, 20.0, 700.0])
    amps, slopes = driven(law, volts, ohms)
    assert np.all(amps[:3] == 0)
    across = (amps / law.k) ** (2 / 3) + amps * ohms
    assert across == pytest.approx(np.maximum(volts, 0.0), rel=1e-12, abs=1e-30)
    for number in range(3, len(volts)):
        assert current(law, volts[number], ohms) == pytest.approx(amps[number], rel=1e-12)
        step = 1e-4 * volts[number]
        ends, _ = driven(law, volts[number] + np.array([-step, step]), ohms)
        assert slopes[number] == pytest.approx((ends[1] - ends[0]) / (2 * step), rel=1e-4)
