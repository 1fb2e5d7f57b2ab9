"""Diagonal of a sparse inverse against the dense inverse of numpy."""

import networkx as nx
import numpy as np
import pytest

from buzzout.electrics.linear import DENSE, solver
from buzzout.electrics.network import Edges

GRAPHS = {
    "grid": lambda: nx.convert_node_labels_to_integers(nx.grid_2d_graph(40, 20)),
    "random": lambda: nx.gnm_random_graph(900, 1500, seed=3),
    "tree": lambda: nx.random_labeled_tree(800, seed=4),
    "star": lambda: nx.star_graph(750),
}


@pytest.mark.parametrize("decades", [1, 9])
@pytest.mark.parametrize("name", GRAPHS)
def test_against_the_dense_inverse(name, decades):
    """Values over one decade and over nine, as leads and grid leaks lie apart."""
    graph = GRAPHS[name]()
    rng = np.random.default_rng(5)
    a, b = np.array(graph.edges).T
    edges = Edges(len(graph), a, b, 10 ** -rng.uniform(-2, -2 + decades, len(a)))
    piece = sorted(max(nx.connected_components(graph), key=len))
    assert len(piece) > DENSE
    full = np.zeros((len(graph), len(graph)))
    for i, j, g in zip(edges.a, edges.b, edges.siemens, strict=True):
        full[[i, j], [i, j]] += g
        full[[i, j], [j, i]] -= g
    kept = piece[1:]
    wanted = np.diag(np.linalg.inv(full[np.ix_(kept, kept)]))
    got = solver(edges).to(piece[0])
    assert got[kept] == pytest.approx(wanted, rel=1e-6)
    others = sorted(set(range(len(graph))) - set(piece))
    assert np.isinf(got[others]).all()
