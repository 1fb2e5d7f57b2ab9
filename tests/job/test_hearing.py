"""What a discrepancy does to the signal, against formulas of textbooks."""

import math
import re

import pytest
from small_set import SET, changed

from buzzout.circuit import Point
from buzzout.electrics.operating import operate
from buzzout.job.hearing import Ear

BYPASS = (
    "R5 resistor 1k5 V1.3 chassis",
    "R5 resistor 1k5 V1.3 chassis\nC7 electrolytic 25u 25V V1.3 + chassis -",
)
IN, OUT = Point("J1", "tip"), Point("T2", "green")


def ear(circuit, *swaps):
    return Ear(operate(circuit(changed(*swaps))))


def told(punch, part):
    return next(i.consequence for i in punch.items if part in i.finding.parts)


def test_the_way_of_the_signal(circuit):
    [route] = ear(circuit).routes
    assert route.start == IN
    assert route.end in (OUT, Point("LS1", "1"))


TWO = ("wire J1.tip V1.2", (
    "jack J2 tip sleeve break\nwire J2.sleeve chassis\nwire J2.break chassis\n"
    "R8 resistor 68k J1.tip V1.2\nR9 resistor 68k J2.tip V1.2"
))  # fmt: skip


def test_each_input_is_a_way_with_a_plug_in_its_own_jack_alone(circuit):
    """The other jack lays its 68k to the chassis where no plug is in it: J1 loses half, J2 none."""
    first, second = ear(circuit, TWO).routes
    assert [str(r.start) for r in (first, second)] == ["J1.tip", "J2.tip"]
    [alone] = ear(circuit).routes
    lost = [abs(r.gains[1] / alone.gains[1]) for r in (first, second)]
    assert lost == pytest.approx([0.5, 1 / (1 + 68 / 1068)], rel=0.01)


def test_inputs_of_which_the_same_is_to_be_told_are_told_together(punched):
    board = changed(TWO, ("R4 resistor 100k V1.1 HT2", "R4 resistor 10k V1.1 HT2"))
    text = told(punched(drawing=changed(TWO), board=board, consequences=True), "R4")
    assert re.search(r"the gain from J1.tip and J2.tip to \S+ falls by \d+ dB at 1 kHz", text), text


def test_inputs_that_change_otherwise_are_told_one_by_one(punched):
    board = changed((TWO[0], TWO[1].replace("R9 resistor 68k", "R9 resistor 680k")))
    text = told(punched(drawing=changed(TWO), board=board, consequences=True), "R9")
    assert len(re.findall(r"gain from J[12].tip to", text)) == 2, text


def test_a_jack_at_a_grid_that_the_stage_before_drives_is_no_input(circuit):
    switched = ("wire J1.tip V1.2", "wire J1.tip V1.2\njack J3 tip\nwire J3.tip V2.2")
    assert [str(r.start) for r in ear(circuit, switched).routes] == ["J1.tip"]


def test_a_missing_bypass_against_the_formula_of_the_degenerated_triode(circuit, punched):
    """A falls by (ra + R + (mu + 1) Rk) / (ra + R): any textbook on the common-cathode stage."""
    state = operate(circuit(changed(BYPASS)))
    _, _, (gm, _, ga) = state.flow("V1/2").slopes
    mu, ra, load = gm / ga, 1 / ga, 1 / (1 / 100e3 + 1 / 470e3)
    formula = 20 * math.log10((ra + load + (mu + 1) * 1500) / (ra + load))
    text = told(punched(drawing=changed(BYPASS), consequences=True), "C7")
    said = re.search(r"the gain from J1.tip to \S+ falls by (\d+) dB at 1 kHz", text)
    assert said, text
    assert float(said[1]) == pytest.approx(formula, abs=0.6)


def test_a_small_coupling_capacitor_takes_the_bass(punched):
    """22n into 470k turns over at 15 Hz; 470p at 720 Hz: 50 Hz is down by some 23 dB."""
    swap = ("C1 capacitor 22n 630V V1.1 V2.2", "C1 capacitor 470p 630V V1.1 V2.2")
    text = told(punched(swap, consequences=True), "C1")
    bass = re.search(r"(-\d+) dB at 50 Hz", text)
    assert bass, text
    assert float(bass[1]) == pytest.approx(-23, abs=2)


def test_a_large_one_is_told_as_no_change_that_was_computed(punched):
    swap = ("C1 capacitor 22n 630V V1.1 V2.2", "C1 capacitor 47n 630V V1.1 V2.2")
    item = next(i for i in punched(swap, consequences=True).items)
    assert item.severity == "fault"
    assert "gain, bass, treble and hum stay as drawn" in item.consequence


def test_a_signal_that_is_gone(punched):
    swap = ("C1 capacitor 22n 630V V1.1 V2.2", "# C1 away")
    assert "no signal comes from J1.tip" in told(punched(swap, consequences=True), "C1")


def test_a_missing_smoothing_capacitor_is_heard(punched):
    swap = (
        "can C30 square 32u 450V triangle 32u 450V",
        "can C30 square 32u 450V triangle 220n 450V",
    )
    text = told(punched(swap, consequences=True), "C30")
    said = re.search(r"the hum at \S+ rises from ([\d.]+)(m?)V to ([\d.]+)(m?)V peak to peak", text)
    assert said, text


def test_a_control_in_the_middle_where_fully_clockwise_tells_nothing(punched):
    """A capacitor from the wiper to the top: shorted fully clockwise, heard in the middle."""
    drawing = SET.replace(
        "wire J1.tip V1.2",
        "pot P1 500k log\nwire J1.tip P1.cw\nwire P1.ccw chassis\nwire P1.wiper V1.2\n"
        "C8 capacitor 100p P1.cw P1.wiper",
    )
    board = drawing.replace("C8 capacitor 100p", "C8 capacitor 10n")
    text = told(punched(drawing=drawing, board=board, consequences=True), "C8")
    assert text.endswith("with all controls in the middle.")
