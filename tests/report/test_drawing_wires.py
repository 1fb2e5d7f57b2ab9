"""A referee for the lines of the drawing: read from the paper, they are the circuit's nodes."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from buzzout.circuit import CHASSIS, KINDS, Circuit, Element, Link, Part, Point, joined
from buzzout.language import load
from buzzout.report.drawing.bands import Band, bands
from buzzout.report.drawing.canvas import Canvas, Pen, Spot
from buzzout.report.drawing.draw import _node
from buzzout.report.drawing.marks import Marks
from buzzout.report.drawing.sheet import sheet
from buzzout.report.drawing.stages import stages

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").rglob("*.reference.buzz"))


class Recorder(Canvas):
    """Paper that remembers the lines and dots instead of drawing them."""

    def __init__(self) -> None:
        super().__init__()
        self.lines: list[tuple[Spot, Spot]] = []
        self.dots: set[Spot] = set()

    def line(self, spots: list[Spot], pen: Pen | None = None) -> None:
        a, b = (_near(spot) for spot in spots)
        if a != b:
            self.lines.append((min(a, b), max(a, b)))

    def dot(self, at: Spot, pen: Pen | None = None) -> None:
        self.dots.add(_near(at))


def _near(spot: Spot) -> Spot:
    return round(spot[0], 1), round(spot[1], 1)


def laid_out(circuit: Circuit) -> list[Band]:
    drawn = sheet(circuit)
    return bands(drawn, stages(drawn), Marks())


def inside(spot: Spot, line: tuple[Spot, Spot]) -> bool:
    """Whether a spot is on a level or upright line, its ends not counted."""
    (x1, y1), (x2, y2) = line
    x, y = spot
    return (y1 == y == y2 and x1 < x < x2) or (x1 == x == x2 and y1 < y < y2)


def referee(band: Band) -> None:
    """Lines are level or upright, join only where a dot says so, and give the nodes back."""
    paper = Recorder()
    owner: list[int] = []
    for node in band.trunks:
        _node(paper, band, node, Marks())
        owner += [node] * (len(paper.lines) - len(owner))
    pairs = []
    for (a, first), (b, second) in combinations(enumerate(paper.lines), 2):
        touch = set(first) & set(second)
        on = [s for s in first if inside(s, second)] + [s for s in second if inside(s, first)]
        assert all(spot in paper.dots for spot in on), "a line ends on another without a dot"
        if touch or on:
            assert owner[a] == owner[b], "lines of two nodes meet"
            pairs.append((a, b))
    for a, b in paper.lines:
        assert a[0] == b[0] or a[1] == b[1], "a line runs at a slant"
    group_of = {
        line: number
        for number, group in enumerate(joined(range(len(paper.lines)), pairs))
        for line in group
    }
    compare_with_nodes(band, paper, group_of)


def compare_with_nodes(band: Band, paper: Recorder, group_of: dict[int, int]) -> None:
    drawn: dict[int, set[int]] = {}
    for placed in band.placed.values():
        for pin in placed.block.pins:
            node = band.sheet.circuit.node(pin.point)
            spot = _near(placed.spot(pin))
            at = {group_of[i] for i, line in enumerate(paper.lines) if spot in line}
            if node in band.sheet.symbols or len(band.sheet.ends[node]) < 2:
                continue
            assert len(at) == 1, f"{pin.point} is not wired"
            drawn.setdefault(node, set()).update(at)
    assert all(len(groups) == 1 for groups in drawn.values()), "a node is in two pieces"
    assert len({min(groups) for groups in drawn.values()}) == len(drawn), "two nodes are one"


def apart(band: Band) -> None:
    """No block lies on another, and no line runs through a block that it is not wired to."""
    rooms = {
        name: (p.at[0] - p.extent.left, p.at[0] + p.extent.right, band.levels.row[name])
        for name, p in band.placed.items()
    }
    for (l1, r1, row1), (l2, r2, row2) in combinations(rooms.values(), 2):
        assert row1 != row2 or r1 <= l2 or r2 <= l1
    for drop in band.drops:
        for name, (left, right, row) in rooms.items():
            through = drop.top <= 2 * row + 1 <= drop.bottom and left < drop.x < right
            assert name == drop.block or not through


def wired(parts: list[Part], ends: list[Point]) -> Circuit:
    """A circuit of parts whose terminals land on the given points, in order."""
    terminals = [point for part in parts for point in part.points]
    links = tuple(Link(t, e, "lead") for t, e in zip(terminals, ends, strict=False))
    names = tuple(dict.fromkeys(e.owner for e in ends if e != CHASSIS))
    return Circuit("reference", "", "", {p.name: p for p in parts}, links, names)


def some_parts(kinds: list[str]) -> Iterator[Part]:
    valves = {"triodes": "ECC83", "pentode": "EL84", "rectifier": "EZ81", "odd": "XX99"}
    for number, kind in enumerate(kinds):
        name = f"{kind}{number}"
        if kind in valves:
            pins = tuple("123456789")
            yield Part(name, "socket", pins, type=valves[kind], base="B9A")
        elif kind == "transformer":
            windings = (Element("winding", "a", ("0", "230")), Element("winding", "b", ("x", "y")))
            yield Part(name, kind, ("0", "230", "x", "y"), elements=windings)
        else:
            yield Part(name, kind, KINDS[kind].terminals or ("tip", "sleeve"))


KINDS_USED = ["triodes", "pentode", "rectifier", "odd", "transformer", "jack", "pot", "diode"]
SMALL = ["resistor", "capacitor", "electrolytic", "fuse", "switch", "lamp", "speaker"]


@st.composite
def circuits(draw: st.DrawFn) -> Circuit:
    kinds = draw(st.lists(st.sampled_from([*KINDS_USED, *SMALL, *SMALL]), min_size=1, max_size=24))
    parts = list(some_parts(kinds))
    names = [CHASSIS, Point("HT1"), *(Point(f"n{i}") for i in range(draw(st.integers(1, 20))))]
    count = sum(len(part.terminals) for part in parts)
    return wired(parts, draw(st.lists(st.sampled_from(names), min_size=count, max_size=count)))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.parent.name)
def test_examples_read_back_from_the_paper(path: Path) -> None:
    for band in laid_out(load(path).circuit):
        referee(band)
        apart(band)


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(circuits())
def test_any_circuit_reads_back_from_the_paper(circuit: Circuit) -> None:
    for band in laid_out(circuit):
        referee(band)
        apart(band)


def chain(stages_: int) -> Circuit:
    """Triodes one after the other, seven parts to a stage."""
    parts: list[Part] = []
    ends: list[Point] = []
    for i in range(stages_):
        grid, anode, cathode = (Point(f"{name}{i}") for name in "gak")
        parts += some_parts(["triodes"])
        parts[-1] = Part(f"V{i}", "socket", tuple("123456789"), type="ECC83", base="B9A")
        idle = [Point(f"idle{i}-{n}") for n in range(6)]
        ends += [anode, grid, cathode, *idle]
        before = Point(f"a{i - 1}") if i else Point("in")
        small = (
            ("C", "capacitor", before, grid),
            ("Rg", "resistor", grid, CHASSIS),
            ("Ra", "resistor", Point("HT1"), anode),
            ("Rk", "resistor", cathode, CHASSIS),
            ("Ck", "electrolytic", cathode, CHASSIS),
            ("Rf", "resistor", anode, cathode),
        )
        for name, kind, a, b in small:
            parts.append(Part(f"{name}{i}", kind, KINDS[kind].terminals))
            ends += [a, b]
    return wired(parts, ends)


def test_a_set_of_a_hundred_and_fifty_parts_is_drawn_in_rows_that_fit_on_paper() -> None:
    drawn = laid_out(chain(22))
    assert len(drawn) >= 3
    assert max(band.right for band in drawn) < 3200
    for band in drawn:
        referee(band)
        apart(band)


def test_stages_follow_the_signal() -> None:
    drawn = stages(sheet(chain(5)))
    named = [stage.name for stage in drawn if stage.name.startswith("V") and "b" in stage.name]
    assert named == sorted(named)
