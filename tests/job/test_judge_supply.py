"""Rules of HT and heaters on whole circuits: planted dangers, each with what must be said."""

from dataclasses import replace

import pytest
from small_set import changed

from buzzout.job.judge import judged
from buzzout.job.rulebook import rules

LEAK = "R6 resistor 470k V2.2 chassis"
METERED = ("R7 resistor 180R 2W V2.3 chassis", "R7 resistor 10R V2.3 chassis")

PLANTED = [
    (
        "HT on an output grid through a bridge",
        [("wire V2.9 HT2", "wire V2.9 HT2\nwire V2.2 V2.9")],
        {"ht-on-grid": ("danger", "the HT (with V2.9) is on V2.2, a control grid of V2")},
    ),
    (
        "anode of the output valve on its grid",
        [("wire T2.blue V2.7", "wire T2.blue V2.7\nwire V2.2 V2.7")],
        {"ht-on-grid": ("danger", "the HT (with V2.7) is on V2.2, a control grid of V2")},
    ),
    (
        "HT on a small grid",
        [("wire V2.9 HT2", "wire V2.9 HT2\nwire V1.7 HT2")],
        {"ht-on-grid": ("damage", "the HT (with V2.9) is on V1.7, a control grid of V1")},
    ),
    (
        "HT on the heater line",
        [("wire T1.h0 chassis", "wire T1.h0 HT1")],
        {"ht-on-heater": ("danger", "the HT (with T1.h0) is on the heater line of V1, V2")},
    ),
    (
        "HT on a jack",
        [("R3 resistor 1M J1.tip chassis", ("R3 resistor 1M J1.tip chassis\n"
          "R90 resistor 100k HT2 J1.tip"))],
        {"ht-outside": ("danger", "J1.tip stands at 91% of the HT")},
    ),
    (
        "grid leak of the output valve away",
        [("R6 resistor 470k V2.2 chassis", "# R6 away")],
        {"grid-leak": ("danger", "the grid V2.2 has no way to the chassis for direct current")},
    ),
    (
        "the grid resistor of the output valve several times what its sheet allows",
        [("R6 resistor 470k V2.2 chassis", "R6 resistor 4M7 V2.2 chassis")],
        {"grid-high": ("danger", ("the grid V2.2 has 4.7M to the chassis, EL84 stands 1M with"
                       " self bias"))},
    ),
    (
        "the grid resistor of the output valve somewhat above its sheet",
        [("R6 resistor 470k V2.2 chassis", "R6 resistor 1M5 V2.2 chassis")],
        {"grid-high": ("fault", ("the grid V2.2 has 1.5M to the chassis, EL84 stands 1M with"
                       " self bias"))},
    ),
    (
        "grid of the first valve behind a capacitor alone",
        [("wire J1.tip V1.2", "C91 capacitor 100n 400V J1.tip V1.2")],
        {"grid-floats": ("fault", "nothing leads direct current to or from the grid V1.2")},
    ),
    (
        "electrolytic reversed behind a resistor",
        [("R3 resistor 1M J1.tip chassis", ("R3 resistor 1M J1.tip chassis\n"
          "R90 resistor 22k HT2 HT3\nC90 electrolytic 16u 450V chassis + HT3 -\nnode HT3"))],
        {"ht-reversed": ("danger", "C90 has its minus end at R90.2, on the HT")},
    ),
    (
        "heaters on the tap for 4 V",
        [("wire T1.h6 V2.5", "wire T1.h4 V2.5")],
        {"heater-low": ("damage", "V2, a 6.3 V heater, is across 4 V")},
    ),
    (
        "heater of the rectifier on half the HT winding",
        [("heaters V3 from T1.r1 T1.r2", "heaters V3 from T1.red1 T1.red/yellow")],
        {"heater-high": ("danger", "V3, a 6.3 V heater, is across 250 V")},
    ),
    (
        "the reservoir of the bias the wrong way round",
        [METERED, (LEAK, ("strip TS1 4 tags\nR6 resistor 220k V2.2 TS1.1\n"
          "C92 electrolytic 50u 50V TS1.1 + chassis -\nD1 diode 1N4007 TS1.1 a TS1.2 k\n"
          "R92 resistor 150k TS1.2 T1.red1\nR93 resistor 15k TS1.1 chassis"))],
        {"bias-reversed": ("danger", "C92 has its plus end at TS1.1, on a line that is negative")},
    ),
    (
        "a smoothing capacitor of the bias the wrong way round, behind a bridge and a resistor",
        [METERED,
         ("winding T1 rectifier r1 r2 6.3V 1A",
          "winding T1 rectifier r1 r2 6.3V 1A\nwinding T1 bias g1 g2 40V 50mA"),
         (LEAK, ("strip TS1 4 tags\nR6 resistor 220k V2.2 TS1.1\n"
          "B1 bridge T1.g1 ~ T1.g2 ~ chassis + TS1.2 -\n"
          "C92 electrolytic 50u 50V chassis + TS1.2 -\nR92 resistor 10k TS1.2 TS1.1\n"
          "C93 electrolytic 50u 50V TS1.1 + chassis -\nR93 resistor 15k TS1.1 chassis"))],
        {"bias-reversed": ("danger", "C93 has its plus end at TS1.1, on a line that is negative")},
    ),
    (
        "the capacitor across a resistor in the HT return the wrong way round",
        [("wire T1.red/yellow chassis", ("R94 resistor 100R 5W T1.red/yellow chassis\n"
          "C93 electrolytic 100u 25V T1.red/yellow + chassis -")),
         (LEAK, "R6 resistor 470k V2.2 T1.red/yellow")],
        {"bias-reversed": ("danger", ("C93 has its plus end at T1.red/yellow, on a line that is"
                           " negative"))},
    ),
    (
        "somebody was generous with the reservoir",
        [("can C30 square 32u 450V triangle 32u 450V",
          "can C30 square 100u 450V triangle 32u 450V")],
        {"reservoir-large": ("damage", "V3 (EZ81) feeds 100u at C30.square, its sheet allows 50u")},
    ),
    (
        "a bias supply whose resistor is gone",
        [("R7 resistor 180R 2W V2.3 chassis", "wire V2.3 chassis"),
         ("R6 resistor 470k V2.2 chassis", ("strip TS1 4 tags\n"
          "R6 resistor 220k V2.2 TS1.1\nD1 diode 1N4007 TS1.1 a TS1.2 k\n"
          "R93 resistor 15k TS1.1 chassis"))],
        {"no-bias": ("danger", "V2 has its cathode on the chassis and no bias on V2.2")},
    ),
    (
        "a bias supply whose diode is the wrong way round",
        [METERED, (LEAK, ("strip TS1 4 tags\nR6 resistor 220k V2.2 TS1.1\n"
          "D1 diode 1N4007 TS1.1 k TS1.2 a\nR92 resistor 150k TS1.2 T1.red1\n"
          "R93 resistor 15k TS1.1 chassis"))],
        {"no-bias": ("danger", "V2 has its cathode on the chassis and no bias on V2.2")},
    ),
    (
        "half the HT winding shorted",
        [("R3 resistor 1M J1.tip chassis", "R3 resistor 1M J1.tip chassis\nwire V3.1 chassis")],
        {"winding-shorted": ("danger", "T1.red1 and T1.red/yellow of the winding ht are joined")},
    ),
    (
        "no bleeder",
        [("R2 resistor 220k 2W HT1 chassis", "# R2 away")],
        {"no-discharge": ("fault", ("C30.square has no discharge path: it keeps 389 V for hours"
                          " (and C30.triangle with it)"))},
    ),
    (
        "shell of the can on the HT",
        [("wire C30.can chassis", "wire C30.can HT2")],
        {"fuse-stays": ("fault", ("with C30.square shorted F1 (500mA slow) carries about 120mA,"
                        " which IEC 60127-2, standard sheet 3 lets it carry for an hour and"
                        " longer")),
         "shell-live": ("danger", "the shell of C30 is on the HT")},
    ),
    (
        "shell of the can on nothing",
        [("wire C30.can chassis", "# away")],
        {"fuse-stays": ("fault", ("with C30.square shorted F1 (500mA slow) carries about 120mA,"
                        " which IEC 60127-2, standard sheet 3 lets it carry for an hour and"
                        " longer")),
         "no-discharge": ("fault", ("C30.square has no discharge path: it keeps 389 V for hours"
                          " (and C30.triangle with it)")),
         "shell-live": ("danger", ("the shell of C30 is on nothing and drifts to the HT through its"
                        " sections"))},
    ),
]  # fmt: skip


