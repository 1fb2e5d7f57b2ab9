"""Linear networks with sources against a dense solution written here, sharing no code."""

from __future__ import annotations

import random
import sys
from pathlib import Path

import numpy as np
import pytest

from buzzout.circuit import CHASSIS
from buzzout.electrics.draft import Power, Supply
from buzzout.electrics.operating import operate

sys.path.insert(0, str(Path(__file__).parents[1] / "electrics"))
from boards import Board, point


@pytest.mark.parametrize("seed", range(60))
def test_random_network_with_two_sources(seed):
    rng = random.Random(seed)
    size = rng.randrange(3, 15)
    nodes = [f"N{i}" for i in range(size)]
    ends = [(nodes[i], nodes[i - 1] if i else "chassis") for i in range(size)]
    ends += [tuple(rng.sample([*nodes, "chassis"], 2)) for _ in range(size)]
    values = [round(10 ** rng.uniform(0, 6), 3) for _ in ends]
    board = Board()
    for k, ((a, b), ohms) in enumerate(zip(ends, values, strict=True)):
        board.r(f"R{k}", f"{ohms}R", a, b)
    fed = {nodes[0]: 250.0, nodes[-1]: -35.0}

    number = {n: i for i, n in enumerate(nodes)}
    matrix, right = np.zeros((size, size)), np.zeros(size)
    for (a, b), ohms in zip(ends, values, strict=True):
        for here, there in ((a, b), (b, a)):
            if here != "chassis":
                matrix[number[here], number[here]] += 1 / ohms
                if there != "chassis":
                    matrix[number[here], number[there]] -= 1 / ohms
    for name, volts in fed.items():
        matrix[number[name]], right[number[name]] = 0, volts
        matrix[number[name], number[name]] = 1
    expected = np.linalg.solve(matrix, right)

    supplies = tuple(Supply(point(n), CHASSIS, v) for n, v in fed.items())
    got = operate(board.circuit(), Power(supplies=supplies))
    assert got.settled
    for name in nodes:
        assert got.volts(point(name)) == pytest.approx(expected[number[name]], rel=1e-6, abs=1e-6)


# Loaded dividers and the unbalanced bridge: 10 (2/3 - 4/7) = 0.95238 V, elementary.
@pytest.mark.parametrize(("r", "volts"), [((1, 2, 3, 4), 0.952381), ((10, 20, 30, 60), 0.0)])
def test_bridge_unbalance(r, volts):
    board = Board().r("R1", f"{r[0]}k", "T", "B").r("R2", f"{r[1]}k", "B", "chassis")
    board.r("R3", f"{r[2]}k", "T", "C").r("R4", f"{r[3]}k", "C", "chassis")
    got = operate(board.circuit(), Power(supplies=(Supply(point("T"), CHASSIS, 10.0),)))
    assert got.volts(point("B"), point("C")) == pytest.approx(volts, abs=1e-5)
