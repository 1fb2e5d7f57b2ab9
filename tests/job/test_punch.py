"""Planted dangers through the whole way: they stand first, once, and say why."""

import re

import pytest
from small_set import changed

from buzzout.job.gate import LIMITED, NOTHING_FOUND, REFUSED, gate
from buzzout.job.judge import judged
from buzzout.language.coverage import Coverage

WHOLE = Coverage(60, 0, (), (), (), (), (), ())

JACK = "R3 resistor 1M J1.tip chassis"
DRIFT = ("R4 resistor 100k V1.1 HT2", "R4 resistor 100k reads 160k V1.1 HT2")


def lines(punch):
    return [(i.severity, i.finding.kind, i.why, i.rule) for i in punch.everything]


def test_as_drawn_nothing_is_found(punched):
    punch = punched()
    assert (punch.items, punch.rules, punch.open) == ((), (), ())


@pytest.mark.parametrize(
    ("swaps", "severity", "why"),
    [
        (
            [("wire M1.N T1.0", ("wire M1.N T1.0\nlamp PL2 110V 20mA\nwire PL2.1 S1.a1\n"
              "capacitor 100n 1000V from PL2.2 to chassis"))],
            "danger", "PL2 (110V)",
        ),
        (
            [("switch S1 on-off set on", "switch S1 2 poles 1 ways set 1"),
             ("wire M1.E PE1", "wire M1.E S1.b\nwire S1.b1 PE1")],
            "danger", "M1.E reaches the chassis only through S1",
        ),
        (
            [("wire V2.9 HT2", "wire V2.9 HT2\nwire V2.2 V2.9")],
            "danger", "a control grid of V2",
        ),
        (
            [("heaters V3 from T1.r1 T1.r2", "heaters V3 from T1.red1 T1.red/yellow")],
            "danger", "V3, a 6.3 V heater, is across 250 V",
        ),
        (
            [("wire T1.h6 V2.5", "wire T1.h4 V2.5")],
            "damage", "V2, a 6.3 V heater, is across 4 V: a cathode that is run cold",
        ),
        (
            [("wire S1.a1 T1.230", "wire S1.a1 T1.210")],
            "damage", "230 V mains come to a primary of 210 V",
        ),
        (
            [("R3 resistor 1M J1.tip chassis",
              "R3 resistor 1M J1.tip chassis\ncapacitor 10n 1000V from S1.a1 to chassis")],
            "danger", "from the line (at S1.a1) to the chassis",
        ),
        (
            [("wire M1.L F1.1", "wire M1.N F1.1"), ("wire M1.N T1.0", "wire M1.L T1.0")],
            "danger", "S1 switches the neutral",
        ),
    ],
)  # fmt: skip
def test_a_planted_danger_stands_first_and_says_why(punched, swaps, severity, why):
    punch = punched(*swaps, DRIFT)
    first = punch.everything[0]
    assert first.severity == severity
    assert why in first.why
    assert first in punch.items
    assert [i.number for i in punch.everything] == list(range(1, len(punch.everything) + 1))
    assert punch.gate.state == REFUSED
    assert not any(i.rule for i in punch.everything)


def test_an_unsafe_drawing_is_told_beside_the_differences(punched):
    """Faithful to an unsafe original: no difference, and yet not fit for power."""
    unsafe = [("wire M1.N T1.0", "wire M1.N T1.0\nC9 capacitor 10n 1000V S1.a1 chassis")]
    punch = punched(*unsafe, drawing=changed(*unsafe))
    assert punch.items == ()
    [only] = punch.rules
    assert (only.rule, only.severity, only.finding.kind) == (
        "path-to-chassis", "danger", "path-to-chassis",
    )  # fmt: skip
    assert only.finding.text == (
        "The drawing itself has it, and the chassis is as drawn: C9 (10n) leads from the line (at"
        " S1.a1) to the chassis and can pass 0.72mA at 230 V 50 Hz."
    )
    assert "departure" in only.finding.action
    assert only.finding.title == "way from the mains to the chassis through parts"
    assert punch.open == ()
    assert punch.dangerous
    assert punch.gate.state == REFUSED


def test_what_only_the_drawing_breaks_is_a_note(punched):
    unsafe = ("wire M1.N T1.0", "wire M1.N T1.0\nC9 capacitor 10n 1000V S1.a1 chassis")
    punch = punched(drawing=changed(unsafe))
    assert [i.finding.kind for i in punch.items] == ["part-missing"]
    [only] = punch.rules
    assert only.severity == "note"
    assert only.finding.text.startswith("The drawing itself has it, this chassis has not: C9 (10n)")


def test_a_rule_that_no_difference_tells_stands_alone(punched):
    punch = punched(
        ("cord M1 L brown N blue E green/yellow", "cord M1 L green/yellow N blue E red")
    )
    assert ("colour-earth", "danger") in [(i.rule, i.severity) for i in punch.rules]


