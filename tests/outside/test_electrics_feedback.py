"""Oscillators with coupled coils against the conditions that were published for them.

Tuned anode: mu = (1 + R0/R2) vp/vg, with R0 the anode resistance, R2 the load of the anode, vp/vg
the anode voltage over that of the grid (W. G. Dow, Stability Conditions in Vacuum Tube Circuits,
Phys. Rev. 17 (1921) 302, which evaluates it for tuned plate and tuned grid, Hartley and Colpitts).
A tank of L with R in it and C has R2 = L/CR, and vp/vg = L/M with a mutual inductance M, so that
mu M = L + C R R0.

Tuned grid: Kirchhoff's laws for the two meshes, s = jw, i1 in the anode coil L1, i2 in the tank:
(R0 + s L1) i1 + s M i2 = mu vg, (s L + R + 1/sC) i2 + s M i1 = 0, vg = -i2/sC. Both parts of their
determinant vanish at w^2 = 1 / (L C + C L1 R/R0) and mu M/C = R0 R + w^2 L1^2 R/R0 + w^2 M^2. The
bias is such that the grid draws no current, which neither has.
"""

from __future__ import annotations

import math

import pytest

from buzzout.circuit import CHASSIS, Point
from buzzout.electrics.draft import Power, Supply
from buzzout.electrics.loops import cut
from buzzout.electrics.operating import operate
from buzzout.language import load

FED = Power(supplies=(Supply(Point("HT"), CHASSIS, 150.0),))
STAGE = """reference "Oscillator"
node HT
socket V1 B9A ECC81
R1 resistor 680R V1.3 chassis
C1 capacitor 1000u V1.3 chassis
transformer L1
"""
ANODE = """winding L1 tuned a b {tank}uH dcr {ohms}R dot a
winding L1 grid g e {other}uH dcr 0.01R dot {dot}
C2 capacitor {pico}p L1.a L1.b
wire V1.1 L1.a
wire L1.b HT
wire V1.2 L1.g
wire L1.e chassis
"""
GRID = """winding L1 anode a b {other}uH dcr 0.01R dot a
winding L1 tuned g e {tank}uH dcr {ohms}R dot {dot}
C2 capacitor {pico}p L1.g chassis
wire V1.1 L1.a
wire L1.b HT
wire V1.2 L1.g
wire L1.e chassis
"""
TANKS = [(190, 3, 500, 40), (95, 20, 120, 12), (2200, 28, 300, 200), (20, 0.5, 1000, 20)]


def opened(tmp_path, coils, dot="e", **values):
    file = tmp_path / "set.reference.buzz"
    file.write_text(STAGE + coils.format(dot=dot, **values), encoding="utf-8")
    state = operate(load(file).sound().circuit, FED)
    assert state.settled
    loop = cut(state, Point("V1", "2"), farads=False)
    assert loop is not None
    gm, _, ga = state.flow("V1/2").slopes[2]
    return loop, gm / ga, 1 / ga


def best(loop):
    return loop.oscillations[0]


def named(tank, ohms, pico, other):
    return {"tank": tank, "ohms": ohms, "pico": pico, "other": other}


@pytest.mark.parametrize("tank", TANKS)
def test_tuned_anode(tmp_path, tank):
    loop, mu, ra = opened(tmp_path, ANODE, **named(*tank))
    henries, ohms, farads, other = tank[0] * 1e-6, tank[1], tank[2] * 1e-12, tank[3] * 1e-6
    mutual = (henries + farads * ohms * ra) / mu
    factor = mutual / math.sqrt(henries * other)
    assert factor < 0.5, "a case in which it can start"
    at = best(loop.coupled(factor))
    assert at.gain == pytest.approx(1.0, rel=2e-3)
    hertz = math.sqrt((1 + ohms / ra) / (henries * farads)) / (2 * math.pi)
    assert at.hertz == pytest.approx(hertz, rel=1e-4)
    assert not best(loop.coupled(0.98 * factor)).starts
    assert best(loop.coupled(1.02 * factor)).starts


@pytest.mark.parametrize("tank", TANKS)
def test_tuned_grid(tmp_path, tank):
    loop, mu, ra = opened(tmp_path, GRID, **named(*tank))
    henries, ohms, farads, other = tank[0] * 1e-6, tank[1], tank[2] * 1e-12, tank[3] * 1e-6
    omega = 1 / math.sqrt(farads * (henries + other * ohms / ra))
    # omega^2 M^2 - mu M / C + rest = 0: the lesser of its two roots
    rest = ra * ohms + (omega * other) ** 2 * ohms / ra
    half = mu / farads / (2 * omega**2)
    mutual = half - math.sqrt(half**2 - rest / omega**2)
    factor = mutual / math.sqrt(henries * other)
    assert factor < 0.5, "a case in which it can start"
    at = best(loop.coupled(factor))
    assert at.gain == pytest.approx(1.0, rel=2e-3)
    assert at.hertz == pytest.approx(omega / (2 * math.pi), rel=1e-4)
    assert not best(loop.coupled(0.98 * factor)).starts
    assert best(loop.coupled(1.02 * factor)).starts


@pytest.mark.parametrize("coils", [ANODE, GRID])
def test_a_winding_the_other_way_round_does_not_start(tmp_path, coils):
    loop, _, _ = opened(tmp_path, coils, dot="g", **named(*TANKS[0]))
    assert loop.starts is False
    assert loop.least is None
    assert loop.turned == "L1"
