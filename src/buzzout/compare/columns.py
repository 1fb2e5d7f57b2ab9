"""The programme over a chosen part of its columns.

All columns together are far more than any solution needs. `Chosen` says which are written down;
`price.py` finds the ones that are missed. What a column means:

- a *fit* (x): drawn part i is found part j, so turned, with these leads kept in place;
- *sits* (y): found place k belongs to drawn node a;
- a *frame* and a *swap*: a piece of furniture is numbered so; see `turns.py`;
- *holds*: both ends of a wire belong to one node; *cut*: the wire is wrong; *moved*: it is wrong,
  and with its other end moved it makes a connection that the node lacks;
- *joins*: connections that a node lacks and nothing makes;
- *off*: the part that stands for i is the wrong one; *exchanged*: so for two parts that are in
  each other's place, one error instead of two.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from buzzout.compare import costs
from buzzout.compare.compounds import Group, groups
from buzzout.compare.fits import Fit, Fits
from buzzout.compare.model import FREE, VOID, Pair
from buzzout.compare.programme import Programme
from buzzout.compare.turns import Piece, Swap, pieces

Use = tuple[str, int]  # furniture and index of a frame
SwapUse = tuple[str, int, int]  # and of a swap


@dataclass(frozen=True)
class Task:
    """Both sides with everything about them that does not change during the search."""

    pair: Pair
    fits: Fits
    pieces: Mapping[str, Piece]
    groups: tuple[Group, ...]

    @cached_property
    def anchored(self) -> Mapping[int, tuple[str, int]]:
        """Place to the furniture and index of the pin that it is."""
        return {k: (p.name, q) for p in self.pieces.values() for q, k in enumerate(p.places)}

    @cached_property
    def nodes(self) -> tuple[int, ...]:
        """Drawn nodes that a lead or a pin belongs to."""
        live = {node for small in self.pair.drawing.smalls for node in small.at}
        live |= {node for piece in self.pieces.values() for node in piece.nodes if node != FREE}
        return tuple(sorted(live))

    @cached_property
    def reach(self) -> Mapping[int, frozenset[int]]:
        """Nodes that some turn of the furniture can bring to a pin's place; `FREE` is any."""
        table: dict[int, set[int]] = defaultdict(set)
        for piece in self.pieces.values():
            for target in dict.fromkeys(frame.target for frame in piece.frames):
                for place in self.pieces[target].places:
                    table[place] |= set(piece.nodes)
        return {place: frozenset(nodes) for place, nodes in table.items()}

    @cached_property
    def used(self) -> frozenset[int]:
        """Places where a lead or a wire lands."""
        ends = {place for wire in self.pair.board.wires for place in (wire.a, wire.b)}
        return frozenset(ends | {p for small in self.pair.board.smalls for p in small.at})


def task(pair: Pair) -> Task:
    """Prepare both sides for the search."""
    return Task(pair, Fits(pair), pieces(pair), groups(pair))


@dataclass
class Chosen:
    """The columns that are written down. `sits` are those beyond what the frames bring."""

    sits: set[tuple[int, int]] = field(default_factory=set)
    fits: dict[Fit, None] = field(default_factory=dict)
    groups: dict[Group, None] = field(default_factory=dict)
    frames: dict[Use, None] = field(default_factory=dict)
    swaps: dict[SwapUse, None] = field(default_factory=dict)
    exchanged: dict[tuple[int, int], None] = field(default_factory=dict)

    def __len__(self) -> int:
        return sum(len(x) for x in (self.sits, self.fits, self.frames, self.swaps, self.exchanged))


