"""Pairs of circuits to be told equal or unlike, and other deciders of that question."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, product
from random import Random

import made
import netlists
import networkx as nx

from buzzout.circuit import Circuit, Link, Move, Part, Point, apply, parse
from buzzout.compare.colours import Half, halves
from buzzout.compare.model import FREE, Pair, build, found_nodes
from buzzout.compare.refine import same

DENSE = 3000  # vertices; pynauty keeps a matrix and takes minutes beyond
Coloured = tuple[list[int], list[tuple[int, int]]]


@dataclass(frozen=True)
class Question:
    """Two circuits; whoever answers gets them as graphs that were made before."""

    one: Circuit
    two: Circuit

    @cached_property
    def pair(self) -> Pair:
        return build(self.one, self.two)

    @cached_property
    def graphs(self) -> tuple[Coloured, Coloured]:
        one, two = (_graph(half) for half in halves(self.pair, _nodes(self.pair)))
        number = {c: n for n, c in enumerate(sorted({*one[0], *two[0]}))}
        return tuple(([number[c] for c in colours], edges) for colours, edges in (one, two))  # type: ignore[return-value]

    @property
    def vertices(self) -> int:
        return len(self.graphs[0][0])

    def decide(self) -> bool | None:
        """What this program says; None if it leaves the question open."""
        answer = same(self.pair)
        return None if answer is None else answer is not False


def _nodes(pair: Pair) -> list[list[int]]:
    """Found nodes that a small part or a pin with something inside is on."""
    used = {place for small in pair.board.smalls for place in small.at}
    for name, pins in pair.board.pins.items():
        used |= {place for pin, place in pins.items() if pair.drawing.pins[name][pin] != FREE}
    return [group for group in found_nodes(pair.board) if not used.isdisjoint(group)]


def _graph(half: Half) -> Coloured:
    """A vertex for each node, part and lead; the colour says which, and which anchors it has."""
    colours = [hash(("node", tuple(sorted(anchors)))) for anchors in half.anchors]
    edges = []
    for look, ends, polar in half.parts:
        part = len(colours)
        colours.append(hash(("part", look)))
        for s, n in enumerate(ends):
            edges += [(part, len(colours)), (len(colours), n)]
            colours.append(hash(("lead", s if polar else 0)))
    return colours, edges


# ---- families

Family = Callable[[Sequence[int]], Iterator[tuple[str, Question]]]


def boards(sizes: Sequence[int]) -> Iterator[tuple[str, Question]]:
    """Amplifiers: equal with names, equal without any name, and with two leads exchanged."""
    for parts in sizes:
        random = Random(parts)
        drawn = made.drawing(random, parts)
        wired = made.chassis(random, drawn)
        yield f"amplifier, {parts} parts", Question(drawn, wired)
        yield f"amplifier, {parts}, two leads", Question(drawn, _two_leads(random, wired))
        bare = _without_furniture(drawn)
        yield f"no names, {parts} parts", Question(bare, made.chassis(random, bare))


def _two_leads(random: Random, board: Circuit) -> Circuit:
    """Leads of two like resistors exchanged: the same degrees, another circuit."""
    like = [p for p in board.parts.values() if p.kind == "resistor"]
    while True:
        one, two = random.sample(like, 2)
        ends = [board.landing(p) for part in (one, two) for p in part.points]
        if one.value == two.value and len({board.node_of[p] for p in ends}) == len(ends):
            break
    a, b = one.points[0], two.points[0]
    return apply(board, [Move(a, ends[0], ends[2]), Move(b, ends[2], ends[0])])


def _without_furniture(circuit: Circuit) -> Circuit:
    """Small parts only; what a pin was on is a node without a name."""
    parts = {n: p for n, p in circuit.parts.items() if not p.furniture}
    node = {p: Point(f"n{i}") for p, i in circuit.node_of.items()}
    links = [Link(p, node[p], "joint") for part in parts.values() for p in part.points]
    return Circuit("reference", parts=parts, links=tuple(links))


def gates(_sizes: Sequence[int]) -> Iterator[tuple[str, Question]]:
    """Netlists without any name, where the package that ships them is installed."""
    for name in ("c432", "c1355", "c6288") if netlists.there() else ():
        drawn = netlists.drawing(name, ports=False)
        yield f"{name}, no names", Question(drawn, netlists.chassis(Random(1), drawn))


def network(graph: nx.Graph, kind: str = "reference") -> Circuit:
    """Every edge a resistor of 10k between two nodes."""
    parts, links = {}, []
    for n, (a, b) in enumerate(graph.edges, 1):
        part = Part(f"R{n}" if kind == "reference" else f"@{n}", "resistor", ("1", "2"),
                    value=parse("10k", "ohm"))  # fmt: skip
        parts[part.name] = part
        links += [Link(part.point("1"), Point(f"n{a}"), "lead")]
        links += [Link(part.point("2"), Point(f"n{b}"), "lead")]
    return Circuit(kind, parts=parts, links=tuple(links))


def shuffled(graph: nx.Graph, seed: int) -> nx.Graph:
    """The same graph under other names, its edges in another order and direction."""
    random = Random(seed)
    names = dict(zip(graph, random.sample(range(len(graph)), len(graph)), strict=True))
    edges = [(names[b], names[a]) for a, b in graph.edges]
    random.shuffle(edges)
    return nx.Graph(edges)


def atlas() -> list[nx.Graph]:
    """Graphs of the Atlas (Read and Wilson, Oxford 1998) with a resistor on every node."""
    graphs = nx.graph_atlas_g()
    return [g for g in graphs if g.number_of_edges() and min(d for _, d in g.degree) > 0]


def rook() -> nx.Graph:
    """The 4x4 rook's graph: strongly regular (16, 6, 2, 2)."""
    return nx.line_graph(nx.complete_bipartite_graph(4, 4))


