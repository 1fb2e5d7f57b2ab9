"""The cheapest explanation of the board by the drawing, and a bound that proves it.

The explanation is an integer programme in the manner of graph edit distance (Lerouge and others,
"New binary linear programming formulation to compute the graph edit distance", Pattern Recognition
72, 2017), with columns for what hands do wrong: see `columns.py`. Its relaxation is as sharp as
colour refinement (Grohe, Kersting, Mladenov, Selman, "Dimension reduction via colour refinement",
2014), so on circuits it nearly always has whole numbers for its solution, and then nothing has to
be searched at all.

1. Begin with the columns that look likely (`seeds.py`); solve the relaxation; bring in the
   columns that its prices ask for (`price.py`); repeat until they ask for none. Then its cost is
   a bound for every explanation that columns can tell (`columns.py` says what they cannot).
2. Solve the integer programme over the columns that the prices leave in the running for that
   bound. If that reaches the bound, it is the best explanation. Otherwise solve it over all
   columns at hand, bring in those that could still beat what it found, and solve again.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping
from dataclasses import replace

import numpy as np

from buzzout.compare import costs
from buzzout.compare.columns import Chosen, Columns
from buzzout.compare.compounds import Group
from buzzout.compare.explanation import Match, certain
from buzzout.compare.fits import Fit
from buzzout.compare.furniture import AS_DRAWN, Turn
from buzzout.compare.price import Prices
from buzzout.compare.programme import Array, Relaxed
from buzzout.compare.seeds import seeds, written
from buzzout.compare.task import Task
from buzzout.compare.turns import Piece

FEWEST, SAME = 6, 4  # rounds that are always made, and in which nothing became cheaper
FIRST = 2  # rounds that ask for turned furniture first
FEW, FEWER = 12, 2  # so many columns of one row are brought in at a time, fewer on a large board
LARGE = 400  # drawn parts
IDLE = 10  # steps; a round in which the solver had no more to do asks for more columns at a time
SOLVABLE = 60_000  # columns; no search for whole numbers is begun over more
SMALL = 1e-3  # a price within this of zero is zero
ROUNDS = 60  # rounds of asking for columns before the bound is given up
CLOSING = 4  # times that the gap is widened by what is owed before the proof is given up
SCANNED = 200  # columns at hand, for which a round of asking for more counts as a step
CLOSABLE = 20_000  # columns; where more could be in a better explanation, the gap is reported


Say = Callable[[str, float], None]


def match(
    task: Task, effort: int, say: Say, *, prove: bool = True, known: Match | None = None
) -> Match:
    """The cheapest explanation found before the solver's steps reach `effort`.

    Without `prove` columns are asked for only until they no longer make it cheaper. An explanation
    that is `known` is where the search begins.
    """
    columns = Columns(task)
    columns.add(seeds(task))
    if known:
        columns.add(written(task, known))
    priced, bound = _priced(columns, effort, say, prove=prove)
    say("searching", 0.5)
    best = _best(columns, priced, bound, effort, prove=prove)
    if best is None and known is not None:
        return replace(known, bound=bound, steps=columns.programme.steps)
    if best is None:
        return _rounded(columns, priced, bound)
    if best.proven or not prove or columns.programme.steps >= effort:
        return best
    return _closed(columns, best, effort)


def _priced(columns: Columns, effort: int, say: Say, *, prove: bool) -> tuple[Relaxed, float]:
    """The relaxation over all columns, as far as they matter, and the bound it gives."""
    best, told = 0.0, []
    few = FEW if len(columns.task.pair.drawing.smalls) < LARGE else FEWER
    for number in range(1, ROUNDS + 1):
        before = columns.programme.steps
        relaxed = columns.programme.price(effort)
        if columns.programme.steps - before <= IDLE and number > 1:
            few *= 4
        if columns.programme.steps >= effort:
            break
        told.append(certain(relaxed.bound))
        stuck = number > FEWEST and len(set(told[-SAME:])) == 1
        prices = Prices(columns, relaxed, few=few)
        missed = prices.missed()
        columns.programme.steps += len(columns.meaning) // SCANNED
        if number <= FIRST and missed.frames:
            missed = _turns_only(missed, columns)
        best = max(best, relaxed.bound - prices.owed)
        say("bounding", 0.1 + 0.4 * number / ROUNDS)
        if not len(missed) or certain(best) == certain(relaxed.bound):
            break
        if number == ROUNDS or (stuck and not prove):
            break
        columns.add(missed)
    return relaxed, best


def _best(
    columns: Columns, priced: Relaxed, bound: float, effort: int, *, prove: bool
) -> Match | None:
    """The best explanation over the columns at hand; first over those that prices allow it.

    A column whose reduced cost exceeds what is left up to the next whole error is in no
    explanation that reaches the bound.
    """
    programme, target = columns.programme, certain(priced.bound)
    if programme.steps >= effort:
        return None
    room = target * costs.ERROR - priced.bound + SMALL
    missed = (
        _on_known(Prices(columns, priced, room, known=True).missed(), columns)
        if prove
        else Chosen()
    )
    swaps = {use: None for use in missed.swaps if ("frame", *use[:2]) in columns.at}
    columns.add(Chosen(fits=missed.fits, swaps=swaps, exchanged=missed.exchanged))
    most = np.array(programme.most)
    likely = most.copy()
    likely[: len(priced.reduced)][priced.reduced > room] = 0
    for limits in (likely, most):
        if np.count_nonzero(limits) > SOLVABLE:
            break
        answer = programme.solve(effort, limits)
        if answer and (limits is most or costs.errors(answer.cost) == target):
            return _read(columns, answer.values, answer.cost, bound)
    return None


def _closed(columns: Columns, best: Match, effort: int) -> Match:
    """Solve again with every column that could be in a better explanation.

    With the same prices an explanation costs what they bound, less what is owed, and the reduced
    costs of its columns besides. A column whose reduced cost exceeds the gap is in no better one,
    so what the solver then proves over the columns at hand holds for all of them.
    """
    programme = columns.programme
    priced = programme.price(effort)
    gap, owed = (best.errors - 1) * costs.ERROR - priced.bound + SMALL, 0.0
    for _ in range(CLOSING):
        prices = Prices(columns, priced, gap + owed)
        missed = prices.missed()
        if prices.owed <= owed:
            break
        owed = prices.owed
    else:
        return best
    if len(missed) > CLOSABLE or len(columns.meaning) > SOLVABLE:
        return best
    columns.add(missed)
    answer = programme.solve(effort, np.array(programme.most))
    if answer is None:
        return best
    bound = max(best.bound, costs.errors(answer.bound) * costs.ERROR)
    return _read(columns, answer.values, answer.cost, bound)


def _rounded(columns: Columns, priced: Relaxed, bound: float) -> Match:
    """An explanation over one fit for each part: what the relaxation makes most of.

    To miss every part, and to call every part one too many, is always one.
    """
    values = np.zeros(len(columns.meaning))
    values[: len(priced.values)] = priced.values
    kept: set[int] = set()
    taken: set[tuple[str, int]] = set()
    for fit, column in sorted(columns.fits.items(), key=lambda item: -values[item[1]]):
        parts = {("drawn", fit.i), ("found", fit.j)}
        if values[column] > SMALL and taken.isdisjoint(parts):
            kept.add(column)
            taken |= parts
    limits = np.array(columns.programme.most)
    for column, meaning in enumerate(columns.meaning):
        if isinstance(meaning, tuple) and meaning[0] in ("fit", "group", "swap"):
            limits[column] *= column in kept or (meaning[0] == "swap" and values[column] > SMALL)
    answer = columns.programme.solve(0, limits)
    if answer is None:
        raise RuntimeError("the solver finds no explanation at all")
    return _read(columns, answer.values, answer.cost, bound)


def _turns_only(missed: Chosen, columns: Columns) -> Chosen:
    """Only turns of furniture, and fits on places that were spoken for already or are now.

    A socket wired mirror-wise makes everything around it look wrong; turned, most of that is gone.
    """
    pins = set(columns.task.anchored)
    return replace(_on_known(missed, columns, pins), exchanged={})


def _on_known(missed: Chosen, columns: Columns, also: Container[int] = ()) -> Chosen:
    """Only what needs no new pairs of node and place, but for pairs on some places."""
    kept = columns.task.fits.kept
    fits = {
        fit: None
        for fit in missed.fits
        if all((a, k) in columns.sits or k in also for _, _, a, k in kept(fit))
    }
    return replace(missed, sits=set(), fits=fits)


def _read(columns: Columns, values: Array, cost: float, bound: float) -> Match:
    on = {columns.meaning[int(c)]: round(values[c]) for c in np.nonzero(values > 0.5)[0]}
    frames: dict[str, int] = {}
    swaps: dict[str, list[int]] = {}
    fits, groups, node_at, exchanged, lacks, made = [], [], {}, [], {}, []
    for meaning, count in on.items():
        match meaning:
            case ("fit", Fit() as fit):
                fits.append(fit)
            case ("group", Group() as group):
                groups.append(group)
            case ("sits", int(node), int(place)):
                node_at[place] = node
            case ("frame", str(name), int(f)):
                frames[name] = f
            case ("swap", str(name), int(), int(s)):
                swaps.setdefault(name, []).append(s)
            case ("exchanged", tuple() as ring):
                exchanged.append(ring)
            case ("joins", int(node)):
                lacks[node] = count
            case ("moved", int(), int(node)):
                made.append(node)
    pieces = columns.task.pieces
    turns = {
        name: _turns(pieces[name], frames.get(name), swaps.get(name, []))
        for name in columns.task.pair.board.called
    }
    return Match(
        tuple(sorted(fits, key=lambda fit: fit.i)),
        tuple(sorted(groups, key=lambda group: group.drawn)),
        node_at,
        turns,
        _crossed({name: pieces[name].frames[f].target for name, f in frames.items()}),
        tuple(sorted(exchanged)),
        lacks,
        tuple(made),
        cost,
        bound,
        columns.programme.steps,
    )


def _crossed(target: Mapping[str, str]) -> tuple[tuple[str, ...], ...]:
    """The rings in which sockets are wired one as the other."""
    rings: list[tuple[str, ...]] = []
    for name in sorted(target):
        ring = [name]
        while (following := target[ring[-1]]) != name:
            ring.append(following)
        if len(ring) > 1 and name == min(ring):
            rings.append(tuple(ring))
    return tuple(rings)


def _turns(piece: Piece, frame: int | None, swaps: list[int]) -> tuple[Turn, ...]:
    if frame is None:
        return (AS_DRAWN,)
    return (piece.frames[frame].turn, *(piece.turn(frame, s) for s in sorted(swaps)))
