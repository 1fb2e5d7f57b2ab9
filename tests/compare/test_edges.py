"""Boards out of the ordinary: nothing there, furniture gone or renamed, odd parts, large ones."""

from __future__ import annotations

import importlib
import sys
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from compare_stage import chassis, drawing, found_name, point

from buzzout.circuit import CHASSIS, Change, Circuit, Fit, Join, Move, Part, Point, Remove, apply
from buzzout.compare import Comparison, compare

sys.path.insert(0, str(Path(__file__).parents[2] / "bench"))
import made as boards
import slips_of_the_hand as faults


def kinds(result: Comparison) -> list[str]:
    assert result.proof.sufficient, result.proof.why
    return [f.kind for f in result.findings if not f.harmless]


def test_nothing_against_nothing() -> None:
    assert compare(Circuit("reference"), Circuit("found")).findings == ()


def test_an_empty_chassis_lacks_everything() -> None:
    assert set(kinds(compare(drawing(), Circuit("found")))) == {"part-missing"}


def test_a_board_without_a_drawing_has_everything_too_many() -> None:
    assert set(kinds(compare(Circuit("reference"), chassis()))) == {"part-extra"}


def test_furniture_without_any_pin_is_compared_all_the_same() -> None:
    bare = Part("T9", "transformer", ())
    board = chassis(Remove(found_name("R1")))
    parts = {**board.parts, "T9": bare}
    drawn = drawing()
    result = compare(drawn.but({**drawn.parts, "T9": bare}), board.but(parts))
    assert kinds(result) == kinds(compare(drawn, board))


def test_a_socket_that_is_gone_is_missing() -> None:
    assert "part-missing" in kinds(compare(drawing(), chassis(Remove("V2"))))


def _called(old: str, new: str) -> Circuit:
    """The chassis with a socket under another name."""
    board = chassis()
    parts = {
        new if n == old else n: replace(p, name=new) if n == old else p
        for n, p in board.parts.items()
    }
    links = [
        replace(x, **{e: Point(new, p.pin) for e, p in (("a", x.a), ("b", x.b)) if p.owner == old})
        for x in board.links
    ]
    return board.but(parts, links)


@pytest.mark.parametrize("name", ["v2", "V3"])
def test_a_socket_under_another_name_is_recognised(name: str) -> None:
    assert kinds(compare(drawing(), _called("V2", name))) == []


def test_one_lead_of_a_bridge_rectifier() -> None:
    part = Part("BR1", "bridge", ("~1", "~2", "+", "-"))
    ends = (("~1", point("V1.4")), ("~2", point("V1.9")), ("+", point("V2.6")), ("-", CHASSIS))
    off = (("~1", point("V1.9")), ("~2", point("V1.4")), ("+", point("V2.7")), ("-", CHASSIS))
    board = chassis(Fit(replace(part, name="@90"), off))
    result = compare(apply(drawing(), [Fit(part, ends)]), board)
    assert kinds(result) == ["wrong-point"]
    assert "lands on V2.7; it belongs on V2.6" in result.findings[0].text


def test_both_leads_of_a_part_on_one_point() -> None:
    edit = Move(point(found_name("R2") + ".1"), point("J1.tip"), point("V1.2"))
    assert kinds(compare(drawing(), chassis(edit))) == ["wrong-point"]


def test_an_optional_part_may_be_left_out() -> None:
    drawn = drawing()
    optional = {**drawn.parts, "R4": replace(drawn.parts["R4"], optional=True)}
    result = compare(drawn.but(optional), chassis(Remove(found_name("R4"))))
    assert kinds(result) == []
    assert [f.kind for f in result.findings] == ["part-missing"]


def test_a_strip_wired_from_its_other_end() -> None:
    strip = Part("TS1", "strip", tuple("12345678"))
    meant = [("1", "V1.1"), ("2", "V1.2"), ("3", "V1.3"), ("6", "V1.6")]
    wired = [Join(strip.point(t), point(p)) for t, p in meant]
    drawn = apply(drawing(), [Fit(strip, ()), *wired])
    used = [Join(strip.point(str(9 - int(t))), point(p)) for t, p in meant]
    assert kinds(compare(drawn, chassis(Fit(strip, ()), *used))) == ["strip-reversed"]


def test_valves_in_each_others_sockets_are_one_mistake() -> None:
    drawn = drawing()
    drawn = drawn.but({**drawn.parts, "V2": replace(drawn.parts["V2"], type="ECC82")})
    here = [
        Change(n, replace(chassis().parts[n], type=t))
        for n, t in (("V1", "ECC82"), ("V2", "ECC83"))
    ]
    result = compare(drawn, chassis(*here))
    assert kinds(result) == ["wrong-valve"]
    assert len(result.findings[0].joined) == 2


def test_a_large_board_is_settled_first_and_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(importlib.import_module("buzzout.compare.engine"), "WHOLE_BOARD", 0)
    random = Random(2)
    drawn = boards.drawing(random, 60)
    board, _ = faults.plant(random, boards.chassis(random, drawn), 2)
    result = compare(drawn, board)
    assert result.proof.sufficient, result.proof.why
    assert result.proof.bound <= result.proof.cost
    assert result.proof.minimal == (result.proof.bound == result.proof.cost)


def test_progress_is_told_from_beginning_to_end() -> None:
    told: list[tuple[str, float]] = []
    compare(
        drawing(), chassis(Remove("@4")), progress=lambda what, share: told.append((what, share))
    )
    assert told[0][1] == 0
    assert told[-1] == ("proving", 0.9)
    assert [share for _, share in told] == sorted(share for _, share in told)
