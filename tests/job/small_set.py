"""A small set of our own, and the same with a line or two changed."""

SET = """\
reference "Small set"
mains 230 V 50 Hz region UK
default resistor 10% 0.5W
cord M1 L brown N blue E green/yellow
bond PE1
fuse F1 500mA slow
switch S1 on-off set on
transformer T1
winding T1 primary 0 210 230 0-210-230V dcr 20R+2R
winding T1 ht red1 red/yellow red2 250-0-250V 60mA dcr 130R+134R
winding T1 heaters h0 h4 h6 0-4-6.3V 2A
winding T1 rectifier r1 r2 6.3V 1A
wire M1.L F1.1
wire F1.2 S1.a
wire S1.a1 T1.230
wire M1.N T1.0
wire M1.E PE1
lamp PL1 6.3V 0.3A
wire PL1.1 T1.h0
wire PL1.2 T1.h6
socket V1 B9A ECC83
socket V2 B9A EL84
socket V3 B9A EZ81
heaters V3 from T1.r1 T1.r2
wire T1.h0 V1.4
wire V1.4 V1.5
wire T1.h6 V1.9
wire T1.h0 V2.4
wire T1.h6 V2.5
wire T1.h0 chassis
wire T1.red1 V3.1
wire T1.red2 V3.7
wire T1.red/yellow chassis
can C30 square 32u 450V triangle 32u 450V
wire C30.can chassis
node HT1 V3.3 C30.square
wire V3.3 V3.4
R1 resistor 1k 2W HT1 HT2
node HT2 C30.triangle
R2 resistor 220k 2W HT1 chassis
jack J1 tip sleeve
wire J1.sleeve chassis
R3 resistor 1M J1.tip chassis
wire J1.tip V1.2
R4 resistor 100k V1.1 HT2
R5 resistor 1k5 V1.3 chassis
C1 capacitor 22n 630V V1.1 V2.2
R6 resistor 470k V2.2 chassis
R7 resistor 180R 2W V2.3 chassis
wire V2.9 HT2
transformer T2
winding T2 primary blue red load 5k dcr 250R
winding T2 secondary black green load 3R dcr 0.3R
wire T2.blue V2.7
wire T2.red HT1
wire T2.black chassis
speaker LS1 3R
wire LS1.1 T2.green
wire LS1.2 T2.black
"""


def changed(*swaps):
    """The set with lines changed: pairs of what stands there and what shall stand there."""
    text = SET
    for old, new in swaps:
        assert text.count(f"\n{old}\n") == 1, old
        text = text.replace(f"\n{old}\n", f"\n{new}\n")
    return text
