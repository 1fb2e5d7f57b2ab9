"""Boards too large to be searched whole: what is in order settles, and regions explain the rest."""

from __future__ import annotations

import importlib
import sys
from collections import Counter
from pathlib import Path
from random import Random

import pytest
from compare_stage import chassis, drawing, found_name, point

from buzzout.circuit import Circuit, Edit, Join, Remove
from buzzout.compare import compare
from buzzout.compare.model import FREE, VOID, build
from buzzout.compare.outside import Outside
from buzzout.compare.regions import CORE, Rest
from buzzout.compare.settle import settle

sys.path.insert(0, str(Path(__file__).parents[2] / "bench"))
import made as boards
import slips_of_the_hand as faults

engine = importlib.import_module("buzzout.compare.engine")


def board(seed: int, parts: int, slips: int) -> tuple[Circuit, Circuit, int]:
    """A drawing, a chassis with slips, and how many errors were planted."""
    random = Random(seed)
    drawn = boards.drawing(random, parts)
    damaged, planted = faults.plant(random, boards.chassis(random, drawn), slips)
    return drawn, damaged, sum(slip.cost for slip in planted)


def rest_of(drawn: Circuit, found: Circuit) -> Rest:
    pair = build(drawn, found)
    return Rest(pair, settle(pair))


def test_a_right_board_has_nothing_left() -> None:
    pair = build(drawing(), chassis())
    assert settle(pair).whole(pair)
    assert not Rest(pair, settle(pair)).groups


@pytest.mark.parametrize(
    ("edit", "gone"),
    [(Remove(found_name("R7")), ["R7"]), (Join(point("V1.1"), point("V1.2")), [])],
    ids=["part gone", "bridge"],
)
def test_one_slip_is_one_region_at_most(edit: Edit, gone: list[str]) -> None:
    rest = rest_of(drawing(), chassis(edit))
    assert len(rest.groups) == 1 - len(gone)
    assert [rest.pair.drawing.smalls[i].part.name for i in rest.gone] == gone


def test_idle_pins_are_in_order_where_nothing_near_is_wrong() -> None:
    """A pin with nothing inside on which nothing lands asks for nothing."""
    drawn, found, _ = board(1, 400, 1)
    rest = rest_of(drawn, found)
    away, pins = rest.settled.disturbed, rest.pair.board.pins
    idle = {
        found[pin]
        for name, found in pins.items()
        for pin, node in rest.pair.drawing.pins[name].items()
        if node == FREE and away.isdisjoint(found[p] for p in found if p != pin)
    }
    assert len(idle) > 4
    assert {rest.settled.node_at[k] for k in idle} == {VOID}


@pytest.mark.parametrize(
    ("inside", "places", "told"),
    [
        (set(), (0, 1, 2, 3, 4, 5, 9), [0, 0, 0, 0, 0, 0, 9]),
        ({7}, (0, 1, 2, 4, 7), [0, 0, 0, 4, 7]),
        ({6, 7}, (0, 2, 4), [0, 0, 4]),
        ({8}, (0, 3, 4), [0, 3, 0]),
    ],
    ids=["nothing inside", "a wire through the inside", "two", "another"],
)
def test_what_stands_in_for_a_place_outside(
    inside: set[int], places: tuple[int, ...], told: list[int]
) -> None:
    """0 and 1 are joined, 2 is taken for one with them; 3 hangs on it by 8, 4 and 5 by 7."""
    cores = {0: 0, 1: 0, 2: 2, 3: 3, 4: 4, 5: 4, 9: 9}
    around = Outside(cores, [(0, 2)], [(1, 8), (8, 3), (2, 7), (7, 5), (4, 6)])
    stand_in = around.stand_ins(inside)
    assert [stand_in(k) for k in places] == told


@pytest.mark.parametrize("seed", range(4))
def test_each_item_is_in_one_region_and_the_rest_is_small(seed: int) -> None:
    drawn, found, _ = board(seed, 400, 6)
    rest = rest_of(drawn, found)
    assert len(rest.groups) > 1
    count = Counter(item for group in rest.groups for item in group)
    assert set(count.values()) == {1}
    parts = sum(kind in ("drawn", "found") for kind, _ in count)
    assert parts < (len(rest.pair.drawing.smalls) + len(rest.pair.board.smalls)) / 2
    for group in rest.groups:
        region = rest.region(group, {})
        stand_ins = [name for name in region.pair.board.pins if name.startswith(CORE)]
        assert all(len(region.pair.board.pins[name]) == 1 for name in stand_ins)


@pytest.mark.parametrize("seed", range(6))
def test_regions_alone_mend_the_board(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """With hardly an error more than was planted, and without a claim that nothing is shorter."""
    drawn, found, planted = board(seed, 300, 6)
    monkeypatch.setattr(engine, "WHOLE_BOARD", 0)
    told = compare(drawn, found).proof
    assert told.sufficient, told.why
    assert not told.minimal
    assert told.cost <= planted + 2


@pytest.mark.parametrize("seed", range(2))
def test_what_the_regions_say_is_where_the_proof_begins(seed: int) -> None:
    drawn, found, planted = board(seed, 300, 6)
    proof = compare(drawn, found).proof
    assert proof.sufficient
    assert proof.minimal
    assert proof.cost <= planted
