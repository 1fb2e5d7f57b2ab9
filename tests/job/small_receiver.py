"""A small receiver of our own for one waveband: frequency changer, one IF stage, two for sound."""

RECEIVER = """\
reference "Small receiver"
mains 230 V 50 Hz region UK
default resistor 10% 0.5W
cord M1 L brown N blue E green/yellow
bond PE1
fuse F1 400mA slow
switch S1 on-off set on
transformer T1
winding T1 primary 0 230 230V dcr 27R
winding T1 ht red1 red/yellow red2 250-0-250V 80mA dcr 150R+155R
winding T1 heaters h1 h2 6.3V 3A
wire M1.L F1.1
wire F1.2 S1.a
wire S1.a1 T1.230
wire M1.N T1.0
wire M1.E PE1
socket V3 B9A EZ80
heaters V1 V2 V5 V4 V3 from T1.h1 T1.h2
wire T1.h2 chassis
wire T1.red1 V3.1
wire T1.red2 V3.7
wire T1.red/yellow chassis
can C30 square 32u 450V triangle 32u 450V
wire C30.can chassis
node HT1 V3.3 C30.square
R40 resistor 1k5 3W HT1 HT2
node HT2 C30.triangle
R41 resistor 220k 1W HT1 chassis
connector SK1 2 pins
wire SK1.2 chassis
C1 capacitor 1n 1000V SK1.1 L1.a
transformer L1
winding L1 coupling a e 1.2mH dcr 12R
winding L1 tuned g b 180uH dcr 2R5
wire L1.e chassis
wire L1.g V1.2
wire L1.b T2.4
C2 capacitor 500p variable L1.g chassis
C5 capacitor 47n T2.4 chassis
socket V1 B9A ECH81
R1 resistor 22k 2W HT2 V1.1
C6 capacitor 47n V1.1 chassis
R2 resistor 180R V1.3 chassis
C7 capacitor 47n V1.3 chassis
R3 resistor 47k V1.9 chassis
C8 capacitor 50p V1.9 L3.g
wire V1.9 V1.7
R4 resistor 33k 1W HT2 V1.8
C9 capacitor 470p V1.8 L3.p
transformer L3
winding L3 tuned g b 95uH dcr 2R dot g
winding L3 reaction r p 12uH dcr 1R dot r
wire L3.r chassis
C10 capacitor 500p variable L3.g chassis
C11 capacitor 520p 2% L3.b chassis
transformer T2
winding T2 primary 1 2 0.9mH dcr 8R
winding T2 secondary 3 4 0.9mH dcr 8R
C15 capacitor 130p 5% T2.1 T2.2
C16 capacitor 130p 5% T2.3 T2.4
wire T2.1 V1.6
wire T2.2 HT2
wire T2.3 V2.2
socket V2 B9A EF89
R5 resistor 68k 1W HT2 V2.8
C17 capacitor 47n V2.8 chassis
R6 resistor 160R V2.3 chassis
C18 capacitor 47n V2.3 chassis
wire V2.9 V2.1
wire V2.1 chassis
transformer T3
winding T3 primary 1 2 0.9mH dcr 8R
winding T3 secondary 3 4 0.9mH dcr 8R
wire T3.1 V2.7
wire T3.2 HT2
socket V5 B7G EBC91
wire V5.2 chassis
wire T3.3 V5.6
C21 capacitor 100p T3.4 chassis
R7 resistor 47k T3.4 P1.cw
C22 capacitor 100p P1.cw chassis
pot P1 500k log
wire P1.ccw chassis
R9 resistor 1M P1.cw T2.4
C24 capacitor 10n P1.wiper V5.1
R10 resistor 10M V5.1 chassis
R11 resistor 220k V5.7 HT2
C25 capacitor 220p V5.7 chassis
C26 capacitor 22n V5.7 V4.2
socket V4 B9A EL84
R12 resistor 470k V4.2 chassis
R13 resistor 180R 1W V4.3 chassis
C27 electrolytic 50u 25V V4.3 + chassis -
transformer T4
winding T4 primary p1 p2 load 5k2 dcr 320R 8H
winding T4 secondary s1 s2 load 4R dcr 0.4R
wire T4.p1 V4.7
wire T4.p2 HT1
wire V4.9 HT2
speaker LS1 4R
wire T4.s1 LS1.1
wire T4.s2 LS1.2
wire T4.s2 chassis
"""
