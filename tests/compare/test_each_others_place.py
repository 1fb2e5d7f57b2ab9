"""Controls, cans and coils in each other's place: by their wiring, or by what is inside."""

from __future__ import annotations

from pathlib import Path

import pytest

from buzzout.compare import Comparison, compare
from buzzout.language import load

SHELF = """connector SK1 8 pins
pot P1 500k log
pot P2 {p2} {law}
can C1 red 32u 450V yellow 16u 450V
can C2 red {c2} 450V yellow 8u 450V
transformer L1
winding L1 tuned g b 95uH dot g
winding L1 reaction r p 12uH dot r
transformer L2
winding L2 tuned g b {l2} dot g
winding L2 reaction r p 60uH dot r
"""
PARTS = """resistor 100k P1.cw SK1.1
resistor 220k P2.cw SK1.2
capacitor 22n P1.wiper SK1.3
capacitor 47n P2.wiper SK1.4
wire P1.ccw chassis
wire P2.ccw chassis
wire C1.red SK1.5
resistor 1k5 C1.red C1.yellow
wire C2.red SK1.6
resistor 2k2 C2.red C2.yellow
wire C1.can chassis
wire C2.can chassis
capacitor 100p L1.g L1.b
capacitor 330p L2.g L2.b
wire L1.r SK1.7
wire L2.r SK1.8
wire L1.b chassis
wire L2.b chassis
resistor 47k L1.p chassis
resistor 68k L2.p chassis
"""
INSIDE = {"p2": "1M", "law": "lin", "c2": "50u", "l2": "480uH"}


def compared(folder: Path, shelf: str, parts: str) -> Comparison:
    named = "\n".join(
        line if line.startswith("wire") else f"{line[0].upper()}{n + 50} {line}"
        for n, line in enumerate(PARTS.splitlines())
    )
    drawn = f'reference "A shelf"\n{SHELF.format(**INSIDE)}{named}\n'
    (folder / "shelf.reference.buzz").write_text(drawn, encoding="utf-8")
    found = f'found "As it came"\nof "shelf.reference.buzz"\n{shelf}{parts}'
    (folder / "shelf.found.buzz").write_text(found, encoding="utf-8")
    drawing = load(folder / "shelf.reference.buzz")
    chassis = load(folder / "shelf.found.buzz", drawing.circuit)
    assert not [str(p) for p in (*drawing.problems, *chassis.problems) if p.level == "error"]
    return compare(drawing.circuit, chassis.circuit)


def told(result: Comparison) -> list[str]:
    assert result.proof.sufficient, result.proof.why
    assert result.proof.minimal
    return [" ".join((f.kind, *f.parts)) for f in result.findings if not f.harmless]


def exchanged(text: str, a: str, b: str, mark: str = ".") -> str:
    for old, new in ((a, "@"), (b, a), ("@", b)):
        text = text.replace(f"{old}{mark}", f"{new}{mark}")
    return text


PAIRS = [("P1", "P2"), ("C1", "C2"), ("L1", "L2")]


@pytest.mark.parametrize(("a", "b"), PAIRS)
def test_wiring_of_two_alike_on_each_other_is_one_mistake(tmp_path, a, b):
    result = compared(tmp_path, SHELF.format(**INSIDE), exchanged(PARTS, a, b))
    assert told(result) == [f"wiring-exchanged {a} {b}"]
    assert result.findings[0].text == f"{a} and {b} are wired in each other's place."


@pytest.mark.parametrize(("a", "b"), PAIRS)
def test_two_alike_with_the_figures_of_each_other_are_one_mistake(tmp_path, a, b):
    lines = SHELF.format(**INSIDE).splitlines(keepends=True)
    shelf = "".join(
        sorted(
            (exchanged(line, a, b, " ") for line in lines), key=lambda x: x.startswith("winding")
        )
    )
    result = compared(tmp_path, shelf, PARTS)
    assert told(result) == [f"values-exchanged {a} {b}"]
    assert result.proof.cost == 1


@pytest.mark.parametrize(("a", "b"), PAIRS)
def test_wiring_and_figures_of_each_other_are_a_matter_of_names(tmp_path, a, b):
    lines = SHELF.format(**INSIDE).splitlines(keepends=True)
    exchanged_lines = (exchanged(line, a, b, " ") for line in lines)
    shelf = "".join(sorted(exchanged_lines, key=lambda x: x.startswith("winding")))
    result = compared(tmp_path, shelf, exchanged(PARTS, a, b))
    assert told(result) == [f"names-exchanged {a} {b}"]
    assert result.proof.cost == 1


def test_wrong_figures_that_are_not_each_others_stay_two(tmp_path):
    inside = {**INSIDE, "p2": "2M2", "l2": "47uH"}
    result = compared(tmp_path, SHELF.format(**inside), PARTS)
    assert sorted(told(result)) == ["value-wrong L2", "value-wrong P2"]


VALVES = """reference "Two valves"
connector SK1 4 pins
socket V2 B9A ECC83
socket V1 B9A ECC81
R1 resistor 100k V1.1 SK1.3
R2 resistor 220k V2.1 SK1.3
R3 resistor 1k5 V1.3 chassis
R4 resistor 2k2 V2.3 chassis
C1 capacitor 22n V1.1 V2.2
R5 resistor 1M V2.2 chassis
R6 resistor 470k V1.2 chassis
wire SK1.1 V1.2
"""


@pytest.mark.parametrize(
    ("one", "two", "kinds"),
    [
        ("ECC81", "ECC83", ["sockets-exchanged"]),
        ("ECC83", "ECC81", ["names-exchanged"]),
        ("EL84", "ECC81", ["sockets-exchanged", "wrong-valve", "wrong-valve"]),
    ],
)
def test_sockets_wired_as_each_other_and_the_valves_in_them(tmp_path, one, two, kinds):
    (tmp_path / "v.reference.buzz").write_text(VALVES, encoding="utf-8")
    parts = [line.split(" ", 1)[1] for line in VALVES.splitlines() if line[0] in "RC"]
    lines = ['found "As it came"', 'of "v.reference.buzz"', "connector SK1 4 pins"]
    lines += [f"fitted V1 {one}", f"fitted V2 {two}", "wire SK1.1 V2.2"]
    lines += [exchanged(line, "V1", "V2") for line in parts]
    (tmp_path / "v.found.buzz").write_text("\n".join(lines) + "\n", encoding="utf-8")
    drawing = load(tmp_path / "v.reference.buzz").circuit
    result = compare(drawing, load(tmp_path / "v.found.buzz", drawing).circuit)
    assert result.proof.sufficient, result.proof.why
    assert sorted(f.kind for f in result.findings if f.kind != "not-verified") == kinds
