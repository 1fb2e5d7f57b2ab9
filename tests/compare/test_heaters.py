"""A double triode's heater with its halves in parallel: fed the other way round it is the same."""

from __future__ import annotations

import pytest
from test_overlaps import chassis, drawing, point

from buzzout.circuit import Circuit, Edit, Join, Move, Remove, apply
from buzzout.compare import Comparison, compare

# On the drawing X1.3 feeds V1.4 and V1.5, from there V2; X1.4 feeds V1.9, from there V2.9.
TURNED = (
    Move(point("X1.3"), point("V1.4"), point("V1.9")),
    Move(point("V2.4"), point("V1.4"), point("V1.9")),
    Move(point("X1.4"), point("V1.9"), point("V1.4")),
    Move(point("V2.9"), point("V1.9"), point("V1.4")),
)
WORDS = "Heater ends turned round on V1 (V1.4, V1.5 and V1.9); it makes no difference."


def compared(*edits: Edit) -> Comparison:
    found: Circuit = apply(chassis(), edits)
    result = compare(drawing(), found)
    assert result.proof.sufficient, result.proof.why
    assert result.proof.minimal
    return result


def harmful(result: Comparison) -> list[str]:
    return [f.kind for f in result.findings if not f.harmless]


@pytest.mark.parametrize(
    ("more", "kinds"),
    [
        ((), []),
        ((Remove("@R4"),), ["part-missing"]),
        ((Join(point("V1.1"), point("V1.2")),), ["bridge"]),
    ],
    ids=["nothing else", "a part gone", "a bridge"],
)
def test_fed_the_other_way_round_is_a_note(more: tuple[Edit, ...], kinds: list[str]) -> None:
    result = compared(*TURNED, *more)
    assert harmful(result) == kinds
    assert [f.text for f in result.findings if f.harmless] == [WORDS]


def test_one_wire_left_behind_is_one_error() -> None:
    assert harmful(compared(*TURNED[:-1])) == ["wrong-point"]


def test_a_joint_to_the_wrong_pin_is_no_harmless_turn() -> None:
    """Pins 9 and 5 joined: one half of the heater is shorted, the other has all the volts."""
    result = compared(*TURNED, Move(point("V1.4"), point("V1.5"), point("V1.9")))
    assert harmful(result)
