"""Rules of the mains side on whole circuits: planted dangers, each with what must be said."""

import re

import pytest
from small_set import SET, changed

from buzzout.job.judge import judged
from buzzout.job.rulebook import rules

TWO_CORE = ("cord M1 L brown N blue E green/yellow", "cord M1 L brown N blue")
NO_EARTH_WIRE = ("wire M1.E PE1", "# no earth")
NEUTRAL = [("wire M1.L F1.1", "wire M1.N F1.1"), ("wire M1.N T1.0", "wire M1.L T1.0")]
SELECTOR = "switch VS1 1 poles 2 ways set 2"
TAPPED = "wire VS1.a1 T1.210\nwire VS1.a2 T1.230"

PLANTED = [
    (
        "line reaches the chassis through a lamp and a capacitor in series",
        [("wire M1.N T1.0", ("wire M1.N T1.0\nlamp PL2 110V 20mA\nwire PL2.1 S1.a1\n"
          "C90 capacitor 100n 1000V PL2.2 chassis"))],
        {"path-to-chassis": ("danger", ("PL2 (110V) and C90 (100n) in series lead from the line (at"
                             " S1.a1) to the chassis and can pass 7.2mA at 230 V 50 Hz"))},
    ),
    (
        "a resistor from the neutral to the chassis",
        [("R3 resistor 1M J1.tip chassis", ("R3 resistor 1M J1.tip chassis\n"
          "R90 resistor 100k M1.N chassis"))],
        {"path-to-chassis": ("danger", ("R90 (100k) leads from the neutral (at M1.N) to the"
                             " chassis and can pass 2.3mA at 230 V 50 Hz"))},
    ),
    (
        "a class Y capacitor in an earthed set is no danger",
        [("R3 resistor 1M J1.tip chassis", ("R3 resistor 1M J1.tip chassis\n"
          "C90 capacitor 4n7 Y2 S1.a1 chassis"))],
        {"path-to-chassis": ("note", ("C90 (4n7) leads from the line (at S1.a1) to the chassis and"
                             " can pass 0.34mA at 230 V 50 Hz"))},
    ),
    (
        "a class Y capacitor without an earth",
        [TWO_CORE, NO_EARTH_WIRE, ("R3 resistor 1M J1.tip chassis",
          "R3 resistor 1M J1.tip chassis\nC90 capacitor 4n7 Y2 S1.a1 chassis")],
        {"path-to-chassis": ("danger", ("C90 (4n7) leads from the line (at S1.a1) to the chassis"
                             " and can pass 0.34mA at 230 V 50 Hz")),
         "no-earth": ("danger", "the mains lead M1 has two cores and no protective earth")},
    ),
    (
        "a paper capacitor across the mains",
        [("R3 resistor 1M J1.tip chassis",
          "R3 resistor 1M J1.tip chassis\nC90 capacitor 100n 400V paper S1.a1 M1.N")],
        {"across-mains": ("danger", ("C90 lies across the mains, and no mains class is noted on"
                          " it"))},
    ),
    (
        "a capacitor from the line to a jack",
        [("R3 resistor 1M J1.tip chassis",
          "R3 resistor 1M J1.tip chassis\nC90 capacitor 10n S1.a1 J1.tip")],
        {"path-to-outside": ("danger", ("C90 (10n) leads from the line (at S1.a1) to J1.tip and can"
                             " pass 0.72mA at 230 V 50 Hz")),
         "path-to-chassis": ("danger", ("C90 (10n) and R3 (1M) in series lead from the line (at"
                             " S1.a1) to the chassis and can pass 0.22mA at 230 V 50 Hz"))},
    ),
    (
        "mains wire on a heater tag",
        [("wire S1.a1 T1.230", "wire S1.a1 T1.h6")],
        {"path-to-chassis": ("danger", ("the winding heaters of T1 leads from the mains winding"
                             " (at T1.h4) to the chassis")),
         "mains-on-winding": ("danger", "the mains comes to the winding heaters of T1")},
    ),
    (
        "a stray wire from switch to chassis",
        [("R3 resistor 1M J1.tip chassis", "R3 resistor 1M J1.tip chassis\nwire S1.a chassis")],
        {"line-to-chassis": ("danger", "the line is joined to the chassis through F1 (500mA)")},
    ),
    (
        "earth through the switch",
        [("switch S1 on-off set on", "switch S1 2 poles 1 ways set 1"),
         ("wire M1.E PE1", "wire M1.E S1.b\nwire S1.b1 PE1")],
        {"earth-bonded": ("danger", "M1.E reaches the chassis only through S1")},
    ),
    (
        "earth through the fuse of somebody who meant well",
        [("wire M1.E PE1", "fuse F2 5A fast\nwire M1.E F2.1\nwire F2.2 PE1")],
        {"earth-bonded": ("danger", "M1.E reaches the chassis only through F2 (5A)")},
    ),
    (
        "earth hangs in the air",
        [NO_EARTH_WIRE],
        {"earth-bonded": ("danger", "M1.E is not joined to the chassis")},
    ),
    (
        "earth by an earthed tag, the bolt left empty",
        [("wire M1.E PE1", "strip TS1 3 tags earthed 2\nwire M1.E TS1.2")],
        {"earth-straight": ("danger", "the earth of M1 does not go to PE1: it passes TS1.2")},
    ),
    (
        "earth by a pin of a socket and a thin wire to a tag",
        [("wire M1.E PE1", "strip TS1 3 tags earthed 2\nwire M1.E V2.1\nwire V2.1 TS1.2")],
        {"earth-straight": ("danger",
                            "the earth of M1 does not go to PE1: it passes V2.1 and TS1.2")},
    ),
    (
        "earth by a tag on its way to the bolt",
        [("wire M1.E PE1", "strip TS1 3 tags\nwire M1.E TS1.1\nwire TS1.1 PE1")],
        {"earth-straight": ("danger", ("the earth of M1 does not go straight to PE1: it passes"
                            " TS1.1"))},
    ),
    (
        "earth on a tag in a set without a bolt",
        [("bond PE1", "strip TS1 3 tags earthed 2"), ("wire M1.E PE1", "wire M1.E TS1.2")],
        {"earth-straight": ("danger", "the earth of M1 has no bolt of its own: it passes TS1.2")},
    ),
    (
        "earth on the chassis, nobody wrote where",
        [("wire M1.E PE1", "wire M1.E chassis")],
        {"earth-straight": ("fault", ("the earth of M1 goes to the chassis, and nobody wrote"
                            " that it is at PE1"))},
    ),
    (
        "earth and line exchanged",
        [("wire M1.L F1.1", "wire M1.E F1.1"), ("wire M1.E PE1", "wire M1.L PE1")],
        {"line-to-chassis": ("danger", "the line is joined to the chassis through wires alone"),
         "earth-bonded": ("danger", "M1.E is not joined to the chassis"),
         "earth-on-mains": ("danger", ("the earth conductor M1.E is on the mains through"
                            " F1 (500mA)"))},
    ),
    (
        "line and neutral exchanged: fuse and switch in the neutral",
        NEUTRAL,
        {"fuse-in-neutral": ("danger", "F1 stands in the neutral, and the line has none"),
         "switch-in-neutral": ("danger", "S1 switches the neutral, and nothing switches the line")},
    ),
    (
        "fuse alone in the neutral",
        [("wire M1.L F1.1", "wire M1.L S1.a"), ("wire F1.2 S1.a", "wire M1.N F1.1"),
         ("wire M1.N T1.0", "wire F1.2 T1.0")],
        {"fuse-in-neutral": ("danger", "F1 stands in the neutral, and the line has none")},
    ),
    (
        "switch alone in the neutral",
        [("wire F1.2 S1.a", "wire F1.2 T1.230"), ("wire S1.a1 T1.230", "wire M1.N S1.a"),
         ("wire M1.N T1.0", "wire S1.a1 T1.0")],
        {"switch-in-neutral": ("danger", "S1 switches the neutral, and nothing switches the line")},
    ),
    (
        "a switch with two poles may stand in both",
        [("switch S1 on-off set on", "switch S1 2 poles 1 ways set 1"),
         ("wire M1.N T1.0", "wire M1.N S1.b\nwire S1.b1 T1.0")],
        {},
    ),
    (
        "a voltage selector is no switch: exchanged behind a switch with two poles, only the fuse",
        [("switch S1 on-off set on", "switch S1 2 poles 1 ways set 1\n" + SELECTOR),
         ("wire M1.L F1.1", "wire M1.N F1.1"),
         ("wire S1.a1 T1.230", "wire S1.a1 T1.0"),
         ("wire M1.N T1.0", "wire M1.L S1.b\nwire S1.b1 VS1.a\n" + TAPPED)],
        {"fuse-in-neutral": ("danger", "F1 stands in the neutral, and the line has none")},
    ),
    (
        "a voltage selector in the neutral",
        [("switch S1 on-off set on", "switch S1 on-off set on\n" + SELECTOR),
         ("wire S1.a1 T1.230", "wire S1.a1 T1.0"),
         ("wire M1.N T1.0", "wire M1.N VS1.a\n" + TAPPED)],
        {},
    ),
    (
        "a voltage selector in the line, and nothing that switches",
        [("switch S1 on-off set on", SELECTOR), ("wire F1.2 S1.a", "wire F1.2 VS1.a"),
         ("wire S1.a1 T1.230", TAPPED)],
        {"switch-in-line": ("note", "the line reaches T1.210 without a switch")},
    ),
    (
        "one switch that selects and breaks",
        [("switch S1 on-off set on", SELECTOR.replace("2 ways set 2", "3 ways set 2")),
         ("wire F1.2 S1.a", "wire F1.2 VS1.a"), ("wire S1.a1 T1.230", TAPPED)],
        {},
    ),
    (
        "switch before the fuse",
        [("wire M1.L F1.1", "wire M1.L S1.a"), ("wire F1.2 S1.a", "wire S1.a1 F1.1"),
         ("wire S1.a1 T1.230", "wire F1.2 T1.230")],
        {"fuse-before-switch": ("fault", "from the line, S1 comes before F1")},
    ),
    (
        "a wire round the fuse",
        [("wire M1.L F1.1", "wire M1.L F1.1\nwire M1.L F1.2")],
        {"fuse-in-line": ("danger", "the line reaches T1.230 without a fuse")},
    ),
    (
        "a wire round fuse and switch",
        [("wire M1.L F1.1", "wire M1.L F1.1\nwire M1.L T1.230")],
        {"fuse-in-line": ("danger", "the line reaches T1.230 without a fuse"),
         "switch-in-line": ("note", "the line reaches T1.230 without a switch")},
    ),
    (
        "a resistor in the neutral",
        [("wire M1.N T1.0", "R90 resistor 47R 5W M1.N T1.0")],
        {"neutral-straight": ("fault", "the neutral reaches T1.0 through R90 (47R)")},
    ),
    (
        "line and neutral joined",
        [("wire M1.N T1.0", "wire M1.N T1.0\nwire S1.a1 T1.0")],
        {"shorted-mains": ("danger", ("line and neutral are joined through F1 (500mA) and S1 in"
                           " series"))},
    ),
    (
        "the other tap is a small matter",
        [("wire S1.a1 T1.230", "wire S1.a1 T1.210")],
        {"primary-tap": ("damage", ("230 V mains come to a primary of 210 V: everything in the set"
                         " is 10% over its voltage"))},
    ),
    (
        "a set for 115 V on 230 V",
        [("winding T1 primary 0 210 230 0-210-230V dcr 20R+2R",
          "winding T1 primary 0 210 230 0-110-115V dcr 20R+2R")],
        {"primary-tap": ("danger", ("230 V mains come to a primary of 115 V: everything in the set"
                         " is 100% over its voltage"))},
    ),
    (
        "green and yellow on the line",
        [("cord M1 L brown N blue E green/yellow", "cord M1 L green/yellow N blue E brown")],
        {"colour-earth": ("danger", "M1.L is green/yellow, the colour of the earth"),
         "colour-unusual": ("note", "M1.E, the protective earth, is brown, the colour of line")},
    ),
    (
        "colours of before",
        [("cord M1 L brown N blue E green/yellow", "cord M1 L red N black E green")],
        {},
    ),
    (
        "colours of another country",
        [("cord M1 L brown N blue E green/yellow", "cord M1 L black N white E green")],
        {"colour-unusual": ("note", ("M1.L, the line, is black, the colour of neutral;"
                            " M1.N, the neutral, is white: no usual colour in region UK"))},
    ),
    (
        "a fuse like a nail",
        [("fuse F1 500mA slow", "fuse F1 5A slow")],
        {"fuse-too-large": ("danger", "F1 is 5A, the windings as marked draw 220mA at most")},
    ),
    (
        "a fuse that blows every week",
        [("fuse F1 500mA slow", "fuse F1 100mA fast")],
        {"fuse-too-small": ("fault", "F1 is 100mA, the windings as marked draw 220mA at most"),
         "fuse-inrush": ("note", ("F1 (100mA fast) must stand 0.00048 A²s by its standard, and the"
                         " inrush of this transformer may be 0.11 A²s"))},
    ),
    (
        "a fast fuse of the right value",
        [("fuse F1 500mA slow", "fuse F1 400mA fast")],
        {"fuse-inrush": ("note", ("F1 (400mA fast) must stand 0.026 A²s by its standard, and the"
                         " inrush of this transformer may be 0.11 A²s"))},
    ),
    (
        "nobody read the fuse",
        [("fuse F1 500mA slow", "fuse F1")],
        {"fuse-unknown": ("fault", "the value of F1 is not known")},
    ),
]  # fmt: skip


