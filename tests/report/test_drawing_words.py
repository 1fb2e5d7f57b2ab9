"""Everything that the language can say is drawn; no word lies on another or leaves its block."""

from __future__ import annotations

import importlib.util
import tempfile
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from buzzout.circuit import Circuit, Cut, Edit, Join, Move, Point, Remove, apply
from buzzout.compare import Comparison, Finding, Matching, Proof
from buzzout.language import load
from buzzout.report.drawing import dot_source
from buzzout.report.drawing.bands import Band, bands
from buzzout.report.drawing.canvas import INK, Canvas, Pen, Spot
from buzzout.report.drawing.curves import bowed
from buzzout.report.drawing.draw import draw_bands, draw_tags
from buzzout.report.drawing.ink import Placed, draw
from buzzout.report.drawing.labels import wide
from buzzout.report.drawing.marks import Marks, marks
from buzzout.report.drawing.overlay import draw_overlay
from buzzout.report.drawing.rooms import BOLD
from buzzout.report.drawing.sheet import sheet
from buzzout.report.drawing.stages import stages

TESTS = Path(__file__).parents[1]
EXAMPLES = sorted((TESTS.parent / "examples").rglob("*.reference.buzz"))
Box = tuple[float, float, float, float]

EVERYTHING = """\
reference "Every statement of the language"
mains 230 V 50 Hz region UK
default resistor 10% 0.5W
default capacitor 20% 400V
socket V1 B9A ECC83 or 7025
socket V2 octal 5Y3GT
socket V3 B9A EF80
socket V4 B9A ECH81
socket V5 B9A EABC80
socket V6 octal 6K8
socket V7 B9A
socket V8 octal 85A2X
pot P1 500k log
pot P2 1M log tapped
pot P3 500k lin ganged tapped
pot P4 1M log switched
pot P5 1M log double-switched
switch S1 on-off
switch S2 2 poles 3 ways set 1
switch S3 6 poles 5 ways
switch S4 2 poles 1 ways
jack J1 tip sleeve break
jack J2 tip ring sleeve break break-ring
transformer T1
winding T1 primary 0 210 230   0-210-230V  dcr 20R+3R
winding T1 ht red1 red/yellow red2   270-0-270V 80mA  dcr 120R+125R
winding T1 heaters h1 h2   6.3V 3A
transformer T2
winding T2 primary    blue red brown   load 8k  dcr 120R+135R  dot blue
winding T2 secondary  0 15             load 15R dcr 0.6R       dot 15
transformer T3
winding T3 tuned 1 2 190uH
choke  L1 10H 200R 80mA
can    C20 square 32u 450V  triangle 16u 450V
can    C21 black 50u 25V
fuse   F1 1A slow
lamp   PL1 6.3V 0.3A
speaker LS1 15R
speaker LS2 3R field 1k
connector SK1 4 pins
cord   M1 L brown N blue E green/yellow
bond   PE1
R1  resistor      1M 0.5W      J1.tip  chassis
R2  resistor      100k 1W 5% wirewound note "hot"     V1.1    HT1
R3  resistor bands brown black yellow silver reads 118k  V1.6 HT1
R4  resistor 22k reads 9k1 in-circuit V1.7 chassis optional
R5  resistor unread V1.8 chassis unsure
C1  capacitor 22n 400V V1.1 P1.cw
C2  electrolytic  25u 25V      V1.3 +  chassis -
C3  capacitor marked "103K" V3.2 P2.tap
C4  capacitor 490p variable T3.1 T3.2
D1  diode         1N4007       T1.red1 a  C20.square k
B1  bridge        T1.red1 ~  T1.red2 ~  C20.square +  chassis -
L2  inductor 190uH dcr 3R V4.2 chassis
TH1 thermistor 1k M1.N F1.1
N1  neon M1.L M1.N
wire V1.2 J1.tip
wire green/yellow M1.E PE1
wire bare V3.1 V3.3 P3.wiper2
node HT1  C20.square  V2.8
heaters V1 V3 V4 from T1.h1 T1.h2
expect V1.1 168 V meter 20k/V mains 230 V
block STAGE in out ht
  Ra resistor 100k out ht
  Rg resistor 1M   in  chassis
end
use STAGE as left in V5.8 out V5.9 ht HT1
"""