def test_nothing_is_told_twice(punched):
    """Line and neutral exchanged breaks two rules and is one difference."""
    punch = punched(("wire M1.L F1.1", "wire M1.N F1.1"), ("wire M1.N T1.0", "wire M1.L T1.0"))
    [item] = punch.everything
    assert item.finding.kind == "leads-exchanged"
    assert item.breaks == ("fuse-in-neutral", "switch-in-neutral")


def test_a_bleeder_that_is_not_there(punched):
    punch = punched(("R2 resistor 220k 2W HT1 chassis", "# R2 away"))
    [only] = punch.everything
    assert only.finding.kind == "part-missing"
    assert only.severity == "damage"


def test_a_fault_alone_lets_power_on_behind_a_limiter(punched):
    punch = punched(("R5 resistor 1k5 V1.3 chassis", "R5 resistor 15k V1.3 chassis"))
    assert [i.severity for i in punch.everything] == ["fault"]
    assert punch.gate.state == LIMITED
    assert any("number 1" in line for line in punch.gate.watch)


def test_the_gate_says_what_was_not_looked_at(punched):
    gate = punched().gate
    assert gate.state == LIMITED
    assert gate.because == ()
    assert "leads and wires seen from one end only" in " ".join(gate.unchecked)
    assert "not everything was looked at" in gate.verdict
    assert any("mains lead" in question for question in gate.asked)
    assert [str(d.plus) for d in gate.discharge] == ["C30.square", "C30.triangle"]


def test_the_gate_finds_nothing_when_all_was_looked_at(punched):
    """With every lead seen twice the answer is the third one, and never that it is safe."""
    punch = punched()
    told = gate((), judged(punch.comparison.found), WHOLE, punch.comparison)
    assert told.state == NOTHING_FOUND
    assert told.unchecked == ()
    assert "safe" not in told.verdict


@pytest.mark.parametrize(
    ("fuse", "severity", "why"),
    [
        ("800mA slow", "fault", "neither far too large nor too small"),
        ("10A slow", "danger", "220mA at most: a short in the set finds nothing"),
        ("100mA slow", "fault", "it blows in ordinary use"),
    ],
)
def test_a_fuse_of_another_value_is_one_line(punched, fuse, severity, why):
    [item] = punched(("fuse F1 500mA slow", f"fuse F1 {fuse}")).everything
    assert item.severity == severity
    assert why in item.why
    assert item.confirm == "Read the value on the fuse link itself, not on its holder."


@pytest.mark.parametrize("fuse", ["10A slow", "100mA slow"])
def test_a_line_on_a_fuse_tells_one_value_to_fit(punched, fuse):
    """As drawn where the drawing has one that fits; where it has not, what fits."""
    swap = ("fuse F1 500mA slow", f"fuse F1 {fuse}")
    [item] = punched(swap).everything
    assert item.finding.action.startswith("Fit a 500mA fuse")
    assert "400mA" not in f"{item.finding.text} {item.finding.action} {item.why}"
    rules = punched(swap, drawing=changed(swap)).rules
    [item] = [item for item in rules if item.rule.startswith("fuse-too")]
    assert "220mA at most" in item.finding.text
    told = "Fit a slow one of 400mA: 1.5 times that current, or the next value above."
    assert item.finding.action.startswith(told)


def test_a_fuse_where_the_load_is_not_known(punched):
    swap = ("mains 230 V 50 Hz region UK", "# mains not told")
    [item] = punched(
        swap, ("fuse F1 500mA slow", "fuse F1 800mA slow"), drawing=changed(swap)
    ).items
    assert item.severity == "damage"


MORE_TAPS = (
    "winding T1 primary 0 210 230 0-210-230V dcr 20R+2R",
    "winding T1 primary 0 210 230 250 0-210-230-250V dcr 20R+2R+2R",
)
OCTAL = [
    ("socket V1 B9A ECC83", "socket V1 octal 6SN7GT"),
    ("wire T1.h0 V1.4", "wire T1.h0 V1.7"), ("wire V1.4 V1.5", "# none"),
    ("wire T1.h6 V1.9", "wire T1.h6 V1.8"),
]  # fmt: skip
AT_230 = "wire S1.a1 T1.230"
BYPASS = (
    "R7 resistor 180R 2W V2.3 chassis",
    "R7 resistor 180R 2W V2.3 chassis\nC7 electrolytic 50u 25V V2.3 + chassis -",
)


NEITHER_MORE_NOR_LESS = {
    "cathode bypass missing": ([BYPASS], [], "fault"),
    "tap above the mains": ([MORE_TAPS], [MORE_TAPS, (AT_230, "wire S1.a1 T1.250")], "fault"),
    "tap below the mains": ([MORE_TAPS], [MORE_TAPS, (AT_230, "wire S1.a1 T1.210")], "damage"),
    "a later version of the valve": (
        OCTAL, [("socket V1 B9A ECC83", "socket V1 octal 6SN7GTB"), *OCTAL[1:]], "fault",
    ),
    "another valve": (
        OCTAL, [("socket V1 B9A ECC83", "socket V1 octal 6V6GT"), *OCTAL[1:]], "danger",
    ),
}  # fmt: skip