class Columns:
    """The programme for a choice of columns, and what each column means."""

    def __init__(self, task: Task, chosen: Chosen) -> None:
        """Write the programme down."""
        self.task = task
        self.chosen = chosen
        self.programme = Programme()
        self.meaning: dict[int, Hashable] = {}
        self.sits: dict[tuple[int, int], int] = {}
        self.nodes_of: dict[int, list[int]] = defaultdict(list)
        self._sit()
        self._turn()
        self._fit()
        self._wire()

    def _column(self, meaning: Hashable, cost: float = 0, most: float = 1) -> int:
        number = self.programme.column(cost, most)
        self.meaning[number] = meaning
        return number

    # ---- places

    def _sit(self) -> None:
        wanted = dict.fromkeys(sorted({*self.chosen.sits, *self._brought()}))
        for node, place in wanted:
            column = self._column(("sits", node, place))
            self.sits[node, place] = column
            self.nodes_of[place].append(node)
            self.programme.put(("place", place), column)
            if place in self.task.anchored:
                self.programme.put(("anchor", node, place), column)
                self.programme.at_most(("anchor", node, place), 0)
        for place in self.nodes_of:
            self.programme.exactly(("place", place), 1)

    def _brought(self) -> Iterator[tuple[int, int]]:
        """Pairs of node and place that the chosen frames and swaps bring about."""
        for name, f in self.chosen.frames:
            piece = self.task.pieces[name]
            yield from landings(self.task, piece, f, None)
        for name, f, s in self.chosen.swaps:
            piece = self.task.pieces[name]
            yield from landings(self.task, piece, f, piece.swaps[s])

    # ---- furniture

    def _turn(self) -> None:
        at: dict[Use, int] = {}
        for name, f in self.chosen.frames:
            piece = self.task.pieces[name]
            frame = piece.frames[f]
            column = self._column(("frame", name, f), frame.turn.cost)
            if frame.target != name:
                tie = ("crossed", min(name, frame.target), max(name, frame.target))
                self.programme.exactly(tie, 0)
                self.programme.put(tie, column, 1 if name < frame.target else -1)
            at[name, f] = column
            self.programme.put(("piece", name), column)
            self.programme.exactly(("piece", name), 1)
            self._bring(piece, f, None, column)
        for name, f, s in self.chosen.swaps:
            piece = self.task.pieces[name]
            swap = piece.swaps[s]
            column = self._column(("swap", name, f, s), swap.turn.cost)
            for q in swap.moved:
                row = ("busy", name, f, q)
                if row not in self.programme.right:
                    self.programme.put(row, at[name, f], -1)
                self.programme.at_most(row, 0)
                self.programme.put(row, column)
            self._bring(piece, f, swap, column)

    def _bring(self, piece: Piece, f: int, swap: Swap | None, column: int) -> None:
        """Let a pin's place belong to the node of whichever drawn pin it serves for."""
        frame = piece.frames[f]
        places = self.task.pieces[frame.target].places
        for p, q in enumerate(frame.used):
            if swap is None:
                self._allow(piece.nodes[p], places[q], column, 1)
            elif q in swap.moved:
                self._allow(piece.nodes[p], places[q], column, -1)
                self._allow(piece.nodes[p], places[swap.moved[q]], column, 1)

    def _allow(self, node: int, place: int, column: int, sign: float) -> None:
        for each in self.nodes_of[place] if node == FREE else (node,):
            if (each, place) in self.sits:
                self.programme.put(("anchor", each, place), column, -sign)

    # ---- parts

    def _fit(self) -> None:
        fits = self.task.fits
        for i, cost in enumerate(fits.missing):
            self.programme.put(("drawn", i), self._column(("missing", i), cost))
            self.programme.exactly(("drawn", i), 1)
        for j in range(len(self.task.pair.board.smalls)):
            self.programme.put(("found", j), self._column(("extra", j), costs.PART))
            self.programme.exactly(("found", j), 1)
        off: dict[int, int] = {}
        for fit in self.chosen.fits:
            if any((node, place) not in self.sits for _, _, node, place in fits.kept(fit)):
                continue
            column = self._column(("fit", fit), fits.cost(fit))
            self.programme.put(("drawn", fit.i), column)
            self.programme.put(("found", fit.j), column)
            for s, t, node, place in fits.kept(fit):
                self._tie(("lead", fit.i, s, place), column, node, place)
                self._tie(("end", fit.j, t, node), column, node, place)
            if fits.wrong(fit):
                if fit.i not in off:
                    off[fit.i] = self._column(("off", fit.i), costs.ERROR)
                    self.programme.put(("off", fit.i), off[fit.i], -1)
                    self.programme.at_most(("off", fit.i), 0)
                self.programme.put(("off", fit.i), column)
        self._exchange(off)
        for group in self.chosen.groups:
            self._group(group)

    def _group(self, group: Group) -> None:
        """Several parts together are right if their outer leads are where they should be."""
        needed = [(node, place) for node, place, _, _ in group.ties]
        needed += [(VOID, place) for place in group.inner]
        if any(pair not in self.sits for pair in needed):
            return
        column = self._column(("group", group), costs.HARMLESS)
        for i in group.drawn:
            self.programme.put(("drawn", i), column)
        for j in group.found:
            self.programme.put(("found", j), column)
        for node, place, j, t in group.ties:
            self._tie(("end", j, t, node), column, node, place)
        for place in dict.fromkeys(group.inner):
            self._tie(("inner", group, place), column, VOID, place)

    def _tie(self, row: Hashable, column: int, node: int, place: int) -> None:
        """A lead is kept only if its place belongs to its node; summed over all candidates."""
        if row not in self.programme.right:
            self.programme.put(row, self.sits[node, place], -1)
            self.programme.at_most(row, 0)
        self.programme.put(row, column)

    def _exchange(self, off: Mapping[int, int]) -> None:
        by_part: dict[int, list[tuple[int, int]]] = defaultdict(list)
        for column, meaning in self.meaning.items():
            match meaning:
                case ("fit", Fit() as fit) if self.task.fits.wrong(fit):
                    by_part[fit.i].append((column, fit.j))
        for a, b in self.chosen.exchanged:
            if a not in off or b not in off:
                continue
            column = self._column(("exchanged", a, b), costs.EXCHANGED)
            for one, other in ((a, b), (b, a)):
                self.programme.put(("off", one), column, -1)
                row = ("exchanged", one, self.task.fits.look(other))
                new = row not in self.programme.right
                self.programme.at_most(row, 0)
                self.programme.put(row, column)
                for fit_column, j in by_part[one] if new else ():
                    if self.task.fits.right(other, j):
                        self.programme.put(row, fit_column, -1)

    # ---- wires

    def _wire(self) -> None:
        programme = self.programme
        for (node, _), column in self.sits.items():
            if node != VOID:
                programme.put(("whole", node), column)
        for node in self.task.nodes:
            programme.at_most(("whole", node), 1)
            column = self._column(("joins", node), costs.JOIN, len(self.nodes_of))
            programme.put(("whole", node), column, -1)
        for number, wire in enumerate(self.task.pair.board.wires):
            row = ("wire", number)
            programme.at_most(row, -1)
            if not wire.fixed:
                programme.put(row, self._column(("cut", number), cut_cost(wire)), -1)
            both = set(self.nodes_of[wire.a]) & set(self.nodes_of[wire.b])
            for node in sorted(both):
                self._holds(number, node)
            if not wire.fixed and len(wire.links) == 1:
                either = {*self.nodes_of[wire.a], *self.nodes_of[wire.b]} - {VOID}
                for node in sorted(either):
                    self._moved(number, node)

    def _holds(self, number: int, node: int) -> None:
        wire = self.task.pair.board.wires[number]
        column = self._column(("holds", number, node))
        self.programme.put(("wire", number), column, -1)
        if node != VOID:
            self.programme.put(("whole", node), column, -1)
        for place in (wire.a, wire.b):
            row = ("holds", number, node, place)
            self.programme.at_most(row, 0)
            self.programme.put(row, column)
            self.programme.put(row, self.sits[node, place], -1)

    def _moved(self, number: int, node: int) -> None:
        wire = self.task.pair.board.wires[number]
        column = self._column(("moved", number, node), costs.MOVED)
        self.programme.put(("wire", number), column, -1)
        self.programme.put(("whole", node), column, -1)
        row = ("moved", number, node)
        self.programme.at_most(row, 0)
        self.programme.put(row, column)
        for place in (wire.a, wire.b):
            if (node, place) in self.sits:
                self.programme.put(row, self.sits[node, place], -1)


def cut_cost(wire: object) -> int:
    """What it costs to take a wire away; joints that nobody made a wire of come last."""
    links = wire.links  # type: ignore[attr-defined]
    doubt = costs.JOINT if all(link.how == "joint" for link in links) else 0
    return (costs.CUT + doubt) * max(1, len(links))


def landings(task: Task, piece: Piece, f: int, swap: Swap | None) -> Iterator[tuple[int, int]]:
    """Node and place of each pin under a frame, or of the pins that a swap moves within it."""
    frame = piece.frames[f]
    places = task.pieces[frame.target].places
    for p, q in enumerate(frame.used):
        if piece.nodes[p] == FREE:
            continue
        if swap is None:
            yield piece.nodes[p], places[q]
        elif q in swap.moved:
            yield piece.nodes[p], places[swap.moved[q]]
