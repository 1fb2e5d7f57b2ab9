"""Sets that are built otherwise and break no rule: a rule that cries too often is not read."""

import pytest
from small_set import changed

from buzzout.job.judge import judged

JACK = "R3 resistor 1M J1.tip chassis"

QUIET = {
    "capacitor and neon across the primary": [
        (JACK, (f"{JACK}\nC91 capacitor 100n X2 S1.a1 T1.0\nN1 neon S1.a1 NEON\n"
         "R91 resistor 220k NEON T1.0\nnode NEON")),
    ],
    "switch on the volume control": [
        ("switch S1 on-off set on", "pot P1 500k log switched"),
        ("wire F1.2 S1.a", "wire F1.2 P1.sw1"), ("wire S1.a1 T1.230", "wire P1.sw2 T1.230"),
    ],
    "switch with two poles on the volume control": [
        ("switch S1 on-off set on", "pot P1 500k log double-switched"),
        ("wire F1.2 S1.a", "wire F1.2 P1.sw1"), ("wire S1.a1 T1.230", "wire P1.sw2 T1.230"),
        ("wire M1.N T1.0", "wire M1.N P1.sw3\nwire P1.sw4 T1.0"),
    ],
    "voltage selector that is set right": [
        ("wire S1.a1 T1.230", ("switch S3 1 poles 2 ways set 2\nwire S1.a1 S3.a\n"
         "wire S3.a1 T1.210\nwire S3.a2 T1.230")),
    ],
    "chokes of a filter in both conductors": [
        ("wire M1.L F1.1", "L91 inductor 1m M1.L F1.1"),
        ("wire M1.N T1.0", "L92 inductor 1m M1.N T1.0"),
    ],
    "a mains plug on the chassis": [
        ("wire M1.L F1.1", "connector SK9 3 pins\nwire M1.L SK9.1\nwire SK9.1 F1.1"),
        ("wire M1.N T1.0", "wire M1.N SK9.2\nwire SK9.2 T1.0"),
    ],
    "line, neutral and earth by the pins of a mains plug": [
        ("wire M1.L F1.1", "connector SK9 3 pins\nwire M1.L SK9.1\nwire SK9.1 F1.1"),
        ("wire M1.N T1.0", "wire M1.N SK9.2\nwire SK9.2 T1.0"),
        ("wire M1.E PE1", "wire M1.E SK9.3\nwire SK9.3 PE1"),
    ],
    "line and earth by the tags where the lead comes in": [
        ("wire M1.L F1.1", "strip TS9 3 tags\nwire M1.L TS9.1\nwire TS9.1 F1.1"),
        ("wire M1.E PE1", "wire M1.E TS9.3\nwire TS9.3 PE1"),
    ],
    "earth on the chassis in a set without a bolt": [
        ("bond PE1", "# no bolt"), ("wire M1.E PE1", "wire M1.E chassis"),
    ],
    "earth and other wires on the bolt": [("wire M1.E PE1", "wire M1.E PE1\nwire PE1 T2.black")],
    "pilot lamp for mains voltage": [(JACK, (f"{JACK}\nlamp PL9 230V 20mA\nwire PL9.1 T1.230\n"
                                      "wire PL9.2 T1.0"))],
    "fixed bias": [
        ("R6 resistor 470k V2.2 chassis", ("R6 resistor 220k V2.2 BIAS\n"
         "C92 electrolytic 50u 50V chassis + BIAS -\nD1 diode 1N4007 BIAS a BW k\n"
         "R92 resistor 10k BW T1.red1\nR93 resistor 15k BIAS chassis\nnode BIAS\nnode BW")),
    ],
    "bias from a resistor in the HT return": [
        ("wire T1.red/yellow chassis", ("R94 resistor 100R 5W T1.red/yellow chassis\n"
         "C93 electrolytic 100u 25V chassis + T1.red/yellow -")),
        ("R6 resistor 470k V2.2 chassis", "R6 resistor 470k V2.2 T1.red/yellow"),
    ],
    "fixed bias with the cathode on the chassis": [
        ("R7 resistor 180R 2W V2.3 chassis", "R7 resistor 10R V2.3 chassis"),
        ("R6 resistor 470k V2.2 chassis", ("R6 resistor 220k V2.2 BIAS\n"
         "C92 electrolytic 50u 50V chassis + BIAS -\nD1 diode 1N4007 BIAS a BW k\n"
         "R92 resistor 150k BW T1.red1\nR93 resistor 15k BIAS chassis\nnode BIAS\nnode BW")),
    ],
    "bias through a capacitor from the HT winding": [
        ("R7 resistor 180R 2W V2.3 chassis", "wire V2.3 chassis"),
        ("R6 resistor 470k V2.2 chassis", ("R6 resistor 220k V2.2 BIAS\n"
         "C92 electrolytic 50u 50V chassis + BIAS -\nD1 diode 1N4007 BIAS a BW k\n"
         "D2 diode 1N4007 BW a chassis k\nC93 capacitor 47n 1000V BW T1.red1\n"
         "R93 resistor 15k BIAS chassis\nnode BIAS\nnode BW")),
    ],
    "a doubler whose lower capacitor stands on an end of the winding": [
        ("winding T1 rectifier r1 r2 6.3V 1A",
         "winding T1 rectifier r1 r2 6.3V 1A\nwinding T1 other g1 g2 100V 50mA"),
        (JACK, (f"{JACK}\nC94 electrolytic 50u 200V HT3 + T1.g1 -\n"
         "C95 electrolytic 50u 200V T1.g1 + chassis -\nD1 diode 1N4007 T1.g2 a HT3 k\n"
         "D2 diode 1N4007 chassis a T1.g2 k\nR94 resistor 100k 2W HT3 T1.g1\n"
         "R93 resistor 100k 2W T1.g1 chassis\nnode HT3")),
    ],
    "a heater winding lifted, with its capacitor": [
        ("wire T1.h0 chassis", ("R95 resistor 220k HT1 LIFT\nR96 resistor 47k LIFT chassis\n"
         "C95 electrolytic 22u 100V LIFT + chassis -\nwire LIFT T1.h4\nnode LIFT")),
    ],
    "a control makes the middle of the heaters": [
        ("wire T1.h0 chassis", ("pot P9 100R lin\nwire P9.ccw T1.h0\nwire P9.cw T1.h6\n"
         "wire P9.wiper chassis")),
    ],
    "heaters lifted by a divider": [
        ("wire T1.h0 chassis", ("R95 resistor 220k HT1 LIFT\nR96 resistor 47k LIFT chassis\n"
         "wire LIFT T1.h0\nnode LIFT")),
    ],
    "a grid straight on the anode before it": [("C1 capacitor 22n 630V V1.1 V2.2",
                                               "wire V1.1 V2.2")],
    "a grid that a jack holds": [(JACK, "# the microphone is the way to the chassis")],
    "a grid that a coil holds": [
        (JACK, "C91 capacitor 100n J1.tip chassis"),
        ("wire J1.tip V1.2", "L93 inductor 10m V1.2 chassis\nC92 capacitor 100n J1.tip V1.2"),
    ],
    "a grid behind a diode and a control": [
        ("wire J1.tip V1.2", ("C92 capacitor 100n J1.tip V1.2\nR97 resistor 1M V1.2 AVC\n"
         "D9 diode OA81 AVC a WIPER k\nnode AVC\nnode WIPER\npot P8 1M log\n"
         "wire P8.wiper WIPER\nwire P8.ccw chassis")),
    ],
    "a grid that a supply outside the file holds": [
        ("wire J1.tip V1.2", ("C92 capacitor 100n J1.tip V1.2\nR97 resistor 1M V1.2 BIAS\n"
         "node BIAS")),
    ],
    "a section that is not used, laid to the chassis": [
        ("R4 resistor 100k V1.1 HT2", "wire V1.1 chassis"), ("wire J1.tip V1.2", "# none"),
        ("C1 capacitor 22n 630V V1.1 V2.2", "# none"),
    ],
    "a grid of a section that is not used": [
        ("R4 resistor 100k V1.1 HT2", "# not used"), ("R5 resistor 1k5 V1.3 chassis", "# none"),
        ("C1 capacitor 22n 630V V1.1 V2.2", "# none"), ("wire J1.tip V1.2", "# none"),
    ],
    "field coil as a choke": [
        ("speaker LS1 3R", "speaker LS1 3R field 1k"),
        ("R1 resistor 1k 2W HT1 HT2", "wire LS1.field1 HT1\nwire LS1.field2 HT2"),
    ],
    "bridge rectifier": [
        ("socket V3 B9A EZ81", "B1 bridge T1.red1 ~ T1.red2 ~ HT1 + chassis -"),
        ("heaters V3 from T1.r1 T1.r2", "# no rectifier valve"),
        ("wire T1.red1 V3.1", "# none"), ("wire T1.red2 V3.7", "# none"),
        ("wire T1.red/yellow chassis", "# none"),
        ("node HT1 V3.3 C30.square", "node HT1 C30.square"),
        ("wire V3.3 V3.4", "# none"),
    ],
    "a jack for an extension speaker": [
        (JACK, f"{JACK}\njack J2 tip sleeve\nwire J2.sleeve chassis\nwire J2.tip T2.green"),
    ],
    "a region that nobody knows": [("mains 230 V 50 Hz region UK", "mains 230 V 50 Hz region X")],
}  # fmt: skip


