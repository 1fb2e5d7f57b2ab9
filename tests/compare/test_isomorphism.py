"""The decision about graphs, without any circuit: laws of refinement, of pieces, of the search."""

from __future__ import annotations

from collections import Counter
from itertools import permutations, product
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buzzout.compare.cells import Cells, Edges, Effort, SpentError
from buzzout.compare.isomorphism import Graph, isomorphism, perfect_matching

ENOUGH = 10**7
Pairs = list[tuple[int, int, int]]


def graph(size: int, edges: Pairs, looks: list[object] | None = None) -> Graph:
    """Edges are two ends and a kind: 0 of no direction, else from the first to the second."""
    near: list[Edges] = [[] for _ in range(size)]
    for a, b, kind in edges:
        near[a].append((b, kind))
        near[b].append((a, -kind))
    return Graph(near, [0] * size, looks or [None] * size)


def renamed(size: int, edges: Pairs, random: Random) -> tuple[Pairs, list[int]]:
    name = random.sample(range(size), size)
    return random.sample([(name[a], name[b], k) for a, b, k in edges], len(edges)), name


def counted(edges: Pairs, to: dict[int, int]) -> Counter[tuple[object, int]]:
    """Edges by their ends after a mapping; those of no direction without an order."""
    ends = (((to[a], to[b]), k) for a, b, k in edges)
    return Counter((pair if k else frozenset(pair), k) for pair, k in ends)


def answer(one: Graph, two: Graph, most: int = ENOUGH) -> bool | None:
    mapping = isomorphism(one, two, Effort(most))
    return mapping if mapping is None else mapping is not False


def ring(size: int, start: int = 0) -> Pairs:
    return [(start + n, start + (n + 1) % size, 0) for n in range(size)]


@st.composite
def some_edges(draw: st.DrawFn) -> tuple[int, Pairs]:
    """Small multigraphs with loops, parallel edges, edges of two kinds and both directions."""
    size = draw(st.integers(1, 6))
    end = st.integers(0, size - 1)
    return size, draw(st.lists(st.tuples(end, end, st.sampled_from((0, 0, 1, 2))), max_size=9))


@given(some_edges(), st.integers(0, 99))
def test_a_graph_is_its_copy_under_other_names(drawn: tuple[int, Pairs], seed: int) -> None:
    size, edges = drawn
    other, _ = renamed(size, edges, Random(seed))
    mapping = isomorphism(graph(size, edges), graph(size, other), Effort(ENOUGH))
    assert mapping
    assert counted(edges, mapping) == counted(other, {v: v for v in range(size)})


@settings(max_examples=300)
@given(some_edges(), st.data())
def test_one_edge_otherwise_and_every_permutation_is_the_judge(
    drawn: tuple[int, Pairs], data: st.DataObject
) -> None:
    size, edges = drawn
    end = st.integers(0, size - 1)
    more = [(a, b, 0) for a, b in [data.draw(st.tuples(end, end)), data.draw(st.tuples(end, end))]]
    one, two = [*edges, more[0]], [*edges, more[1]]
    itself = {v: v for v in range(size)}
    truth = any(
        counted(one, dict(enumerate(p))) == counted(two, itself) for p in permutations(range(size))
    )
    assert answer(graph(size, one), graph(size, two)) is truth


@given(some_edges(), st.integers(0, 99))
def test_the_partition_is_equitable_and_undo_brings_back_every_cell(
    drawn: tuple[int, Pairs], seed: int
) -> None:
    size, edges = drawn
    random = Random(seed)
    other, name = renamed(size, edges, random)
    near = [[(u, 1 << 10 * (k + 2)) for u, k in row] for row in graph(size, edges).near]
    near += [[(u + size, 1 << 10 * (k + 2)) for u, k in row] for row in graph(size, other).near]
    cells = Cells(near, [0] * 2 * size, Effort(ENOUGH))
    assert cells.refine([0])
    assert_equitable(cells)
    before, count = [set(m) for m in cells.members], len(cells.members)
    v = random.randrange(size)
    if cells.open(v):
        single = cells.split(cells.cell[v], {v, name[v] + size})
        assert cells.refine([single])
        assert_equitable(cells)
    cells.undo(count)
    assert cells.members == before
    assert all(v in cells.members[c] for v, c in enumerate(cells.cell))


