"""Linear networks with sources against a dense solution written here, sharing no code."""

from __future__ import annotations

import random
import sys
from pathlib import Path

import numpy as np
import pytest

from buzzout.circuit import CHASSIS, Part, parse
from buzzout.electrics.draft import Power, Supply
from buzzout.electrics.mains import alternating
from buzzout.electrics.operating import operate
from buzzout.electrics.signal import Drive, signals

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


@pytest.mark.parametrize(("primary", "secondary", "load"), [(20.0, 0.1, 2.0), (8.0, 0.05, 1.0)])
def test_regulation_of_a_transformer(primary, secondary, load):
    """V = V0 RL / (RL + Rs + Rp / n^2) behind an ideal core: any textbook on transformers."""
    board = Board(mains=("230V", "50Hz")).winding_part(
        "T1", "transformer",
        [("primary", "0 230", (0, 230), (primary,)), ("lt", "a b", (0, 6.3), (secondary,))],
        a="chassis",
    )  # fmt: skip
    got = operate(board.r("RL", f"{load}R", "T1.b", "chassis").circuit())
    volts = alternating(got.side, got.pulses, got.net.of[point("T1.b")])
    ratio = 230 / 6.3
    assert volts == pytest.approx(
        6.3 * load / (load + secondary + primary / ratio**2), rel=2e-3
    )  # the iron takes a trace


@pytest.mark.parametrize(("load", "ohms"), [(15.0, 8000.0), (8.0, 8000 * 8 / 15), (30.0, 16000.0)])
def test_output_transformer_reflects_its_load(load, ohms):
    """Impedance goes with the square of the turns: 8 k for 15 ohm, in proportion for others."""
    board = Board().winding_part(
        "T2", "transformer",
        [("primary", "a b", (), (1e-3,), 8000.0), ("secondary", "0 15", (), (1e-3,), 15.0)],
        b="chassis",
    )  # fmt: skip
    board.parts["LS1"] = Part("LS1", "speaker", ("1", "2"), parse(f"{load / 0.85}R", "ohm"))
    board.wire("LS1.1", "T2.15").wire("LS1.2", "T2.0").wire("T2.0", "chassis")
    state = operate(board.circuit())
    got = signals(state, Drive(point("T2.a"), ohms=ohms), 1000.0).gain(point("T2.a"))
    assert abs(got) == pytest.approx(0.5, rel=0.01)  # matched: half the source voltage