def test_the_set_itself_breaks_no_rule(broken):
    assert broken() == {}


@pytest.mark.parametrize(("swaps", "wanted"), [p[1:] for p in PLANTED], ids=[p[0] for p in PLANTED])
def test_planted(swaps, wanted, broken):
    assert broken(*swaps) == wanted


def test_every_rule_is_planted_or_has_a_test_of_its_own():
    planted = {rule for _, _, wanted in PLANTED for rule in wanted}
    mains = {rule.id for rule in rules().values() if rule.reaches}
    assert mains - planted == {"live-chassis", "live-outside", "fuse-stays"}


def test_a_fuse_that_a_shorted_reservoir_need_not_blow(broken):
    """Windings of more resistance: the short draws less than one and a half times the fuse."""
    winding = "winding T1 ht red1 red/yellow red2 250-0-250V 60mA dcr 130R+134R"
    [(kind, (level, text))] = broken((winding, winding.replace("130R+134R", "430R+434R"))).items()
    assert (kind, level) == ("fuse-stays", "fault")
    assert re.fullmatch(
        r"with C30\.square shorted F1 \(500mA slow\) carries about \d+mA, which IEC 60127-2,"
        r" standard sheet 3 lets it carry for an hour and longer", text,
    )  # fmt: skip


LIVE = """\
reference "Table set without a transformer"
mains 230 V 50 Hz region DE
cord M1 L brown N blue
switch S1 on-off set on
fuse F1 500mA slow
wire M1.L F1.1
wire F1.2 S1.a
wire M1.N chassis
socket V1 B9A UY85
socket V2 B9A UL84
R1 resistor 820R 20W S1.a1 V1.4
wire V1.5 V2.4
wire V2.5 chassis
wire S1.a1 V1.9
R3 resistor 1M V2.2 chassis
"""


