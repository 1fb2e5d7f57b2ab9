"""Sockets that change places with a wire between them, and conductors that are not there."""

import re

from buzzout.compare import compare
from buzzout.language.load import load

DRAWING = """reference "Four like valves"
mains 230V 50Hz
connector X1 8 pins
cord M1 L brown N blue E green
socket V1 B9A ECC83
socket V2 B9A ECC83
socket V3 B9A ECC83
socket V4 B9A ECC83
R1 resistor 100k V1.1 X1.1
R2 resistor 150k V2.1 X1.2
R3 resistor 220k V3.1 X1.3
R4 resistor 330k V4.1 X1.4
R5 resistor 1k5 V1.3 chassis
R6 resistor 2k2 V2.3 chassis
R7 resistor 820R V3.3 chassis
R8 resistor 3k3 V4.3 chassis
C1 capacitor 22n V1.6 X1.5
C2 capacitor 47n V2.6 X1.6
C3 capacitor 10n V3.6 X1.7
C4 capacitor 4n7 V4.6 X1.8
wire V2.2 V4.2
wire M1.E chassis
wire M1.L X1.1
wire M1.N X1.2
"""


def compared(tmp_path, change):
    drawing = tmp_path / "four.reference.buzz"
    drawing.write_text(DRAWING)
    lines = [
        re.sub(r"^[RC]\d ", "", line)
        for line in change(DRAWING).splitlines()[2:]
        if not line.startswith(("socket", "connector"))
    ]
    board = tmp_path / "four.found.buzz"
    head = ['found "Four like valves"', 'of "four.reference.buzz"']
    fitted = [f"fitted V{n} ECC83" for n in range(1, 5)]
    board.write_text("\n".join([*head, *fitted, *lines, ""]))
    wanted = load(drawing).circuit
    return compare(wanted, load(board, wanted).circuit)


def exchanged(text, a, b):
    return text.replace(f"{a}.", "@.").replace(f"{b}.", f"{a}.").replace("@.", f"{b}.")


def test_two_pairs_of_sockets_with_a_wire_from_one_to_the_other(tmp_path):
    result = compared(tmp_path, lambda t: exchanged(exchanged(t, "V1", "V2"), "V3", "V4"))
    assert [f.kind for f in result.findings] == ["sockets-exchanged"] * 2
    assert result.proof.sufficient
    assert result.proof.minimal


def test_no_wire_is_moved_to_a_conductor_that_is_not_there(tmp_path):
    """A stray bridge and a two-core lead are two findings, though a moved wire would cost one."""

    def change(text):
        return text.replace(" E green", "").replace("wire M1.E chassis", "wire X1.7 chassis")

    result = compared(tmp_path, change)
    assert sorted(f.kind for f in result.findings) == ["bridge", "connection-missing"]
    assert result.proof.cost == 2
    assert result.proof.sufficient
