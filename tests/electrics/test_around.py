"""What a loop leads through, and what is missing in the file to say whether it starts."""

import pytest

from buzzout.circuit import CHASSIS, Point
from buzzout.electrics.draft import Power, Supply
from buzzout.electrics.loops import cut
from buzzout.electrics.operating import operate
from buzzout.language import load

FED = Power(supplies=(Supply(Point("HT"), CHASSIS, 200.0),))
TRIODE = """reference "Frequency changer"
node HT
socket V1 B9A ECH81
R1 resistor 33k V1.8 HT
C1 capacitor 470p V1.8 L1.p
R2 resistor 47k V1.9 chassis
C2 capacitor 100p V1.9 L1.a
C3 capacitor 490p variable L1.a chassis
C4 capacitor 30p trimmer L2.s chassis
wire V1.9 V1.7
wire V1.3 chassis
wire L1.e L1.q chassis
transformer L1
winding L1 tuned a e 105uH dcr 2R dot a
winding L1 feedback p q 15uH dcr 1R dot q
transformer L2
winding L2 primary p q 600uH
winding L2 secondary s t 600uH
wire L2.p V1.6
wire L2.q HT
wire L2.t chassis
"""
PENTAGRID = """reference "Frequency changer"
node HT
socket V1 B7G 6BE6
C1 capacitor 100p V1.1 L1.a
R2 resistor 22k V1.1 chassis
C3 capacitor 490p L1.a chassis
wire V1.2 L1.t
wire L1.e chassis
wire V1.5 V1.6 HT
wire V1.7 chassis
transformer L1
winding L1 tuned a t e 105uH dcr 2R
"""


def opened(tmp_path, text, lead="V1.9"):
    file = tmp_path / "set.reference.buzz"
    file.write_text(text, encoding="utf-8")
    loop = cut(operate(load(file).sound().circuit, FED), Point(*lead.split(".")))
    assert loop is not None
    return loop


def test_the_triode_of_a_frequency_changer_starts(tmp_path):
    """The heptode has no model and the transformer behind it no dots: neither is in the loop."""
    loop = opened(tmp_path, TRIODE)
    assert loop.missing == ()
    assert loop.coils == ("L1",)
    assert loop.around.variable == ("C3",)
    assert loop.starts is True
    # 105 uH with 490 pF and what feedback, grid and anode put beside it
    assert 0.6e6 < loop.oscillations[0].hertz < 0.702e6


@pytest.mark.parametrize("lead", ["V1.9", "V1.8", "C1.2", "C2.2"])
def test_wherever_the_loop_is_opened(tmp_path, lead):
    told = opened(tmp_path, TRIODE, lead).oscillations[0]
    whole = opened(tmp_path, TRIODE).oscillations[0]
    assert told.starts
    assert told.hertz == pytest.approx(whole.hertz, rel=0.05)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (" dot a", "", "L1: no dot"),
        (" dot q", "", "L1: no dot"),
        (" 15uH", "", "the inductance of L1 feedback"),
        (" 105uH", "", "the inductance of L1 tuned"),
        ("ECH81", "ECH8I", "no valve ECH8I in the catalogue (V1)"),
    ],
)
def test_what_is_not_in_the_file_is_asked_for(tmp_path, old, new, words):
    loop = opened(tmp_path, TRIODE.replace(old, new))
    assert words in "; ".join(loop.missing)
    assert loop.starts is None


def test_a_winding_turned_round(tmp_path):
    loop = opened(tmp_path, TRIODE.replace("dot q", "dot p"))
    assert (loop.starts, loop.missing, loop.turned) == (False, (), "L1")


def test_too_little_feedback_whatever_the_coupling(tmp_path):
    loop = opened(tmp_path, TRIODE.replace("15uH", "0.005uH"))
    assert (loop.starts, loop.missing, loop.turned) == (False, (), "")


def test_a_verdict_that_hangs_on_the_coupling(tmp_path):
    loop = opened(tmp_path, TRIODE.replace("15uH", "0.2uH"))
    assert loop.starts is None
    assert loop.missing == ()
    assert 0.3 < loop.least <= 0.9


def test_a_valve_without_a_model(tmp_path):
    loop = opened(tmp_path, PENTAGRID, "V1.1")
    assert loop.missing == ("no model of the heptode of 6BE6 (V1)",)
    assert loop.starts is None


def test_volts_beside_the_inductances_of_a_coil_change_nothing(tmp_path):
    plain = opened(tmp_path, TRIODE)
    volts = opened(tmp_path, TRIODE.replace("105uH", "3V 105uH").replace("15uH", "1V 15uH"))
    assert volts.oscillations[0].gain == pytest.approx(plain.oscillations[0].gain, rel=1e-6)
