"""What one discrepancy does under power, against the drawing changed by hand."""

import re

import pytest
from small_set import SET, changed

from buzzout.electrics.ratings import audit
from buzzout.job.consequence import Bench

SHORT = ("R7 resistor 180R 2W V2.3 chassis", "R7 resistor 18R 2W V2.3 chassis")
SCREEN = ("R4 resistor 100k V1.1 HT2", "R4 resistor 220k V1.1 HT2")


def of(punch, kind):
    return next(i for i in punch.items if i.finding.kind == kind)


def audited(circuit, *swaps):
    return {(s.part, s.what): s for s in audit(circuit(changed(*swaps)))}


def test_a_cathode_resistor_of_a_tenth(punched, circuit):
    item = of(punched(SHORT, consequences=True), "value-wrong")
    wanted = audited(circuit, SHORT)["V2", "cathode current"]
    assert wanted.verdict == "over"
    assert item.severity == "damage"
    assert f"V2 draws {wanted.value:.0f} mA of its {wanted.limit:.0f} mA" in item.consequence
    assert item.consequence.startswith("With this alone ")


def test_heaters_that_are_too_much_for_their_winding(punched):
    """An EZ81 for the EZ80 on the same 2 A: 0.3 + 0.3 + 0.76 + 1 A."""
    small = [
        ("heaters V3 from T1.r1 T1.r2", "wire T1.h0 V3.4\nwire T1.h6 V3.5"),
        ("wire V3.3 V3.4", "wire V3.3 R2.1"),
    ]
    drawing = changed(*small, ("socket V3 B9A EZ81", "socket V3 B9A EZ80"))
    item = of(punched(*small, drawing=drawing, consequences=True), "wrong-valve")
    said = "With this alone T1 heaters has to give 2.36 A of its 2 A, its heaters and lamps summed"
    assert item.consequence.startswith(said)


def test_one_finding_alone_is_the_drawing_with_that_one(punched, circuit):
    """Another finding beside it does not change what the first one does."""
    alone = of(punched(SHORT, consequences=True), "value-wrong").consequence
    both = punched(SHORT, SCREEN, consequences=True)
    texts = {i.finding.parts: i.consequence for i in both.items}
    assert texts["R7",] == alone
    assert "goes over its limit" in texts["R4",]
    assert [i.finding.parts for i in both.items] == [("R7",), ("R4",)]


def test_a_voltage_that_moves_is_told_with_its_point(punched, circuit):
    text = of(punched(SCREEN, consequences=True), "value-wrong").consequence
    told = re.fullmatch(
        r"With this alone nothing goes over its limit; (V1\.\d) goes from (\S+) V to (\S+) V; .+",
        text,
    )
    assert told
    assert float(told[2]) > float(told[3])


def test_a_signal_capacitor_moves_nothing(punched):
    swap = ("C1 capacitor 22n 630V V1.1 V2.2", "C1 capacitor 220n 630V V1.1 V2.2")
    item = of(punched(swap, consequences=True), "value-wrong")
    assert item.severity == "fault"
    assert "no direct voltage moves" in item.consequence
    assert item.why.endswith("computed, no limit is passed")


def test_a_place_alone_says_damage_until_somebody_computes(punched):
    item = of(punched(SCREEN), "value-wrong")
    assert (item.severity, item.consequence) == ("damage", "")


def test_the_chassis_as_a_whole(punched):
    assert punched(SHORT, consequences=True).whole.startswith("As it stands ")
    assert punched(SHORT).whole == ""


def test_a_computation_never_plays_a_danger_down(punched):
    swaps = [("wire M1.L F1.1", "wire M1.N F1.1"), ("wire M1.N T1.0", "wire M1.L T1.0")]
    item = of(punched(*swaps, consequences=True), "leads-exchanged")
    assert (item.severity, item.consequence) == ("danger", "")


def test_the_current_to_the_chassis_is_told(punched):
    small = [("wire M1.N T1.0", "wire M1.N T1.0\nC9 capacitor 10n 1000V S1.a1 chassis")]
    large = [("wire M1.N T1.0", "wire M1.N T1.0\nC9 capacitor 100n 1000V S1.a1 chassis")]
    item = of(punched(*large, drawing=changed(*small)), "value-wrong")
    assert item.severity == "danger"
    assert "can pass 7.2mA at 230 V 50 Hz" in item.consequence


@pytest.fixture
def fragment():
    """Neither lead nor winding: nothing feeds it."""
    away = ("cord", "winding T1", "wire M1", "wire S1", "heaters", "wire T1", "wire PL")
    return "\n".join(x for x in SET.splitlines() if not x.startswith(away)) + "\n"


def test_without_a_supply_nothing_is_computed(circuit, fragment, punched):
    punch = punched(SHORT, drawing=SET)
    drawing = circuit(fragment)
    comparison = punch.comparison.__class__(
        drawing, drawing, punch.comparison.findings, punch.comparison.proof,
        punch.comparison.matching, drawing,
    )  # fmt: skip
    bench = Bench(comparison)
    assert not bench.ready
    assert bench.of(punch.items[0].finding) is None
    assert bench.whole() == (
        "What the drawing does under power cannot be computed from what it tells."
    )


def test_hum_drives_a_stage_to_its_limit_and_no_further(punched):
    """A heater wire on the first grid: the output stage cannot swing beyond its supply."""
    swap = ("wire J1.tip V1.2", "wire J1.tip V1.2\nwire V1.2 T1.h4")
    [item] = punched(swap, consequences=True).items
    assert "mains hum drives V2 as far as the supply lets it swing" in item.consequence
    assert "nothing goes over its limit" not in item.consequence
    assert "gets" not in item.consequence  # no capacitor, no resistor over its rating
    assert not re.search(r"[RC]\d+ has to stand", item.consequence)


# A frequency changer, of which nobody has a model, beside the output stage.
CHANGER = """\
socket V9 B9A ECH81
heaters V9 from T1.h0 T1.h6
R90 resistor 22k 2W HT2 V9.1
R91 resistor 180R V9.3 chassis
R92 resistor 47k V9.9 V9.3
R93 resistor 33k 1W HT2 V9.8
R94 resistor 1M V9.2 chassis
R95 resistor 10k V9.6 HT2
wire V9.7 V9.9
"""


@pytest.mark.parametrize(
    ("board", "severity", "told"),
    [
        ("R99 resistor 22k HT2 V9.2\n", "damage", "V9/2 (ECH81) draws grid current"),
        ("R99 resistor 1M V9.2 chassis\n", "fault", "computed without a model of V9/2"),
        ("R99 resistor 1k 2W HT2 V9.1\n", "damage", "V9/2 has screen voltage"),
    ],
    ids=["HT on its grid", "its grid leak halved", "its screen on HT"],
)
def test_a_part_too_many_at_a_valve_without_a_model(punched, board, severity, told):
    """Volts on a grid that nobody can compute rank as damage, as docs/safety.md has it."""
    drawing = SET + CHANGER
    item = of(punched(drawing=drawing, board=drawing + board, consequences=True), "part-extra")
    assert item.severity == severity
    assert told in item.consequence
