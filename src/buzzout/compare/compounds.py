"""Parts that stand for one another together: two that make the value of one, two in another order.

Two resistors in series or in parallel are one resistor to everything around them, and a resistor
and a capacitor in series carry the same current in either order. Only the node between two parts in
series must be theirs alone.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from buzzout.circuit import Part, Quantity, printed
from buzzout.compare.model import FREE, UNSEEN, Pair, Small, found_nodes
from buzzout.compare.values import judge

VALUES_ADD = {("resistor", "series"), ("capacitor", "parallel"), ("electrolytic", "parallel")}
VALUES_ADD |= {("inductor", "series")}
COMBINE = {kind for kind, _ in VALUES_ADD}


@dataclass(frozen=True)
class Two:
    """Two small parts of one side, in series or in parallel.

    `ends` are the node or place of each outer lead: in series one at either side, in parallel two.
    `leads` are the matching (part, terminal) pairs.
    """

    how: str
    parts: tuple[int, int]
    ends: tuple[tuple[int, ...], tuple[int, ...]]
    leads: tuple[tuple[tuple[int, int], ...], tuple[tuple[int, int], ...]]
    inner: tuple[int, ...] = ()


@dataclass(frozen=True)
class Group:
    """Drawn parts that found parts stand for together, and the pairs of node and place this needs.

    `ties` are (node, place, found part, found terminal). `words` says how. `inner` are the places
    between two found parts in series.
    """

    kind: str
    drawn: tuple[int, ...]
    found: tuple[int, ...]
    ties: tuple[tuple[int, int, int, int], ...]
    words: str
    inner: tuple[int, ...] = ()


def groups(pair: Pair) -> tuple[Group, ...]:
    """All groups that would be right, if their outer leads are where they should be."""
    place_node = {k: n for n, places in enumerate(found_nodes(pair.board)) for k in places}
    drawn = list(_pairs(pair.drawing.smalls, {}, _busy_drawn(pair)))
    found = list(_pairs(pair.board.smalls, place_node, _busy_found(pair, place_node)))
    return tuple(
        dict.fromkeys(
            [
                *_made_of_two(pair, found),
                *_two_made_of_one(pair, drawn),
                *_other_order(pair, drawn, found),
            ]
        )
    )


def _busy_drawn(pair: Pair) -> set[int]:
    return {node for pins in pair.drawing.pins.values() for node in pins.values()}


def _busy_found(pair: Pair, node_of: dict[int, int]) -> set[int]:
    return {
        node_of[place]
        for name, pins in pair.board.pins.items()
        for pin, place in pins.items()
        if pair.drawing.pins[name][pin] != FREE
    }


def _pairs(smalls: Sequence[Small], node_of: dict[int, int], busy: set[int]) -> Iterator[Two]:
    """Pairs of two-ended parts in series (the node between is theirs alone) or in parallel."""
    at: dict[int, list[tuple[int, int]]] = defaultdict(list)
    between: dict[tuple[int, int], list[int]] = defaultdict(list)
    for n, small in enumerate(smalls):
        nodes = [node_of.get(x, x) for x in small.at if x != UNSEEN]
        for t, node in enumerate(nodes):
            at[node].append((n, t))
        if len(nodes) == 2 == len(small.at) and nodes[0] != nodes[1]:
            between[min(nodes), max(nodes)].append(n)
    for node, leads in at.items():
        if len(leads) == 2 and node not in busy and leads[0][0] != leads[1][0]:
            (a, s), (b, t) = leads
            if len(smalls[a].at) == len(smalls[b].at) == 2:
                ends = ((smalls[a].at[1 - s],), (smalls[b].at[1 - t],))
                if UNSEEN not in (*ends[0], *ends[1]):
                    inner = (smalls[a].at[s], smalls[b].at[t])
                    yield Two("series", (a, b), ends, (((a, 1 - s),), ((b, 1 - t),)), inner)
    for several in between.values():
        for a, b in combinations(several, 2):
            yield _parallel(smalls, node_of, a, b)


def _parallel(smalls: Sequence[Small], node_of: dict[int, int], a: int, b: int) -> Two:
    one, two = smalls[a].at, smalls[b].at
    turned = node_of.get(one[0], one[0]) != node_of.get(two[0], two[0])
    ends = ((one[0], two[int(turned)]), (one[1], two[1 - int(turned)]))
    leads = (((a, 0), (b, int(turned))), ((a, 1), (b, 1 - int(turned))))
    return Two("parallel", (a, b), ends, leads)


def combined(one: Part, two: Part, how: str) -> Part | None:
    """Two parts of a kind as one; None where they do not make one."""
    kind = one.kind
    if kind != two.kind or kind not in COMBINE or one.value is None or two.value is None:
        return None
    if kind == "electrolytic" and how == "series":
        return None
    a, b = one.value.value, two.value.value
    value = a + b if (kind, how) in VALUES_ADD else a * b / (a + b)
    volts = _rating(one.voltage, two.voltage, add=how == "series")
    power = _rating(one.power, two.power, add=True)
    return replace(
        one,
        value=Quantity(value, one.value.unit, one.value.minus, one.value.plus),
        measured=None,
        voltage=volts,
        power=power,
    )


def _rating(a: Quantity | None, b: Quantity | None, *, add: bool) -> Quantity | None:
    if a is None or b is None:
        return None
    return Quantity(a.value + b.value if add else min(a.value, b.value), a.unit)


def _stands(wanted: Part, fitted: Part | None) -> bool:
    if fitted is None or wanted.kind != fitted.kind:
        return False
    verdict = judge(wanted, fitted)
    return not verdict.wrong and not verdict.unread


def _made_of_two(pair: Pair, found: Sequence[Two]) -> Iterator[Group]:
    smalls = pair.board.smalls
    for two in found:
        a, b = (smalls[n].part for n in two.parts)
        if two.how == "parallel" and a.kind == "electrolytic" and _opposed(two):
            continue
        whole = combined(a, b, two.how)
        for i, small in enumerate(pair.drawing.smalls):
            if len(small.at) != 2 or not _stands(small.part, whole):
                continue
            if _stands(small.part, a) and _stands(small.part, b):
                continue
            words = f"{a.value} and {b.value} in {two.how} make {_shown(whole)}"
            for nodes in _sides(small, two):
                ties = tuple(_ties(nodes, two))
                yield Group("combined-parts", (i,), two.parts, ties, words, two.inner)


def _opposed(two: Two) -> bool:
    return two.leads[0][0][1] != two.leads[0][1][1]


def _sides(small: Small, two: Two) -> list[tuple[int, int]]:
    """Ways to lay a two-ended part's nodes against the two sides."""
    a, b = small.at
    if small.part.swap == "reversed":
        return [(a, b) if two.leads[0][0][1] == 0 else (b, a)]
    return [(a, b), (b, a)]


