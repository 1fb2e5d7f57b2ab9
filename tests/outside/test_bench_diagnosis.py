"""The true fault is named: planted faults, solved without our electrics (see `made_up_bench`).

Three hundred cases: `python bench/diagnosis.py 300`; here a few run, so that a change that breaks
it is seen. What counts as named, and which faults are planted (only such as move some point by an
eighth and a quarter of a volt), stands in `planted_faults`.
"""

import math
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from made_up_bench import Bench, Set, charged
from planted_faults import Asked, both, guided, joints_of, point, rank

from buzzout.bench.case import case
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.operating import operate
from buzzout.electrics.resistance import resistances
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
