"""Names for nodes where there is little to hold on to."""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path
from random import Random

import pytest
from compare_stage import chassis as stage_chassis
from compare_stage import drawing as stage

from buzzout.circuit import Circuit, Link, Part, Point, parse
from buzzout.compare.colours import look_of, polar
from buzzout.compare.model import Pair, build, labelled_groups
from buzzout.compare.percolate import percolated

sys.path.insert(0, str(Path(__file__).parents[2] / "bench"))
import made as boards
import slips_of_the_hand as faults

VALUES = ("1k", "2k2", "4k7")


def net(kind: str, edges: list[tuple[int, int, str]]) -> Circuit:
    """Resistors between nodes, nothing else."""
    parts, links = {}, []
    for n, (a, b, value) in enumerate(edges, 1):
        name = f"R{n}" if kind == "reference" else f"@{n}"
        parts[name] = Part(name, "resistor", ("1", "2"), value=parse(value, "ohm"))
        for terminal, end in (("1", a), ("2", b)):
            links.append(Link(Point(name, terminal), Point(f"n{end}"), "lead"))
    return Circuit(kind, parts=parts, links=tuple(links))


def shuffled(random: Random, edges: list[tuple[int, int, str]]) -> list[tuple[int, int, str]]:
    to = random.sample(range(100), 100)
    return [(to[a], to[b], value) for a, b, value in random.sample(edges, len(edges))]


def grid(rows: int, columns: int) -> list[tuple[int, int, str]]:
    at = {(r, c): r * columns + c for r in range(rows) for c in range(columns)}
    return [
        (n, at[to], "1k") for (r, c), n in at.items() for to in ((r + 1, c), (r, c + 1)) if to in at
    ]


def right(pair: Pair, named: dict[int, int]) -> int:
    """How many found parts lie between nodes where the drawing has such a part, each used once."""
    group_of = {k: n for n, group in enumerate(labelled_groups(pair).groups) for k in group}

    def between(small: object, nodes: list[int | None]) -> tuple[object, ...]:
        ends = nodes if polar(small) else sorted(nodes, key=str)
        return (look_of(small), *ends)

    drawn = Counter(between(s, list(s.at)) for s in pair.drawing.smalls)
    found = Counter(
        between(s, [named.get(group_of[k]) for k in s.at]) for s in pair.board.smalls if s.at
    )
    return (drawn & found).total()


@pytest.mark.parametrize("edges", [grid(3, 4), grid(5, 5), grid(1, 9)], ids=["3x4", "5x5", "chain"])
@pytest.mark.parametrize("seed", range(3))
def test_a_regular_net_without_names_gets_names_that_fit(
    edges: list[tuple[int, int, str]], seed: int
) -> None:
    pair = build(net("reference", edges), net("found", shuffled(Random(seed), edges)))
    named = percolated(pair)
    assert len(set(named.values())) == len(named)
    assert right(pair, named) == len(edges)


@pytest.mark.parametrize("seed", range(8))
def test_a_random_net_with_one_value_wrong_loses_that_part_alone(seed: int) -> None:
    random = Random(seed)
    edges = [(*random.sample(range(14), 2), random.choice(VALUES)) for _ in range(30)]
    (a, b, value), *rest = shuffled(random, edges)
    other = next(v for v in VALUES if v != value)
    pair = build(net("reference", edges), net("found", [(a, b, other), *rest]))
    assert right(pair, percolated(pair)) == len(edges) - 1


def test_what_has_anchors_keeps_their_names() -> None:
    pair = build(stage(), stage_chassis())
    named = percolated(pair)
    labels = labelled_groups(pair).labels
    assert {
        n: label for n, label in enumerate(labels) if label is not None
    }.items() <= named.items()
    assert right(pair, named) == len(pair.board.smalls)


@pytest.mark.parametrize("seed", range(3))
def test_a_board_with_slips_keeps_most_of_its_parts(seed: int) -> None:
    random = Random(seed)
    drawn = boards.drawing(random, 120)
    found, _ = faults.plant(random, boards.chassis(random, drawn), 4)
    pair = build(drawn, found)
    assert right(pair, percolated(pair)) > 0.85 * len(pair.drawing.smalls)
