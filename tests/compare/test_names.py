"""Names given, taken back and given anew; colours that only guess."""

from __future__ import annotations

import importlib
import sys
from collections import Counter
from itertools import combinations, permutations, product
from pathlib import Path
from random import Random

import pytest
from test_percolate import grid, net, right, shuffled

from buzzout.compare.colours import Half, colours, halves
from buzzout.compare.hues import Hued, alike
from buzzout.compare.mend import mended
from buzzout.compare.model import Pair, build, labelled_groups, live_nodes
from buzzout.compare.names import Names, Sides
from buzzout.compare.percolate import percolated

sys.path.insert(0, str(Path(__file__).parents[2] / "bench"))
import made as boards
import netlists
import slips_of_the_hand as faults

Edge = tuple[int, int, str]
FEW = "part_missing part_extra value_wrong lead_moved reversed_part values_exchanged".split()
engine = importlib.import_module("buzzout.compare.engine")
together = importlib.import_module("buzzout.compare.together")


def plain(pairs: list[tuple[int, int]]) -> list[Edge]:
    return [(a, b, "1k") for a, b in pairs]


SYMMETRIC = {
    "cube": plain([(a, a ^ bit) for a in range(8) for bit in (1, 2, 4) if a < a ^ bit]),
    "prism": plain([(0, 1), (1, 2), (2, 0), (3, 4), (4, 5), (5, 3), (0, 3), (1, 4), (2, 5)]),
    "three to three": plain(list(product(range(3), range(3, 6)))),
    "all to all": plain(list(combinations(range(6), 2))),
    "wheel": plain([(n, (n + 1) % 6) for n in range(6)] + [(n, 6) for n in range(6)]),
    "ring": plain([(n, (n + 1) % 7) for n in range(7)]),
}


def slipped(random: Random, edges: list[Edge]) -> list[Edge]:
    """A value wrong, a part gone, or a lead on another point."""
    edges = list(edges)
    at = random.randrange(len(edges))
    a, b, _ = edges.pop(at)
    if (slip := random.randrange(3)) == 0:
        edges.append((a, b, "2k2"))
    elif slip == 1:
        nodes = {n for edge in edges for n in edge[:2]} - {a, b}
        edges.append((a, random.choice(sorted(nodes)), "1k"))
    return edges


def most_right(drawn: list[Edge], found: list[Edge]) -> int:
    """How many found parts can be right at most: every way to name the nodes is tried."""
    there = Counter((min(a, b), max(a, b), value) for a, b, value in drawn)
    nodes = sorted({n for a, b, _ in found for n in (a, b)})
    best = 0
    for to in permutations(sorted({n for a, b, _ in drawn for n in (a, b)}), len(nodes)):
        name = dict(zip(nodes, to, strict=True))
        ends = ((name[a], name[b], value) for a, b, value in found)
        here = Counter((min(a, b), max(a, b), value) for a, b, value in ends)
        best = max(best, (here & there).total())
    return best


@pytest.mark.parametrize("name", SYMMETRIC)
@pytest.mark.parametrize("seed", range(4))
def test_in_a_symmetric_net_with_a_slip_as_many_parts_are_right_as_can_be(
    name: str, seed: int
) -> None:
    random = Random(seed)
    found = shuffled(random, slipped(random, SYMMETRIC[name]))
    pair = build(net("reference", SYMMETRIC[name]), net("found", found))
    assert right(pair, percolated(pair)) == most_right(SYMMETRIC[name], found)


def test_names_exchanged_are_mended() -> None:
    """Of two nodes, wherever they are on the grid."""
    pair = build(net("reference", grid(4, 4)), net("found", grid(4, 4)))
    names = Names(Sides(pair), percolated(pair))
    assert not names.odd()
    for n, m in combinations(names.given, 2):
        wrong = dict(names.given) | {n: names.given[m], m: names.given[n]}
        bad = Names(names.sides, wrong)
        assert set(bad.odd()) >= {n, m} or right(pair, wrong) == len(grid(4, 4))
        assert right(pair, mended(bad).given) == len(grid(4, 4))