@pytest.mark.parametrize("swaps", QUIET.values(), ids=QUIET)
def test_nothing_is_told(swaps, broken):
    assert broken(*swaps) == {}


def test_an_autotransformer_is_no_isolation(circuit):
    swaps = [
        ("winding T1 primary 0 210 230 0-210-230V dcr 20R+2R",
         "winding T1 primary 0 210 230 300 0-210-230-300V dcr 20R+2R+9R"),
        ("winding T1 ht red1 red/yellow red2 250-0-250V 60mA dcr 130R+134R", "# none"),
        ("wire T1.red1 V3.1", "wire T1.300 V3.1"), ("wire T1.red2 V3.7", "# none"),
        ("wire T1.red/yellow chassis", "wire T1.0 chassis"), ("wire M1.E PE1", "# none"),
    ]  # fmt: skip
    told = judged(circuit(changed(*swaps)))
    assert [v.kind for v in told.violations] == ["live-chassis", "live-outside"]
    assert "live-chassis" in told.features


@pytest.mark.parametrize("position", ["1", "2"])
def test_a_voltage_selector_that_is_set_wrong(circuit, position):
    """The wiring is right: the selector is to be set, no wire to be moved."""
    selector = f"switch S3 1 poles 2 ways set {position}"
    wires = "wire S1.a1 S3.a\nwire S3.a1 T1.210\nwire S3.a2 T1.230"
    swap = ("wire S1.a1 T1.230", f"{selector}\n{wires}")
    told = judged(circuit(changed(swap))).violations
    if position == "2":
        assert told == ()
        return
    (wrong,) = told
    assert wrong.kind == "primary-tap"
    assert "a primary of 210 V with S3 at 1: everything" in wrong.text
    assert wrong.todo == "Unplugged, set S3 to 2: no wire is to be moved."
    assert wrong.parts == ("T1", "S3")


def test_where_no_position_of_a_selector_suits_a_wire_is_to_be_moved(circuit):
    swap = (
        "wire S1.a1 T1.230",
        "switch S3 1 poles 2 ways set 1\nwire S1.a1 S3.a\nwire S3.a1 T1.210\nwire S3.a2 T1.210",
    )
    (wrong,) = judged(circuit(changed(swap))).violations
    assert wrong.todo.startswith("Move the wire to the tap")
