"""The numberings of each piece of furniture as tables of numbers, for the programme.

`Piece.frames` are whole numberings: `used[p]` is the index of the found pin that serves for drawn
pin p, on the piece itself or on a twin socket (`target`), where each of the two bears half the
cost. `Piece.swaps` exchange found pins on top of a frame: `moved` maps index to index.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from buzzout.compare.colours import look_of
from buzzout.compare.costs import SOCKETS
from buzzout.compare.furniture import AS_DRAWN, Turn, frames, heater_turned, plain, swaps
from buzzout.compare.heaters import parallel_halves
from buzzout.compare.model import FREE, UNSEEN, Pair, found_nodes

# Sockets alike beyond which only those are considered for each other that bear the other's parts.
MANY_TWINS = 40
LIKELY = 4  # so many of these
TWINS = ("socket", "pot", "can", "transformer")  # what may be wired in the place of its like
BUSY = 12  # leads on a node that says nothing of where it is, such as the chassis
Ints = npt.NDArray[np.int64]
Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Frame:
    """One numbering: `turn` says what it means."""

    turn: Turn
    target: str
    used: tuple[int, ...]


@dataclass(frozen=True)
class Swap:
    """A small exchange of found pins."""

    turn: Turn
    moved: Mapping[int, int]


@dataclass(frozen=True)
class Piece:
    """Furniture by name: `nodes` that its drawn pins belong to, `places` of its found pins."""

    name: str
    nodes: tuple[int, ...]
    places: tuple[int, ...]
    frames: tuple[Frame, ...]
    swaps: tuple[Swap, ...]

    @cached_property
    def on(self) -> dict[str, tuple[Ints, Ints, Ints, Array]]:
        """Target to its frames: their indices, `used`, drawn pin by found pin, costs."""
        table = {}
        for target in dict.fromkeys((self.name, *(frame.target for frame in self.frames))):
            rows = [f for f, frame in enumerate(self.frames) if frame.target == target]
            used = np.array([self.frames[f].used for f in rows])
            cost = np.array([self.frames[f].turn.cost for f in rows], dtype=np.float64)
            table[target] = (np.array(rows), used, np.argsort(used, axis=1), cost)
        return table

    def turn(self, f: int, s: int) -> Turn:
        """What swap s means within frame f.

        What is harmless is so of drawn pins. A wrong numbering has other found pins serve for them.
        """
        return self._other_turns.get((f, s), self.swaps[s].turn)

    @cached_property
    def _other_turns(self) -> dict[tuple[int, int], Turn]:
        """Frame and swap to what the swap means there, if that is not what it means as drawn."""
        table = {}
        harmless = [s for s, swap in enumerate(self.swaps) if swap.turn.harmless]
        row = {frozenset(swap.moved): s for s, swap in enumerate(self.swaps)}
        for f, frame in enumerate(self.frames):
            for s in harmless:
                there = frozenset(frame.used[p] for p in self.swaps[s].moved)
                if there != frozenset(self.swaps[s].moved) and there in row:
                    told, moved = self.swaps[s].turn, self.swaps[row[there]].turn.moved
                    table[f, row[there]] = replace(told, moved=moved)
                    table.setdefault((f, s), plain(told))
        return table

    @cached_property
    def swap_cost(self) -> Ints:
        """Cost of each swap within each frame."""
        own = np.array([swap.turn.cost for swap in self.swaps], dtype=np.int64)
        cost = np.repeat(own[None, :], len(self.frames), axis=0)
        for at, turn in self._other_turns.items():
            cost[at] = turn.cost
        return cost

    @cached_property
    def swap_table(self) -> tuple[Ints, Ints, Ints]:
        """All swaps as arrays: pins, where each goes (padded with -1), sizes."""
        widest = max((len(s.moved) for s in self.swaps), default=0)
        start = np.full((len(self.swaps), widest), -1)
        stop = start.copy()
        for row, swap in enumerate(self.swaps):
            start[row, : len(swap.moved)] = list(swap.moved)
            stop[row, : len(swap.moved)] = list(swap.moved.values())
        return start, stop, np.array([len(s.moved) for s in self.swaps])


def pieces(pair: Pair, likely: Likely) -> dict[str, Piece]:
    """All furniture that stands on both sides, the chassis included."""
    table = {}
    bare = _Bare(pair)
    for name, pins in pair.drawing.pins.items():
        places = tuple(pair.board.pins[name].values())
        if name not in pair.drawing.circuit.parts:
            frame = Frame(AS_DRAWN, name, (0,))
            table[name] = Piece(name, tuple(pins.values()), places, (frame,), ())
        else:
            table[name] = bare.dropped(_piece(pair, name, tuple(pins.values()), places, likely))
    return table


class _Bare:
    """Furniture on which nothing lands.

    Bare pins are alike: whichever serves for which, nothing changes. A numbering that is about
    nothing else is no column. Most of a chassis is bare while it is being written down.
    """

    def __init__(self, pair: Pair) -> None:
        """Look where leads and wires land."""
        board = pair.board
        self.busy = {k for small in board.smalls for k in small.at}
        self.busy |= {k for wire in board.wires for k in (wire.a, wire.b)}
        self.pins = board.pins

    def dropped(self, piece: Piece) -> Piece:
        """A piece without the frames and swaps that change nothing."""
        places = {
            name: tuple(self.pins[name].values()) for name in {x.target for x in piece.frames}
        }
        busy = {name: self.busy.intersection(at) for name, at in places.items()}
        frames = (x for x in piece.frames[1:] if busy[piece.name] or busy[x.target])
        swaps = (
            swap
            for swap in piece.swaps
            if any(
                not on.isdisjoint(places[name][q] for q in swap.moved) for name, on in busy.items()
            )
        )
        return replace(piece, frames=(piece.frames[0], *frames), swaps=tuple(swaps))


def _piece(
    pair: Pair, name: str, nodes: tuple[int, ...], places: tuple[int, ...], likely: Likely
) -> Piece:
    wanted = pair.drawing.circuit.parts[name]
    index = {pin: n for n, pin in enumerate(wanted.terminals)}
    own = [Frame(turn, name, tuple(index[turn(pin)] for pin in index)) for turn in frames(wanted)]
    twins = likely.twins(name)
    across = [
        (replace(frame.turn, cost=frame.turn.cost + SOCKETS // 2), frame.used) for frame in own
    ]
    own += [Frame(turn, twin, used) for twin in twins for turn, used in across]
    table = [
        Swap(turn, {index[p]: index[q] for p, q in turn.moved.items()})
        for turn in swaps(wanted)
        if set(turn.moved) <= set(index)
    ]
    for one, two, tap in parallel_halves(wanted):
        if nodes[index[two]] == FREE:  # the ends are one: see `heaters.py`
            moved = {index[one]: index[tap], index[tap]: index[one]}
            table = [swap for swap in table if swap.moved != moved]
            table.append(Swap(heater_turned(one, two, tap), moved))
    return Piece(name, nodes, places, tuple(own), tuple(table))


class Likely:
    """Sockets, controls, cans or coils with the same pins, which may be wired as one another.

    Where there are very many, only those that each bear what the other should.
    """

    def __init__(self, pair: Pair) -> None:
        """Sort them by kind and pins."""
        self.pair = pair
        parts = pair.drawing.circuit.parts
        self.like: dict[tuple[str, ...], list[str]] = defaultdict(list)
        for name in pair.board.called:
            if parts[name].kind in TWINS:
                self.like[parts[name].kind, *parts[name].terminals].append(name)

    def twins(self, name: str) -> list[str]:
        """Those that this one may be wired as."""
        others = self._alike(name)
        if len(others) > MANY_TWINS:
            return sorted(self._bear[name])
        return [other for other in others if other != name]

    def better(self, name: str, among: Iterable[str]) -> list[str]:
        """Those of which each bears more of what the other should than it does itself."""
        like = set(self._alike(name))
        return [
            other
            for other in among
            if other in like
            and self.score(name, other) > self.score(name, name)
            and self.score(other, name) > self.score(other, other)
        ]

    def _alike(self, name: str) -> list[str]:
        """All that may be wired as this one, itself among them; nothing if nothing may."""
        part = self.pair.drawing.circuit.parts.get(name)
        return self.like[part.kind, *part.terminals] if part and part.kind in TWINS else []

    @cached_property
    def _bear(self) -> Mapping[str, set[str]]:
        """Each socket and the few that bear most of what it should, more than it does itself."""
        table: dict[str, set[str]] = defaultdict(set)
        for others in self.like.values():
            for name in others:
                score = {other: self.score(name, other) for other in others}
                best = sorted(others, key=lambda other: -score[other])[:LIKELY]
                for other in (x for x in best if score[x] > score[name]):
                    table[name].add(other)
                    table[other].add(name)
        return table

    def score(self, name: str, target: str, turn: Turn = AS_DRAWN) -> int:
        """How many leads of one look are on a drawn pin and on the found one that serves for it."""
        there = self._found[target]
        return sum(
            min(count, there[turn(pin), seen]) for (pin, seen), count in self._drawn[name].items()
        )

    def wanted(self, name: str) -> int:
        """How many leads should be on the pins of a piece of furniture."""
        return self._drawn[name].total()

    @cached_property
    def _drawn(self) -> Mapping[str, Counter[tuple[str, Hashable]]]:
        at: dict[int, list[Hashable]] = defaultdict(list)
        for small in self.pair.drawing.smalls:
            for node in small.at:
                at[node].append(look_of(small))
        return self._borne(self.pair.drawing.pins, at)

    @cached_property
    def _found(self) -> Mapping[str, Counter[tuple[str, Hashable]]]:
        at: dict[int, list[Hashable]] = defaultdict(list)
        group_of = {k: n for n, group in enumerate(found_nodes(self.pair.board)) for k in group}
        for small in self.pair.board.smalls:
            for place in small.at:
                if place != UNSEEN:
                    at[group_of[place]].append(look_of(small))
        pins = {
            name: {pin: group_of[k] for pin, k in pins.items()}
            for name, pins in self.pair.board.pins.items()
        }
        return self._borne(pins, at)

    @staticmethod
    def _borne(
        pins: Mapping[str, Mapping[str, int]], at: Mapping[int, Sequence[Hashable]]
    ) -> Mapping[str, Counter[tuple[str, Hashable]]]:
        """Furniture to the looks at each of its pins; a node with many parts says little."""
        return {
            name: Counter(
                (pin, seen)
                for pin, n in table.items()
                for seen in (at.get(n, ()) if len(at.get(n, ())) < BUSY else ())
            )
            for name, table in pins.items()
        }
