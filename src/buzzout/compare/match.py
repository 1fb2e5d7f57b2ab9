"""Which found part is which drawn part, at the fewest physical errors: an integer programme.

Letters here and in the literature on graph edit distance (Lerouge and others, "New binary linear
programming formulation to compute the graph edit distance", Pattern Recognition 72, 2017):

- `fit`  (x): drawn part i is found part j, so turned, with these leads kept in place;
- `sits` (y): found place k belongs to drawn node a;
- `turn`: a piece of furniture is numbered so; `swap`: two of its pins are exchanged on top of that;
- `holds`: both ends of a wire belong to the same node; otherwise the wire is wrong, one error;
- `joins`: connections that a node lacks, one error each; `moves`: a wrong wire that can be moved to
  make such a connection, so both are one error.

A lead is kept only if the place where it lands belongs to the node where it should. Summing that
over all candidates of a lead gives the tight form: the relaxation is then as sharp as colour
refinement (Grohe, Kersting, Mladenov, Selman, "Dimension reduction via colour refinement", 2014).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import combinations, permutations, product

from buzzout.compare import costs
from buzzout.compare.furniture import AS_DRAWN, Turn, frames, swaps
from buzzout.compare.model import FREE, UNSEEN, Board, Drawing, Pair, Small
from buzzout.compare.programme import Answer, Programme
from buzzout.compare.values import Verdict, judge, kin

VOID = -3  # the node of places that belong to nothing on the drawing


@dataclass(frozen=True, slots=True)
class Fit:
    """Drawn part `i` is found part `j`; `ends[s]` is the found terminal for drawn terminal s.

    `kept[s]` tells whether that lead is where it should be.
    """

    i: int
    j: int
    ends: tuple[int, ...]
    kept: tuple[bool, ...]
    reversed: bool = False


@dataclass(frozen=True)
class Match:
    """A whole explanation, with its cost and the proven bound (both in `costs` units)."""

    fits: tuple[Fit, ...]
    node_at: Mapping[int, int]
    turns: Mapping[str, tuple[Turn, ...]]
    crossed: tuple[tuple[str, str], ...]
    exchanged: tuple[tuple[int, int], ...]
    cost: float
    bound: float
    steps: int
    complete: bool = True


@dataclass
class _Columns:
    """The programme and what its columns mean."""

    programme: Programme = field(default_factory=Programme)
    sits: dict[tuple[int, int], int] = field(default_factory=dict)
    fits: dict[int, Fit] = field(default_factory=dict)
    turns: dict[int, tuple[str, tuple[Turn, ...]]] = field(default_factory=dict)
    crossed: dict[tuple[str, str], int] = field(default_factory=dict)
    exchanged: dict[int, tuple[int, int]] = field(default_factory=dict)
    holds: dict[tuple[int, int], int] = field(default_factory=dict)
    fixed: float = 0


def judged(pair: Pair) -> Mapping[tuple[int, int], Verdict]:
    """The verdict on every found part in the place of every drawn part of its kind."""
    kinds: dict[str, list[int]] = defaultdict(list)
    for j, small in enumerate(pair.board.smalls):
        kinds[small.part.kind].append(j)
    known: dict[tuple[object, ...], Verdict] = {}
    table = {}
    for i, small in enumerate(pair.drawing.smalls):
        for kind, candidates in kinds.items():
            if not kin(small.part.kind, kind):
                continue
            for j in candidates:
                other = pair.board.smalls[j].part
                key = (*_sight(small.part), *_sight(other))
                if key not in known:
                    known[key] = judge(small.part, other)
                table[i, j] = known[key]
    return table


def _sight(part: object) -> tuple[object, ...]:
    """Everything about a part that its verdict depends on."""
    keys = ["kind", "value", "measured", "in_circuit", "voltage", "power", "current", "type", "accepts", "unread", "base"]
    return tuple(getattr(part, key) for key in keys)


def match(pair: Pair, effort: int) -> Match | None:
    """The cheapest explanation of the board by the drawing.

    None where `effort` search nodes brought none.
    """
    verdicts = judged(pair)
    columns = _Columns()
    allowed = _allowed(pair)
    _sits(columns, allowed)
    _furniture(columns, pair, allowed)
    _parts(columns, pair, allowed, verdicts)
    _wires(columns, pair.board, allowed)
    answer = columns.programme.solve(effort)
    return None if answer is None else _read(columns, pair, answer)


# ---- places and nodes


def _allowed(pair: Pair) -> dict[int, tuple[int, ...]]:
    """The nodes that each place may belong to."""
    drawing, board = pair.drawing, pair.board
    everything = (*_live_nodes(drawing), VOID)
    allowed: dict[int, tuple[int, ...]] = dict.fromkeys(range(len(board.places)), everything)
    for name, pins in board.pins.items():
        own = set(drawing.pins[name].values())
        for twin in _twins(pair, name):
            own |= set(drawing.pins[twin].values())
        for pin, place in pins.items():
            wanted = drawing.pins[name][pin]
            if len(pins) == 1:
                allowed[place] = (wanted,)
            elif FREE not in own:
                allowed[place] = tuple(sorted(own))
    return allowed


def _live_nodes(drawing: Drawing) -> list[int]:
    """Nodes that something belongs to: a lead or an anchored pin."""
    live = {node for small in drawing.smalls for node in small.at}
    live |= {node for pins in drawing.pins.values() for node in pins.values() if node != FREE}
    return sorted(live)


def _twins(pair: Pair, name: str) -> list[str]:
    """Other sockets with the same pins: the two may be wired in each other's place."""
    parts, pins = pair.drawing.circuit.parts, pair.drawing.pins
    if name not in parts or parts[name].kind != "socket":
        return []
    return [
        other
        for other in pins
        if other not in (name, "chassis")
        and parts[other].kind == "socket"
        and parts[other].terminals == parts[name].terminals
    ]