@pytest.mark.parametrize(("swaps", "wanted"), [p[1:] for p in PLANTED], ids=[p[0] for p in PLANTED])
def test_planted(swaps, wanted, broken):
    assert broken(*swaps) == wanted


def test_every_rule_is_planted():
    planted = {rule for _, _, wanted in PLANTED for rule in wanted}
    own = {rule.id for rule in rules().values() if not rule.reaches}
    assert own == planted - {"fuse-stays"}  # which is of the mains side, and comes along


@pytest.mark.parametrize(
    ("type_", "sheet", "told"),
    [
        ("EL84", "EL84 data sheet", "EL84, grid circuit of 300k with fixed bias and 1M with self"),
        ("PL84", "electron tube catalogue", "PL84, grid circuit of 1M with self bias at most"),
    ],
)
def test_a_grid_without_a_way_cites_the_sheet_of_its_valve(circuit, type_, sheet, told):
    text = changed(
        ("R6 resistor 470k V2.2 chassis", "# R6 away"),
        ("socket V2 B9A EL84", f"socket V2 B9A {type_}"),
    )
    (found,) = (v for v in judged(circuit(text)).violations if v.kind == "grid-leak")
    assert sheet in found.rule.source
    assert told in found.rule.source


@pytest.mark.parametrize("computed", [True, False])
@pytest.mark.parametrize(("value", "severity"), [("1M5", "damage"), ("4M7", "danger")])
def test_a_grid_resistor_ranks_the_same_with_and_without_power(punched, value, severity, computed):
    """On the grid of an output valve a difference is damage until something eases it."""
    swap = ("R6 resistor 470k V2.2 chassis", f"R6 resistor {value} V2.2 chassis")
    (line,) = punched(swap, consequences=computed).everything
    assert line.severity == severity
    assert "to the chassis, EL84 stands 1M with self bias" in line.why


