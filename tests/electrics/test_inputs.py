"""At which contacts a signal comes in: they lead to a grid, and the set does not drive them."""

import pytest

from buzzout.electrics.conditions import Conditions
from buzzout.electrics.inputs import inputs, plugged
from buzzout.electrics.network import network
from buzzout.language import load

STAGE = """\
reference "two stages and a transformer"
default resistor 10% 0.5W
socket V1 B9A ECC83
node HT
R1 resistor 100k V1.6 HT
R2 resistor 1k5 V1.8 chassis
R3 resistor 100k V1.1 HT
R4 resistor 1k5 V1.3 chassis
C1 capacitor 22n 400V V1.6 V1.2
R5 resistor 1M V1.2 chassis
C2 electrolytic 32u 450V HT + chassis -
transformer T2
winding T2 primary blue red load 5k dcr 250R
winding T2 secondary black green load 3R dcr 0.3R
wire T2.blue V1.1
wire T2.red HT
wire T2.black chassis
jack J1 tip sleeve
wire J1.sleeve chassis
jack J2 tip sleeve break
wire J2.sleeve chassis
R9 resistor 1M V1.7 chassis
"""

CASES = {
    "straight on a grid": (["wire J1.tip V1.7"], ["J1.tip"]),
    "through a resistor": (["R6 resistor 68k J1.tip V1.7"], ["J1.tip"]),
    "through a control and a capacitor": (
        ["pot P1 1M log", "wire J1.tip P1.cw", "wire P1.ccw chassis",
         "C3 capacitor 10n P1.wiper V1.7"], ["J1.tip"]),
    "through a transformer": (
        ["transformer T3", "winding T3 primary a b load 200R dcr 10R",
         "winding T3 secondary c d load 50k dcr 1k", "wire T3.a J1.tip", "wire T3.b chassis",
         "wire T3.c V1.7", "wire T3.d chassis"], ["J1.tip"]),
    "two jacks mixed, one of them with a contact that lays it to the chassis": (
        ["wire J2.break chassis", "R6 resistor 68k J1.tip V1.7", "R7 resistor 68k J2.tip V1.7"],
        ["J1.tip", "J2.tip"]),
    "mixed in before the second stage": (
        ["R6 resistor 470k J1.tip V1.2", "wire J2.tip V1.7"], ["J1.tip", "J2.tip"]),
    "feedback from the anode to the grid": (
        ["R6 resistor 68k J1.tip V1.7", "C3 capacitor 10n V1.6 FED", "node FED",
         "R7 resistor 1M FED V1.7"], ["J1.tip"]),
    "a footswitch on the grid of a phase shift oscillator": (
        ["wire J1.tip V1.7", "C3 capacitor 22n V1.6 PS1", "node PS1", "R6 resistor 1M PS1 chassis",
         "C4 capacitor 10n PS1 PS2", "node PS2", "R7 resistor 100k PS2 chassis",
         "C5 capacitor 10n PS2 V1.7"], []),
    "a footswitch at a cathode": (["wire J1.tip V1.8"], []),
    "a socket at an anode, behind a capacitor": (["C3 capacitor 100n V1.6 J1.tip"], []),
    "a speaker, from which feedback comes back to a grid": (
        ["wire J1.tip T2.green", "R6 resistor 27k T2.green V1.7"], []),
    "a contact on the chassis": (["wire J1.tip chassis", "wire J2.tip HT"], []),
}  # fmt: skip


@pytest.fixture
def net(tmp_path):
    def _net(lines):
        path = tmp_path / "it.buzz"
        path.write_text(STAGE + "\n".join(lines) + "\n", encoding="utf-8")
        return network(load(path).sound().circuit, Conditions(valves="warm"))

    return _net


@pytest.mark.parametrize(("lines", "wanted"), CASES.values(), ids=CASES)
def test_inputs(net, lines, wanted):
    assert [str(point) for point in inputs(net(lines))] == wanted


def test_a_plug_opens_the_contact_of_its_own_jack_alone(net):
    lines = ["wire J2.break chassis", "R6 resistor 68k J1.tip V1.7", "R7 resistor 68k J2.tip V1.7"]
    without = net(lines)
    tip = next(p for p in without.of if str(p) == "J2.tip")
    assert without.of[tip] == without.chassis
    inside = plugged(without, ["J2"])
    assert inside.of[tip] != inside.chassis
    assert plugged(without, ["J1"]) is without
