"""Empty holders, contacts of a jack, sections of a can, leads in the air."""

import pytest

import buzzout
from buzzout.language import load

DRAWING = """\
reference "small"
socket V1 B9A ECC83
fuse F1 1A slow
jack J1 tip sleeve break
can C20 square 32u 450V triangle 16u 450V
connector X1 6 pins
R1 resistor 100k V1.1 X1.1
C1 electrolytic 25u 25V V1.3 + chassis -
wire F1.1 X1.2
wire F1.2 X1.3
wire J1.tip V1.2
wire J1.break X1.4
wire J1.sleeve chassis
wire C20.square X1.5
wire C20.triangle X1.6
wire C20.can chassis
"""
CHASSIS = (
    DRAWING.replace('reference "small"', 'found "small"\nof "it.reference.buzz"\nfitted V1 ECC83')
    .replace("socket V1 B9A ECC83\n", "")
    .replace("R1 ", "")
    .replace("C1 ", "")
)


@pytest.fixture
def findings(tmp_path):
    def _findings(text):
        (tmp_path / "it.reference.buzz").write_text(DRAWING, encoding="utf-8")
        (tmp_path / "it.found.buzz").write_text(text, encoding="utf-8")
        drawing = load(tmp_path / "it.reference.buzz").sound().circuit
        chassis = load(tmp_path / "it.found.buzz", drawing).sound().circuit
        told = buzzout.compare(drawing, chassis)
        assert told.proof.sufficient
        return [(f.kind, f.parts, f.text) for f in told.findings]

    return _findings


def test_as_drawn(findings):
    assert findings(CHASSIS) == []


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("F1", "F1: its holder is empty."),
        ("V1", "V1: its socket is empty; an ECC83 belongs in it."),
        ("C20", "C20: it is not there."),
    ],
)
def test_nothing_fitted(findings, name, words):
    text = CHASSIS.replace("fitted V1 ECC83\n", "") if name == "V1" else CHASSIS
    assert findings(f"{text}fitted {name} none\n") == [("part-missing", (name,), words)]


def test_tip_and_break_are_not_the_same(findings):
    text = CHASSIS.replace("J1.tip V1.2", "J1.break V1.2").replace("J1.break X1.4", "J1.tip X1.4")
    told = findings(text)
    assert len(told) == 1
    assert told[0][0] not in ("turned", "sections-exchanged")


def test_leads_of_two_unlike_sections(findings):
    text = CHASSIS.replace("square X1.5", "triangle X1.5").replace("triangle X1.6", "square X1.6")
    assert [told[:2] for told in findings(text)] == [("sections-exchanged", ("C20",))]


def test_a_lead_in_the_air_is_told_by_its_part(findings):
    text = CHASSIS.replace("V1.3 + chassis -", "V1.3 + air -")
    ((kind, _, words),) = findings(text)
    assert kind == "connection-missing"
    assert words.startswith("The - lead of the 25u electrolytic")
    assert "@" not in words
