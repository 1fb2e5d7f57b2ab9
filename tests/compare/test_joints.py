"""Joints in mid-air that are known only by a lead in them, and parts of another kind astray."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

import pytest
from compare_stage import chassis, drawing, point
from hypothesis import given, settings
from hypothesis import strategies as st

from buzzout.circuit import CHASSIS, Change, Circuit, Edit, Fit, Link, Move, Part, Point, apply
from buzzout.circuit import parse as quantity
from buzzout.compare import Comparison, compare
from buzzout.compare.joints import jointed

ENDS = ("1", "2")
STAR = Point("JOINT1")


def small(name: str, kind: str, value: str) -> Part:
    return Part(name, kind, ENDS, value=quantity(value, "ohm" if kind == "resistor" else "F"))


R20, R21, C20 = (
    small("R20", "resistor", "10k"),
    small("R21", "resistor", "22k"),
    small("C20", "capacitor", "47n"),
)


def drawn() -> Circuit:
    """A star of three between V2.6, V2.7 and V1.8."""
    return apply(
        drawing(),
        [
            Fit(R20, (("1", point("V2.6")), ("2", STAR))),
            Fit(R21, (("1", STAR), ("2", point("V2.7")))),
            Fit(C20, (("1", STAR), ("2", point("V1.8")))),
        ],
    )


def wired(*slips: Edit, far: str = "V2.6") -> Circuit:
    """The star twisted on lead 2 of R20, whose other end lands `far`."""
    star = R20.point("2")
    board = apply(
        chassis(),
        [
            Fit(R21, (("1", star), ("2", point("V2.7")))),
            Fit(C20, (("1", star), ("2", point("V1.8")))),
            *slips,
        ],
    )
    own = Link(R20.point("1"), point(far), "lead")
    return board.but({**board.parts, "R20": R20}, (*board.links, own))


def told(result: Comparison) -> list[str]:
    assert result.proof.sufficient, result.proof.why
    assert result.proof.minimal
    return [f.text for f in result.findings if not f.harmless]


def test_leads_twisted_in_mid_air_are_a_joint() -> None:
    assert told(compare(drawn(), wired())) == []


STRAY = small("R22", "resistor", "1k")
WRONG: list[tuple[Sequence[Edit], str, str]] = [
    (
        (),
        "V2.7",
        "One lead of R20 (10k resistor between V2.7 and R20-2) lands on V2.7; it belongs on V2.6.",
    ),
    (
        (Fit(STRAY, (("1", R20.point("2")), ("2", CHASSIS))),),
        "V2.6",
        "R22 (1k resistor) is not on the drawing.",
    ),
    (
        (Move(R21.point("1"), R20.point("2"), point("V2.8")),),
        "V2.6",
        "One lead of R21 (22k resistor between V2.8 and V2.7) lands on V2.8; it belongs on R20-2.",
    ),
]


@pytest.mark.parametrize(("slips", "far", "text"), WRONG)
def test_each_lead_of_a_joint_can_be_lifted(slips: Sequence[Edit], far: str, text: str) -> None:
    assert told(compare(drawn(), wired(*slips, far=far))) == [text]


def test_the_lead_that_carries_the_joint_can_be_lifted() -> None:
    """R20 lies on another tag, and the others are soldered to it there."""
    without = Circuit(parts=drawn().parts, links=drawn().links)
    away = apply(without, [Move(R20.point("2"), STAR, point("V2.8"))])
    result = compare(away, wired())
    assert told(result) == [
        "One lead of R20 (10k resistor between V2.6 and R20-2) lands on R20-2; it belongs on V2.8."
    ]


def test_a_part_of_another_kind_that_is_also_on_the_wrong_point() -> None:
    board = wired(Change("C20", small("C20", "resistor", "330")), far="V2.6")
    other = Part("C20", "electrolytic", ("+", "-"), value=quantity("10u", "F"))
    links = [x for x in board.links if x.a.owner != "C20"]
    links += [Link(other.point("+"), point("V2.7"), "lead")]
    links += [Link(other.point("-"), point("V1.8"), "lead")]
    texts = told(compare(drawn(), board.but({**board.parts, "C20": other}, links)))
    assert [t.split(":")[0].split(" (")[0] for t in texts] == ["The + lead of C20", "C20"]


def _twisted(random: Random, board: Circuit) -> Circuit:
    """The board with some of its free joints known by a lead that lands there."""
    links = list(board.links)
    for joint in sorted(
        {x.b for x in links if x.how == "lead" and not x.b.pin} - {CHASSIS}, key=str
    ):
        lead = random.choice([x for x in links if x.how == "lead" and x.b == joint])
        links.remove(lead)
        links = [
            Link(*(lead.a if p == joint else p for p in (x.a, x.b)), x.how, x.colour) for x in links
        ]
    return board.but(links=links)


@given(st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_twisting_leads_joins_what_a_joint_joined(seed: int) -> None:
    random = Random(seed)
    joints = [Point(f"JOINT{n}") for n in range(6)]
    parts = [small(f"R{n}", "resistor", "1k") for n in range(12)]
    links = [Link(p.point(e), random.choice(joints), "lead") for p in parts for e in ENDS]
    links += [Link(*random.sample(joints, 2), "wire") for _ in range(2)]
    board = Circuit("found", parts={p.name: p for p in parts}, links=tuple(links))
    after = jointed(_twisted(random, board))
    assert _groups(after) == _groups(board)
    assert all(not after.landing(p).pin for p in after.links_at if p.owner in after.parts)


def _groups(board: Circuit) -> set[frozenset[Point]]:
    ends = {p for part in board.parts.values() for p in part.points}
    return {g for node in board.nodes if (g := frozenset(node.points) & ends)}
