"""Each explanation behind a limiter lamp, against a bench that is stepped through the mains cycle.

The two benches differ by a few per cent in the whole set (windings, iron, heaters). What a fault
does to it is compared as a share of the whole set.
"""

import sys
from dataclasses import replace
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from made_up_lamp import behind_lamp
from planted_faults import point
from test_bench_diagnosis import HALL, whole_set

from buzzout.bench.direct import Direct
from buzzout.bench.probe import Probe
from buzzout.bench.settings import settings
from buzzout.circuit import CHASSIS
from buzzout.electrics.operating import operate
from buzzout.language import read

POINTS = ("HT1", "HT4", "V4.3", "V1.1")
WATTS = 100


@pytest.fixture(scope="module")
def hall():
    return read(HALL)


@pytest.fixture(scope="module")
def asked(hall):
    """The step with everything in, behind the lamp."""
    wanted = settings(hall)[4]
    assert wanted.power.limiter.watts == WATTS
    return Direct(operate(wanted.circuit, wanted.power), 5)


def made_up(hall, missing=(), leak=None):
    """The points and the heaters as the bench has them. [V]."""
    it = whole_set(hall)
    it = replace(it, emission={**it.emission, **dict.fromkeys(missing, 0.0)})
    if leak is not None:
        it = replace(it, between=[(point(leak[0]), point(leak[1]), 1 / leak[2])])
    x, of, heaters, _, settled = behind_lamp(hall, it, WATTS, missing)
    assert settled
    return [*(x[of[point(p)]] for p in POINTS), heaters]


def ours(asked, words):
    """The same as the diagnosis has them."""
    fault = next(f for f in asked.faults if words in f"{f.words} {f.size}")
    volts = asked.seen([Probe(point(p), CHASSIS) for p in POINTS], [fault]).mean[0]
    at = next(p for p in asked.swing.probes if str(p.at) == "V4.4")
    return [*volts, asked.swing.seen([at], [fault]).mean[0, 0]]


@pytest.fixture(scope="module")
def whole(hall, asked):
    told = made_up(hall), ours(asked, "nothing is wrong")
    assert told[1] == pytest.approx(told[0], rel=0.04)
    return told


@pytest.mark.parametrize(("words", "told"), [
    ("C30.square leaky as if 3k", {"leak": ("C30.square", "chassis", 3e3)}),
    ("C30.triangle leaky as if 3k", {"leak": ("C30.triangle", "chassis", 3e3)}),
    ("C30.square leaky as if 10k", {"leak": ("C30.square", "chassis", 1e4)}),
    ("C14 leaky as if 1M", {"leak": ("V2.1", "V4.2", 1e6)}),
    ("V4 missing", {"missing": ("V4",)}),
])  # fmt: skip
def test_what_a_fault_does_behind_the_lamp(hall, asked, whole, words, told):
    got, wanted = ours(asked, words), made_up(hall, **told)
    shares = [a / b for a, b in zip(got, whole[1], strict=True)]
    assert shares == pytest.approx([a / b for a, b in zip(wanted, whole[0], strict=True)], rel=0.02)
    assert abs(shares[-1] - 1) > 0.03  # the heaters are not those of the whole set
