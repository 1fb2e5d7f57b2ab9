"""Equality against independent judges on graphs turned into networks of equal resistors.

Sources: the Atlas of Graphs (Read and Wilson, Oxford 1998) as networkx ships it; the 4x4
rook's graph and the Shrikhande graph
(Shrikhande, Ann. Math. Stat. 30, 1959), which colours cannot tell apart;
pairs after Cai, Fürer and Immerman (Combinatorica 12, 1992). Judges: networkx, pynauty.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import combinations
from random import Random

import networkx as nx
import pytest
from families import atlas, cai_fuerer_immerman, network, rook, shrikhande, shuffled

from buzzout.compare import compare
from buzzout.compare.model import build
from buzzout.compare.refine import same

pynauty = pytest.importorskip("pynauty")


def equal(one: nx.Graph, two: nx.Graph) -> bool:
    answer = same(build(network(one), network(two, "found")))
    assert answer is not None
    return answer is not False


def told_equal(one: nx.Graph, two: nx.Graph) -> bool:
    """The same question to the whole comparison."""
    result = compare(network(one), network(two, "found"))
    assert result.proof.sufficient, result.proof.why
    assert result.equal == (result.proof.cost == 0)
    return result.equal


def certificate(graph: nx.Graph) -> bytes:
    names = {node: n for n, node in enumerate(graph)}
    near = {names[n]: [names[m] for m in graph[n]] for n in graph}
    return pynauty.certificate(pynauty.Graph(len(names), adjacency_dict=near))


def colours(graph: nx.Graph) -> str:
    """What colour refinement makes of a graph."""
    nx.set_node_attributes(graph, "", "colour")
    return nx.weisfeiler_lehman_graph_hash(graph, node_attr="colour", iterations=3)


def test_every_graph_of_the_atlas_equals_its_shuffled_copy() -> None:
    assert all(equal(g, shuffled(g, n)) for n, g in enumerate(atlas()))


def test_the_whole_comparison_says_so_as_well() -> None:
    for n, graph in enumerate(Random(2).sample(atlas(), 60)):
        assert told_equal(graph, shuffled(graph, n))


def test_pairs_of_the_atlas_are_equal_if_and_only_if_isomorphic() -> None:
    alike = defaultdict(list)
    for graph in atlas():
        alike[colours(graph)].append(graph)
    pairs = [pair for group in alike.values() for pair in combinations(group, 2)]
    assert len(pairs) > 20  # those that colours do not tell apart: every one is tried
    same_order = defaultdict(list)
    for graph in atlas():
        same_order[graph.number_of_nodes(), graph.number_of_edges()].append(graph)
    random = Random(1)
    for group in same_order.values():
        pairs += random.sample(
            list(combinations(group, 2)), min(10, len(group) * (len(group) - 1) // 2)
        )
    for one, two in pairs:
        truth = nx.is_isomorphic(one, two)
        assert truth == (certificate(one) == certificate(two))
        assert equal(one, shuffled(two, 3)) == truth


def test_the_rook_and_the_shrikhande_graph_differ() -> None:
    assert sorted(d for _, d in rook().degree) == sorted(d for _, d in shrikhande().degree)
    assert not equal(rook(), shrikhande())
    assert equal(rook(), shuffled(rook(), 2))
    assert equal(shrikhande(), shuffled(shrikhande(), 2))
    assert told_equal(rook(), shuffled(rook(), 5))
    assert told_equal(shrikhande(), shuffled(shrikhande(), 5))


def test_six_in_a_ring_are_not_two_triangles() -> None:
    triangles = nx.disjoint_union(nx.cycle_graph(3), nx.cycle_graph(3))
    assert colours(nx.cycle_graph(6)) == colours(triangles)
    result = compare(network(nx.cycle_graph(6)), network(triangles, "found"))
    assert result.proof.cost == 2  # one lead of each triangle goes over to the other one
    assert result.proof.minimal
    assert result.proof.sufficient


@pytest.mark.parametrize("base", [nx.complete_graph(4)])
def test_cai_fuerer_immerman_pairs_differ(base: nx.Graph) -> None:
    straight, twisted = (cai_fuerer_immerman(base, twisted=t) for t in (False, True))
    assert colours(straight) == colours(twisted)
    assert certificate(straight) != certificate(twisted)
    assert not equal(straight, twisted)
    assert equal(straight, shuffled(straight, 1))
    assert equal(twisted, shuffled(twisted, 1))
    assert told_equal(twisted, shuffled(twisted, 2))
