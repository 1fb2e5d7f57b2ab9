"""The drawing that most tests of the language stand on."""

DRAWING = """\
reference "One stage"
default resistor 10% 0.5W
socket V1 B9A ECC83 or 7025
socket V2 EZ81
transformer T1
winding T1 ht red1 red/yellow red2  270-0-270V 80mA dcr 120R+125R
winding T1 heaters h1 h2 6.3V 3A
can C20 square 32u 450V triangle 16u 450V
pot P1 500k log
jack J1 tip sleeve break
bond PE1
heaters V1 V2 from T1.h1 T1.h2
R1 resistor 1M V1.2 chassis
R2 resistor 100k 1W V1.1 HT1
C1 electrolytic 25u 25V V1.3 + chassis -
D1 diode 1N4007 T1.red1 a C20.square k
node HT1 C20.square V2.3
wire J1.tip P1.cw
expect V1.1 168 V meter 20k/V mains 230 V
"""
