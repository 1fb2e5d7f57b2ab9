"""Both sides of a comparison with everything that the search needs to know and does not change."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from buzzout.compare import costs
from buzzout.compare.compounds import Group, groups
from buzzout.compare.fits import Fits
from buzzout.compare.model import FREE, Pair, rings
from buzzout.compare.tables import Tables
from buzzout.compare.turns import Likely, Piece, pieces


@dataclass(frozen=True)
class Task:
    """Both sides with everything about them that does not change during the search."""

    pair: Pair
    fits: Fits
    pieces: Mapping[str, Piece]
    groups: tuple[Group, ...]
    likely: Likely

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

    def absence(self, node: int) -> int:
        """What it costs that a pin of this node is not there: it lacks its connection."""
        return costs.JOIN if node >= 0 and len(self.pair.drawing.nodes[node]) > 1 else 0

    @cached_property
    def inner(self) -> Mapping[int, int]:
        """Wires inside valves, from pin to pin of one drawn node: their numbers and that node.

        They go with the pins, whichever found pins serve for these.
        """
        table = {}
        for number, wire in enumerate(self.pair.board.wires):
            nodes = {self._drawn_at(wire.a), self._drawn_at(wire.b)} if wire.fixed else {FREE}
            if len(nodes) == 1 and FREE not in nodes:
                table[number] = nodes.pop()
        return table

    def _drawn_at(self, place: int) -> int:
        """The node of the drawn pin that a place is."""
        name, pin = self.anchored.get(place, ("", 0))
        return self.pieces[name].nodes[pin] if name else FREE

    @cached_property
    def rings(self) -> tuple[tuple[int, ...], ...]:
        """Wires that close a ring, ring by ring: one ring for each that no other rings make up."""
        return tuple(rings(self.pair.board))

    @cached_property
    def tables(self) -> Tables:
        """What all tables of prices have in common."""
        return Tables(self)

    @cached_property
    def used(self) -> frozenset[int]:
        """Places where a lead or a wire lands."""
        ends = {place for wire in self.pair.board.wires for place in (wire.a, wire.b)}
        return frozenset(ends | {p for small in self.pair.board.smalls for p in small.at})


def task(pair: Pair) -> Task:
    """Prepare both sides for the search."""
    likely = Likely(pair)
    return Task(pair, Fits(pair), pieces(pair, likely), groups(pair), likely)
