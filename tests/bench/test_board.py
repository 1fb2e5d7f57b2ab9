"""Many small changes at once against the electrics' own solution of the changed circuit."""

import numpy as np
import pytest

from buzzout.bench.batch import solve
from buzzout.bench.board import Board, Change
from buzzout.bench.faults import WEIGHTS, faults
from buzzout.circuit import CHASSIS, Cut, Join, Point, Remove, apply
from buzzout.electrics.draft import Power
from buzzout.electrics.operating import operate
from buzzout.language import read

POINTS = [Point("HT1"), Point("HT3"), Point("V1", "1"), Point("V1", "3"), Point("V2", "1"),
          Point("V4", "3"), Point("V3", "6"), Point("V3", "3")]  # fmt: skip


@pytest.fixture(scope="module")
def hall():
    return read("examples/hall-amplifier/hall-amplifier.reference.buzz")


@pytest.fixture(scope="module")
def board(hall):
    return Board(operate(hall))


def open_(board, name):
    branch = next(b for b in board.branches if b.name == name)
    return Change(siemens=((branch.a, branch.b, -1 / branch.value),))


def solved(board, *changes):
    states = solve(board, changes)
    assert states.settled.all()
    return [[float(x[board.row(p, c.apart)]) for p in POINTS]
            for x, c in zip(states.x, changes, strict=True)]  # fmt: skip


def exactly(circuit, **power):
    state = operate(circuit, Power(**power))
    return [state.volts(p) for p in POINTS]


def test_the_undisturbed_set_is_where_the_electrics_left_it(board, hall):
    assert solved(board, Change())[0] == pytest.approx(exactly(hall), abs=0.3)


@pytest.mark.parametrize("name", ["R10", "R41", "R28", "R40", "R23"])
def test_a_resistor_open(board, hall, name):
    got = solved(board, open_(board, name))[0]
    assert got == pytest.approx(exactly(apply(hall, [Remove(name)])), abs=0.5)


def test_a_short(board, hall):
    got = solved(board, Change(siemens=((Point("V4", "3"), CHASSIS, 1000.0),)))[0]
    shorted = apply(hall, [Join(Point("V4", "3"), CHASSIS)])
    assert got == pytest.approx(exactly(shorted), rel=0.01, abs=0.2)


def test_a_weak_valve(board, hall):
    got = solved(board, Change(emission={"V1/2": 0.4, "V4": 0.5}))[0]
    assert got == pytest.approx(exactly(hall, emission={"V1/2": 0.4, "V4": 0.5}), abs=0.5)


def test_a_dry_joint_leaves_the_rest_of_the_node_together(board, hall):
    fault = next(f for f in faults(board) if "KEY to V3.1" in f.words)
    assert fault.change.apart == {Point("V3", "1")}
    got = solved(board, fault.change)[0]
    cut = apply(hall, [Cut(Point("KEY"), Point("V3", "1"))])
    assert got == pytest.approx(exactly(cut), abs=0.6)


def test_half_a_rectifier_lowers_the_ht(board):
    whole, half, none = solved(board, Change(), Change(paths={"V6/1": 0.0}),
                               Change(paths={"V6/1": 0.0, "V6/2": 0.0}))  # fmt: skip
    assert 0.6 * whole[0] < half[0] < 0.95 * whole[0]
    assert abs(none[0]) < 1


def test_every_fault_of_a_real_set_settles(board):
    thought = faults(board)
    assert len({(f.key, f.size) for f in thought}) == len(thought)
    assert {f.kind for f in thought} <= WEIGHTS.keys()
    states = solve(board, [f.change for f in thought])
    assert states.settled.all()
    assert np.isfinite(states.x).all()


def test_order_and_chunks_change_nothing(board):
    changes = [f.change for f in faults(board)[:40]]
    together = solve(board, changes).x
    alone = np.concatenate([solve(board, [c]).x for c in changes[::-1]])[::-1]
    assert together == pytest.approx(alone, abs=0.02)
