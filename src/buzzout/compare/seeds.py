"""A first guess: for each found place the drawn nodes that look like it.

Colours of bounded radius: after r rounds a node's colour tells everything up to r parts away, so an
error spoils only the colours within r of it. The guess for a found node are the drawn nodes that
share its colour at the largest radius where there are any, and the nodes whose anchored pins it has.
It need not be right: what it misses, the prices bring in.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from math import log10

from buzzout.compare.columns import Chosen, Task
from buzzout.compare.model import FREE, UNSEEN, VOID, found_nodes

FARTHEST = 6  # rounds; a stage of an amplifier is no wider
MOST_ALIKE = 4  # so many nodes of one colour are taken as guesses


@dataclass(frozen=True)
class Half:
    """One side as a graph: `leads` (kind and value, nodes of the ends) and anchors of each node."""

    parts: Sequence[tuple[Hashable, tuple[int, ...], bool]]
    anchors: Sequence[frozenset[tuple[str, int]]]


def seeds(task: Task) -> Chosen:
    """The columns to begin with."""
    chosen = Chosen()
    for name, piece in task.pieces.items():
        for f, frame in enumerate(piece.frames):
            if frame.turn.harmless:
                chosen.frames[name, f] = None
                chosen.swaps |= {
                    (name, f, s): None for s, x in enumerate(piece.swaps) if x.turn.harmless
                }
    _guess_places(task, chosen)
    _guess_fits(task, chosen)
    return chosen


def _guess_places(task: Task, chosen: Chosen) -> None:
    groups = found_nodes(task.pair.board)
    guesses = _guesses(task, groups)
    for group, nodes in zip(groups, guesses, strict=True):
        for place in group:
            if place not in task.anchored:
                chosen.sits |= {(node, place) for node in (*nodes, VOID)}
            elif FREE in task.reach[place]:
                chosen.sits |= {(node, place) for node in (*nodes, VOID)}


def _guesses(task: Task, groups: list[list[int]]) -> list[set[int]]:
    """Drawn nodes that each found node may be."""
    drawn, found = _drawn(task), _found(task, groups)
    ours, theirs = _colours(drawn, found)
    nodes = task.nodes
    guesses: list[set[int]] = []
    for n in range(len(groups)):
        guess = {
            task.pieces[name].nodes[q]
            for name, q in found.anchors[n]
            if task.pieces[name].nodes[q] != FREE
        }
        for r in range(FARTHEST, -1, -1):
            alike = [nodes[m] for m in ours[r].get(theirs[r][n], ())]
            if alike:
                guess |= set(alike[:MOST_ALIKE])
                break
        guesses.append(guess)
    return _voted(task, groups, guesses)


def _voted(task: Task, groups: list[list[int]], guesses: list[set[int]]) -> list[set[int]]:
    """The guesses, and for each found node the drawn node that most of its parts speak for.

    A part speaks for the nodes that a part like it joins to the node guessed for its other end
    (percolation: Yartseva and Grossglauser, "On the performance of percolation graph matching",
    COSN 2013).
    """
    row = {place: n for n, group in enumerate(groups) for place in group}
    across: dict[tuple[Hashable, int], list[int]] = defaultdict(list)
    for s in task.pair.drawing.smalls:
        if len(s.at) == 2:
            look = _look(s.part.kind, s.part.value)
            across[look, s.at[0]].append(s.at[1])
            across[look, s.at[1]].append(s.at[0])
    votes: list[dict[int, int]] = [defaultdict(int) for _ in groups]
    for s in task.pair.board.smalls:
        if len(s.at) != 2 or UNSEEN in s.at:
            continue
        look = _look(s.part.kind, s.part.value or s.part.measured)
        for here, far in (s.at, s.at[::-1]):
            for guess in guesses[row[far]]:
                for node in across[look, guess][:MOST_ALIKE]:
                    votes[row[here]][node] += 1
    for n, count in enumerate(votes):
        best = sorted(count, key=lambda node: (-count[node], node))[:2]
        guesses[n] |= set(best)
    return guesses


def _drawn(task: Task) -> Half:
    row = {node: n for n, node in enumerate(task.nodes)}
    anchors: list[set[tuple[str, int]]] = [set() for _ in row]
    for name, piece in task.pieces.items():
        for q, node in enumerate(piece.nodes):
            if node != FREE:
                anchors[row[node]].add((name, q))
    parts = [
        (_look(s.part.kind, s.part.value), tuple(row[n] for n in s.at), s.part.swap == "reversed")
        for s in task.pair.drawing.smalls
    ]
    return Half(parts, [frozenset(a) for a in anchors])


def _found(task: Task, groups: list[list[int]]) -> Half:
    row = {place: n for n, group in enumerate(groups) for place in group}
    anchors: list[set[tuple[str, int]]] = [set() for _ in groups]
    for place, (name, q) in task.anchored.items():
        if task.pieces[name].nodes[q] != FREE:
            anchors[row[place]].add((name, q))
    parts = [
        (
            _look(s.part.kind, s.part.value or s.part.measured),
            tuple(row[k] for k in s.at if k != UNSEEN),
            s.part.swap == "reversed",
        )
        for s in task.pair.board.smalls
    ]
    return Half(parts, [frozenset(a) for a in anchors])


def _look(kind: str, value: object) -> Hashable:
    """Kind and value to about 10 %."""
    number = getattr(value, "value", 0)
    return kind, round(20 * log10(number)) if number > 0 else None


def _colours(
    drawn: Half, found: Half
) -> tuple[list[dict[Hashable, list[int]]], list[list[Hashable]]]:
    """For each radius: drawn nodes by colour, and the colour of each found node."""
    names: dict[Hashable, int] = {}
    one = _start(drawn, names)
    two = _start(found, names)
    ours, theirs = [], []
    for _ in range(FARTHEST + 1):
        table: dict[Hashable, list[int]] = defaultdict(list)
        for n, colour in enumerate(one):
            table[colour].append(n)
        ours.append(dict(table))
        theirs.append(list[Hashable](two))
        one, two = _round(drawn, one, names), _round(found, two, names)
    return ours, theirs


def _start(half: Half, names: dict[Hashable, int]) -> list[int]:
    looks: list[list[Hashable]] = [[] for _ in half.anchors]
    for look, ends, polar in half.parts:
        for s, n in enumerate(ends):
            looks[n].append((look, s if polar else 0))
    return [
        names.setdefault((a, tuple(sorted(map(repr, x)))), len(names))
        for a, x in zip(half.anchors, looks, strict=True)
    ]


def _round(half: Half, colours: list[int], names: dict[Hashable, int]) -> list[int]:
    seen: list[list[int]] = [[] for _ in colours]
    for look, ends, polar in half.parts:
        around = [colours[n] for n in ends]
        for s, n in enumerate(ends):
            others = tuple(sorted(around[:s] + around[s + 1 :]))
            key = (look, s if polar else 0, others)
            seen[n].append(names.setdefault(key, len(names)))
    return [
        names.setdefault((c, tuple(sorted(x))), len(names))
        for c, x in zip(colours, seen, strict=True)
    ]


def _guess_fits(task: Task, chosen: Chosen) -> None:
    """Pairings with both leads in place under the guesses; the odd parts in full."""
    at: dict[int, set[int]] = defaultdict(set)
    for node, place in chosen.sits:
        if node != VOID:
            at[place].add(node)
    for name, f in chosen.frames:
        piece = task.pieces[name]
        for p, q in enumerate(piece.frames[f].used):
            if piece.nodes[p] != FREE:
                at[piece.places[q]].add(piece.nodes[p])
    for family in task.fits.families:
        by_nodes: dict[tuple[int, int], list[int]] = defaultdict(list)
        for row, (a, b) in enumerate(family.nodes.tolist()):
            by_nodes[a, b].append(row)
        for column, (k, l) in enumerate(family.places.tolist()):
            for a in at[k]:
                for b in at[l]:
                    for way, key in ((0, (a, b)), (3, (b, a))):
                        for row in by_nodes.get(key, ()):
                            chosen.fits[task.fits.named(family, row, column, way)] = None
    for fit in task.fits.odd:
        chosen.fits[fit] = None
        for _, _, node, place in task.fits.kept(fit):
            may = task.reach.get(place)
            if may is None or FREE in may:
                chosen.sits.add((node, place))
            elif node not in may:
                chosen.fits.pop(fit, None)
    for group in task.groups:
        may = [task.reach.get(place) for _, place, _, _ in group.ties]
        pairs = [(node, place) for node, place, _, _ in group.ties]
        if all(m is None or FREE in m or n in m for m, (n, _) in zip(may, pairs, strict=True)):
            chosen.groups[group] = None
            chosen.sits |= {
                pair for m, pair in zip(may, pairs, strict=True) if m is None or FREE in m
            }