@pytest.mark.parametrize("seed", range(20))
def test_the_partition_of_a_large_graph_is_equitable(seed: int) -> None:
    """Trees with some edges more: cells are split again while they wait to split others."""
    random, size = Random(seed), 80
    edges = [(v, random.randrange(max(0, v - 9), v), random.choice((0, 1))) for v in range(1, size)]
    edges += [(*random.sample(range(size), 2), 0) for _ in range(seed)]
    other, name = renamed(size, edges, random)
    near = [[(u, 1 << 10 * (k + 2)) for u, k in row] for row in graph(size, edges).near]
    near += [[(u + size, 1 << 10 * (k + 2)) for u, k in row] for row in graph(size, other).near]
    colours = [v % 3 for v in range(size)] + [0] * size
    for v, w in enumerate(name):
        colours[size + w] = v % 3
    cells = Cells(near, colours, Effort(ENOUGH))
    assert cells.refine(range(len(cells.members)))
    assert_equitable(cells)


def assert_equitable(cells: Cells) -> None:
    for members, into in product(cells.members, repeat=2):
        sums = {sum(kind for u, kind in cells.near[v] if u in into) for v in members}
        assert len(sums) == 1
        assert cells.balanced(members)


def test_pieces_alike_are_matched_not_permuted() -> None:
    """A choice for each piece; were they permuted, 300 of them would never end."""
    size = 5 * 300
    edges = [e for n in range(0, size, 5) for e in ring(5, n)]
    effort = Effort(20 * size)
    assert isomorphism(graph(size, edges), graph(size, renamed(size, edges, Random(1))[0]), effort)


def test_pieces_of_one_cell_but_of_other_sizes_differ() -> None:
    assert answer(graph(12, ring(12)), graph(12, ring(6) + ring(6, 6))) is False
    assert answer(graph(12, ring(8) + ring(4, 8)), graph(12, ring(6) + ring(6, 6))) is False


@pytest.mark.parametrize("gap", [None, 20])
def test_looks_that_are_no_equivalence_are_matched_across_pieces(gap: int | None) -> None:
    """Each vertex goes to its like or the next; the last only to the first, so all must move up."""
    size = 40
    alone = graph(size, [], [*range(size)])

    def fits(a: int, b: int) -> bool:
        return b == 0 if a == size - 1 else b == a or (b == a + 1 and a != gap)

    assert bool(isomorphism(alone, alone, Effort(ENOUGH), fits)) is (gap is None)


@given(st.lists(st.lists(st.booleans(), min_size=5, max_size=5), min_size=5, max_size=5))
def test_a_matching_is_found_if_there_is_one(table: list[list[bool]]) -> None:
    matching = perfect_matching(5, lambda a, b: table[a][b])
    there = any(all(table[a][b] for a, b in enumerate(p)) for p in permutations(range(5)))
    assert (matching is not None) == there
    if matching:
        assert sorted(matching) == sorted(matching.values()) == [*range(5)]
        assert all(table[a][b] for a, b in matching.items())


def test_when_the_effort_ends_the_question_is_left_open() -> None:
    edges = ring(30) + [(n, (n + 7) % 30, 0) for n in range(30)]
    other = ring(30) + [(n, (n + 8) % 30, 0) for n in range(30)]
    one, two = graph(30, edges), graph(30, other)
    whole = Effort(ENOUGH)
    assert isomorphism(one, two, whole) is False
    answers = [answer(one, two, most) for most in range(0, whole.spent + 1, 20)]
    assert None in answers
    assert True not in answers
    assert answer(one, two, whole.spent) is False
    assert answer(one, two, whole.spent - 1) is None


def test_the_effort_tells_when_it_is_spent() -> None:
    effort = Effort(3)
    effort.spend(3)
    with pytest.raises(SpentError):
        effort.spend(1)


def test_choices_nested_deeper_than_can_be_called_leave_it_open() -> None:
    """A complete graph singles its vertices out one within another."""
    size = 230
    edges = [(a, b, 0) for a in range(size) for b in range(a)]
    assert answer(graph(size, edges), graph(size, edges)) is None
    few = [e for e in edges if max(e) < 60]
    assert answer(graph(60, few), graph(60, few)) is True
