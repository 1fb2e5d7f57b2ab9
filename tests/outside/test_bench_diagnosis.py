"""The true fault is named: planted faults, solved without our electrics (see `made_up_bench`).

Three hundred cases: `python bench/diagnosis.py 300`; here a few run, so that a change that breaks
it is seen. What counts as named, and which faults are planted (only such as move some point by an
eighth and a quarter of a volt), stands in `planted_faults`.
"""

import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
import planted_mains
from made_up_bench import Bench, Set, charged
from made_up_mains import Swinging, tone
from planted_faults import Asked, both, guided, joints_of, point, rank

from buzzout.bench.case import case, together
from buzzout.bench.direct import Direct
from buzzout.bench.swing import Swing
from buzzout.circuit import Point
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.operating import operate
from buzzout.electrics.resistance import resistances
from buzzout.electrics.signal import Drive, signals
from buzzout.language import read

HALL = "examples/hall-amplifier/hall-amplifier.reference.buzz"
SEED, CASES, FIRST_THREE = 1, 6, 5


@pytest.fixture(scope="module")
def hall():
    return read(HALL)


@pytest.fixture(scope="module")
def asked(hall):
    return case(operate(hall))


def test_planted_faults_are_named(hall, asked):
    joints = joints_of(asked)
    places = []
    for number in range(CASES):
        one = Asked(hall, np.random.default_rng([SEED, number]), joints)
        told = guided(asked, one)
        assert 6 <= len(told.readings) <= 10
        places.append(rank(told, one.planted))
    assert sum(1 <= place <= 3 for place in places) >= FIRST_THREE, places


def test_of_two_faults_at_once_one_is_named(hall, asked):
    """More of them: `python bench/diagnosis.py pairs 30`."""
    joints = joints_of(asked)
    named = []
    for number in range(3):
        one = Asked(hall, np.random.default_rng([SEED, number]), joints, second=True)
        named.append(both(guided(asked, one), one.planted, one.also)[0])
    assert sum(n >= 1 for n in named) >= 2, named


@pytest.mark.parametrize("pair", [
    ("V4.3", "chassis"), ("V1.1", "HT4"), ("HT1", "chassis"), ("T1.red1", "chassis"),
    ("V2.6", "V2.2"), ("G4", "G5"),
])  # fmt: skip
def test_the_made_up_ohmmeter_agrees_with_the_electrics(hall, pair):
    """Union-find and one matrix of its own against the sparse solver."""
    ohms = {p.name: p.value.value for p in hall.parts.values() if p.kind in ("resistor", "pot")}
    bench = Bench(hall)
    a, b = (point(text) for text in pair)
    got = bench.ohms(Set(ohms | {"L1": 200.0, "T2a": 120.0, "T2b": 135.0}), a, b)
    ready = resistances(hall, Conditions(valves="cold", power=True))
    assert got == pytest.approx(ready.between(a, b).nominal, rel=0.01)


def test_the_made_up_bench_agrees_with_the_electrics(hall):
    """Two solvers that share the drawing and the valves' parameters and nothing else."""
    ohms = {p.name: p.value.value for p in hall.parts.values() if p.kind in ("resistor", "pot")}
    bench = Bench(hall)
    x, of, settled = bench.solve(Set(ohms | {"L1": 200.0, "T2a": 120.0, "T2b": 135.0}))
    assert settled
    state = operate(hall)
    for line in hall.expected:
        if not line.alternating:
            assert x[of[line.at]] == pytest.approx(state.volts(line.at), rel=0.025)


def test_reservoir_of_the_made_up_bench_without_a_drain_reaches_the_crest():
    assert charged(Set({}), 0.0) == pytest.approx(math.sqrt(2) * 250, rel=0.01)


def test_faults_of_the_mains_side_are_named(hall, asked):
    """More of them: `python bench/diagnosis.py mains 100`."""
    places = []
    for number in range(5):
        one = planted_mains.Mains(hall, np.random.default_rng([SEED, number]))
        places.append(planted_mains.rank(planted_mains.guided(asked, one), one.planted))
    assert sum(1 <= place <= 3 for place in places) >= 4, places


def test_open_capacitors_are_named_with_a_tone(hall):
    """More of them: `python bench/diagnosis.py tone 100`."""
    asked = together([Direct(operate(hall), source=planted_mains.SOURCE)])
    places = []
    for number in range(4):
        one = planted_mains.Toned(hall, np.random.default_rng([SEED, number]))
        places.append(planted_mains.rank(planted_mains.guided(asked, one), one.planted))
    assert sum(1 <= place <= 3 for place in places) >= 3, places


def whole_set(hall):
    ohms = {p.name: p.value.value for p in hall.parts.values() if p.kind in ("resistor", "pot")}
    good = Set(ohms | {"L1": 200.0, "T2a": 120.0, "T2b": 135.0})
    return replace(good, emission={f"V{n}/{h}": 1.0 for n in (1, 2, 3) for h in (1, 2)})


def test_the_made_up_windings_agree_with_the_electrics(hall):
    """A dense matrix of its own, its own heaters and iron, against the alternating network."""
    made, swing = Swinging(Bench(hall), whole_set(hall)), Swing(operate(hall))
    for probe in swing.probes:
        assert made.volts(probe.at, probe.to) == pytest.approx(swing.volts(probe), rel=0.03)


def test_the_made_up_tone_agrees_with_the_electrics(hall):
    """Slopes by differences of the bench's own laws, against the electrics' small signals."""
    bench, it = Bench(hall), whole_set(hall)
    x, _, settled = bench.solve(it)
    levels, of = tone(bench, it, x)
    got = signals(operate(hall), Drive(Point("J1", "tip")), 1000.0)
    assert settled
    for text in ("V1.6", "V1.1", "V2.7", "V2.6", "V2.1", "V4.2", "V5.2", "V4.7", "T2.green"):
        assert levels[of[point(text)]] == pytest.approx(1e-3 * abs(got.gain(point(text))), rel=0.12)
