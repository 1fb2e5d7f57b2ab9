import math
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buzzout.catalogue import device
from buzzout.electrics.models import model
from buzzout.electrics.stages import Stage, settle
from buzzout.electrics.valves import Model, division, flow, softplus

TRIODE = Model(100, 1.4, 1.1e-3, 600, 20, 0.5)
PENTODE = Model(19, 1.5, 3.4e-3, 100, 17, 0.3, True, 0.1, 0.5, 0.07, 3e-4)
volts = st.floats(-400, 600)


@pytest.mark.parametrize("m", [TRIODE, PENTODE])
@given(vg=st.floats(-40, 10), vs=volts, va=volts)
def test_slopes_are_the_derivatives(m, vg, vs, va):
    got = flow(m, vg, vs, va)
    h = 1e-4
    for column, (dg, ds, da) in enumerate(((h, 0, 0), (0, h, 0), (0, 0, h))):
        up = flow(m, vg + dg, vs + ds, va + da)
        down = flow(m, vg - dg, vs - ds, va - da)
        if min(abs(vs), abs(va)) < 1e-3:
            continue  # the laws bend at zero volts
        for row in range(3):
            measured = (up[row] - down[row]) / (2 * h)
            assert got.slopes[row][column] == pytest.approx(measured, rel=2e-3, abs=1e-8)


@pytest.mark.parametrize("m", [TRIODE, PENTODE])
@given(vg=st.floats(-100, 20), vs=volts, va=volts)
def test_currents_are_finite_and_never_negative(m, vg, vs, va):
    got = flow(m, vg, vs, va)
    assert all(math.isfinite(x) and x >= 0 for x in got[:3])
    assert all(got.slopes[2][i] >= -1e-12 for i in (0, 2))


@given(vs=st.floats(1, 600), va=st.floats(1, 600), vg=st.floats(-20, 2))
def test_division_loses_nothing(vs, va, vg):
    part, _, _ = division(PENTODE, vs, va)
    got = flow(PENTODE, vg, vs, va)
    assert got.anode == pytest.approx(part * (got.anode + got.screen), abs=1e-15)


@pytest.mark.parametrize(
    ("vg", "va", "ma"), [(-10, 250, 0.0), (0, 0, 0.0), (0, -50, 0.0), (-2, 1e-9, 0.0)]
)
def test_cut_off(vg, va, ma):
    assert 1e3 * flow(TRIODE, vg, 0, va).anode == pytest.approx(ma, abs=1e-6)


def test_softplus_does_not_overflow():
    assert softplus(1e6) == (1e6, 1.0)
    assert softplus(-1e6)[0] == pytest.approx(0.0, abs=1e-300)


def test_valve_unknown_to_the_models_is_fitted_to_the_catalogue():
    values = {"anode_v": 250, "grid_v": -2, "anode_ma": 1.2, "slope_ma_per_v": 1.6, "mu": 100}
    device = SimpleNamespace(
        designations=("X1",),
        name="X1",
        points=[SimpleNamespace(values=values, get=values.get, title="")],
    )
    known = model(device, "triode")
    assert known is not None
    assert known.origin == "fitted on the spot"
    assert 1e3 * flow(known.model, -2, 0, 250).anode == pytest.approx(1.2, rel=0.03)


def test_heptode_is_not_modelled():
    assert model(device("6BE6"), "heptode") is None


def test_a_triode_is_not_fitted_to_the_figures_of_its_neighbour():
    assert model(device("ECH35"), "triode") is None


def test_stage_balances():
    known = model(device("ECC83"), "triode")
    got = settle(known.model, Stage(250, 100e3, 1500, 330e3))
    assert got.settled
    assert got.anode == pytest.approx(250 - got.flow.anode * 100e3, abs=0.05)
    assert got.cathode == pytest.approx((got.flow.anode + got.flow.grid) * 1500, rel=1e-3)


def test_two_valves_on_one_cathode_resistor_equal_one_on_twice():
    known = model(device("EL84"), "pentode").model
    pair = settle(known, Stage(300, 0, 130, valves=2, screen_volts=300))
    single = settle(known, Stage(300, 0, 260, screen_volts=300))
    assert pair.cathode == pytest.approx(single.cathode, rel=1e-9)
