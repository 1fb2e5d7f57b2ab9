"""Ranges of gains and loops against sets drawn and computed one by one; the way of a signal."""

import random
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from buzzout.circuit import Point
from buzzout.electrics.draft import Power
from buzzout.electrics.gains import gains, loop_range
from buzzout.electrics.loops import cut, oscillations, with_values
from buzzout.electrics.operating import operate
from buzzout.electrics.ranges import spread
from buzzout.electrics.signal import Drive, signals
from buzzout.electrics.way import along
from buzzout.language.load import read

HALL = Path(__file__).parents[2] / "examples/hall-amplifier/hall-amplifier.reference.buzz"
TONE = Drive(Point("V2", "7"))
ENDS = [Point(*p.split(".")) for p in ("V2.6", "V2.1", "V5.7", "SK1.1")]


@pytest.fixture(scope="module")
def hall():
    return read(HALL)


@pytest.fixture(scope="module")
def state(hall):
    return operate(hall)


def others(hall, state, count):
    """Sets of good parts, each a circuit of its own."""
    for seed in range(count):
        rng = random.Random(seed)
        values = {}
        for name, part in hall.parts.items():
            if part.kind in ("resistor", "pot", "capacitor", "electrolytic") and part.value:
                low, high = part.value.span()
                values[name] = rng.uniform(low, high)
        emission = {v.name: rng.uniform(0.7, 1.3) for v in state.system.valves}
        yield operate(with_values(hall, values), Power(emission=emission))


def test_ranges_of_gain_and_of_an_oscillator_are_those_of_whole_sets(hall, state):
    ranges = spread(state)
    told = gains(signals(state, TONE, 1000.0), ranges)
    lead = Point("V3", "7")
    first = oscillations(cut(state, lead))[0]
    loop = loop_range(cut(state, lead), first, ranges)
    found = {p: [] for p in ENDS}
    loops = []
    for other in others(hall, state, 50):
        got = signals(other, TONE, 1000.0)
        for p in ENDS:
            found[p].append(abs(got.gain(p)))
        loops.append(oscillations(cut(other, lead), 80.0, 400.0, 12)[0])
    for p in ENDS:
        middle, low, high = told.size(p)
        assert low < middle < high
        assert np.mean([low <= g <= high for g in found[p]]) > 0.85, p
        width = np.subtract(*np.quantile(found[p], [0.975, 0.025]))
        assert 0.7 < (high - low) / width < 1.4, p
    assert np.mean([loop.hertz[0] <= o.hertz <= loop.hertz[1] for o in loops]) > 0.85
    assert np.mean([loop.gain[0] <= o.gain <= loop.gain[1] for o in loops]) > 0.85
    assert loop.starts == pytest.approx(np.mean([o.starts for o in loops]), abs=0.1)


def test_too_little_gain_starts_in_no_set(hall):
    """With the first anode resistor a tenth the loop lacks gain, whatever the valves."""
    weak = operate(with_values(hall, {"R31": 10e3}))
    opened = cut(weak, Point("V3", "7"))
    first = oscillations(opened)[0]
    assert not first.starts
    assert loop_range(opened, first, spread(weak)).starts == 0


def test_feedback_narrows_the_range(state):
    ranges = spread(state)
    end = Point("SK1", "1")
    closed, opened = (
        gains(signals(state, TONE, 1000.0, open_at=lead), ranges).size(end)
        for lead in (None, Point("R19", "2"))
    )
    assert (closed[2] - closed[1]) / closed[0] < (opened[2] - opened[1]) / opened[0]


def test_a_state_that_did_not_settle_has_no_range(state):
    torn = replace(state, settled=False)
    size = gains(signals(torn, TONE, 1000.0), spread(torn)).size(ENDS[0])
    assert size[0] == size[1] == size[2] > 0


def test_the_way_of_the_signal_stage_by_stage(state):
    """From the microphone to the speaker socket; the other inputs and the tone generator aside."""
    way = [str(p) for p in along(signals(state, Drive(Point("J1", "tip")), 400.0))]
    assert (
        way
        == (
            "J1.tip V1.7 V1.6 P1.wiper V1.2 V1.1 P5.wiper V2.7 V2.6 V2.8 V2.2 V2.1 V2.3 V4.2 V5.2"
            " V4.7 V5.7 SK1.1"
        ).split()
    )
