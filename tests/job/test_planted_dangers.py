"""Planted dangers on boards with ordinary faults beside them: they stand first and say why."""

import pytest
from small_set import changed

from buzzout.job import REFUSED

DRIFT = ("R3 resistor 1M J1.tip chassis", "R3 resistor 2M2 J1.tip chassis")
WIRE = "wire J1.sleeve chassis"  # a line that others are added to
LINE, NEUTRAL, EARTH = "wire M1.L F1.1", "wire M1.N T1.0", "wire M1.E PE1"
TO_PRIMARY = "wire S1.a1 T1.230"

SEPARATE = [  # reservoir and smoothing as electrolytics that can be turned round
    ("can C30 square 32u 450V triangle 32u 450V",
     "C40 electrolytic 32u 450V HT1 + chassis -\nC41 electrolytic 32u 450V HT2 + chassis -"),
    ("wire C30.can chassis", "# no can"),
    ("node HT1 V3.3 C30.square", "node HT1 V3.3"),
    ("node HT2 C30.triangle", "node HT2"),
]  # fmt: skip
FIXED_BIAS = [
    ("R7 resistor 180R 2W V2.3 chassis", "wire V2.3 chassis"),
    ("R6 resistor 470k V2.2 chassis",
     ("strip TS1 4 tags\nR6 resistor 220k V2.2 TS1.1\nC92 electrolytic 50u 50V chassis + TS1.1 -\n"
      "D1 diode 1N4007 TS1.1 a TS1.2 k\nR92 resistor 150k TS1.2 T1.red1\n"
      "R93 resistor 15k TS1.1 chassis")),
]  # fmt: skip
POT_SWITCH = [
    ("switch S1 on-off set on", "pot P1 500k log switched"),
    ("wire F1.2 S1.a", "wire F1.2 P1.sw1"),
    (TO_PRIMARY, "wire P1.sw2 T1.230"),
    ("wire J1.tip V1.2", "wire J1.tip P1.cw\nwire P1.wiper V1.2\nwire P1.ccw chassis"),
]
SWITCHES = ("switch S1 on-off set on", "switch S1 2 poles 1 ways set 1")
LIFTED = ("wire T1.h0 chassis", "R95 resistor 100R T1.h0 chassis\nR96 resistor 100R T1.h6 chassis")
TWO_CORE = ("cord M1 L brown N blue E green/yellow", "cord M1 L brown N blue")


def also(lines):
    return (WIRE, f"{WIRE}\n{lines}")