def _sits(columns: _Columns, allowed: Mapping[int, tuple[int, ...]]) -> None:
    for place, nodes in allowed.items():
        if len(nodes) == 1:
            columns.sits[nodes[0], place] = columns.programme.column(least=1)
            continue
        row = {}
        for node in nodes:
            row[columns.programme.column()] = 1.0
            columns.sits[node, place] = next(reversed(row))
        columns.programme.row(row, low=1, high=1)


# ---- furniture


def _furniture(columns: _Columns, pair: Pair, allowed: Mapping[int, tuple[int, ...]]) -> None:
    """Which found pin carries what belongs on which drawn pin."""
    uses: dict[tuple[str, str, str, str], dict[int, float]] = defaultdict(dict)
    for name in pair.board.called:
        _turns(columns, pair, name, uses)
    for name in pair.board.called:
        if len(pair.board.pins[name]) > 1:
            _anchor(columns, pair, name, uses, allowed)


_Uses = dict[tuple[str, str, str, str], dict[int, float]]


def _turns(columns: _Columns, pair: Pair, name: str, uses: _Uses) -> None:
    wanted = pair.drawing.circuit.parts[name]
    fitted = pair.board.circuit.parts[pair.board.called[name]]
    pins = pair.drawing.pins[name]
    chosen = {}
    for frame in frames(wanted, fitted):
        at = columns.programme.column(frame.cost)
        columns.turns[at] = (name, (frame,))
        chosen[at] = 1.0
        for pin in pins:
            uses[name, pin, name, frame(pin)][at] = 1.0
        if frame.harmless or frame.kind == "socket-mirrored":
            _swaps_in(columns, pair, name, frame, at, uses)
    for twin in _twins(pair, name):
        key = (min(name, twin), max(name, twin))
        if key not in columns.crossed:
            columns.crossed[key] = columns.programme.column(costs.SOCKETS)
        chosen[columns.crossed[key]] = 1.0
        for pin in pins:
            uses[name, pin, twin, pin][columns.crossed[key]] = 1.0
    columns.programme.row(chosen, low=1, high=1)


def _swaps_in(columns: _Columns, pair: Pair, name: str, frame: Turn, at: int, uses: _Uses) -> None:
    wanted = pair.drawing.circuit.parts[name]
    fitted = pair.board.circuit.parts[pair.board.called[name]]
    busy: dict[str, dict[int, float]] = defaultdict(dict)
    back = {frame(pin): pin for pin in pair.drawing.pins[name]}
    for swap in swaps(wanted, fitted):
        if not set(swap.moved) <= set(back) or not _matters(pair, name, swap, back):
            continue
        column = columns.programme.column(swap.cost)
        columns.turns[column] = (name, (frame, swap))
        for used, instead in swap.moved.items():
            busy[used][column] = 1.0
            uses[name, back[used], name, used][column] = -1.0
            uses[name, back[used], name, instead][column] = 1.0
    for others in busy.values():
        columns.programme.row({**others, at: -1.0}, high=0)


