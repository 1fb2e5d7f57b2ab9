"""What a limiter lamp leaves to the set with each fault, against the set computed by itself."""

import math
from dataclasses import replace

import numpy as np
import pytest

from buzzout.bench.batch import solve
from buzzout.bench.behind import DARK, GLOWS, Behind
from buzzout.bench.board import Board, Change
from buzzout.bench.case import together
from buzzout.bench.diagnose import diagnose
from buzzout.bench.direct import Direct
from buzzout.bench.probe import ALTERNATING, Probe, Taken
from buzzout.bench.settings import settings
from buzzout.circuit import CHASSIS, Fit, Part, Point, apply, parse
from buzzout.electrics.operating import operate
from buzzout.language import read

POINTS = [Point("HT1"), Point("HT4"), Point("V4", "3"), Point("V1", "1")]
SQUARE, TRIANGLE = Point("C30", "square"), Point("C30", "triangle")
HEATER = Point("V4", "4"), Point("V4", "5")
STEP = 5


@pytest.fixture(scope="module")
def setting():
    """Everything in, behind the lamp."""
    hall = read("examples/hall-amplifier/hall-amplifier.reference.buzz")
    return settings(hall)[STEP - 1]


@pytest.fixture(scope="module")
def asked(setting):
    return Direct(operate(setting.circuit, setting.power), STEP)


def with_resistor(circuit, a, b, ohms):
    part = Part("RX", "resistor", ("1", "2"), value=parse(f"{ohms}R", "ohm"))
    return apply(circuit, [Fit(part, (("1", a), ("2", b)))])


def computed(circuit, setting):
    """The points, the heater and the lamp of another set by itself. [V]."""
    state = operate(circuit, setting.power)
    assert state.settled
    return state, [state.volts(p) for p in POINTS]


def heater(asked, fault):
    probe = Probe(*HEATER, way=ALTERNATING, step=STEP)
    return asked.swing.seen([probe], [fault]).mean[0, 0]


@pytest.mark.parametrize(("ends", "ohms", "off"), [
    ((SQUARE, CHASSIS), 1000, 0.003),
    ((SQUARE, CHASSIS), 30000, 0.003),
    ((TRIANGLE, CHASSIS), 5000, 0.003),
    ((Point("V6", "1"), Point("V6", "3")), 10000, 0.01),  # backwards, through the winding
])  # fmt: skip
def test_a_leak_lets_the_lamp_light(setting, asked, ends, ohms, off):
    a, b = ends
    state, wanted = computed(with_resistor(setting.circuit, a, b, ohms), setting)
    got = solve(asked.board, [Change(siemens=((a, b, 1 / ohms),))])
    x = np.append(got.x[0], 0.0)
    assert got.settled[0]
    assert [x[asked.board.row(p)] for p in POINTS] == pytest.approx(wanted, rel=off)
    side = state.side
    fed = side.fed.volts - abs(got.primary[0]) / math.sqrt(2)
    assert fed == pytest.approx(state.lamp_volts, rel=0.06)  # harmonics apart
    assert state.lamp_volts > asked.state.lamp_volts


def test_the_whole_set_is_what_it_was(asked):
    got = solve(asked.board, [Change()])
    x = np.append(got.x[0], 0.0)
    for point in POINTS:
        assert x[asked.board.row(point)] == pytest.approx(asked.state.volts(point), rel=2e-3)
    assert heater(asked, asked.faults[0]) == pytest.approx(
        asked.swing.volts(Probe(*HEATER)), rel=2e-3
    )


@pytest.mark.parametrize("name", ["V1", "V4"])
def test_a_valve_that_is_missing_draws_no_heater_current(setting, asked, name):
    parts = setting.circuit.parts
    gone = setting.circuit.but({**parts, name: replace(parts[name], type="none")})
    state, wanted = computed(gone, setting)
    fault = next(f for f in asked.faults if f.words.startswith(f"{name} missing"))
    got = asked.seen([Probe(p, CHASSIS, meter=1e12) for p in POINTS], [fault]).mean[0]
    assert list(got[:2]) == pytest.approx(wanted[:2], rel=5e-3)
    other = Point("V2", "4"), Point("V2", "9")
    probe = Probe(*other, way=ALTERNATING, step=STEP)
    volts = asked.swing.seen([probe], [fault]).mean[0, 0]
    assert volts > 1.004 * asked.swing.volts(probe)
    ends = (state.net.of[p] for p in other)
    swings = [state.swings[n] for n in ends]
    assert volts == pytest.approx(abs(swings[0] - swings[1]) / math.sqrt(2), rel=5e-3)


def test_a_short_cools_the_cathodes_until_they_hold_the_lamp(asked):
    change = Change(siemens=((SQUARE, CHASSIS, 1.0),))
    got = solve(asked.board, [Change(), change])
    share = abs(got.primary[1] / got.primary[0])
    assert got.settled.all()
    assert DARK < share < GLOWS
    assert got.emission[1] == pytest.approx((share - DARK) / (GLOWS - DARK), abs=0.01)
    assert got.emission[0] == pytest.approx(1.0)


@pytest.mark.parametrize("kind", ["fuse open", "no supply"])
def test_without_load_the_lamp_is_dark(asked, kind):
    fault = next(f for f in asked.faults if f.kind == kind)
    usual, state = heater(asked, asked.faults[0]), asked.state
    got = heater(asked, fault)
    if kind == "fuse open":
        assert got == 0
    else:
        assert 1.05 * usual < got < usual * 230 / (230 - state.lamp_volts)


def test_behind_follows_only_the_sets_that_it_is_told(asked):
    board = Board(asked.state)
    made = Behind(board, [Change(), Change()])
    before = made.line.ohms.copy()
    made.follow(np.array([1]))
    assert made.line.ohms[0] == before[0]
    assert made.line.ohms[1] < before[1]  # nothing is carried yet


@pytest.mark.parametrize(("end", "ohms", "words"), [
    (SQUARE, 3300, "C30.square leaky"), (TRIANGLE, 1, "C30.triangle shorted"),
])  # fmt: skip
def test_a_leak_is_told_by_what_the_lamp_leaves(setting, asked, end, ohms, words):
    """The heaters are low with it: taken for those of the whole set, nothing explained them."""
    state, volts = computed(with_resistor(setting.circuit, end, CHASSIS, ohms), setting)
    taken = [
        Taken(Probe(p, CHASSIS, step=STEP), round(v, 1)) for p, v in zip(POINTS, volts, strict=True)
    ]
    if ohms > 1:  # a short cools the cathodes too, which the set by itself is not computed with
        swings = [state.swings[state.net.of[p]] for p in HEATER]
        read = abs(swings[0] - swings[1]) / math.sqrt(2)
        assert read < 0.9 * asked.swing.volts(Probe(*HEATER))
        taken.append(Taken(Probe(*HEATER, way=ALTERNATING, step=STEP), round(read, 1)))
    told = diagnose(together([asked]), taken)
    assert told.explanations[0].words.startswith(words)
    assert not told.explanations[0].unexplained