def shrikhande() -> nx.Graph:
    """Strongly regular with the same figures (Shrikhande, Ann. Math. Stat. 30, 1959)."""
    steps = ((0, 1), (1, 0), (1, 1))
    return nx.Graph(
        ((i, j), ((i + a) % 4, (j + b) % 4))
        for i, j in product(range(4), repeat=2)
        for a, b in steps
    )


def chang(sizes: Sequence[int]) -> nx.Graph:
    """The triangular graph T(8), switched about rings of these sizes in the complete graph.

    Strongly regular (28, 12, 6, 4), as is T(8) itself: with rings of 8, of 3 and 5, or of 2 four
    times (an edge each) it is another one each time (Chang, Sci. Record 3, 1959; Seidel, 1967).
    """
    graph = nx.line_graph(nx.complete_graph(8))
    first, chosen = 0, set()
    for size in sizes:
        ring = range(first, first + size)
        chosen |= {tuple(sorted((v, first + (v - first + 1) % size))) for v in ring}
        first += size
    pairs = ((v, w) for v in chosen for w in set(graph) - chosen)
    for v, w in pairs:
        (graph.remove_edge if graph.has_edge(v, w) else graph.add_edge)(v, w)
    return graph


def torus(size: int, twist: int = 0) -> nx.Graph:
    """A square mesh closed both ways, one of them shifted by `twist` meshes."""
    return nx.Graph(
        ((i, j), far)
        for i, j in product(range(size), repeat=2)
        for far in (
            (i, (j + 1) % size),
            ((i + 1) % size, (j + twist * (i + 1 == size)) % size),
        )
    )


def pieces(*graphs: nx.Graph) -> nx.Graph:
    """These side by side with nothing between them."""
    return nx.disjoint_union_all(graphs)


def cai_fuerer_immerman(base: nx.Graph, *, twisted: bool) -> nx.Graph:
    """The pair of graphs over a base: a gadget a node, two wires an edge, one of them crossed.

    After Cai, Fürer and Immerman, Combinatorica 12 (1992).
    """
    graph = nx.Graph()
    for node in base:
        ends = sorted(base[node])
        for size in range(0, len(ends) + 1, 2):
            for chosen in combinations(ends, size):
                graph.add_edges_from(((node, chosen), (node, far, far in chosen)) for far in ends)
    for n, (a, b) in enumerate(base.edges):
        for side in (False, True):
            graph.add_edge((a, b, side), (b, a, side != (twisted and n == 0)))
    return graph


