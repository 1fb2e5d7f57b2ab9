"""Large irregular circuits that somebody else made: the ISCAS-85 netlists, see `bench/netlists.py`.

They are read from the PyPI package `circuitgraph`; without it these tests are skipped. The larger
ones are in the bench: `python bench/compare.py netlists`.
"""

from __future__ import annotations

from random import Random

import pytest
from netlists import chassis, drawing, there
from slips_of_the_hand import HARMFUL, plant

from buzzout.circuit import Change, Circuit, apply
from buzzout.compare import compare

pytestmark = pytest.mark.skipif(not there(), reason="circuitgraph is not installed")
SLIPS = "part_missing part_extra value_wrong lead_moved reversed_part values_exchanged".split()


@pytest.mark.parametrize("ports", [True, False], ids=["ports", "no names"])
@pytest.mark.parametrize("name", ["c17", "c432", "c499", "c880"])
def test_shuffled_and_without_names_they_are_equal(name: str, ports: bool) -> None:
    drawn = drawing(name, ports=ports)
    result = compare(drawn, chassis(Random(1), drawn))
    assert result.findings == ()
    assert result.proof.sufficient
    assert result.proof.minimal


@pytest.mark.parametrize("ports", [True, False], ids=["ports", "no names"])
@pytest.mark.parametrize("seed", range(8))
def test_slips_in_a_small_one_are_explained_by_no_more(seed: int, ports: bool) -> None:
    random = Random(seed)
    drawn = drawing("c17", ports=ports)
    slips = {name: HARMFUL[name] for name in SLIPS}
    board, planted = plant(random, chassis(random, drawn), 2, slips)
    result = compare(drawn, board)
    assert result.proof.cost <= sum(p.cost for p in planted)
    assert result.proof.sufficient, result.proof.why
    assert result.proof.minimal


@pytest.mark.parametrize(
    ("name", "ports", "seed"),
    [("c432", True, 0), ("c880", True, 3), ("c432", False, 1), ("c880", False, 0)],
)
def test_slips_among_hundreds_are_explained_by_no_more(name: str, ports: bool, seed: int) -> None:
    """Also where nothing has a name. The effort is too small for a proof."""
    random = Random(seed)
    drawn = drawing(name, ports=ports)
    slips = {slip: HARMFUL[slip] for slip in SLIPS}
    board, planted = plant(random, chassis(random, drawn), 5, slips)
    result = compare(drawn, board, effort=3000)
    assert result.proof.cost <= sum(p.cost for p in planted)
    assert result.proof.sufficient, result.proof.why


@pytest.mark.parametrize("name", ["c432", "c880"])
def test_one_gate_of_another_kind_is_found_among_hundreds(name: str) -> None:
    random = Random(2)
    drawn = drawing(name)
    board = _one_other_value(random, chassis(random, drawn))
    result = compare(drawn, board)
    assert [f.kind for f in result.findings] == ["value-wrong"]
    assert result.proof.sufficient


def _one_other_value(random: Random, board: Circuit) -> Circuit:
    some = [p for p in board.parts.values() if p.kind == "resistor"]
    part, other = random.sample(some, 2)
    while other.value == part.value:
        other = random.choice(some)
    return apply(board, [Change(part.name, other)])
