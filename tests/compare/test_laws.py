"""What holds for every board: nothing to say about a copy, never more errors than were planted."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buzzout.circuit import Circuit, Point, apply
from buzzout.compare import compare

sys.path.insert(0, str(Path(__file__).parents[2] / "bench"))
from made import chassis, drawing
from slips_of_the_hand import HARMFUL, plant

SEEDS = st.integers(0, 10_000)
few = settings(max_examples=5, deadline=None)


@given(SEEDS)
@few
def test_a_board_wired_as_drawn_has_no_findings(seed: int) -> None:
    random = Random(seed)
    drawn = drawing(random, 24)
    result = compare(drawn, chassis(random, drawn))
    assert result.findings == ()
    assert result.proof.sufficient
    assert result.proof.minimal


@given(SEEDS)
@few
def test_a_drawing_compared_with_itself_has_no_findings(seed: int) -> None:
    drawn = drawing(Random(seed), 24)
    assert compare(drawn, drawn).findings == ()


@given(SEEDS, st.integers(1, 3))
@settings(max_examples=12, deadline=None)
def test_planted_errors_are_explained_by_no_more_errors(seed: int, count: int) -> None:
    random = Random(seed)
    drawn = drawing(random, 24)
    board, planted = plant(random, chassis(random, drawn), count)
    result = compare(drawn, board)
    assert result.proof.cost <= sum(p.cost for p in planted)
    assert result.proof.sufficient, result.proof.why
    assert result.proof.minimal


@given(SEEDS)
@few
def test_the_remedies_leave_nothing_to_find(seed: int) -> None:
    random = Random(seed)
    drawn = drawing(random, 24)
    board, _ = plant(random, chassis(random, drawn), 2)
    result = compare(drawn, board)
    mended = apply(board, [edit for f in result.findings for edit in f.remedy])
    assert mended == result.repaired
    assert [f for f in compare(drawn, mended).findings if not f.harmless] == []


@given(SEEDS)
@few
def test_other_names_and_another_order_change_nothing(seed: int) -> None:
    random = Random(seed)
    drawn = drawing(random, 24)
    board, _ = plant(random, chassis(random, drawn), 2)
    other = _renamed(board, random)
    one, two = compare(drawn, board), compare(drawn, other)
    assert one.proof.cost == two.proof.cost


def _renamed(circuit: Circuit, random: Random) -> Circuit:
    """Small parts under other numbers, parts and links shuffled."""
    small = [p.name for p in circuit.parts.values() if not p.furniture]
    new = {name: f"@{n}" for n, name in enumerate(random.sample(small, len(small)), 500)}
    parts = [replace(p, name=new.get(p.name, p.name)) for p in circuit.parts.values()]
    random.shuffle(parts)
    links = [
        replace(
            x,
            a=Point(new.get(x.a.owner, x.a.owner), x.a.pin),
            b=Point(new.get(x.b.owner, x.b.owner), x.b.pin),
        )
        for x in circuit.links
    ]
    random.shuffle(links)
    return circuit.but({p.name: p for p in parts}, links)


ALSO = {"wrong-tap": "wrong-point"}  # one wire on the wrong tap is a wire on the wrong point


@pytest.mark.parametrize("slip", sorted(HARMFUL))
def test_every_kind_of_slip_alone_is_named(slip: str) -> None:
    named = tried = 0
    for seed in range(12):
        random = Random(seed)
        drawn = drawing(random, 40)
        board, planted = plant(random, chassis(random, drawn), 1, {slip: HARMFUL[slip]})
        if not planted or tried == 2:
            continue
        tried += 1
        result = compare(drawn, board)
        told = [f.kind for f in result.findings if not f.harmless]
        kind = planted[0].kind
        assert result.proof.cost <= planted[0].cost
        named += told in ([kind], [ALSO.get(kind, kind)])
    assert tried == 2
    assert named >= 1


def test_the_same_input_gives_the_same_answer() -> None:
    random = Random(5)
    drawn = drawing(random, 24)
    board, _ = plant(random, chassis(random, drawn), 3)
    assert compare(drawn, board) == compare(drawn, board)
