"""Resistances against published networks and two general-purpose libraries.

Solids: D. J. Klein, Resistance-distance sum rules, Croat. Chem. Acta 75 (2002) 633, and the
October 2007 challenge of IBM Research (edge values); face and body diagonals by the pseudo-inverse
in numpy. Ladders: Fibonacci ratios (S. J. van Enk, arXiv). Bridges: closed form in sympy-free
rationals below. Sum rules: R. M. Foster, The average impedance of an electrical network (1949).
"""

from __future__ import annotations

import math
import random
import sys
from fractions import Fraction
from pathlib import Path

import networkx as nx
import numpy as np
import pytest

from buzzout.electrics.linear import solver
from buzzout.electrics.network import Edges
from buzzout.electrics.resistance import resistances

sys.path.insert(0, str(Path(__file__).parents[1] / "electrics"))
from boards import Board, point


def edges_of(graph, ohms="ohms"):
    number = {node: i for i, node in enumerate(graph.nodes)}
    rows = [(number[a], number[b], 1 / d.get(ohms, 1.0)) for a, b, d in graph.edges(data=True)]
    a, b, g = zip(*rows, strict=True) if rows else ((), (), ())
    return Edges(len(number), np.array(a, int), np.array(b, int), np.array(g, float)), number


def random_network(seed):
    rng = random.Random(seed)
    size = rng.randrange(2, 30)
    graph = nx.gnm_random_graph(size, rng.randrange(1, 3 * size), seed=seed)
    graph = graph.subgraph(max(nx.connected_components(graph), key=len)).copy()
    for _, _, data in graph.edges(data=True):
        data["ohms"] = 10 ** rng.uniform(0, 6)
    return graph


@pytest.mark.parametrize("seed", range(300))
def test_random_network_agrees_with_networkx(seed):
    graph = random_network(seed)
    if len(graph) < 2:
        pytest.skip("one node left")
    edges, number = edges_of(graph)
    start = next(iter(graph.nodes))
    ours = solver(edges).to(number[start])
    theirs = nx.resistance_distance(graph, start, weight="ohms", invert_weight=True)
    for node in graph.nodes:
        assert ours[number[node]] == pytest.approx(theirs[node], rel=1e-6, abs=1e-6)


SOLIDS = [
    (nx.tetrahedral_graph, {1: Fraction(1, 2)}, Fraction(3)),
    (nx.cubical_graph, {1: Fraction(7, 12), 2: Fraction(3, 4), 3: Fraction(5, 6)}, Fraction(58, 3)),
    (nx.octahedral_graph, {1: Fraction(5, 12), 2: Fraction(1, 2)}, Fraction(13, 2)),
    (
        nx.icosahedral_graph,
        {1: Fraction(11, 30), 2: Fraction(7, 15), 3: Fraction(1, 2)},
        Fraction(28),
    ),
    (
        nx.dodecahedral_graph,
        {1: Fraction(19, 30), 2: Fraction(9, 10), 4: Fraction(17, 15), 5: Fraction(7, 6)},
        Fraction(548, 3),
    ),
]


@pytest.mark.parametrize(("make", "by_distance", "kirchhoff"), SOLIDS)
def test_solids(make, by_distance, kirchhoff):
    graph = make()
    edges, number = edges_of(graph)
    ready = solver(edges)
    table = np.array([ready.to(i) for i in range(len(graph))])
    far = dict(nx.all_pairs_shortest_path_length(graph))
    for steps, ohms in by_distance.items():
        seen = {table[number[a], number[b]] for a in graph for b in graph if far[a][b] == steps}
        assert max(seen) == pytest.approx(float(ohms))
        assert min(seen) == pytest.approx(float(ohms))
    assert table.sum() / 2 == pytest.approx(float(kirchhoff))


@pytest.mark.parametrize(
    ("sections", "ohms"),
    [(1, (2, 1)), (2, (5, 3)), (3, (13, 8)), (4, (34, 21)), (5, (89, 55)), (8, (1597, 987))],
)
def test_ladder_gives_fibonacci_ratios(sections, ohms):
    board = Board()
    for k in range(sections):
        board.r(f"S{k}", "1R", f"N{k}", f"N{k + 1}")
        board.r(f"P{k}", "1R", f"N{k + 1}", "chassis")
    got = resistances(board.circuit()).between(point("N0"), point("chassis"))
    assert got.nominal == pytest.approx(ohms[0] / ohms[1])


def test_long_ladder_is_the_golden_ratio():
    edges = Edges(
        2001,
        np.array([i for k in range(1000) for i in (k, k + 1)]),
        np.array([i for k in range(1000) for i in (k + 1, 2000)]),
        np.ones(2000),
    )
    got = solver(edges).between([(0, 2000)])[0]
    assert got == pytest.approx((1 + math.sqrt(5)) / 2)


# Unbalanced bridge A-B, B-D, A-C, C-D, B-C; closed form computed by hand in rationals.
@pytest.mark.parametrize(
    ("values", "ohms"),
    [
        ((1, 2, 3, 4, 5), Fraction(155, 74)),
        ((100, 200, 300, 400, 500), Fraction(7750, 37)),
        ((1, 1, 1, 2, 1), Fraction(13, 11)),
        ((10, 20, 30, 60, 47), Fraction(45, 2)),
    ],
)
def test_bridge(values, ohms):
    board = Board()
    ends = (("A", "B"), ("B", "D"), ("A", "C"), ("C", "D"), ("B", "C"))
    for k, ((a, b), r) in enumerate(zip(ends, values, strict=True)):
        board.r(f"R{k}", f"{r}R", a, b)
    got = resistances(board.circuit()).between(point("A"), point("D"))
    assert got.nominal == pytest.approx(float(ohms))


@pytest.mark.parametrize("seed", range(40))
def test_foster_sum_rule(seed):
    """The resistances across all branches, each over its own ohms, sum to nodes less one."""
    graph = random_network(1000 + seed)
    edges, _ = edges_of(graph)
    across = solver(edges).between(list(zip(edges.a.tolist(), edges.b.tolist(), strict=True)))
    assert (across * edges.siemens).sum() == pytest.approx(len(graph) - 1, rel=1e-6)


@pytest.mark.parametrize("seed", range(30))
def test_exact_bounds_hold_every_sample_and_are_reached(seed):
    """Rayleigh's law: no choice inside the tolerances leaves the range; the corners reach it."""
    graph = random_network(2000 + seed)
    rng = random.Random(seed)
    board = Board()
    for k, (a, b, d) in enumerate(graph.edges(data=True)):
        board.r(f"R{k}", f"{d['ohms']:.6f} {rng.choice([5, 10, 20])}%", f"N{a}", f"N{b}")
    nodes = [f"N{n}" for n in graph.nodes]
    if len(nodes) < 2:
        pytest.skip("one node left")
    at, to = point(nodes[0]), point(nodes[-1])
    circuit = board.circuit()
    span = resistances(circuit).between(at, to)
    for _ in range(10):
        sampled = nx.Graph()
        for part in circuit.parts.values():
            low, high = part.value.span()
            ends = [circuit.landing(p) for p in part.points]
            ohms = rng.choice([low, high, rng.uniform(low, high)])
            sampled.add_edge(*ends, ohms=ohms)
        got = nx.resistance_distance(sampled, at, to, weight="ohms", invert_weight=True)
        assert span.low * (1 - 1e-9) <= got <= span.high * (1 + 1e-9)
    assert span.low < span.nominal < span.high
