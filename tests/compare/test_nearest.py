"""Which two points a missing wire is told with, and which wires could have been meant for it."""

from __future__ import annotations

from pathlib import Path

from buzzout.compare import Comparison, compare
from buzzout.language import load

DRAWN = """reference "An amplifier's first valve"
cord M1 L N E
bond PE1
transformer T1
winding T1 primary 0 230 230V
winding T1 heater h1 h2 6.3V
socket V1 B9A EF89
connector SK1 3 pins
R1 resistor 100k V1.7 SK1.3
R2 resistor 1M V1.2 chassis
C1 capacitor 10n SK1.1 V1.2
wire M1.L T1.0
wire M1.N T1.230
wire M1.E PE1
wire T1.h1 V1.4
wire T1.h2 V1.5
wire V1.5 V1.1 chassis
"""
FOUND = """found "As it came"
of "amp.reference.buzz"
strip TS1 4 tags earthed 2
at M1.L
  wire brown to T1.0
at M1.N
  wire blue to T1.230
at V1.7
  resistor 100k to SK1.3
at V1.2
  resistor 1M to TS1.2
  capacitor 10n to SK1.1
at T1.h1
  wire white to V1.4
at T1.h2
  wire white to V1.5
"""
EARTHED = "at V1.1\n  wire bare to chassis\n"
EARTH = "at M1.E\n  wire green/yellow to PE1\n"
STRAY = "at SK1.3\n  wire bare to TS1.2\n"


def told(folder: Path, *more: str) -> list[str]:
    (folder / "amp.reference.buzz").write_text(DRAWN, encoding="utf-8")
    (folder / "amp.found.buzz").write_text(FOUND + "".join(more), encoding="utf-8")
    drawing, found = load(folder / "amp.reference.buzz"), folder / "amp.found.buzz"
    chassis = load(found, drawing.circuit)
    assert not [p for p in (*drawing.problems, *chassis.problems) if p.level == "error"]
    result: Comparison = compare(drawing.circuit, chassis.circuit)
    assert result.proof.sufficient, result.proof.why
    assert result.proof.minimal
    return [f.text for f in result.findings if not f.harmless]


def test_a_wire_is_missing_between_the_points_of_the_drawing(tmp_path: Path) -> None:
    """The EF89 joins pin 1 with others inside; a bare pin is no place for a meter or an iron."""
    assert told(tmp_path, EARTH, EARTHED) == [
        "V1.1 and V1.5 are not joined; the drawing joins them."
    ]


def test_no_stray_wire_was_meant_to_be_the_earth_of_the_mains_lead(tmp_path: Path) -> None:
    """The earth hangs in the air, and HT is on the chassis: two errors, each told as itself."""
    joined = "at V1.5\n  wire bare to V1.1\n"
    texts = told(tmp_path, EARTHED, joined, STRAY)
    assert texts == [
        "The bare wire from SK1.3 to TS1.2 joins what should be apart.",
        "M1.E and PE1 are not joined; the drawing joins them.",
    ]
