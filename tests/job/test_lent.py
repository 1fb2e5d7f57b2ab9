"""Windings that the chassis file tells nothing of: the drawing's figures, told as such."""

from dataclasses import replace

import pytest
from small_set import changed

SILENT = (
    ("winding T1 primary 0 210 230 0-210-230V dcr 20R+2R", "winding T1 primary 0 210 230"),
    (
        "winding T1 ht red1 red/yellow red2 250-0-250V 60mA dcr 130R+134R",
        "winding T1 ht red1 red/yellow red2",
    ),
    ("winding T1 heaters h0 h4 h6 0-4-6.3V 2A", "winding T1 heaters h0 h4 h6"),
    ("winding T1 rectifier r1 r2 6.3V 1A", "winding T1 rectifier r1 r2"),
)
LARGE = ("fuse F1 500mA slow", "fuse F1 2A slow")


def told(punch):
    """Everything a list says of its lines."""
    return [(i.number, i.severity, i.finding.text, i.confirm, i.consequence) for i in punch.items]


def test_a_silent_chassis_file_is_judged_and_computed_with_the_figures_of_the_drawing(punched):
    wrong = ("R7 resistor 180R 2W V2.3 chassis", "R7 resistor 18R 2W V2.3 chassis")
    marked, silent = (punched(*swaps, consequences=True) for swaps in ([wrong], [wrong, *SILENT]))
    assert "has to stand" in silent.items[0].consequence
    assert told(silent) == told(marked)
    assert silent.gate.discharge == marked.gate.discharge != ()
    assert silent.gate.unchecked == marked.gate.unchecked


def test_the_drawing_is_named_beside_its_figures(punched):
    marked, silent = punched().gate, punched(*SILENT).gate
    assert "windings as the drawing marks them" in silent.fuses[0]
    assert silent.fuses[0].replace("the drawing marks them", "marked") == marked.fuses[0]
    [line] = [each for each in silent.checked if each not in marked.checked]
    assert line.startswith("the windings of T1: the drawing's figures")


def test_a_fuse_is_held_against_the_drawn_currents(punched):
    marked, silent = punched(LARGE), punched(LARGE, *SILENT)
    assert [i.breaks for i in marked.items] == [i.breaks for i in silent.items]
    assert "fuse-too-large" in marked.items[0].breaks


@pytest.mark.parametrize("line", SILENT)
def test_one_silent_winding_is_enough(punched, line):
    assert any("T1" in each and "drawing's figures" in each for each in punched(line).gate.checked)


def test_what_the_chassis_file_tells_itself_is_kept(punched):
    """Another current on the chassis than drawn: its own one counts."""
    own = (SILENT[1][0], "winding T1 ht red1 red/yellow red2 250-0-250V 120mA")
    more, drawn = punched(own), punched()
    assert more.gate.fuses[0] != drawn.gate.fuses[0]
    found = more.comparison.found.parts["T1"].elements[1]
    assert found.current.value == pytest.approx(0.12)
    assert found.resistance == (130.0, 134.0)


def test_a_phase_mark_is_never_lent(punched):
    lines = (
        "winding T2 primary blue red load 5k dcr 250R",
        "winding T2 primary blue red load 5k dcr 250R dot blue",
    )
    board = changed((lines[0], "winding T2 primary blue red"))
    punch = punched(drawing=changed(lines), board=board)
    primary = punch.comparison.found.parts["T2"].elements[0]
    drawn = punch.comparison.reference.parts["T2"].elements[0]
    assert primary == replace(drawn, dot="")