@pytest.mark.parametrize("consequences", [False, True])
@pytest.mark.parametrize("case", NEITHER_MORE_NOR_LESS.values(), ids=NEITHER_MORE_NOR_LESS)
def test_neither_more_nor_less_than_it_is(punched, case, consequences):
    drawn, found, severity = case
    punch = punched(*found, drawing=changed(*drawn), consequences=consequences)
    assert punch.everything[0].severity == severity


def test_two_like_valves_in_each_others_sockets(punched):
    """A second EL84 beside the first, driven and loaded otherwise; then the wires exchanged."""
    second = """\
socket V4 B9A EL84
wire V2.4 V4.4
wire V2.5 V4.5
R20 resistor 270R 2W V4.3 chassis
R21 resistor 220k V4.2 chassis
R22 resistor 4k7 2W V4.9 HT2
R23 resistor 10k 5W V4.7 HT2"""
    drawing = changed(("socket V3 B9A EZ81", f"{second}\nsocket V3 B9A EZ81"))
    exchanged = re.sub(r"\bV([24])\.", lambda m: f"V{6 - int(m[1])}.", drawing)
    punch = punched(drawing=drawing, board=exchanged, consequences=True)
    [item] = punch.open
    assert (item.finding.kind, item.severity) == ("sockets-exchanged", "note")
    assert item.consequence == ""


def test_a_two_core_lead_with_a_line_capacitor(punched):
    """Both ways to a live chassis stand before all else."""
    punch = punched(
        ("wire M1.E PE1", "# no earth"),
        ("cord M1 L brown N blue E green/yellow", "cord M1 L brown N blue"),
        (JACK, f"{JACK}\ncapacitor 10n 1000V from S1.a1 to chassis"),
        DRIFT,
    )
    first = punch.everything[:2]
    assert [i.severity for i in first] == ["danger", "danger"]
    told = " ".join(i.why for i in first)
    assert "protective earth" in told
    assert "10n capacitor" in told
    assert "from the line (at S1.a1) to the chassis" in told


def test_a_live_chassis_set(punched):
    """The transformer's windings joined by hand: nothing separates chassis and mains."""
    punch = punched(("wire T1.red/yellow chassis", "wire T1.red/yellow chassis\nwire T1.0 chassis"))
    first = punch.everything[0]
    assert first.severity == "danger"
    assert "the neutral is joined to the chassis through wires alone" in first.why


def test_a_fuse_that_nobody_has_read_is_told_once(punched):
    [item] = punched(("fuse F1 500mA slow", "fuse F1 unread")).everything
    assert item.finding.kind == "not-verified"
    assert item.breaks == ("fuse-unknown",)


def test_ids_are_unique(punched):
    lead = ("cord M1 L brown N blue E green/yellow", "cord M1 L pink N violet E orange")
    punch = punched(lead, DRIFT, drawing=changed(lead))
    ids = [i.finding.id for i in punch.everything]
    assert len(ids) == len(set(ids)) > 0
    [rule] = punch.rules
    assert rule.finding.text.count("no usual colour in region UK") == 3


def test_what_other_mistakes_hide_is_told_of_the_drawing_all_the_same(punched):
    """Earth and line exchanged: on such a chassis no current through the fuse can be computed."""
    winding = "winding T1 ht red1 red/yellow red2 250-0-250V 60mA dcr 130R+134R"
    drawing = changed((winding, winding.replace("130R+134R", "430R+434R")))
    board = drawing.replace("wire M1.L F1.1", "wire M1.E F1.1").replace("M1.E PE1", "M1.L PE1")
    punch = punched(drawing=drawing, board=board)
    [told] = [item for item in punch.rules if item.rule == "fuse-stays"]
    assert told.severity == "fault"
    assert told.finding.text.startswith("The drawing itself has it, and so has the chassis once")


def test_a_reading_tells_how_a_switch_must_stand_for_it(punched):
    """Line and neutral exchanged: M1.L reaches the fuse through primary and switch."""
    swaps = [("wire M1.L F1.1", "wire M1.N F1.1"), ("wire M1.N T1.0", "wire M1.L T1.0")]
    [item] = punched(*swaps).items
    assert item.confirm.startswith("Unplugged, discharged, valves out, S1 on: M1.L to F1.1 reads")


def test_a_reading_tells_how_a_control_must_stand_for_it(punched):
    drawing = changed(
        ("wire J1.tip V1.2", ("pot P1 500k log\nwire J1.tip P1.cw\nwire P1.ccw chassis\n"
                              "wire P1.wiper V1.2")),
    )  # fmt: skip
    board = drawing.replace("wire P1.wiper V1.2", "wire P1.wiper V1.8")
    [item] = punched(drawing=drawing, board=board).open
    assert "valves out, P1 fully clockwise: " in item.confirm


def test_a_reading_that_depends_on_no_switch_tells_none(punched):
    [item] = punched(("R6 resistor 470k V2.2 chassis", "# R6 away")).items
    assert item.confirm.startswith("Unplugged, discharged, valves out: ")
