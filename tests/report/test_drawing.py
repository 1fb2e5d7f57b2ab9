"""What the picture shows of a circuit and of the findings on it."""

from __future__ import annotations

import re
import subprocess
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from buzzout.circuit import CHASSIS, Circuit, Link, Part, Point, Quantity
from buzzout.compare import Comparison, Matching, Proof
from buzzout.report import drawing
from buzzout.report.drawing import render
from buzzout.report.drawing.labels import label, words
from buzzout.report.drawing.marks import marks
from buzzout.report.drawing.palette import LOOKS
from buzzout.report.drawing.sheet import sheet

SVG = "{http://www.w3.org/2000/svg}"


def texts(picture: str) -> list[str]:
    return [element.text or "" for element in ET.fromstring(picture).iter(f"{SVG}text")]


def shown(picture: str, number: int) -> list[ET.Element]:
    """The groups of the picture that show a finding."""
    groups = ET.fromstring(picture).iter(f"{SVG}g")
    return [g for g in groups if f"f{number}" in g.get("class", "").split()]


@pytest.fixture(scope="module")
def picture(comparison: Comparison, numbers: dict[str, int]) -> str:
    return drawing.svg(comparison.reference, comparison, numbers=numbers)


def test_every_part_is_named_with_its_value(drawing_: Circuit) -> None:
    found = texts(drawing.svg(drawing_))
    for name in ("R1", "C2", "T1", "F1", "M1", "V1a", "V1b", "J1"):
        assert name in found
    assert {"1M", "22n 400V", "25u 25V", "ECC83", "6 anode", "2 grid"} <= set(found)


@pytest.fixture(scope="module")
def drawing_(comparison: Comparison) -> Circuit:
    return comparison.reference


def test_chassis_and_supply_are_symbols_at_each_use(drawing_: Circuit) -> None:
    drawn = sheet(drawing_)
    assert drawn.symbols[drawing_.node(CHASSIS)] == "chassis"
    assert drawn.symbols[drawing_.node(Point("HT1"))] == "HT1"
    assert texts(drawing.svg(drawing_)).count("HT1") == 4  # R2, R5, D1, C3


def test_every_finding_is_shown_under_its_number(picture: str, numbers: dict[str, int]) -> None:
    for number in numbers.values():
        assert shown(picture, number), f"finding {number} is not in the picture"
        assert str(number) in texts(picture)


@pytest.mark.parametrize(
    ("kind", "words_"),
    [
        ("value-wrong", "found 10k, wants 100k"),
        ("part-missing", "missing"),
        ("part-extra", "too many"),
        ("reversed", "reversed"),
        ("not-verified", "not verified"),
        ("pins-exchanged", "6 and 8 exchanged"),
        ("better-rating", "better rating"),
    ],
)
def test_the_picture_says_what_is_wrong(picture: str, kind: str, words_: str) -> None:
    assert words_ in texts(picture), kind


def test_a_wrong_lead_is_drawn_where_it_is_and_where_it_belongs(
    comparison: Comparison, numbers: dict[str, int]
) -> None:
    laid = marks(sheet(comparison.reference), comparison, numbers)
    number = numbers["wrong-point:V1.8:V1.7"]
    assert laid.leads[Point("C2", "2")].number == number
    (wire,) = [w for w in laid.wires if w.mark.number == number]
    assert (wire.a, wire.b, wire.mark.look.name) == (Point("C2", "2"), Point("V1", "8"), "there")


def test_a_lost_connection_is_dashed_and_a_bridge_is_not(
    comparison: Comparison, numbers: dict[str, int]
) -> None:
    laid = marks(sheet(comparison.reference), comparison, numbers)
    lost = laid.leads[Point("M1", "N")]
    assert (lost.number, lost.look.line) == (numbers["connection-missing:M1.N:T1.0"], "dashed")
    bridges = [w.mark for w in laid.wires if w.mark.number == numbers["bridge:F1.2:chassis"]]
    assert [mark.look.name for mark in bridges] == ["there"]


def test_the_legend_explains_the_looks_in_use_and_no_others(
    picture: str, comparison: Comparison
) -> None:
    found = texts(picture)
    used = {name for name, look in LOOKS.items() if look.legend in found}
    assert used == set(LOOKS) - {"rule"}
    plain = texts(drawing.svg(comparison.reference))
    assert not any(look.legend in plain for look in LOOKS.values())


def test_looks_differ_in_more_than_colour() -> None:
    frames = {(look.line, look.width, look.name == "differs") for look in LOOKS.values()}
    assert len(frames) == len(LOOKS)