def base(nodes: int) -> nx.Graph:
    """A cubic graph to put gadgets on."""
    return nx.complete_graph(4) if nodes == 4 else nx.random_regular_graph(3, nodes, seed=1)


def regular(_sizes: Sequence[int]) -> Iterator[tuple[str, Question]]:
    """Graphs that colours cannot tell apart, as networks of equal resistors."""
    pairs = [("rook and rook", rook(), rook()), ("rook and Shrikhande", rook(), shrikhande())]
    pairs.append(("T(8) and a Chang graph", chang([]), chang([8])))
    for nodes in (4, 6, 10, 20):
        straight, twisted = (cai_fuerer_immerman(base(nodes), twisted=t) for t in (False, True))
        pairs.append((f"Cai-Fürer-Immerman {nodes}, equal", straight, straight))
        pairs.append((f"Cai-Fürer-Immerman {nodes}, twisted", straight, twisted))
    for nodes in (100, 300):
        cubic = nx.random_regular_graph(3, nodes, seed=2)
        pairs.append((f"random cubic {nodes}", cubic, cubic))
    ladder, mesh = nx.circular_ladder_graph(50), nx.grid_2d_graph(30, 30)
    rooks = [rook()] * 20
    pairs += [
        ("ladder of 50 rungs", ladder, ladder),
        ("ladder and twisted ladder", ladder, nx.circulant_graph(100, [1, 50])),
        ("mesh of 30 by 30", mesh, mesh),
        ("torus of 30 by 30", torus(30), torus(30)),
        ("torus and twisted torus", torus(30), torus(30, 5)),
        ("20 rooks", pieces(*rooks), pieces(*rooks)),
        ("20 rooks and one Shrikhande", pieces(*rooks), pieces(*rooks[1:], shrikhande())),
        ("1000 equal resistors", *2 * [pieces(*1000 * [nx.path_graph(2)])]),
    ]
    for name, one, two in pairs:
        yield name, Question(network(one), network(shuffled(two, 3), "found"))


FAMILIES: tuple[Family, ...] = (boards, gates, regular)


# ---- deciders


def _igraph(question: Question) -> tuple[bool, float] | None:
    try:
        import igraph  # noqa: PLC0415 - may be absent
    except ImportError:
        return None
    (mine, ones), (theirs, twos) = question.graphs
    a, b = igraph.Graph(len(mine), ones), igraph.Graph(len(theirs), twos)
    start = time.process_time()
    alike = sorted(mine) == sorted(theirs) and a.isomorphic_bliss(
        b, color1=mine, color2=theirs, sh1="fsm", sh2="fsm"
    )
    return bool(alike), time.process_time() - start


def _pynauty(question: Question) -> tuple[bool, float] | None:
    try:
        import pynauty  # noqa: PLC0415 - may be absent
    except ImportError:
        return None
    if question.vertices > DENSE:
        return None
    start = time.process_time()
    forms = []
    for colours, edges in question.graphs:
        near: dict[int, list[int]] = {n: [] for n in range(len(colours))}
        for x, y in edges:
            near[x].append(y)
        cells: dict[int, set[int]] = {}
        for n, c in enumerate(colours):
            cells.setdefault(c, set()).add(n)
        order = [cells[c] for c in sorted(cells)]
        graph = pynauty.Graph(len(colours), adjacency_dict=near, vertex_coloring=order)
        forms.append((sorted(colours), pynauty.certificate(graph)))
    return forms[0] == forms[1], time.process_time() - start


DECIDERS: dict[str, Callable[[Question], tuple[bool, float] | None]] = {
    "igraph": _igraph,
    "pynauty": _pynauty,
}
