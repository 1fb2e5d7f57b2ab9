"""A small amplifier stage with one mistake of nearly every kind, its findings written by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from buzzout.circuit import (
    CHASSIS,
    Change,
    Circuit,
    Cut,
    Edit,
    Fit,
    Join,
    Move,
    Part,
    Point,
    Quantity,
    Remove,
    Rewire,
    Span,
    apply,
)
from buzzout.compare import Comparison, Finding, Matching, Proof
from buzzout.job import PunchList, punch_list
from buzzout.language import load
from buzzout.language.coverage import Coverage

REFERENCE = """\
reference "One stage and its supply"
socket V1 B9A ECC83
jack J1 tip sleeve
cord M1 L brown N blue
fuse F1 1A
transformer T1
winding T1 primary 0 230  0-230V
winding T1 ht red1 red2  0-250V
winding T1 heaters h1 h2  6.3V

R1 resistor 1M     V1.2 chassis
R2 resistor 100k   V1.1 HT1
R3 resistor 1k5    V1.3 chassis
C1 electrolytic 25u 25V   V1.3 + chassis -
C2 capacitor 22n 400V     V1.1 V1.7
R4 resistor 470k   V1.7 chassis
R5 resistor 100k   V1.6 HT1
R6 resistor 1k5    V1.8 chassis
D1 diode 1N4007    T1.red1 a HT1 k
C3 electrolytic 16u 450V  HT1 + chassis -
wire T1.red2 chassis
wire J1.tip V1.2
wire J1.sleeve chassis
wire M1.L F1.1
wire F1.2 T1.230
wire M1.N T1.0
heaters V1 from T1.h1 T1.h2
node HT1 R2.2
"""


def point(text: str) -> Point:
    owner, _, pin = text.partition(".")
    return Point(owner, pin)


@pytest.fixture(scope="session")
def drawing(tmp_path_factory: pytest.TempPathFactory) -> Circuit:
    path = tmp_path_factory.mktemp("report") / "stage.reference.buzz"
    path.write_text(REFERENCE)
    loaded = load(path)
    assert loaded.problems == ()
    return loaded.circuit


EXTRA = Part("@30", "resistor", ("1", "2"), Quantity(2.2e3, "ohm", text="2k2"))


def _undo(drawing: Circuit) -> tuple[tuple[Edit, ...], list[Finding]]:
    """What was done to the drawing to get the chassis, and the findings that undo it."""
    parts = drawing.parts
    wrong = replace(parts["R2"], value=Quantity(1e4, "ohm", text="10k"))
    right = parts["R2"]
    turned = (("+", "-"), ("-", "+"))
    exchanged = (("6", "8"), ("8", "6"))
    done: tuple[Edit, ...] = (
        Remove("R4"),
        Change("R2", wrong),
        Rewire("C1", turned),
        Move(point("C2.2"), point("V1.7"), point("V1.8")),
        Fit(EXTRA, (("1", point("V1.1")), ("2", CHASSIS))),
        Cut(point("M1.N"), point("T1.0")),
        Join(point("F1.2"), CHASSIS, "green"),
        Rewire("V1", exchanged),
    )
    ends = (("1", point("V1.7")), ("2", CHASSIS))

    def found(kind: str, parts: str, points: str, *remedy: Edit, line: int = 0) -> Finding:
        at = tuple(point(p) for p in points.split())
        spans = (Span("stage.found.buzz", line, 3, 9),) if line else ()
        return Finding(
            id=f"{kind}:{points.replace(' ', ':')}", kind=kind, parts=tuple(parts.split()),
            text=f"This is a {kind} at {' and '.join(map(str, at))}.", action="Put it right.",
            points=at, remedy=remedy, spans=spans, found=tuple(parts.split()),
        )  # fmt: skip

    findings = [
        found("part-missing", "R4", "V1.7 chassis", Fit(parts["R4"], ends)),
        found("value-wrong", "R2", "V1.1", Change("R2", right), line=12),
        found("reversed", "C1", "V1.3 chassis", Rewire("C1", turned), line=14),
        found("wrong-point", "C2", "V1.8 V1.7",
              Move(point("C2.2"), point("V1.8"), point("V1.7")), line=15),
        found("part-extra", "", "V1.1 chassis", Remove("@30"), line=30),
        found("connection-missing", "", "M1.N T1.0", Join(point("M1.N"), point("T1.0"))),
        found("bridge", "", "F1.2 chassis", Cut(point("F1.2"), CHASSIS), line=31),
        found("pins-exchanged", "V1", "V1.6 V1.8", Rewire("V1", exchanged)),
        found("not-verified", "R6", "V1.8", line=20),
        replace(found("better-rating", "C3", "HT1"), harmless=True, action=""),
    ]  # fmt: skip
    return done, findings


@pytest.fixture(scope="session")
def comparison(drawing: Circuit) -> Comparison:
    done, findings = _undo(drawing)
    chassis = replace(apply(drawing, done), kind="found", title="Stage, as received")
    repaired = apply(chassis, [e for f in reversed(findings) for e in f.remedy])
    parts = {name: (name,) for name in drawing.parts if name in chassis.parts}
    nodes = {
        node.index: tuple({chassis.node_of[p]: None for p in node.points if p in chassis.node_of})
        for node in drawing.nodes
    }
    proof = Proof(sufficient=True, minimal=True, cost=8, bound=8, steps=3)
    return Comparison(drawing, chassis, tuple(findings), proof, Matching(parts, nodes), repaired)


@pytest.fixture(scope="session")
def punch(comparison: Comparison) -> PunchList:
    coverage = Coverage(
        confirmed=30, once=2, contradictions=(), unmatched=(), unvisited=(point("V1.9"),),
        unread=(), unlooked=(comparison.found.parts["J1"],), unseen=(),
    )  # fmt: skip
    return punch_list(comparison, coverage)


@pytest.fixture(scope="session")
def numbers(punch: PunchList) -> dict[str, int]:
    return {item.finding.id: item.number for item in punch.items}
