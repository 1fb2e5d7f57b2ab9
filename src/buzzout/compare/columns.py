"""The programme over a part of its columns, which grows.

All columns together are far more than any solution needs. `Chosen` names some to write down;
`price.py` finds the ones that are missed. What a column means:

- a *fit* (x): drawn part i is found part j, so turned, with these leads kept in place;
- *sits* (y): found place k belongs to drawn node a;
- a *frame* and a *swap*: a piece of furniture is numbered so; see `turns.py`;
- *holds*: both ends of a wire belong to one node; *cut*: the wire is wrong; *moved*: it is wrong,
  and with its other end moved it makes a connection that the node lacks;
- *joins*: connections that a node lacks and nothing makes; *closes*: wires hold in a ring;
- *off*: the part that stands for i is the wrong one; *exchanged*: so for two parts that are in
  each other's place, one error instead of two, or for three in a ring, two instead of three.

What no column tells is told by others, and what is proven minimal is so among these: a part with no
lead in place is a missing one and one too many; a wire wrong at both ends a bridge and a missing
connection; longer rings of pins or values are pairs and single ones. Numberings of furniture are
those of `furniture.py`, up to its limits. What a valve joins inside goes with its pins; rings of
wires through such a join are reckoned as if the socket were wired as drawn.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass, field

from buzzout.compare import costs
from buzzout.compare.compounds import Group
from buzzout.compare.fits import Fit
from buzzout.compare.model import FREE, VOID
from buzzout.compare.programme import LOOSE, Programme
from buzzout.compare.task import Task
from buzzout.compare.turns import Piece, Swap

Use = tuple[str, int]  # furniture and index of a frame
SwapUse = tuple[str, int, int]  # and of a swap

# Rows that tie pins to the numberings of their socket are held tighter than others, so that prices
# gather there: what stands wrong on pins is then settled in fewer rounds (measured, by a tenth).
ON_PINS = LOOSE / 10


@dataclass
class Chosen:
    """Columns to write down. `sits` are those beyond what the frames bring."""

    sits: set[tuple[int, int]] = field(default_factory=set)
    fits: dict[Fit, None] = field(default_factory=dict)
    groups: dict[Group, None] = field(default_factory=dict)
    frames: dict[Use, None] = field(default_factory=dict)
    swaps: dict[SwapUse, None] = field(default_factory=dict)
    sockets: dict[tuple[str, str, str], None] = field(default_factory=dict)
    exchanged: dict[tuple[int, ...], None] = field(default_factory=dict)

    def __len__(self) -> int:
        kinds = (self.sits, self.fits, self.frames, self.swaps, self.sockets, self.exchanged)
        return sum(len(kind) for kind in kinds)


class Columns:
    """The programme for the columns that were added so far, and what each of them means.

    `written` are the places of the fits among them in the matrix of each family and way, `sat` the
    row, place and column of each pair of node and place.
    """

    def __init__(self, task: Task) -> None:
        """Write down what is there in any case: parts missed, parts too many, wires cut."""
        self.task = task
        self.programme = Programme()
        self.meaning: list[Hashable] = []
        self.at: dict[Hashable, int] = {}
        self.sits: dict[tuple[int, int], int] = {}
        self.sat: list[tuple[int, int, int]] = []
        self.fits: dict[Fit, int] = {}
        self.nodes_of: dict[int, list[int]] = defaultdict(list)
        self._free: dict[int, list[tuple[int, float]]] = defaultdict(list)
        self._wires: dict[int, list[int]] = defaultdict(list)
        self._rings: dict[int, list[int]] = defaultdict(list)
        self.written: dict[tuple[int, int], list[tuple[int, int]]] = defaultdict(list)
        self._waiting: list[Fit | Group] = []
        self._wrong: dict[int, list[tuple[int, int]]] = defaultdict(list)
        self._crossed: dict[int, list[tuple[Hashable, int]]] = defaultdict(list)
        self._lacking()

    def _column(self, meaning: Hashable, cost: float = 0, most: float = 1) -> int:
        number = self.programme.column(cost, most)
        self.meaning.append(meaning)
        self.at[meaning] = number
        return number

    def _lacking(self) -> None:
        programme = self.programme
        for i, cost in enumerate(self.task.fits.missing):
            programme.exactly(("drawn", i), 1)
            programme.put(("drawn", i), self._column(("missing", i), cost))
        for j in range(len(self.task.pair.board.smalls)):
            programme.exactly(("found", j), 1)
            programme.put(("found", j), self._column(("extra", j), costs.PART))
        joined = Counter(self.task.inner.values())
        for node in self.task.nodes:
            programme.at_most(("whole", node), 1 + joined[node])
            column = self._column(("joins", node), costs.JOIN, len(self.task.pair.board.places))
            programme.put(("whole", node), column, -1)
        for number, wire in enumerate(self.task.pair.board.wires):
            if number in self.task.inner:
                continue
            self._wires[wire.a].append(number)
            self._wires[wire.b].append(number)
            programme.at_most(("wire", number), -1)
            if not wire.fixed:
                column = self._column(("cut", number), cut_cost(wire))
                programme.put(("wire", number), column, -1)
        for r, ring in enumerate(self.task.rings):
            for number in ring:
                self._rings[number].append(r)

    def add(self, more: Chosen) -> None:
        """Write more columns down. A fit or group waits until its pairs are there."""
        for use in more.frames:
            if ("frame", *use) not in self.at:
                self._frame(*use)
        for swap_use in more.swaps:
            if ("swap", *swap_use) not in self.at:
                self._swap(*swap_use)
        for sockets in more.sockets:
            if ("sockets", sockets) not in self.at:
                self._sockets(sockets)
        for node, place in sorted(more.sits):
            self._sit(node, place)
        self._add_fits([*more.fits, *more.groups])
        for ring in more.exchanged:
            if ("exchanged", ring) not in self.at:
                self._exchange(ring)

    def _add_fits(self, more: Iterable[Fit | Group]) -> None:
        every = dict.fromkeys([*self._waiting, *more])
        self._waiting = []
        for each in every:
            if isinstance(each, Fit) and each not in self.fits:
                self._fit(each)
            elif isinstance(each, Group) and ("group", each) not in self.at:
                self._group(each)

    def _must_wait(self, each: Fit | Group, pairs: Iterable[tuple[int, int]]) -> bool:
        if all(pair in self.sits for pair in pairs):
            return False
        self._waiting.append(each)
        return True

    # ---- places

    def _sit(self, node: int, place: int) -> None:
        """A pair of node and place, and what it means to the wires that end there."""
        if (node, place) in self.sits:
            return
        programme = self.programme
        absent = place in self.task.pair.board.absent
        cost = self.task.absence(node) if absent else 0
        column = self.sits[node, place] = self._column(("sits", node, place), cost)
        self.sat.append((self.task.tables.index[node], place, column))
        self.nodes_of[place].append(node)
        programme.exactly(("place", place), 1)
        programme.put(("place", place), column)
        if node != VOID and not absent:
            programme.put(("whole", node), column)
        if place in self.task.anchored:
            programme.at_most(("anchor", node, place), 0, ON_PINS)
            programme.put(("anchor", node, place), column)
            for frame, sign in self._free[place]:
                programme.put(("anchor", node, place), frame, -sign)
            if FREE in self.task.reach[place]:
                programme.at_most(("pinned", node, place), 0, ON_PINS)
                programme.put(("pinned", node, place), column, -1)
        for number in self._wires[place]:
            self._wire(number, node, place)

    # ---- furniture

    def _frame(self, name: str, f: int) -> None:
        piece = self.task.pieces[name]
        frame = piece.frames[f]
        for node, place in landings(self.task, piece, f, None):
            self._sit(node, place)
        column = self._column(("frame", name, f), frame.turn.cost)
        if frame.target != name:
            self._tie_sockets(name, frame.target, column, 1)
        self.programme.exactly(("piece", name), 1, ON_PINS)
        self.programme.put(("piece", name), column)
        places = self.task.pieces[frame.target].places
        for p, q in enumerate(frame.used):
            self._allow(piece.nodes[p], places[q], column, 1)

    def _tie_sockets(self, name: str, target: str, column: int, sign: float) -> None:
        """One socket is wired as another where the other is wired as this one, or in a ring."""
        tie = ("crossed", min(name, target), max(name, target))
        self.programme.exactly(tie, 0)
        self.programme.put(tie, column, sign if name < target else -sign)

    def _sockets(self, ring: tuple[str, str, str]) -> None:
        column = self._column(("sockets", ring), costs.SOCKETS // 2)
        for name, target in zip(ring, ring[1:] + ring[:1], strict=True):
            self._tie_sockets(name, target, column, -1)

    def _swap(self, name: str, f: int, s: int) -> None:
        piece = self.task.pieces[name]
        frame, swap = piece.frames[f], piece.swaps[s]
        for node, place in landings(self.task, piece, f, swap):
            self._sit(node, place)
        column = self._column(("swap", name, f, s), float(piece.swap_cost[f, s]))
        for q in swap.moved:
            row = ("busy", name, f, q)
            if self.programme.at_most(row, 0, ON_PINS):
                self.programme.put(row, self.at["frame", name, f], -1)
            self.programme.put(row, column)
        places = self.task.pieces[frame.target].places
        for p, q in enumerate(frame.used):
            if q in swap.moved:
                self._allow(piece.nodes[p], places[q], column, -1)
                self._allow(piece.nodes[p], places[swap.moved[q]], column, 1)

    def _allow(self, node: int, place: int, column: int, sign: float) -> None:
        """Let a pin's place belong to the node of whichever drawn pin it serves for.

        It has to, where it may serve for a free pin too: that asks for nothing and allows any node.
        """
        if node == FREE:
            self._free[place].append((column, sign))
        for each in self.nodes_of[place] if node == FREE else (node,):
            self.programme.put(("anchor", each, place), column, -sign)
        if node != FREE and FREE in self.task.reach[place]:
            self.programme.put(("pinned", node, place), column, sign)

    # ---- parts

    def _fit(self, fit: Fit) -> None:
        fits = self.task.fits
        if self._must_wait(fit, [(node, place) for _, _, node, place in fits.kept(fit)]):
            return
        column = self.fits[fit] = self._column(("fit", fit), fits.cost(fit))
        if at := fits.located(fit):
            family, row, found, way = at
            self.written[family, way].append((row, found))
        self.programme.put(("drawn", fit.i), column)
        self.programme.put(("found", fit.j), column)
        for s, t, node, place in fits.kept(fit):
            self._tie(("lead", fit.i, s, place), column, node, place)
            self._tie(("end", fit.j, t, node), column, node, place)
        if not fits.wrong(fit):
            return
        self.programme.put(self._off(fit.i), column)
        self._wrong[fit.i].append((column, fit.j))
        for other_row, other in self._crossed[fit.i]:
            if fits.right(other, fit.j):
                self.programme.put(other_row, column, -1)

    def _off(self, i: int) -> Hashable:
        """The row that makes a wrong part for i cost an error."""
        row = ("off", i)
        if self.programme.at_most(row, 0):
            self.programme.put(row, self._column(row, costs.ERROR), -1)
        return row

    def _group(self, group: Group) -> None:
        """Several parts together are right if their outer leads are where they should be."""
        pairs = [(node, place) for node, place, _, _ in group.ties]
        if self._must_wait(group, [*pairs, *((VOID, place) for place in group.inner)]):
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
        if self.programme.at_most(row, 0):
            self.programme.put(row, self.sits[node, place], -1)
        self.programme.put(row, column)

    def _exchange(self, ring: tuple[int, ...]) -> None:
        """Two wrong parts in each other's place, or three in a ring."""
        column = self._column(("exchanged", ring), (len(ring) - 1) * costs.EXCHANGED)
        for one, other in zip(ring, ring[1:] + ring[:1], strict=True):
            self.programme.put(self._off(one), column, -1)
            row = ("exchanged", one, self.task.fits.look(other))
            if self.programme.at_most(row, 0):
                self._crossed[one].append((row, other))
                for fit_column, j in self._wrong[one]:
                    if self.task.fits.right(other, j):
                        self.programme.put(row, fit_column, -1)
            self.programme.put(row, column)

    # ---- wires

    def _wire(self, number: int, node: int, place: int) -> None:
        """What a wire means to a new pair at one of its ends."""
        wire = self.task.pair.board.wires[number]
        far = wire.a + wire.b - place
        if node in self.nodes_of[far]:
            self._holds(number, node)
        if node == VOID or not wire.movable:
            return
        row = ("moved", number, node)
        if self.programme.at_most(row, 0):
            column = self._column(row, costs.MOVED)
            self.programme.put(row, column)
            self.programme.put(("wire", number), column, -1)
            self.programme.put(("whole", node), column, -1)
        self.programme.put(row, self.sits[node, place], -1)

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
        for r in self._rings[number] if node != VOID else ():
            self._closes(r, node)

    def _closes(self, r: int, node: int) -> None:
        """A ring of wires holds one place less together than it has wires.

        Those inside a valve always hold, at the pins as they are drawn.
        """
        inner = self.task.inner
        if any(inner.get(number, node) != node for number in self.task.rings[r]):
            return
        ring = [("holds", number, node) for number in self.task.rings[r] if number not in inner]
        if any(held not in self.at for held in ring):
            return
        row, column = ("ring", r, node), self._column(("closes", r, node))
        self.programme.at_most(row, len(ring) - 1)
        for held in ring:
            self.programme.put(row, self.at[held])
        self.programme.put(row, column, -1)
        self.programme.put(("whole", node), column)


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