def test_a_set_without_a_transformer_is_a_live_chassis_set(circuit):
    told = judged(circuit(LIVE))
    assert [(v.kind, v.level, v.text) for v in told.violations] == [
        (
            "live-chassis",
            "danger",
            "no transformer separates the set from the mains: a conductor is the chassis",
        )
    ]
    assert told.features >= {"live-chassis", "two-core", "reversible"}


def test_a_jack_on_a_live_chassis(circuit):
    """As where another set is plugged in: both chassis are live then."""
    text = LIVE + "jack J1 tip sleeve\nwire J1.sleeve chassis\nR9 resistor 1M J1.tip V2.2\n"
    told = {v.kind: (v.level, v.text) for v in judged(circuit(text)).violations}
    assert told["live-outside"] == ("danger", "J1.sleeve is the live chassis")


def test_a_set_without_a_transformer_told_by_its_heater_chain(circuit):
    told = judged(circuit(LIVE.replace("wire M1.N chassis", "R2 resistor 100k M1.N chassis")))
    first = told.violations[0]
    assert first.kind == "live-chassis"
    assert first.text.startswith("no transformer separates the set from the mains: R2 (100k) leads")


def test_where_no_winding_tells_its_current_it_is_computed(broken):
    swaps = [
        ("winding T1 rectifier r1 r2 6.3V 1A", "winding T1 rectifier r1 r2 6.3V"),
        ("fuse F1 500mA slow", "fuse F1 5A slow"),
    ]
    [(kind, (_, text))] = broken(*swaps).items()
    assert kind == "fuse-too-large"
    assert "computed without signal" in text