def _ties(nodes: tuple[int, int], two: Two) -> Iterator[tuple[int, int, int, int]]:
    for node, places, leads in zip(nodes, two.ends, two.leads, strict=True):
        for place, (j, t) in zip(places, leads, strict=True):
            yield node, place, j, t


def _two_made_of_one(pair: Pair, drawn: Sequence[Two]) -> Iterator[Group]:
    smalls = pair.drawing.smalls
    for two in drawn:
        a, b = (smalls[n].part for n in two.parts)
        if a.kind == "electrolytic":
            continue
        whole = combined(a, b, two.how)
        if whole is None:
            continue
        nodes = (two.ends[0][0], two.ends[1][0])
        for j, small in enumerate(pair.board.smalls):
            if len(small.at) != 2 or UNSEEN in small.at or not _stands(whole, small.part):
                continue
            words = f"one {small.part.value} stands for {a.value} and {b.value} in {two.how}"
            for first, second in ((0, 1), (1, 0)):
                ties = (
                    (nodes[0], small.at[first], j, first),
                    (nodes[1], small.at[second], j, second),
                )
                yield Group("combined-parts", two.parts, (j,), ties, words)


def _other_order(pair: Pair, drawn: Sequence[Two], found: Sequence[Two]) -> Iterator[Group]:
    """Two parts in series that found parts stand for the other way round."""
    for mine in (two for two in drawn if two.how == "series"):
        parts = [pair.drawing.smalls[n].part for n in mine.parts]
        if _stands(parts[0], parts[1]) or any(p.swap != "same" for p in parts):
            continue
        for theirs in (two for two in found if two.how == "series"):
            there = [pair.board.smalls[n].part for n in theirs.parts]
            for order in ((0, 1), (1, 0)):
                one, two = (there[n] for n in order)
                if not (_stands(parts[0], one) and _stands(parts[1], two)):
                    continue
                nodes = (mine.ends[0][0], mine.ends[1][0])
                places = [theirs.ends[n][0] for n in order]
                leads = [theirs.leads[n][0] for n in order]
                ties = ((nodes[0], places[1], *leads[1]), (nodes[1], places[0], *leads[0]))
                found_parts = (theirs.parts[order[0]], theirs.parts[order[1]])
                yield Group("series-order", mine.parts, found_parts, ties, "", theirs.inner)


def _shown(part: Part | None) -> str:
    assert part is not None
    assert part.value is not None
    return printed(part.value.value, part.value.unit)
