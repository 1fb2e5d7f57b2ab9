"""Timings and robustness of the electrics, printed as tables.

python bench/electrics.py                     everything below
python bench/electrics.py speed               resistance chart, operating point, ranges, bring-up
python bench/electrics.py networks            resistor networks of up to 5,000 nodes
python bench/electrics.py cold                every reference circuit from nothing, in every state
python bench/electrics.py wild [boards]       boards with random errors, 1,000 of them
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

from buzzout.circuit import CHASSIS, Point  # noqa: E402
from buzzout.electrics.bringup import bring_up  # noqa: E402
from buzzout.electrics.charts import voltage_chart  # noqa: E402
from buzzout.electrics.draft import COLD, STARTING, WARM, Power, Supply  # noqa: E402
from buzzout.electrics.linear import solver  # noqa: E402
from buzzout.electrics.mains import Lamp  # noqa: E402
from buzzout.electrics.network import Edges  # noqa: E402
from buzzout.electrics.operating import operate  # noqa: E402
from buzzout.electrics.resistance import chart  # noqa: E402
from buzzout.language.load import read  # noqa: E402

CASES = ROOT / "tests" / "electrics" / "cases"


def boards():
    """Reference circuits with something that feeds them."""
    yield from sorted(CASES.glob("*.buzz"))
    yield from sorted((ROOT / "examples").rglob("*.reference.buzz"))
    yield ROOT / "tests" / "cli" / "electrics" / "small.reference.buzz"


def fed(circuit, **how):
    """Power from the mains, or 250 V on HT where the file has no mains."""
    if circuit.mains is None and Point("HT") in circuit.node_of:
        how["supplies"] = (Supply(Point("HT"), CHASSIS, 250.0),)
    return Power(**how)


def timed(work):
    """Best of three, as a cell of a table."""
    return f"{min(_once(work) for _ in range(3)) * 1e3:8.1f} ms"


def _once(work):
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def speed():
    print(
        f"{'board':36} parts  ohms chart   operating    with ranges  bring-up     behind a lamp\n"
        f"{'to hold on the demo board':36}        200 ms       300 ms       300 ms      2000 ms"
    )
    for path in boards():
        circuit = read(path)
        power = fed(circuit)
        lamp = Lamp(60, circuit.mains.voltage.value if circuit.mains else 230.0)
        works = [
            partial(chart, circuit),
            partial(operate, circuit, power),
            partial(voltage_chart, circuit, power),
        ]
        if circuit.mains is not None:
            works += [partial(bring_up, circuit), partial(bring_up, circuit, lamp)]
        print(f"{path.name:36} {len(circuit.parts):5}", *(f"{timed(work):>12}" for work in works))


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


def cold():
    print("\nreference circuits from nothing: mains fractions and lamps, each cold, starting, warm")
    told = Counter()
    for path in boards():
        circuit = read(path)
        volts = circuit.mains.voltage.value if circuit.mains else 230.0
        for heat in (COLD, STARTING, WARM):
            for fraction in (0.1, 0.25, 0.5, 0.75, 1.0, 1.1):
                for lamp in (None, Lamp(25, volts), Lamp(60, volts), Lamp(200, volts)):
                    state = operate(
                        circuit, fed(circuit, heat=heat, fraction=fraction, limiter=lamp)
                    )
                    told["settled" if state.settled else "not settled"] += 1
                    if not state.settled:
                        print(f"  {path.name} {heat} {fraction} {lamp}: {state.unsettled}")
    print(" ", dict(told))


def wild(count):
    print(f"\n{count} boards with one to four random errors: bridges, opens, shorts, moved, gone")
    circuits = [(path.name, read(path)) for path in boards()]
    told, spent, worst = Counter(), 0.0, 0.0
    for seed in range(count):
        name, circuit = circuits[seed % len(circuits)]
        board = spoiled(circuit, seed)
        start = time.perf_counter()
        got = operate(board, fed(circuit))
        took = time.perf_counter() - start
        spent, worst = spent + took, max(worst, took)
        told["settled" if got.settled else "not settled, named"] += 1
        if not got.settled:
            print(f"  {name} seed {seed}: {', '.join(got.unsettled)},"
                  f" at {got.solution.fraction:.3f} of the supply")  # fmt: skip
    print(" ", dict(told), f"mean {spent / count * 1e3:.0f} ms, worst {worst * 1e3:.0f} ms")


def main(words):
    which = words[0] if words else "everything"
    if which in ("speed", "everything"):
        speed()
    if which in ("networks", "everything"):
        networks()
    if which in ("cold", "everything"):
        cold()
    if which in ("wild", "everything"):
        wild(int(words[1]) if len(words) > 1 else 1000)


if __name__ == "__main__":
    main(sys.argv[1:])