def test_mending_makes_nothing_worse() -> None:
    for seed in range(5):
        random = Random(seed)
        drawn = boards.drawing(random, 60)
        pair = build(drawn, faults.plant(random, boards.chassis(random, drawn), 3)[0])
        sides = Sides(pair)
        every = range(len(sides.groups))
        names = Names(sides)
        for n, node in zip(random.sample(every, 20), random.sample(sides.nodes, 20), strict=True):
            names.give(n, node)
        assert mended(names).right(every) >= names.right(every)


def test_right_counts_parts_at_both_ends_and_leads_where_they_may_be_kept() -> None:
    pair = build(net("reference", grid(3, 3)), net("found", shuffled(Random(3), grid(3, 3))))
    names = Names(Sides(pair), percolated(pair))
    every = range(len(names.sides.groups))
    assert names.right(every) == 6 * len(grid(3, 3))
    n = every[0]
    other = names.anew([])
    del other.given[n]
    spoken = len(names.sides.around([n]))
    assert other.right(every) == names.right(every) - 5 * spoken


def test_one_part_too_many_makes_a_vote_weak() -> None:
    """Of two like parts on a node where one is drawn neither speaks clearly."""
    pair = build(
        net("reference", plain([(0, 1), (1, 2)])), net("found", plain([(0, 1), (0, 3), (1, 2)]))
    )
    group = {str(pair.board.places[g[0]][0]): n for n, g in enumerate(labelled_groups(pair).groups)}
    node = {str(p): n for n, points in enumerate(pair.drawing.nodes) for p in points}
    names = Names(Sides(pair))
    names.give(group["n0"], node["n0"])
    assert names.spread(1.0) == 0
    assert names.spread(0.5) == 3 - 1


def partition(colours: list[int]) -> set[frozenset[int]]:
    table: dict[int, set[int]] = {}
    for n, colour in enumerate(colours):
        table.setdefault(colour, set()).add(n)
    return {frozenset(nodes) for nodes in table.values()}


def both(pair: Pair) -> tuple[Half, Half]:
    return halves(pair, labelled_groups(pair).groups)


@pytest.mark.parametrize("seed", range(4))
def test_hues_tell_apart_what_colours_tell_apart(seed: int) -> None:
    """On both sides at once, at every radius, with some nodes named."""
    random = Random(seed)
    edges = [(*random.sample(range(30), 2), random.choice(("1k", "2k2"))) for _ in range(40)]
    pair = build(net("reference", edges), net("found", shuffled(random, edges[1:])))
    drawn, found = both(pair)
    named = [{n: n for n in range(seed)}, {n + 2: n for n in range(seed)}]
    fixed = [
        [of.get(n) for n in range(len(half.anchors))]
        for of, half in zip(named, (drawn, found), strict=True)
    ]
    exact = colours(drawn, found, *fixed)
    numbers: dict[object, int] = {}
    ours, theirs = (Hued(half, numbers) for half in (drawn, found))  # type: ignore[arg-type]
    for (a, b), c, d in zip(exact, ours.colours(named[0]), theirs.colours(named[1]), strict=True):
        assert partition([*a, *b]) == partition([*c.tolist(), *d.tolist()])
        assert alike(c, d) == (Counter(a) & Counter(b)).total()


@pytest.mark.skipif(not netlists.there(), reason="circuitgraph, which ships the netlists")
@pytest.mark.parametrize(
    ("name", "seed"), [("c432", 0), ("c432", 2), ("c432", 8), ("c499", 3), ("c499", 4)]
)
def test_a_netlist_without_names_is_told_as_planted(name: str, seed: int) -> None:
    """Five slips on gates by the hundred, a few of which are alike by the dozen."""
    random = Random(seed)
    drawn = netlists.drawing(name, ports=False)
    slips = {slip: faults.HARMFUL[slip] for slip in FEW}
    found, planted = faults.plant(random, netlists.chassis(random, drawn), 5, slips)
    pair = build(drawn, found)
    assert len(live_nodes(pair)) > 300
    named = percolated(pair)
    rest = engine.Rest(pair, engine.settle(pair, named))
    told = together.by_regions(rest, 5000, lambda _what, _share: None)
    assert told.errors <= sum(slip.cost for slip in planted)