# What is drawn otherwise than in the small set, what is found, what the first line says.
PLANTED = {
    "line to chassis through a lamp and a capacitor in series": (
        [], [also("lamp PL2 110V 20mA\nwire PL2.1 S1.a1\nC90 capacitor 100n 1000V PL2.2 chassis")],
        "PL2 (110V) and C90 (100n) in series lead from the line",
    ),
    "protective earth through the switch": (
        [SWITCHES], [SWITCHES, (EARTH, "wire M1.E S1.b\nwire S1.b1 PE1")],
        "M1.E reaches the chassis only through S1",
    ),
    "protective earth off its bolt, on an earthed tag": (
        [("lamp PL1 6.3V 0.3A", "lamp PL1 6.3V 0.3A\nstrip TS2 3 tags earthed 2")],
        [(EARTH, "wire M1.E TS2.2")], "The earth of M1 does not go to PE1: it passes TS2.2",
    ),
    "HT on a grid through a bridge": (
        [], [also("wire V2.2 V2.9")], "a control grid of V2: the grid is driven positive",
    ),
    "heater of the rectifier on half the HT winding": (
        [], [("heaters V3 from T1.r1 T1.r2", "heaters V3 from T1.red1 T1.red/yellow")],
        "V3, a 6.3 V heater, is across 250 V",
    ),
    "heater winding on the wrong tap": (
        [("winding T1 rectifier r1 r2 6.3V 1A", "winding T1 rectifier r1 r2 r3 0-6.3-12.6V 1A")],
        [("heaters V3 from T1.r1 T1.r2", "heaters V3 from T1.r1 T1.r3")],
        "V3, a 6.3 V heater, is across 12.6 V",
    ),
    "anode of the rectifier bridged to the heater line, which is on the chassis": (
        [], [also("wire V3.1 V2.4")], "T1.red1 and T1.red/yellow of the winding ht are joined",
    ),
    "rectifier to the heater line": (
        [LIFTED], [LIFTED, also("wire V3.3 V2.4")], "on the heater line of V1",
    ),
    "reservoir reversed": (
        SEPARATE, [("C40 electrolytic 32u 450V HT1 + chassis -",
                    "C40 electrolytic 32u 450V chassis + V3.3 -")],
        "a reversed electrolytic on the HT heats up",
    ),
    "bias supply open": (
        FIXED_BIAS, [("R92 resistor 150k TS1.2 T1.red1", "# R92 away")],
        "V2 has its cathode on the chassis and no bias on V2.2",
    ),
    "diode of the bias reversed": (
        FIXED_BIAS, [("D1 diode 1N4007 TS1.1 a TS1.2 k", "D1 diode 1N4007 TS1.1 k TS1.2 a")],
        "V2 has its cathode on the chassis and no bias on V2.2",
    ),
    "reservoir of the bias reversed": (
        FIXED_BIAS, [("C92 electrolytic 50u 50V chassis + TS1.1 -",
                      "C92 electrolytic 50u 50V TS1.1 + chassis -")],
        "has its plus end at TS1.1, on a line that is negative",
    ),
    "bias through a resistor a hundred times too large": (
        FIXED_BIAS, [("R6 resistor 220k V2.2 TS1.1", "R6 resistor 22M V2.2 TS1.1")],
        "grid V2.2 has 22M to the chassis, EL84 stands 300k with fixed bias",
    ),
    "mains on the track of a control beside its switch": (
        POT_SWITCH, [("wire F1.2 P1.sw1", "wire F1.2 P1.cw")], "",
    ),
    "500 V on a can of 50 V": (
        SEPARATE, [("C40 electrolytic 32u 450V HT1 + chassis -",
                    "C40 electrolytic 32u 50V V3.3 + chassis -")],
        "heats up and can burst",
    ),
    "HT on a cathode": ([], [also("wire V2.3 V2.9")], "can set fire to what is near it"),
    "earth and neutral exchanged": (
        [], [(EARTH, "wire M1.N PE1"), (NEUTRAL, "wire M1.E T1.0")], "the neutral is joined",
    ),
    "line and neutral exchanged": (
        [], [(LINE, "wire M1.N F1.1"), (NEUTRAL, "wire M1.L T1.0")], "S1 switches the neutral",
    ),
    "a wire round fuse and switch": (
        [], [also("wire M1.L T1.230")], "the line reaches T1.230 without a fuse",
    ),
    "mains on the heater winding": (
        [], [(TO_PRIMARY, "wire S1.a1 T1.h6")], "from the line (at S1.a1) to the chassis",
    ),
    "mains on a jack": (
        [], [also("C90 capacitor 10n 1000V S1.a1 J1.tip")], "lead",
    ),
    "HT on a jack": ([], [also("wire J1.tip V2.9")], "whoever plugs in holds the HT"),
    "a set of 115 V on 230 V": (
        [("winding T1 primary 0 210 230 0-210-230V dcr 20R+2R",
          "winding T1 primary 0 110 230 0-110-230V dcr 10R+12R")],
        [(TO_PRIMARY, "wire S1.a1 T1.110")],
        "a primary of 110 V: everything in the set is 109% over",
    ),
    "two-core lead, the earth of the drawing left away": (
        [], [TWO_CORE, (EARTH, "# no earth")], "two cores and no protective earth",
    ),
    "a fuse like a nail": (
        [], [("fuse F1 500mA slow", "fuse F1 13A")], "a short in the set finds nothing that blows",
    ),
    "line and neutral joined at the switch": (
        [], [also("wire S1.a1 T1.0")], "line and neutral are joined",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("drawn", "planted", "why"), PLANTED.values(), ids=PLANTED)
def test_it_stands_first_and_says_why(punched, drawn, planted, why):
    drawing = changed(*drawn)
    board = drawing
    for old, new in (*(pair for pair in planted if pair not in drawn), DRIFT):
        assert f"\n{old}\n" in board, old
        board = board.replace(f"\n{old}\n", f"\n{new}\n")
    ht = ("V3.3", "V2.9") if "C40" in drawing else ("C30.square", "C30.triangle")
    punch = punched(drawing=drawing, board=board, ht=ht, consequences=True)
    first = punch.everything[0]
    assert first.severity == "danger", [
        (i.severity, i.finding.text, i.why) for i in punch.everything
    ]
    told = f"{first.finding.text} {first.why} {first.consequence}"
    assert why in told
    assert punch.gate.state == REFUSED