class Recorder(Canvas):
    """Paper that remembers its words with the room they take."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[tuple[str, Box]] = []

    def text(  # noqa: PLR0913 - as on paper
        self, at: Spot, text: str, align: str = "middle", size: float = 10,
        *, bold: bool = False, colour: str = "",
    ) -> None:  # fmt: skip
        room = wide(text, size) * (BOLD if bold else 1.0)
        left = at[0] - {"start": 0.0, "end": room}.get(align, room / 2)
        self.words.append((text, (left, at[1] - size / 2, left + room, at[1] + size / 2)))


class Flagged(Recorder):
    """Paper that remembers the flags of findings as well."""

    def __init__(self) -> None:
        super().__init__()
        self.flags: list[Box] = []

    def box(
        self, a: Spot, b: Spot, pen: Pen = INK, fill: str = "", *, rounded: bool = False
    ) -> None:  # fmt: skip
        if pen.classes and b[1] - a[1] == 16:
            self.flags.append((*a, *b))


def circuit_of(text: str, folder: Path) -> Circuit:
    path = folder / "it.buzz"
    path.write_text(text, encoding="utf-8")
    loaded = load(path)
    assert loaded.ok, [p.message for p in loaded.problems]
    return loaded.circuit


def laid_out(circuit: Circuit) -> list[Band]:
    drawn = sheet(circuit)
    return bands(drawn, stages(drawn), Marks())


def words_are_apart(circuit: Circuit) -> None:
    for band in laid_out(circuit):
        paper = Recorder()
        draw_bands(paper, [band], Marks())
        for (one, a), (other, b) in combinations(paper.words, 2):
            assert not overlap(a, b), f"{one!r} lies on {other!r}"
        for placed in band.placed.values():
            words_stay_inside(band, placed)


def words_stay_inside(band: Band, placed: Placed) -> None:
    paper = Recorder()
    draw(paper, placed, band.symbol_of, {})
    left, top, right, bottom = placed.room
    for text, box in paper.words:
        inside = left <= box[0] and box[2] <= right + 2 and top <= box[1] and box[3] <= bottom
        assert inside, f"{text!r} leaves {placed.block.id}"


def overlap(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def words(circuit: Circuit) -> list[str]:
    paper = Recorder()
    draw_bands(paper, laid_out(circuit), Marks())
    return [text for text, _box in paper.words]


@cache
def loaded_everything() -> Circuit:
    with tempfile.TemporaryDirectory() as folder:
        return circuit_of(EVERYTHING, Path(folder))


@pytest.fixture
def everything() -> Circuit:
    return loaded_everything()


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name)
def test_no_word_lies_on_another_in_the_examples(path: Path) -> None:
    words_are_apart(load(path).circuit)


def test_every_kind_of_furniture_with_every_option_is_drawn(everything: Circuit) -> None:
    told = " ".join(words(everything))
    for part in everything.parts.values():
        undrawn = part.kind in ("strip", "board", "bond")
        assert undrawn or part.name in told, part.name
    words_are_apart(everything)


@pytest.mark.parametrize(
    "wanted",
    [
        "primary 0-210-230V",
        "ht 270-0-270V 80mA",
        "primary for 8k",
        "blue •",
        "tuned 190uH",
        "32u 450V",
        "C20 triangle",
        "10H 80mA 200R",
        "P4 switch",
        "P5 switch 2",
        "P3 gang 2",
        "S2a",
        "LS2 field",
        "set to 1",
        "7 mixer-grid",
    ],
)
def test_what_is_inside_of_furniture_is_told(tmp_path: Path, wanted: str) -> None:
    poles = "R90 resistor 1k S2.a chassis\nR91 resistor 1k S3.c1 S3.d\n"
    assert wanted in words(circuit_of(EVERYTHING + poles, tmp_path))


def generator() -> Any:
    """The drawings that the language room makes up for its own tests."""
    path = TESTS / "language" / "test_round_trip.py"
    spec = importlib.util.spec_from_file_location("round_trip_of_the_language", path)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.drawings()


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_no_circuit_that_loads_makes_the_drawing_fail(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    circuit = circuit_of(data.draw(generator()), tmp_path_factory.mktemp("any"))
    assert dot_source(circuit).startswith("graph")
    words_are_apart(circuit)


def test_no_flag_covers_a_word_or_another_flag(
    comparison: Comparison, numbers: dict[str, int]
) -> None:
    laid = marks(sheet(comparison.reference), comparison, numbers)
    drawn = sheet(apply(comparison.reference, laid.extra))
    every = bands(drawn, stages(drawn), laid)
    paper = Flagged()
    draw_bands(paper, every, laid)
    nodes = comparison.reference.nodes
    tags = {node.points[0]: (f"TS1.{number}",) for number, node in enumerate(nodes, 1)}
    beside = draw_tags(paper, every, tags)
    draw_overlay(paper, every, laid, beside)
    assert beside
    told = {str(number) for number in numbers.values()}
    words_ = [(text, box) for text, box in paper.words if text not in told]
    assert len(paper.flags) >= len(numbers)
    for flag, other in combinations(paper.flags, 2):
        assert not overlap(flag, other)
    for flag in paper.flags:
        assert [text for text, box in words_ if overlap(flag, box)] == []


def test_a_line_bows_round_a_word_rather_than_over_it() -> None:
    """The least bow would pass over the word; a word that fills all ways is crossed anyhow."""
    a, b = (0.0, 0.0), (300.0, 0.0)
    middle = bowed(a, b, []).at(0.5)
    word = (middle[0] - 20, middle[1] - 5, middle[0] + 20, middle[1] + 5)
    assert bowed(a, b, [word]).at(0.5) != middle
    way = [bowed(a, b, [], [word]).at(i / 100) for i in range(101)]
    assert not any(word[0] < x < word[2] and word[1] < y < word[3] for x, y in way)
    everywhere = (-999.0, -999.0, 999.0, 999.0)
    assert bowed(a, b, [], [everywhere]).at(0.5) == middle


def edit_of(circuit: Circuit, how: int, first: int, second: int, third: int) -> Edit:
    """Any change of the wiring between any points, drawn or not."""
    points = circuit.points
    ends = [p for p in points if p.pin]
    small = [p.name for p in circuit.parts.values() if not p.furniture]
    a, b = points[first % len(points)], points[second % len(points)]
    terminal = ends[third % len(ends)]
    return (Join(a, b), Cut(a, b), Move(terminal, a, b), Remove(small[first % len(small)]))[how]


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(st.tuples(st.integers(0, 3), *[st.integers(0, 999)] * 3), min_size=1, max_size=6))
def test_a_finding_about_any_point_can_be_drawn(
    drawn_by_lot: list[tuple[int, int, int, int]],
) -> None:
    everything = loaded_everything()  # no fixture: its text would fill a page
    findings = tuple(
        Finding(id=f"f{i}", kind="bridge", text="", remedy=(edit_of(everything, *lot),))
        for i, lot in enumerate(drawn_by_lot, 1)
    )
    matching = Matching(
        {name: (name,) for name in everything.parts},
        {n.index: (n.index,) for n in everything.nodes},
    )
    proof = Proof(sufficient=True, minimal=True, cost=1, bound=1)
    told = Comparison(everything, everything, findings, proof, matching, everything)
    whole = dot_source(everything, told)
    drawn = frozenset(sheet(everything).pin_at)
    assert all(f"finding f{i}" in whole for i, f in enumerate(findings, 1) if shows(f, drawn))
    assert dot_source(everything, told, only_findings=True).startswith("graph")


def shows(finding: Finding, drawn: frozenset[Point]) -> bool:
    """Whether a finding has something to draw: two points with a place, or a part."""
    (edit,) = finding.remedy
    if isinstance(edit, Join | Cut):
        return edit.a != edit.b and {edit.a, edit.b} <= drawn
    return isinstance(edit, Remove)
