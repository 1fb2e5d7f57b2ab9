"""Timings and robustness of the electrics, printed as tables.

python bench/electrics.py [boards]
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from functools import partial
from pathlib import Path

import networkx as nx
import numpy as np

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests" / "electrics"))

from wild import spoiled  # noqa: E402 - found by the line above

from buzzout.electrics.bringup import bring_up  # noqa: E402
from buzzout.electrics.linear import solver  # noqa: E402
from buzzout.electrics.network import Edges  # noqa: E402
from buzzout.electrics.operating import operate  # noqa: E402
from buzzout.electrics.resistance import chart  # noqa: E402
from buzzout.language.load import read  # noqa: E402


def boards():
    yield ROOT / "tests" / "electrics" / "cases" / "small_amp.buzz"
    yield from sorted((ROOT / "examples").rglob("*.reference.buzz"))


def timed(work):
    best = min(_once(work) for _ in range(3))
    return f"{best * 1e3:8.1f} ms"


def _once(work):
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def speed():
    print("board                                parts   chart        operating    bring-up")
    for path in boards():
        circuit = read(path)
        row = (timed(partial(work, circuit)) for work in (chart, operate, bring_up))
        print(f"{path.name:36} {len(circuit.parts):5}", *row)


def _from_one(edges, node):
    solver(edges).to(node)


def networks():
    print("\nresistor networks, all nodes to one")
    rng = np.random.default_rng(1)
    for n in (500, 2000, 5000):
        for name, graph in (
            ("grid", nx.convert_node_labels_to_integers(nx.grid_2d_graph(n // 50, 50))),
            ("random", nx.gnm_random_graph(n, 3 * n // 2, seed=2)),
        ):
            a, b = np.array(graph.edges).T
            edges = Edges(len(graph), a, b, 10 ** -rng.uniform(1, 6, len(a)))
            big = max(nx.connected_components(graph), key=len)
            print(f"  {name:7} {n:5}", timed(partial(_from_one, edges, min(big))))


def wild(count):
    print(f"\n{count} boards with one to four random errors")
    circuit = read(ROOT / "tests" / "electrics" / "cases" / "small_amp.buzz")
    told, spent, worst = Counter(), 0.0, 0.0
    for seed in range(count):
        start = time.perf_counter()
        got = operate(spoiled(circuit, seed))
        took = time.perf_counter() - start
        spent, worst = spent + took, max(worst, took)
        told["settled" if got.settled else "not settled, named"] += 1
        if not got.settled:
            print(f"  seed {seed}: {got.unsettled}, fraction {got.solution.fraction:.3f}")
    print(" ", dict(told), f"mean {spent / count * 1e3:.0f} ms, worst {worst * 1e3:.0f} ms")


if __name__ == "__main__":
    speed()
    networks()
    wild(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
