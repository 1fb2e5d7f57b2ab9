"""What is said of points on a socket that is to be rewired, and of parts with two like ends."""

from __future__ import annotations

import pytest
from test_overlaps import Slip, chassis, drawing, gone, lead, mirror

from buzzout.circuit import Circuit, Link, Part, Point
from buzzout.compare import Finding, compare

FUSE = (
    "Ends turned round on A1 (A1.1 and A1.2); electrically it is the same, but in a holder with a "
    "cap the supply belongs on the contact at the far end."
)


def told(*slips: Slip) -> dict[str, Finding]:
    board = chassis()
    for slip in slips:
        board = slip(board)
    return {finding.kind: finding for finding in compare(drawing(), board).findings}


def test_a_part_to_fit_names_the_pin_that_it_will_be_on() -> None:
    action = told(gone("R3"), mirror("V1"))["part-missing"].action
    assert action.startswith("Fit a 100k resistor, 0.5W between V1.4 and X1.2.")
    assert action.endswith("V1 is to be rewired: V1.4 is then V1.6.")


def test_a_lead_that_is_where_it_will_belong_is_left_there() -> None:
    finding = told(lead("R5.1", "V1.9"), mirror("V1"))["wrong-point"]
    assert finding.text.endswith("V1 is to be rewired, and then that is V1.1: it may stay.")
    assert finding.action == "Leave it on V1.1 when V1 is rewired."


def test_nothing_is_said_of_it_where_no_socket_is_rewired() -> None:
    assert "rewired" not in told(gone("R3"))["part-missing"].action


def two_ended(kind: str, turned: bool) -> Circuit:
    part = Part("A1", kind, ("1", "2"))
    tie = Part("X1", "connector", ("1", "2"))
    ends = ("2", "1") if turned else ("1", "2")
    links = [Link(part.point(a), tie.point(b), "wire") for a, b in zip("12", ends, strict=True)]
    return Circuit(
        "found" if turned else "reference", parts={"A1": part, "X1": tie}, links=tuple(links)
    )


@pytest.mark.parametrize("kind", ["fuse", "lamp", "choke", "speaker"])
def test_ends_that_are_alike_may_be_either_way_round(kind: str) -> None:
    result = compare(two_ended(kind, turned=False), two_ended(kind, turned=True))
    assert result.proof.cost == 0
    assert all(finding.harmless for finding in result.findings)
    notes = [finding.text for finding in result.findings]
    assert notes == ([FUSE] if kind == "fuse" else [])


def test_the_points_are_those_of_the_chassis() -> None:
    assert Point("V1", "4") in told(gone("R3"), mirror("V1"))["part-missing"].points
