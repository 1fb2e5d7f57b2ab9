"""The explanation of the whole board from those of its regions."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace

from buzzout.circuit import joined
from buzzout.compare import costs
from buzzout.compare.explanation import Match
from buzzout.compare.furniture import AS_DRAWN
from buzzout.compare.match import Say, match
from buzzout.compare.model import VOID, Pair, labelled_groups
from buzzout.compare.regions import Apart, Region, Rest
from buzzout.compare.settle import settle
from buzzout.compare.task import task

WIDER = (1, 2, 3)  # parts around what is wrong that are looked at again, look by look
LARGEST = 300  # small parts; a larger region is searched only until nothing better turns up
Told = tuple[Region, Match]


def by_regions(rest: Rest, effort: int, say: Say) -> Match:
    """Explain each region by itself, as if all around it were in order.

    What then is in pieces lacks a connection, unless a wire that joins what should be apart was to
    make it: the regions of such wires are explained again, knowing of the pieces.
    """
    told: dict[int, Told] = {}

    def explain(n: int, apart: Apart) -> None:
        region = rest.region(rest.groups[n], apart)
        left = effort - sum(match.steps for _, match in told.values())
        prove = len(region.drawn) <= LARGEST
        known = region.likely
        told[n] = region, match(task(region.pair), max(0, left), _quiet, prove=prove, known=known)

    for n in range(len(rest.groups)):
        explain(n, {})
        say("explaining region by region", 0.1 + 0.4 * n / len(rest.groups))
    for n, apart in _menders(rest, _merged(rest, told.values())).items():
        explain(n, apart)
    return _merged(rest, told.values())


def look_again(pair: Pair, best: Match, effort: int, say: Say) -> Match:
    """Explain the board once more, under the names of an explanation, wider around what is wrong.

    Two nodes that the first look took for one another may come right, as long as the wider regions
    can still be searched.
    """
    for around in WIDER:
        rest = Rest(pair, settle(pair, _named(pair, best), around=around))
        if rest.largest > 2 * LARGEST or best.steps >= effort:
            break
        again = by_regions(rest, effort - best.steps, say)
        steps = best.steps + again.steps
        best = replace(again if again.cost < best.cost else best, steps=steps)
    return best


def _named(pair: Pair, match: Match) -> dict[int, int]:
    """Number of each group of places to the node that all of them belong to."""
    table = {}
    for n, group in enumerate(labelled_groups(pair).groups):
        nodes = {match.node_at.get(k, VOID) for k in group}
        if len(nodes) == 1 and VOID not in nodes:
            table[n] = nodes.pop()
    return table


def _quiet(_what: str, _share: float) -> None:
    """The progress of one region is no progress to speak of."""


def _menders(rest: Rest, match: Match) -> Mapping[int, Apart]:
    """Groups with a wire that joins a node in pieces with another node, and the pieces."""
    table: dict[int, dict[int, list[list[int]]]] = defaultdict(dict)
    pieces = _pieces(rest.pair, match.node_at)
    done: set[int] = set()
    for wire in rest.pair.board.wires:
        ends = {match.node_at.get(k, VOID) for k in (wire.a, wire.b)}
        for node in ends & pieces.keys() - done if len(ends) > 1 else ():
            if match.lacks.get(node, 0) < len(pieces[node]) - 1:
                for n in {rest.home[k] for k in (wire.a, wire.b) if k in rest.home}:
                    table[n][node] = pieces[node]
                    done.add(node)
    return table


def _pieces(pair: Pair, node_at: Mapping[int, int]) -> dict[int, list[list[int]]]:
    """The groups of places of each node that is in several."""
    wires = [
        w for w in pair.board.wires if node_at.get(w.a, VOID) == node_at.get(w.b, VOID) != VOID
    ]
    of: dict[int, list[list[int]]] = defaultdict(list)
    there = (k for k, node in node_at.items() if node != VOID and k not in pair.board.absent)
    for group in joined(there, ((w.a, w.b) for w in wires)):
        of[node_at[group[0]]].append(group)
    return {node: groups for node, groups in of.items() if len(groups) > 1}


def _merged(rest: Rest, told: Iterable[Told]) -> Match:
    """All explanations and what is settled as one; connections that are lacking counted anew."""
    pair, settled = rest.pair, rest.settled
    away = settled.disturbed
    whole = Match(
        tuple(f for f in settled.fits if away.isdisjoint(pair.board.smalls[f.j].at)),
        node_at={k: node for k, node in settled.node_at.items() if k not in away},
        turns=dict.fromkeys(pair.board.called, (AS_DRAWN,)),
    )
    parts = [whole, *(_on_the_board(region, match) for region, match in told)]
    node_at = {k: node for part in parts for k, node in part.node_at.items()}
    made: Counter[int] = Counter(node for part in parts for node in part.made)
    lacks = {node: len(pieces) - 1 - made[node] for node, pieces in _pieces(pair, node_at).items()}
    told_lacking = sum(sum(part.lacks.values()) for part in parts)
    return Match(
        tuple(sorted((f for part in parts for f in part.fits), key=lambda fit: fit.i)),
        tuple(sorted((g for part in parts for g in part.groups), key=lambda group: group.drawn)),
        node_at,
        {name: turns for part in parts for name, turns in part.turns.items()},
        tuple(ring for part in parts for ring in part.crossed),
        tuple(sorted(ring for part in parts for ring in part.exchanged)),
        {node: count for node, count in lacks.items() if count > 0},
        tuple(made.elements()),
        sum(part.cost for part in parts)
        + costs.JOIN * (sum(lacks.values()) - told_lacking)
        + sum(costs.missing(pair.drawing.smalls[i].part) for i in rest.gone),
        0.0,
        sum(part.steps for part in parts),
    )


def _on_the_board(region: Region, match: Match) -> Match:
    """The explanation of a region with the indices of the whole board."""
    drawn, found, places = region.drawn, region.found, region.places
    groups = (
        replace(
            g,
            drawn=tuple(drawn[i] for i in g.drawn),
            found=tuple(found[j] for j in g.found),
            ties=tuple((a, places[k], found[j], t) for a, k, j, t in g.ties),
            inner=tuple(places[k] for k in g.inner),
        )
        for g in match.groups
    )
    return replace(
        match,
        fits=tuple(replace(f, i=drawn[f.i], j=found[f.j]) for f in match.fits),
        groups=tuple(groups),
        node_at={places[k]: node for k, node in match.node_at.items()},
        exchanged=tuple(tuple(drawn[i] for i in ring) for ring in match.exchanged),
    )