BYPASS = "R5 resistor 1k5 V1.3 chassis"


@pytest.mark.parametrize("computed", [True, False])
def test_a_reversed_electrolytic_off_the_supplies_is_damage_with_and_without_power(
    punched, computed
):
    drawing, board = (
        changed((BYPASS, f"{BYPASS}\nC9 electrolytic 25u 25V {ends}"))
        for ends in ("V1.3 + chassis -", "V1.3 - chassis +")
    )
    (line,) = punched(drawing=drawing, board=board, consequences=computed).items
    assert (line.finding.kind, line.severity) == ("reversed", "damage")


@pytest.mark.parametrize(
    ("name", "ends"), [("C92", "TS1.1 + chassis -"), ("D1", "TS1.1 k TS1.2 a")]
)
def test_nothing_is_called_reversed_of_which_nobody_read_the_ends(circuit, name, ends):
    right = {"C92": "chassis + TS1.1 -", "D1": "TS1.1 a TS1.2 k"} | {name: ends}
    text = changed(
        METERED,
        (LEAK, ("strip TS1 4 tags\nR6 resistor 220k V2.2 TS1.1\nR93 resistor 15k TS1.1 chassis\n"
                f"C92 electrolytic 50u 50V {right['C92']}\nD1 diode 1N4007 {right['D1']}\n"
                "R92 resistor 150k TS1.2 T1.red1")),
    )  # fmt: skip
    read = circuit(text)
    part = replace(read.parts[name], unread=frozenset({"polarity"}))
    assert judged(read).violations
    assert not judged(read.but(parts={**read.parts, name: part})).violations


ECL = [
    ("socket V2 B9A EL84", "socket V2 B9A ECL86"),
    ("R4 resistor 100k V1.1 HT2", "R4 resistor 100k V1.1 HT2\nwire V2.4 T1.h0\nwire V2.2 chassis"),
    ("wire T1.h0 V2.4", "# heaters above"),
    ("wire V2.9 HT2", "R95 resistor 220k V2.9 HT2\nwire V2.3 HT2"),
    ("wire T2.blue V2.7", "wire T2.blue V2.6"),
    (
        "C1 capacitor 22n 630V V1.1 V2.2",
        "C1 capacitor 22n 630V V1.1 V2.8\nR96 resistor 10M V2.1 chassis",
    ),
    ("R6 resistor 470k V2.2 chassis", "R6 resistor 470k V2.8 chassis"),
    ("R7 resistor 180R 2W V2.3 chassis", "R7 resistor 180R 2W V2.7 chassis"),
]


@pytest.mark.parametrize(
    ("swaps", "wanted"),
    [
        ([], {}),
        (
            [("R7 resistor 180R 2W V2.7 chassis", "wire V2.7 chassis")],
            {"no-bias": ("danger", "V2 has its cathode on the chassis and no bias on V2.8")},
        ),
    ],
)
def test_the_small_triode_beside_an_output_pentode_is_none(circuit, swaps, wanted):
    """Its cathode may be on the chassis and its grid leak 10 megohms (ECL86: pins 2 and 1)."""
    text = changed(*ECL)
    for old, new in swaps:
        assert old in text
        text = text.replace(old, new)
    broken = {v.kind: (v.rule.severity, v.text) for v in judged(circuit(text)).violations}
    kinds = ("no-bias", "grid-leak", "grid-high")
    assert {kind: told for kind, told in broken.items() if kind in kinds} == wanted