@pytest.mark.parametrize(
    ("swaps", "told"),
    [
        ([("cord M1 L brown N blue E green/yellow", "connector M1 3 pins")] + [
            (line, f"# {line}") for line in ("wire M1.L F1.1", "wire M1.N T1.0", "wire M1.E PE1")],
         "everything on the mains side: the file has no mains lead (cord)"),
        ([("mains 230 V 50 Hz region UK", "# mains not told")],
         "the primary tap: the file states no mains voltage"),
        ([("wire M1.N T1.0", "# neutral not seen")],
         ("fuse and switch in the neutral: the neutral conductor reaches no primary as written"
         " down")),
        ([("socket V2 B9A EL84", "socket V2 B9A XY99")],
         "grids and heaters: the catalogue does not know what is in V2"),
        ([("mains 230 V 50 Hz region UK", "# mains not told")],
         "the value of the fuse: neither the windings nor a computation tell the mains current"),
    ],
)  # fmt: skip
def test_what_cannot_be_judged_is_told(swaps, told, circuit):
    assert told in [str(u) for u in judged(circuit(changed(*swaps))).unjudged]


def test_only_some_rules(circuit):
    text = changed(("fuse F1 500mA slow", "fuse F1"), ("wire M1.E PE1", "# no"))
    told = judged(circuit(text), frozenset({"fuse-unknown"}))
    assert [v.kind for v in told.violations] == ["fuse-unknown"]


def test_the_set_can_be_read(circuit):
    assert judged(circuit(SET)).unjudged == ()
