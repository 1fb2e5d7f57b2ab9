"""Other supplies than the hall amplifier's: the board against the electrics' own solution."""

import pytest

from buzzout.bench.batch import solve
from buzzout.bench.board import Board, Change
from buzzout.circuit import Point, Remove, apply
from buzzout.electrics.draft import Power, Supply
from buzzout.electrics.operating import operate
from buzzout.language import load

HEAD = """reference "it"
mains 230 V 50 Hz
cord M1 L brown N blue E green/yellow
transformer T1
winding T1 primary 0 230  0-230V dcr 20R
winding T1 heaters h1 h2  6.3V 3A dcr 0.1R
wire M1.L T1.230
wire M1.N T1.0
wire M1.E chassis
"""
SETS = {
    "choke input": """winding T1 ht a ct b  300-0-300V 100mA dcr 90R+90R
socket V1 B9A EZ81
heaters V1 from T1.h1 T1.h2
choke L1 10H 200R 100mA
wire T1.a V1.1
wire T1.b V1.7
wire T1.ct chassis
node RAW V1.3 L1.1
node HT L1.2
C1 electrolytic 32u 450V HT + chassis -
R1 resistor 10k 10W HT chassis
R2 resistor 5k 20W HT chassis
""",
    "bridge": """winding T1 ht a b  0-200V 100mA dcr 60R
B1 bridge T1.a ~ T1.b ~ HT + chassis -
node HT
C1 electrolytic 47u 450V HT + chassis -
R1 resistor 10k 10W HT chassis
R2 resistor 5k 20W HT chassis
""",
    "half wave": """winding T1 ht a b  0-200V 100mA dcr 60R
D1 diode 1N4007 T1.a a HT k
wire T1.b chassis
node HT
C1 electrolytic 47u 450V HT + chassis -
R1 resistor 10k 10W HT chassis
R2 resistor 10k 20W HT chassis
""",
    "stabilised": """winding T1 ht a b  0-200V 100mA dcr 60R
B1 bridge T1.a ~ T1.b ~ RAW + chassis -
node RAW
C1 electrolytic 47u 450V RAW + chassis -
R3 resistor 4k7 10W RAW HT
node HT
socket V2 B7G 0A2
wire HT V2.1
wire V2.2 chassis
R1 resistor 15k 10W HT chassis
R2 resistor 100k 5W HT chassis
""",
}


def opened(board, name):
    branch = next(b for b in board.branches if b.name == name)
    return Change(siemens=((branch.a, branch.b, -1 / branch.value),))


@pytest.mark.parametrize("kind", SETS)
def test_a_load_taken_off(kind, tmp_path):
    path = tmp_path / "it.reference.buzz"
    path.write_text(HEAD + SETS[kind], encoding="utf-8")
    circuit = load(path).sound().circuit
    state = operate(circuit)
    assert state.settled
    board = Board(state)
    states = solve(board, [Change(), opened(board, "R2")])
    assert states.settled.all()
    ht = board.row(Point("HT"))
    assert states.x[0, ht] == pytest.approx(state.volts(Point("HT")), rel=0.005)
    without = operate(apply(circuit, [Remove("R2")]))
    assert states.x[1, ht] == pytest.approx(without.volts(Point("HT")), rel=0.02)


def test_a_supply_from_outside(tmp_path):
    path = tmp_path / "it.reference.buzz"
    text = 'reference "it"\nconnector SK1 2 pins\nwire SK1.2 chassis\nnode HT\n'
    path.write_text(text + "R1 resistor 10k SK1.1 HT\nR2 resistor 10k HT chassis\n")
    circuit = load(path).sound().circuit
    fed = Power(supplies=(Supply(Point("SK1", "1"), Point("SK1", "2"), 200.0, 100.0),))
    board = Board(operate(circuit, fed))
    states = solve(board, [Change(), opened(board, "R2")])
    ht = board.row(Point("HT"))
    assert states.x[0, ht] == pytest.approx(200 * 10 / 20.1, rel=1e-4)
    assert states.x[1, ht] == pytest.approx(200, rel=1e-4)
