"""The columns to begin with: what the colours make of each place, and what follows from that.

They need not be right: what they miss, the prices bring in. An explanation that is known already
is the best beginning: the prices then have to tell only what is wrong on the board, and little is.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import product

from buzzout.compare.colours import guess
from buzzout.compare.columns import Chosen
from buzzout.compare.explanation import Match
from buzzout.compare.furniture import AS_DRAWN
from buzzout.compare.model import FREE, VOID, labelled_groups
from buzzout.compare.task import Task


def seeds(task: Task) -> Chosen:
    """The columns to begin with."""
    chosen = Chosen()
    for name, piece in task.pieces.items():
        for f, frame in enumerate(piece.frames):
            if frame.turn.harmless and frame.target == name:
                chosen.frames[name, f] = None
                chosen.swaps |= {
                    (name, f, s): None for s in range(len(piece.swaps)) if piece.turn(f, s).harmless
                }
    _guess_turns(task, chosen)
    _guess_places(task, chosen)
    _guess_fits(task, chosen)
    return chosen


def written(task: Task, known: Match) -> Chosen:
    """The columns of an explanation."""
    chosen = Chosen(
        fits=dict.fromkeys(known.fits),
        groups=dict.fromkeys(known.groups),
        exchanged=dict.fromkeys(known.exchanged),
        sockets=dict.fromkeys(r for r in known.crossed if len(r) == 3),
    )
    for place, node in known.node_at.items():
        if place not in task.anchored or FREE in task.reach[place]:
            chosen.sits.add((node, place))
    steps = [step for ring in known.crossed for step in zip(ring, ring[1:] + ring[:1], strict=True)]
    target = dict(steps)
    for name, (first, *others) in known.turns.items():
        piece = task.pieces[name]
        to = target.get(name, name)
        for f, frame in enumerate(piece.frames):
            if frame.target == to and frame.turn == first:
                chosen.frames[name, f] = None
                chosen.swaps |= {
                    (name, f, s): None
                    for s in range(len(piece.swaps))
                    if piece.turn(f, s) in others
                }
    return chosen


def _guess_turns(task: Task, chosen: Chosen) -> None:
    """The numbering under which a piece of furniture bears most of the leads that it should."""
    likely = task.likely
    for name, piece in task.pieces.items():
        own = likely.score(name, name)
        if len(piece.frames) == 1 or own == likely.wanted(name):
            continue
        scores = [likely.score(name, x.target, x.turn) for x in piece.frames]
        best = scores.index(max(scores))
        if scores[best] <= own:
            continue
        chosen.frames[name, best] = None
        other = piece.frames[best].target
        for f, frame in enumerate(task.pieces[other].frames):
            if other != name and frame.target == name and frame.turn.kind == AS_DRAWN.kind:
                chosen.frames[other, f] = None


def _guess_places(task: Task, chosen: Chosen) -> None:
    guesses = guess(task.pair, labelled_groups(task.pair).groups)
    for group, nodes in zip(guesses.groups, guesses.nodes, strict=True):
        for place in group:
            if place not in task.anchored or FREE in task.reach[place]:
                chosen.sits |= {(node, place) for node in (*sorted(nodes), VOID)}


def _guess_fits(task: Task, chosen: Chosen) -> None:
    """Pairings with both leads in place under the guesses; odd parts and groups in full."""
    at = _may_sit(task, chosen)
    for family in task.fits.families:
        if family.strange:
            continue  # the prices bring in the few that matter
        by_nodes: dict[tuple[int, int], list[int]] = defaultdict(list)
        for row, (a, b) in enumerate(family.nodes.tolist()):
            by_nodes[a, b].append(row)
        for column, (k, m) in enumerate(family.places.tolist()):
            for a, b in product(sorted(at[k]), sorted(at[m])):
                rows = [(0, row) for row in by_nodes.get((a, b), ())]
                rows += [(3, row) for row in by_nodes.get((b, a), ())]
                for way, row in rows:
                    chosen.fits[task.fits.named(family, row, column, way)] = None
    _odd_fits(task, chosen)
    _groups(task, chosen)


def _may_sit(task: Task, chosen: Chosen) -> dict[int, set[int]]:
    """Place to the nodes that the choice so far lets it belong to."""
    at: dict[int, set[int]] = defaultdict(set)
    for node, place in chosen.sits:
        if node != VOID:
            at[place].add(node)
    for name, f in chosen.frames:
        piece = task.pieces[name]
        for p, q in enumerate(piece.frames[f].used):
            if piece.nodes[p] != FREE:
                at[piece.places[q]].add(piece.nodes[p])
    return at


def _odd_fits(task: Task, chosen: Chosen) -> None:
    for fit in task.fits.odd:
        chosen.fits[fit] = None
        for _, _, node, place in task.fits.kept(fit):
            may = task.reach.get(place)
            if may is None or FREE in may:
                chosen.sits.add((node, place))
            elif node not in may:
                chosen.fits.pop(fit, None)


def _groups(task: Task, chosen: Chosen) -> None:
    for group in task.groups:
        may = [task.reach.get(place) for _, place, _, _ in group.ties]
        pairs = [(node, place) for node, place, _, _ in group.ties]
        if all(m is None or FREE in m or n in m for m, (n, _) in zip(may, pairs, strict=True)):
            chosen.groups[group] = None
            chosen.sits |= {
                pair for m, pair in zip(may, pairs, strict=True) if m is None or FREE in m
            }
