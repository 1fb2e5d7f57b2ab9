"""The fewest errors, against trying everything on circuits small enough for it.

The judge knows nothing of programmes: it tries every way to take found places for drawn nodes
and, for each, every way to take found parts for drawn parts.
"""

from __future__ import annotations

from itertools import permutations, product
from random import Random

import pytest

from buzzout.circuit import Circuit, Link, Part, Point, parse
from buzzout.compare import compare

VALUES = ("10k", "100k")
Net = list[tuple[str, int, int]]


def random_net(random: Random, parts: int, nodes: int) -> Net:
    net = []
    for _ in range(parts):
        a, b = random.sample(range(nodes), 2)
        net.append((random.choice(VALUES), a, b))
    return net


def circuit(net: Net, kind: str) -> Circuit:
    parts, links = {}, []
    for n, (value, a, b) in enumerate(net, 1):
        part = Part(f"R{n}" if kind == "reference" else f"@{n}", "resistor", ("1", "2"),
                    value=parse(value, "ohm"))  # fmt: skip
        parts[part.name] = part
        links.append(Link(part.point("1"), Point(f"n{a}"), "lead"))
        links.append(Link(part.point("2"), Point(f"n{b}"), "lead"))
    return Circuit(kind, parts=parts, links=tuple(links))


def fewest(drawn: Net, found: Net) -> int:
    """Missing or extra part 1, lead off 1, wrong value 1 (two exchanged: 1), joining pieces 1."""
    nodes = sorted({n for _, a, b in drawn for n in (a, b)})
    places = sorted({n for _, a, b in found for n in (a, b)})
    best = len(drawn) + len(found)
    for choice in product([*nodes, None], repeat=len(places)):
        sits = dict(zip(places, choice, strict=True))
        told = [n for n in choice if n is not None]
        joins = len(told) - len(set(told))
        if joins < best:
            best = min(best, joins + cheapest_parts(drawn, found, sits, best - joins))
    return best


def cheapest_parts(drawn: Net, found: Net, sits: dict[int, int | None], most: int) -> int:
    slots = [*range(len(found)), *[None] * len(drawn)]
    best = most
    for choice in set(permutations(slots, len(drawn))):
        cost = len(found) - sum(j is not None for j in choice)
        wrong = []
        for i, j in enumerate(choice):
            if j is None:
                cost += 1
                continue
            cost += leads_off(drawn[i], found[j], sits)
            if drawn[i][0] != found[j][0]:
                wrong.append((drawn[i][0], found[j][0]))
        crossed = min(wrong.count(VALUES), wrong.count(VALUES[::-1]))
        best = min(best, cost + len(wrong) - crossed)
    return best


def leads_off(
    one: tuple[str, int, int], two: tuple[str, int, int], sits: dict[int, int | None]
) -> int:
    _, a, b = one
    _, k, m = two
    return min((sits[k] != a) + (sits[m] != b), (sits[m] != a) + (sits[k] != b))


@pytest.mark.parametrize("seed", range(120))
def test_no_explanation_has_fewer_errors(seed: int) -> None:
    random = Random(seed)
    drawn = random_net(random, random.choice((2, 3, 3)), random.choice((3, 4)))
    found = random_net(random, random.choice((2, 3, 3)), random.choice((3, 4)))
    if random.random() < 0.5:
        found = [*drawn]
        found[0] = random_net(random, 1, 4)[0]
    result = compare(circuit(drawn, "reference"), circuit(found, "found"))
    harmless = any(f.kind in ("combined-parts", "series-order") for f in result.findings)
    truth = fewest(drawn, found)
    assert result.proof.sufficient, result.proof.why
    assert result.proof.cost == truth or (harmless and result.proof.cost < truth)
    assert result.proof.minimal