def _matters(pair: Pair, name: str, swap: Turn, back: Mapping[str, str]) -> bool:
    """The exchange changes something: other nodes are meant, and something is wired to the pins."""
    nodes = {pair.drawing.pins[name][back[pin]] for pin in swap.moved}
    return len(nodes) > 1 and any(pair.board.pins[name][p] in _used(pair.board) for p in swap.moved)


_USED: dict[int, frozenset[int]] = {}


def _used(board: Board) -> frozenset[int]:
    """Places where a lead or a wire lands."""
    if id(board) not in _USED:
        _USED.clear()
        ends = {place for wire in board.wires for place in (wire.a, wire.b)}
        _USED[id(board)] = frozenset(ends | {p for small in board.smalls for p in small.at})
    return _USED[id(board)]


def _anchor(
    columns: _Columns,
    pair: Pair,
    name: str,
    uses: _Uses,
    allowed: Mapping[int, tuple[int, ...]],
) -> None:
    """A pin's place belongs to the node of whichever drawn pin it is used for."""
    here: dict[str, dict[int, dict[int, float]]] = defaultdict(lambda: defaultdict(dict))
    for owner in (name, *_twins(pair, name)):
        for pin, node in pair.drawing.pins[owner].items():
            for found in pair.board.pins[name]:
                for column, sign in uses.get((owner, pin, name, found), {}).items():
                    entry = here[found][node]
                    entry[column] = entry.get(column, 0) - sign
    for found, place in pair.board.pins[name].items():
        free = here[found].get(FREE, {})
        for node in allowed[place]:
            entry = dict(free)
            for column, sign in here[found].get(node, {}).items():
                entry[column] = entry.get(column, 0) + sign
            entry[columns.sits[node, place]] = 1.0
            columns.programme.row(entry, high=0)


# ---- parts


def _parts(
    columns: _Columns,
    pair: Pair,
    allowed: Mapping[int, tuple[int, ...]],
    verdicts: Mapping[tuple[int, int], Verdict],
) -> None:
    drawing, board = pair.drawing, pair.board
    may = {place: frozenset(nodes) for place, nodes in allowed.items()}
    missing = [costs.OPTIONAL if s.part.optional else costs.PART for s in drawing.smalls]
    columns.fixed += sum(missing) + costs.PART * len(board.smalls)
    rows: dict[tuple[str, int, int, int], dict[int, float]] = defaultdict(dict)
    by_drawn: dict[int, list[int]] = defaultdict(list)
    by_found: dict[int, list[int]] = defaultdict(list)
    wrong: dict[int, dict[int, list[int]]] = defaultdict(lambda: defaultdict(list))
    for (i, j), verdict in verdicts.items():
        for fit, cost in fits_of(drawing.smalls[i], board.smalls[j], verdict, i, j):
            if cost >= missing[i] + costs.PART or not _possible(pair, fit, may):
                continue
            column = columns.programme.column(cost - missing[i] - costs.PART)
            columns.fits[column] = fit
            by_drawn[i].append(column)
            by_found[j].append(column)
            if verdict.wrong and all(fit.kept):
                wrong[i][j].append(column)
            for s, t, node, place in _kept_leads(pair, fit):
                rows["i", i, s, place][column] = 1.0
                rows["j", j, t, node][column] = 1.0
    for chosen in (*by_drawn.values(), *by_found.values()):
        columns.programme.at_most_one(chosen)
    _tie(columns, pair, rows)
    _exchanges(columns, wrong, verdicts)


def _tie(
    columns: _Columns, pair: Pair, rows: Mapping[tuple[str, int, int, int], dict[int, float]]
) -> None:
    """A lead is kept only if its place belongs to its node."""
    for (side, one, end, other), entries in rows.items():
        if side == "i":
            key = (pair.drawing.smalls[one].at[end], other)
        else:
            key = (other, pair.board.smalls[one].at[end])
        columns.programme.row({**entries, columns.sits[key]: -1.0}, high=0)


