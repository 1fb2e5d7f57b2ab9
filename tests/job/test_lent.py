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


DCR = "winding T1 primary 0 210 230 0-210-230V dcr 20R+2R"
NO_DCR = "winding T1 primary 0 210 230 0-210-230V"
CHOKE = ("R1 resistor 1k 2W HT1 HT2", "choke L1 5H 1k 60mA\nwire L1.1 HT1\nwire L1.2 HT2")


def test_the_ohms_of_the_primary_alone_may_be_lent(punched):
    marked, silent = punched(), punched((DCR, NO_DCR))
    assert silent.gate.fuses[1] == marked.gate.fuses[1]
    assert "at the very most" in silent.gate.fuses[1]


def test_ohms_that_no_file_tells_bound_nothing(punched):
    """A guess is no bound, and what is computed with one says so."""
    told = punched(drawing=changed((DCR, NO_DCR)), board=changed((DCR, NO_DCR))).gate.fuses
    assert "very most" not in "".join(told)
    assert "nobody told the ohms of the primary" in told[1]
    assert "it stands the usual inrush" in told[1]
    assert "with a guess for the ohms of T1 primary" in told[2]


def test_a_choke_is_a_winding(punched):
    silent = changed((CHOKE[0], CHOKE[1].replace(" 1k 60mA", "")))
    punch = punched(drawing=changed(CHOKE), board=silent)
    found, drawn = (c.parts["L1"] for c in (punch.comparison.found, punch.comparison.reference))
    assert (found.elements, found.current) == (drawn.elements, drawn.current)
    assert any("windings of L1" in each for each in punch.gate.checked)


@pytest.mark.parametrize(
    ("value", "better"), [("500mA", "another value is better"), ("315mA", "it is better as it is")]
)
def test_no_line_tells_to_put_back_a_fuse_that_another_line_tells_against(punched, value, better):
    """The drawing has a fuse that a shorted reservoir leaves whole; so may the one found be."""
    weak = (DCR, "winding T1 primary 0 210 230 0-210-230V dcr 150R+10R")
    large = ("fuse F1 500mA slow", "fuse F1 800mA slow")
    drawing = changed(weak, large)
    punch = punched(drawing=drawing, board=changed(weak, (large[0], f"fuse F1 {value} slow")))
    (line,) = punch.items
    (rule,) = (i for i in punch.rules if i.rule == "fuse-stays")
    first = f"Number {rule.number} comes first: {better}. Only to be as drawn: fit an 800mA fuse"
    assert line.finding.action.startswith(first)


def test_the_smallest_fuse_is_named(punched):
    weak = (DCR, "winding T1 primary 0 210 230 0-210-230V dcr 150R+10R")
    drawing = changed(weak, ("fuse F1 500mA slow", "fuse F1 800mA slow"))
    (line,) = (i for i in punched(drawing=drawing, board=drawing).rules if i.rule == "fuse-stays")
    assert line.finding.action.startswith("Fit a slow one of 400mA: the smallest that carries")