def test_surroundings_leave_out_what_is_no_neighbour_of_a_finding(
    comparison: Comparison,
) -> None:
    only = {f.id: 1 for f in comparison.findings if f.kind == "reversed"}
    near = texts(drawing.svg(comparison.reference, comparison, True, only))
    assert {"C1", "R3", "V1b"} <= set(near)
    assert not {"T1", "R4", "F1"} & set(near)
    assert "Only the surroundings of the findings are drawn." in near


def test_hidden_findings_are_not_drawn(comparison: Comparison) -> None:
    found = texts(drawing.svg(comparison.reference, comparison, numbers={}))
    assert "missing" not in found


def test_the_same_input_gives_the_same_bytes(
    comparison: Comparison, numbers: dict[str, int], picture: str
) -> None:
    first = drawing.dot_source(comparison.reference, comparison, numbers=numbers)
    assert drawing.dot_source(comparison.reference, comparison, numbers=numbers) == first
    assert drawing.svg(comparison.reference, comparison, numbers=numbers) == picture


def test_a_png_is_one(drawing_: Circuit) -> None:
    assert drawing.png(drawing_).startswith(b"\x89PNG\r\n\x1a\n")


def test_an_empty_circuit_is_a_picture_too() -> None:
    assert "Chassis and supply" in "".join(texts(drawing.svg(Circuit())))


HOSTILE = [
    "<b>R1</b>",
    "a\\Nb\\l",
    "\"quoted\" & 'more'",
    "]]>--><script>x()</script>",
    "a\x1b[31mb",
    "Ω µ ☃",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_whatever_a_name_holds_it_is_only_text(name: str) -> None:
    part = Part(name, "resistor", ("1", "2"), Quantity(1.0, "ohm", text=name))
    ends = (Point(name), CHASSIS)
    links = tuple(Link(p, end, "lead") for p, end in zip(part.points, ends, strict=True))
    circuit = Circuit("reference", name, "", {name: part}, links, (name,))
    picture = drawing.svg(circuit)
    wanted = "".join(c if c.isprintable() else " " for c in name)
    assert wanted in texts(picture)
    assert {re.sub(r"\{.*\}", "", e.tag) for e in ET.fromstring(picture).iter()} <= {
        "svg", "g", "polygon", "path", "text", "ellipse", "title", "polyline"
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "markup"),
    [("<&>", "&lt;&amp;&gt;"), ("\\n", "&#92;&#92;n"), ("", " "), ("a\nb", "a b"), ('"', "&quot;")],
)
def test_words_cannot_become_markup(text: str, markup: str) -> None:
    assert words(text) == markup
    assert label(text, 10).count("<TABLE") == 1


def test_the_carried_renderer_is_found_before_the_systems_own() -> None:
    assert "graphviz-pure" in render.renderer()


def test_a_renderer_that_gives_up_says_why(monkeypatch: pytest.MonkeyPatch) -> None:
    failed = subprocess.CompletedProcess([], 3, b"", b"no such thing")
    monkeypatch.setattr(subprocess, "run", lambda *_, **__: failed)
    with pytest.raises(drawing.NoRenderer, match="no such thing"):
        render.rendered("graph {", "svg")


def test_without_any_renderer_the_message_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    render.renderer.cache_clear()
    monkeypatch.setattr(render.shutil, "which", lambda *_, **__: None)
    with pytest.raises(drawing.NoRenderer, match="pip install graphviz-pure"):
        render.renderer()
    render.renderer.cache_clear()


def test_a_found_chassis_can_be_drawn_alone(comparison: Comparison) -> None:
    named = replace(comparison.found.parts["@30"], name="@30")
    assert "line 30" in texts(drawing.svg(comparison.found))
    assert named.anonymous


def test_tags_stand_at_the_lines_where_the_chassis_has_them(drawing_: Circuit) -> None:
    strip = Part("TS1", "strip", ("1", "2", "3"))
    wires = (Link(Point("TS1", "1"), Point("V1", "2")), Link(Point("TS1", "3"), CHASSIS))
    chassis = drawing_.but({**drawing_.parts, "TS1": strip}, (*drawing_.links, *wires))
    alone = texts(drawing.svg(chassis))
    assert "TS1.1" in alone
    assert not {"TS1.2", "TS1.3"} & set(alone), "empty and earthed tags tell nothing"
    nodes = {n.index: (chassis.node(n.points[0]),) for n in drawing_.nodes}
    told = Matching({name: (name,) for name in drawing_.parts}, nodes)
    proof = Proof(sufficient=True, minimal=True, cost=0, bound=0)
    same = Comparison(drawing_, chassis, (), proof, told, chassis)
    assert "TS1.1" in texts(drawing.svg(drawing_, same))
    assert "TS1.1" not in texts(drawing.svg(drawing_))
