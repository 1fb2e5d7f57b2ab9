"""Slips within the readings: loops that do not close, one node read twice."""

from dataclasses import replace

import pytest
from hall_readings import point, taken

from buzzout.bench.probe import ALTERNATING, OHMS
from buzzout.bench.slips import slips

NODES = {point(p): n for n, p in enumerate(("chassis", "V1.1", "V1.3", "HT1", "V2.1"))}


def test_a_loop_that_closes():
    loop = [taken("HT1", "chassis", 280), taken("V1.1", "chassis", 150), taken("HT1", "V1.1", 131)]
    assert slips(loop, NODES) == ()


def test_a_loop_that_does_not_close():
    loop = [
        taken("HT1", "chassis", 280),
        taken("V1.1", "chassis", 150),
        taken("V1.1", "HT1", -13.1),
    ]
    (found,) = slips(loop, NODES)
    assert abs(found.gap) == pytest.approx(116.9)
    assert "do not add up" in found.words


def test_the_odd_one_of_two_loops():
    """Two loops share two readings; the one that closes clears them."""
    loops = [
        taken("HT1", "chassis", 280), taken("V1.1", "chassis", 150), taken("HT1", "V1.1", 130),
        taken("V2.1", "chassis", 180), taken("HT1", "V2.1", 200),
    ]  # fmt: skip
    (found,) = slips(loops, NODES)
    assert {str(t.probe) for t in found.suspects} == {"V2.1", "HT1 to V2.1"}


def test_two_points_of_one_node_must_agree():
    nodes = NODES | {point("V5.1"): NODES[point("V1.1")]}
    found = slips([taken("V1.1", "chassis", 150), taken("V5.1", "chassis", 15)], nodes)
    assert "same two nodes" in found[0].words
    assert slips([taken("V1.1", "chassis", 150), taken("V5.1", "chassis", 151)], nodes) == ()


def test_loops_of_alternating_volts_and_of_resistances():
    """No side of a triangle is longer than the two others, whatever the phase, whatever the set."""
    for way in (ALTERNATING, OHMS):
        good = [taken("HT1", "chassis", 250, way=way), taken("V1.1", "chassis", 240, way=way),
                taken("HT1", "V1.1", 480, way=way)]  # fmt: skip
        assert slips(good, NODES) == ()
        (found,) = slips([*good[:2], replace(good[2], value=4800.0)], NODES)
        assert "cannot all be right" in found.words
        assert found.gap == pytest.approx(4310)
    twice = [taken("V1.3", "chassis", 1500, way=OHMS), taken("V1.3", "chassis", 150, way=OHMS)]
    told = slips(twice, NODES)[0].words
    assert "same two nodes" in told
    assert "if the set was mended in between" in told
    sides = [taken("V1.3", "chassis", 0.0, way=OHMS), taken("V1.3", "chassis", 1.5)]
    assert slips(sides, NODES) == ()  # volts and ohms are no loop