def fits_of(
    wanted: Small, fitted: Small, verdict: Verdict, i: int, j: int
) -> Iterator[tuple[Fit, int]]:
    """All ways to take a found part for a drawn one, with what each costs beyond both being there.

    A part that keeps no lead is as good as missing and another one too many, and is left out.
    """
    base = _price(wanted, fitted, verdict)
    for ends, turned in _orientations(wanted, fitted):
        price = base + (costs.ERROR if turned else 0)
        leads = [fitted.at[t] == UNSEEN for t in ends]
        for kept in product((True, False), repeat=len(ends)):
            off = kept.count(False)
            free = sum(leads)
            if not any(k for k in kept) or any(
                unseen and not k for unseen, k in zip(leads, kept, strict=True)
            ):
                continue
            if off > 1 and len(ends) == 2:
                continue
            yield Fit(i, j, ends, kept, turned), price + off * costs.LEAD + free * costs.UNREAD


def _price(wanted: Small, fitted: Small, verdict: Verdict) -> int:
    price = verdict.apart + costs.UNREAD * len(verdict.unread)
    named = not fitted.part.anonymous and fitted.part.name != wanted.part.name
    price += costs.OTHER_NAME if named else 0
    price += sum(costs.HARMLESS for r in verdict.remarks if r.harmless)
    return price + (costs.ERROR if verdict.wrong else 0)


def _orientations(wanted: Small, fitted: Small) -> list[tuple[tuple[int, ...], bool]]:
    """Terminal orders to try, each with whether it means that the part is reversed."""
    size = len(wanted.part.terminals)
    if size != len(fitted.part.terminals):
        return []
    straight = tuple(range(size))
    if size != 2:
        ends = _by_name(wanted, fitted)
        turned = [ends] if wanted.part.kind != "bridge" else [ends, (ends[1], ends[0], *ends[2:])]
        return [(each, False) for each in turned if each]
    polarised = "reversed" in (wanted.part.swap, fitted.part.swap)
    polarised = polarised and wanted.part.swap == fitted.part.swap
    return [(straight, False), ((1, 0), polarised and "polarity" not in fitted.part.unread)]


def _by_name(wanted: Small, fitted: Small) -> tuple[int, ...]:
    if set(wanted.part.terminals) != set(fitted.part.terminals):
        return ()
    return tuple(fitted.part.terminals.index(t) for t in wanted.part.terminals)


def _kept_leads(pair: Pair, fit: Fit) -> Iterator[tuple[int, int, int, int]]:
    """Drawn terminal, found terminal, node and place of each kept lead that somebody saw."""
    for s, (t, kept) in enumerate(zip(fit.ends, fit.kept, strict=True)):
        place = pair.board.smalls[fit.j].at[t]
        if kept and place != UNSEEN:
            yield s, t, pair.drawing.smalls[fit.i].at[s], place


def _possible(pair: Pair, fit: Fit, may: Mapping[int, frozenset[int]]) -> bool:
    return all(node in may[place] for _, _, node, place in _kept_leads(pair, fit))


def _exchanges(
    columns: _Columns,
    wrong: Mapping[int, Mapping[int, list[int]]],
    verdicts: Mapping[tuple[int, int], Verdict],
) -> None:
    """Two parts in each other's place are one error, not two."""
    once: dict[int, list[int]] = defaultdict(list)
    for a, b in combinations(sorted(wrong), 2):
        here = [c for j, cs in wrong[a].items() if _right(verdicts, b, j) for c in cs]
        there = [c for j, cs in wrong[b].items() if _right(verdicts, a, j) for c in cs]
        if not here or not there:
            continue
        column = columns.programme.column(costs.EXCHANGED - 2 * costs.ERROR)
        columns.exchanged[column] = (a, b)
        columns.programme.row({column: 1.0, **dict.fromkeys(here, -1.0)}, high=0)
        columns.programme.row({column: 1.0, **dict.fromkeys(there, -1.0)}, high=0)
        once[a].append(column)
        once[b].append(column)
    for chosen in once.values():
        columns.programme.at_most_one(chosen)


