"""Equality against independent judges on graphs turned into networks of equal resistors.

Sources: the Atlas of Graphs (Read and Wilson, Oxford 1998) as networkx ships it; the 4x4 rook's
graph and the Shrikhande graph (Shrikhande, Ann. Math. Stat. 30, 1959), T(8) and the three graphs of
Chang (Sci. Record 3, 1959), which colours cannot tell apart; pairs after Cai, Fürer and Immerman
(Combinatorica 12, 1992). Judges: networkx, pynauty.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import combinations, pairwise, product
from random import Random

import networkx as nx
import pytest
from families import (
    atlas,
    base,
    cai_fuerer_immerman,
    chang,
    network,
    pieces,
    rook,
    shrikhande,
    shuffled,
    torus,
)

from buzzout.compare import compare
from buzzout.compare.isomorphism import _Failures
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


def isomorphic(one: nx.Graph, two: nx.Graph) -> bool:
    """Both judges' word."""
    truth = bool(nx.is_isomorphic(one, two))
    assert truth == (certificate(one) == certificate(two))
    return truth


@pytest.mark.parametrize("degree", [2, 3, 4, 5])
@pytest.mark.parametrize("nodes", [8, 10, 12])
def test_random_regular_graphs(nodes: int, degree: int) -> None:
    """20 of each: the answer for each and the one before it, and for each and its copy."""
    graphs = [nx.random_regular_graph(degree, nodes, seed=seed) for seed in range(20)]
    equals = 0
    for seed, (one, two) in enumerate(pairwise([*graphs, graphs[0]])):
        truth = isomorphic(one, two)
        equals += truth
        assert equal(one, shuffled(two, seed)) == truth
        assert equal(one, shuffled(one, seed))
    assert equals < 20


@pytest.mark.parametrize("seed", range(40))
def test_two_edges_of_a_regular_graph_exchange_their_ends(seed: int) -> None:
    """All degrees stay, and often so much more that only the search can tell."""
    one = nx.random_regular_graph(3, 40, seed=seed)
    two = nx.double_edge_swap(one.copy(), seed=seed)
    assert equal(one, shuffled(two, seed)) == isomorphic(one, two)
    assert equal(two, shuffled(two, seed + 1))


def test_the_strongly_regular_graphs_of_28_nodes_differ() -> None:
    four = [chang(rings) for rings in ([], [8], [3, 5], [2, 2, 2, 2])]
    assert len({certificate(graph) for graph in four}) == 4
    for (m, one), (n, two) in product(enumerate(four), repeat=2):
        assert equal(one, shuffled(two, m)) == (m == n)


@pytest.mark.parametrize("seed", range(12))
def test_symmetries_asked_for_at_every_failure_leave_the_answers_as_they_are(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As if each failure had cost enough to pay for any question; all keep the cells."""
    ask = _Failures._symmetry

    def add(failures: _Failures, w: int, _cost: int) -> None:
        failures.failed.append(w)
        failures.credit += 10**6

    def symmetry(failures: _Failures, x: int, w: int) -> list[tuple[int, int]] | None:
        pairs, cell, piece = ask(failures, x, w), failures.search.cells.cell, failures.piece
        to = {piece[a]: piece[b - len(piece)] for a, b in pairs or ()}
        assert to.get(x, w) == w
        assert all(cell[a] == cell[b] for a, b in to.items())
        return pairs

    monkeypatch.setattr(_Failures, "add", add)
    monkeypatch.setattr(_Failures, "_symmetry", symmetry)
    random = Random(seed)
    some = [nx.random_regular_graph(3, random.choice((6, 8)), seed=seed + n) for n in range(5)]
    gadgets = cai_fuerer_immerman(base(6), twisted=seed % 2 == 0)
    four = [chang(rings) for rings in ([], [8], [3, 5], [2, 2, 2, 2])]
    for graph in (pieces(*some), nx.line_graph(pieces(*some[:2])), gadgets, four[seed % 4]):
        assert equal(graph, shuffled(graph, seed))
    assert not equal(gadgets, cai_fuerer_immerman(base(6), twisted=seed % 2 == 1))
    assert not equal(four[seed % 4], shuffled(four[(seed + 1) % 4], seed))


@pytest.mark.parametrize("nodes", [4, 10, 20])
def test_cai_fuerer_immerman_pairs_differ(nodes: int) -> None:
    straight, twisted = (cai_fuerer_immerman(base(nodes), twisted=t) for t in (False, True))
    assert colours(straight) == colours(twisted)
    assert certificate(straight) != certificate(twisted)
    assert not equal(straight, shuffled(twisted, 1))
    assert equal(straight, shuffled(straight, 1))
    assert equal(twisted, shuffled(twisted, 1))


def test_with_few_choices_the_question_is_left_open() -> None:
    straight, twisted = (cai_fuerer_immerman(base(10), twisted=t) for t in (False, True))
    unlike = build(network(straight), network(shuffled(twisted, 1), "found"))
    equals = build(network(straight), network(shuffled(straight, 1), "found"))
    assert [same(unlike, choices) for choices in (0, 1, 10, 1000)] == [None, None, None, False]
    assert same(equals, 0) is None
    assert isinstance(same(equals, 100), tuple)


def test_the_whole_comparison_tells_a_twisted_one_from_itself_shuffled() -> None:
    twisted = cai_fuerer_immerman(base(4), twisted=True)
    assert told_equal(twisted, shuffled(twisted, 2))


LADDER = nx.circular_ladder_graph(40)


@pytest.mark.parametrize(
    ("one", "two"),
    [
        (nx.grid_2d_graph(12, 12), nx.grid_2d_graph(9, 16)),
        (LADDER, nx.circulant_graph(80, [1, 40])),
        (torus(9), torus(9, 1)),
        (torus(20), torus(20, 10)),
        (torus(20, 3), torus(20, 7)),
        (nx.hypercube_graph(6), nx.circulant_graph(64, [1, 5, 14])),
        (nx.dodecahedral_graph(), nx.desargues_graph()),
    ],
    ids=["mesh", "ladder", "torus", "large torus", "twisted torus", "cube", "cubic of 20"],
)
def test_a_mesh_is_itself_and_not_another(one: nx.Graph, two: nx.Graph) -> None:
    assert certificate(one) != certificate(two)
    assert not equal(one, shuffled(two, 1))
    assert equal(one, shuffled(one, 2))
    assert equal(two, shuffled(two, 3))


@pytest.mark.parametrize("many", [5, 40])
@pytest.mark.parametrize(
    ("like", "other"),
    [
        (nx.cycle_graph(6), pieces(nx.cycle_graph(3), nx.cycle_graph(3))),
        (rook(), shrikhande()),
        (nx.petersen_graph(), nx.circular_ladder_graph(5)),
        *[[cai_fuerer_immerman(base(4), twisted=t) for t in (False, True)]],
    ],
    ids=["rings", "strongly regular", "cubic", "Cai-Fürer-Immerman"],
)
def test_equal_pieces_and_one_that_only_looks_so(
    like: nx.Graph, other: nx.Graph, many: int
) -> None:
    """Colours cannot tell them apart; the pieces are matched one by one."""
    equals, odd = pieces(*many * [like]), pieces(*(many - 2) * [like], other, like)
    assert equal(equals, shuffled(equals, many))
    assert not equal(equals, shuffled(odd, many))
    assert equal(odd, shuffled(odd, many))
