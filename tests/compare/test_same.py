"""Equality decided before anything is explained: furniture as drawn, and nothing else."""

from __future__ import annotations

import sys
from pathlib import Path
from random import Random

import pytest
from compare_stage import changed, chassis, drawing, found_name, point

from buzzout.circuit import Change, Circuit, Edit, Join, Link, Part, Remove
from buzzout.compare import compare
from buzzout.compare.model import build
from buzzout.compare.refine import same

sys.path.insert(0, str(Path(__file__).parents[2] / "bench"))
import made as boards


def test_a_chassis_wired_as_drawn_is_the_same() -> None:
    assert isinstance(same(build(drawing(), chassis())), tuple)


@pytest.mark.parametrize("seed", range(10))
def test_an_idle_pin_asks_for_nothing(seed: int) -> None:
    """Boards with valves that leave pins free, and tags that nothing is on."""
    random = Random(seed)
    drawn = boards.drawing(random, 60)
    assert isinstance(same(build(drawn, boards.chassis(random, drawn))), tuple)


@pytest.mark.parametrize(
    "edit",
    [
        Remove(found_name("R7")),
        Change(found_name("R7"), changed("R7", value=None)),
        Join(point("V1.1"), point("V1.2")),
    ],
    ids=["part gone", "value unread", "bridge"],
)
def test_what_differs_is_not_the_same(edit: Edit) -> None:
    assert same(build(drawing(), chassis(edit))) is False


def test_furniture_wired_otherwise_is_not_the_same() -> None:
    """With no small part at all."""
    jacks = {name: Part(name, "jack", ("tip", "sleeve")) for name in ("J1", "J2")}
    one = Circuit("reference", parts=jacks, links=(Link(point("J1.tip"), point("J2.tip")),))
    two = Circuit("found", parts=jacks, links=(Link(point("J1.tip"), point("J2.sleeve")),))
    assert same(build(one, two)) is False
    assert compare(one, two).proof.cost == 1