def _right(verdicts: Mapping[tuple[int, int], Verdict], i: int, j: int) -> bool:
    verdict = verdicts.get((i, j))
    return verdict is not None and not verdict.wrong and not verdict.unread


# ---- wires


def _wires(columns: _Columns, board: Board, allowed: Mapping[int, tuple[int, ...]]) -> None:
    programme = columns.programme
    joins = {
        node: programme.column(costs.JOIN, most=len(board.places))
        for node in sorted({n for nodes in allowed.values() for n in nodes} - {VOID, FREE})
    }
    held: dict[int, dict[int, float]] = defaultdict(dict)
    moved: dict[int, dict[int, float]] = defaultdict(dict)
    for number, wire in enumerate(board.wires):
        wrong = _one_wire(columns, board, number, allowed, held)
        if wire.fixed:
            programme.most[wrong] = 0
            continue
        _moves(columns, board, number, wrong, joins, allowed, moved)
    for node, column in joins.items():
        sits = {columns.sits[node, k]: 1.0 for k, nodes in allowed.items() if node in nodes}
        programme.row({**sits, **held[node], column: -1.0}, high=1)
        if moved[node]:
            programme.row({**moved[node], column: -1.0}, high=0)


def _one_wire(
    columns: _Columns,
    board: Board,
    number: int,
    allowed: Mapping[int, tuple[int, ...]],
    held: Mapping[int, dict[int, float]],
) -> int:
    """The column that says this wire is wrong; it holds where both ends belong to one node."""
    wire = board.wires[number]
    doubt = costs.JOINT if all(link.how == "joint" for link in wire.links) else 0
    wrong = columns.programme.column((costs.CUT + doubt) * max(1, len(wire.links)), whole=False)
    row = {wrong: 1.0}
    there = set(allowed[wire.b])
    for node in allowed[wire.a]:
        if node not in there:
            continue
        column = columns.programme.column(whole=False)
        columns.holds[number, node] = column
        row[column] = 1.0
        held[node][column] = -1.0
        for place in (wire.a, wire.b):
            columns.programme.row({column: 1.0, columns.sits[node, place]: -1.0}, high=0)
    columns.programme.row(row, low=1)
    return wrong


def _moves(
    columns: _Columns,
    board: Board,
    number: int,
    wrong: int,
    joins: Mapping[int, int],
    allowed: Mapping[int, tuple[int, ...]],
    moved: Mapping[int, dict[int, float]],
) -> None:
    """A wrong wire of one node moved to make a connection that the node lacks."""
    wire = board.wires[number]
    mine = {wrong: -1.0}
    for node in sorted({*allowed[wire.a], *allowed[wire.b]} & set(joins)):
        column = columns.programme.column(costs.LEAD - costs.CUT - costs.JOIN, whole=False)
        mine[column] = 1.0
        moved[node][column] = 1.0
        ends = {columns.sits[node, k]: -1.0 for k in (wire.a, wire.b) if node in allowed[k]}
        columns.programme.row({column: 1.0, **ends}, high=0)
    columns.programme.row(mine, high=0)


# ---- reading the answer


def _read(columns: _Columns, pair: Pair, answer: Answer) -> Match:
    on = {c for c, value in enumerate(answer.values) if value > 0.5}
    turns: dict[str, tuple[Turn, ...]] = dict.fromkeys(pair.board.called, (AS_DRAWN,))
    for column, (name, turn) in columns.turns.items():
        if column in on:
            have = turns[name]
            turns[name] = (
                turn if len(turn) == 1 and len(have) == 1 else (turn[0], *have[1:], *turn[1:])
            )
    return Match(
        fits=tuple(fit for column, fit in columns.fits.items() if column in on),
        node_at={k: a for (a, k), column in columns.sits.items() if column in on},
        turns=turns,
        crossed=tuple(key for key, column in columns.crossed.items() if column in on),
        exchanged=tuple(key for column, key in columns.exchanged.items() if column in on),
        cost=answer.cost + columns.fixed,
        bound=answer.bound + columns.fixed,
        steps=max(1, answer.nodes),
    )


__all__ = ["VOID", "Fit", "Match", "fits_of", "judged", "match"]
_ = (Iterable, permutations)
