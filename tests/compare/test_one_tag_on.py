"""A lead or wire one tag beside where it belongs, and a wire that is gone from a tag."""

from __future__ import annotations

from pathlib import Path

import pytest

from buzzout.compare import compare
from buzzout.language import load

PARTS = """R1 resistor 1M V1.2 chassis
R2 resistor 100k V1.1 {ht}
R3 resistor 1k5 V1.3 chassis
R4 resistor 22k {ht} {supply}
C1 electrolytic 25u V1.3 + chassis -
C2 capacitor 22n V1.1 SK1.2
C3 electrolytic 16u {ht} + chassis -
wire {wire} SK1.3
wire SK1.1 V1.2
"""
SHELF = "socket V1 B9A ECC83\nconnector SK1 3 pins\n"
STRIP = "strip TS1 8 tags earthed 2\n"
NAMED = f"{SHELF}{STRIP}{PARTS.format(ht='TS1.3', supply='TS1.4', wire='TS1.4')}"
UNNAMED = f"{SHELF}node HT\n{PARTS.format(ht='HT', supply='SK1.3', wire='SK1.3')}".replace(
    "wire SK1.3 SK1.3\n", ""
)
FOUND = """resistor 1M V1.2 chassis
resistor 100k V1.1 TS1.3
resistor 1k5 V1.3 chassis
resistor 22k TS1.3 TS1.4
electrolytic 25u V1.3 + chassis -
capacitor 22n V1.1 SK1.2
electrolytic 16u TS1.3 + chassis -
wire TS1.4 SK1.3
wire SK1.1 V1.2
"""


def told(folder: Path, drawn: str, old: str, new: str) -> list[str]:
    (folder / "a.reference.buzz").write_text(f'reference "A stage"\n{drawn}', encoding="utf-8")
    assert old in FOUND
    head = f'found "As it came"\nof "a.reference.buzz"\n{STRIP}fitted V1 ECC83\n'
    (folder / "a.found.buzz").write_text(head + FOUND.replace(old, new), encoding="utf-8")
    drawing = load(folder / "a.reference.buzz")
    chassis = load(folder / "a.found.buzz", drawing.circuit)
    assert not [p for p in (*drawing.problems, *chassis.problems) if p.level == "error"]
    result = compare(drawing.circuit, chassis.circuit)
    assert result.proof.sufficient, result.proof.why
    assert result.proof.cost == 1
    return [f.text for f in result.findings if not f.harmless and f.kind != "not-verified"]


@pytest.mark.parametrize("drawn", [NAMED, UNNAMED], ids=["tags drawn", "tags not drawn"])
@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("22k TS1.3 TS1.4", "22k TS1.2 TS1.4", "lands on TS1.2; it belongs on TS1.3."),
        ("wire TS1.4 SK1.3", "wire TS1.5 SK1.3", "wire from SK1.3 lands on TS1.5; it belongs on"),
        ("16u TS1.3 +", "16u TS1.6 +", ""),
    ],
    ids=["on the earthed tag", "wire one tag on", "three tags on"],
)
def test_a_slip(tmp_path, drawn, old, new, words):
    """Three tags on it is a slip where the drawing names the tags, and else a wire that is gone."""
    (text,) = told(tmp_path, drawn, old, new)
    gone = "TS1.3 and TS1.6 are not joined; the drawing joins them."
    slipped = "lands on TS1.6; it belongs on TS1.3."
    assert (words or (slipped if drawn == NAMED else gone)) in text


def test_a_lead_with_a_dead_wire_lost_a_wire(tmp_path):
    """R4 and a wire to the next tag, and nothing else: what joined them to SK1.3 is gone."""
    (text,) = told(tmp_path, UNNAMED, "wire TS1.4 SK1.3\n", "wire TS1.4 TS1.5\n")
    assert text == "TS1.4 and SK1.3 are not joined; the drawing joins them."


def test_two_parts_on_the_next_tag_lost_a_wire(tmp_path):
    """Two slips of one tag would be two mistakes."""
    old = "22k TS1.3 TS1.4\nelectrolytic 25u V1.3 + chassis -\ncapacitor 22n V1.1 SK1.2\n"
    old += "electrolytic 16u TS1.3 +"
    (text,) = told(tmp_path, UNNAMED, old, old.replace("TS1.3", "TS1.5"))
    assert text == "TS1.3 and TS1.5 are not joined; the drawing joins them."
