"""Which found part may stand for which drawn part, how turned, which leads in place, at what cost.

A part that keeps no lead is never cheaper than a missing part and one too many, and is left out.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np
import numpy.typing as npt

from buzzout.circuit import Part
from buzzout.compare import costs
from buzzout.compare.model import UNSEEN, Pair, Small
from buzzout.compare.values import FAMILIES, STRANGE, Verdict, judge

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
SEEN = tuple(
    "kind value measured in_circuit voltage power current type accepts base unread".split()
)


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


# The ways to take a two-ended part: terminals, and which leads are kept.
WAYS = tuple(product(((0, 1), (1, 0)), ((True, True), (True, False), (False, True))))
STRANGE_WAYS = tuple(w for w, (_, kept) in enumerate(WAYS) if all(kept))
NEVER = 100 * costs.ERROR


@dataclass(frozen=True)
class Family:
    """All two-ended parts that may stand for one another; `strange` ones are of another kind.

    `drawn` and `found` are indices of small parts; `nodes` and `places` where their two ends are;
    `look` numbers drawn parts that look alike; `price` [drawn, found] is what the pairing costs
    beyond leads and a wrong part.
    """

    drawn: Ints
    found: Ints
    nodes: Ints
    places: Ints
    price: Ints
    wrong: Bools
    unread: Bools
    turned: Bools
    look: Ints
    number: int
    strange: bool = False

    @property
    def ways(self) -> tuple[int, ...]:
        """Indices of `WAYS` in which a pairing may be worth it."""
        return STRANGE_WAYS if self.strange else tuple(range(len(WAYS)))

    def at(self, i: int, j: int) -> tuple[int, int]:
        """Row of drawn part i, and column of found part j."""
        return int(np.searchsorted(self.drawn, i)), int(np.searchsorted(self.found, j))

    @cached_property
    def right(self) -> Bools:
        """Which pairings are right for all that was read."""
        return np.asarray(~self.wrong & ~self.unread)

    def usable(self, way: int) -> Bools:
        """Of which found parts a pairing makes sense in this way: see the head of the module."""
        ends, kept = WAYS[way]
        if all(kept):
            return np.ones(len(self.found), dtype=bool)
        return np.asarray(self.places[:, ends[kept.index(False)]] != UNSEEN)


class Fits:
    """All pairings of small parts."""

    def __init__(self, pair: Pair) -> None:
        """Judge every found part in the place of every drawn one of its kind."""
        self.pair = pair
        self.missing = [costs.missing(s.part) for s in pair.drawing.smalls]
        self.loose = _loose(pair)
        self._verdicts: dict[tuple[int, int], Verdict] = {}
        self._sights: dict[int, int] = {}
        self._numbers: dict[Hashable, int] = {}
        self._kinds = [[_kind(s.part) for s in side.smalls] for side in (pair.drawing, pair.board)]
        self.families: list[Family] = []
        for kinds in _kin(pair):
            self.families += self._family(kinds)
        self._where = {
            (side, int(n)): (f, row)
            for f, family in enumerate(self.families)
            for side, members in (("i", family.drawn), ("j", family.found))
            for row, n in enumerate(members)
        }
        self.families += self._strangers()
        self.odd = list(self._odd())

    def verdict(self, i: int, j: int) -> Verdict:
        """What is to say about found part j in the place of drawn part i."""
        return self._judged(self.pair.drawing.smalls[i].part, self.pair.board.smalls[j].part)

    def _judged(self, one: Part, two: Part) -> Verdict:
        key = (self._sight(one), self._sight(two))
        if key not in self._verdicts:
            self._verdicts[key] = judge(one, two)
        return self._verdicts[key]

    def _sight(self, part: Part) -> int:
        """A number for everything about a part that its verdict depends on."""
        if id(part) not in self._sights:
            look = tuple(getattr(part, key) for key in SEEN)
            self._sights[id(part)] = self._numbers.setdefault(look, len(self._numbers))
        return self._sights[id(part)]

    def wrong(self, fit: Fit) -> bool:
        """The part itself is the wrong one; one of a strange kind is counted with its price."""
        return bool(self.verdict(fit.i, fit.j).wrong) and not self._strange(fit.i, fit.j)

    def _strange(self, i: int, j: int) -> bool:
        return self._kinds[0][i] != self._kinds[1][j]

    def right(self, i: int, j: int) -> bool:
        """Found part j would be right in the place of drawn part i, for all that was read."""
        family, row = self._where.get(("i", i), (-1, 0))
        other, column = self._where.get(("j", j), (-2, 0))
        return family == other and bool(self.families[family].right[row, column])

    def cost(self, fit: Fit) -> float:
        """Cost of a pairing, but for the part itself being wrong."""
        wanted, fitted = self.pair.drawing.smalls[fit.i], self.pair.board.smalls[fit.j]
        price = base_price(wanted.part, fitted.part, self.verdict(fit.i, fit.j))
        price += costs.ERROR * self._strange(fit.i, fit.j)
        price += costs.LEAD * fit.kept.count(False) + costs.UNREAD * fitted.at.count(UNSEEN)
        lost = [t for t, kept in zip(fit.ends, fit.kept, strict=True) if not kept]
        price += costs.LOOSE * sum(fitted.at[t] in self.loose for t in lost)
        slips = zip(wanted.at, fit.ends, fit.kept, strict=True)
        price += costs.FAR * sum(not kept and self._far(n, fitted.at[t]) for n, t, kept in slips)
        return price + (costs.ERROR if fit.reversed else 0)

    def _far(self, node: int, place: int) -> bool:
        """The place is on no furniture that has a pin of the node: a hand hardly slips so far."""
        return not self._around.get(("place", place), frozenset()) & self._around.get(
            ("node", node), frozenset()
        )

    @cached_property
    def _around(self) -> Mapping[tuple[str, int], frozenset[str]]:
        """Furniture with a pin of each node, and on each place."""
        table: dict[tuple[str, int], set[str]] = defaultdict(set)
        for name, pins in self.pair.drawing.pins.items():
            for pin, node in pins.items():
                table["node", node].add(name)
                table["place", self.pair.board.pins[name][pin]].add(name)
        return {key: frozenset(names) for key, names in table.items()}

    def kept(self, fit: Fit) -> Iterator[tuple[int, int, int, int]]:
        """Drawn terminal, found terminal, node and place of each kept lead that somebody saw."""
        nodes, places = self.pair.drawing.smalls[fit.i].at, self.pair.board.smalls[fit.j].at
        for s, (t, kept) in enumerate(zip(fit.ends, fit.kept, strict=True)):
            if kept and places[t] != UNSEEN:
                yield s, t, nodes[s], places[t]

    def named(self, family: Family, row: int, column: int, way: int) -> Fit:
        """The pairing at a place of a family's matrix."""
        ends, kept = WAYS[way]
        turned = bool(ends[0]) and bool(family.turned[row, column])
        return Fit(int(family.drawn[row]), int(family.found[column]), ends, kept, turned)

    def located(self, fit: Fit) -> tuple[int, int, int, int] | None:
        """Number of the family, row, column and way of a pairing; None for the odd ones."""
        if len(fit.ends) != 2:
            return None
        way = WAYS.index((fit.ends, fit.kept))
        if self._strange(fit.i, fit.j):
            return len(self.families) - 1, *self.families[-1].at(fit.i, fit.j), way
        family, row = self._where["i", fit.i]
        return family, row, self._where["j", fit.j][1], way

    def look(self, i: int) -> int:
        """Number of all drawn parts of its family that look like this one."""
        family, row = self._where["i", i]
        return int(self.families[family].look[row])

    def _family(self, kinds: Sequence[str]) -> Iterator[Family]:
        drawing, board = self.pair.drawing.smalls, self.pair.board.smalls
        mine = [i for i, s in enumerate(drawing) if s.part.kind in kinds and len(s.at) == 2]
        theirs = [j for j, s in enumerate(board) if s.part.kind in kinds and len(s.at) == 2]
        if not mine or not theirs:
            return
        ones, row_of = self._distinct([drawing[i] for i in mine])
        twos, column_of = self._distinct([board[j] for j in theirs])
        tables = [[_facts(a, b, self._judged(a, b)) for b in twos] for a in ones]
        facts = np.array(tables, dtype=np.int64)[np.ix_(row_of, column_of)]
        price = facts[:, :, 0] + self._names(mine, theirs)
        yield Family(
            np.array(mine),
            np.array(theirs),
            np.array([drawing[i].at for i in mine]),
            np.array([board[j].at for j in theirs]),
            price,
            facts[:, :, 1] > 0,
            facts[:, :, 2] > 0,
            facts[:, :, 3] > 0,
            np.array(row_of),
            len(self.families),
        )

    def _strangers(self) -> Iterator[Family]:
        """Parts in a place for another kind, which no hand takes for one another."""
        drawing, board = self.pair.drawing.smalls, self.pair.board.smalls
        mine = [i for i, s in enumerate(drawing) if len(s.at) == 2 and not s.part.furniture]
        theirs = [j for j, s in enumerate(board) if len(s.at) == 2 and not s.part.furniture]
        kinds = [np.array(self._kinds[side])[of] for side, of in ((0, mine), (1, theirs))]
        apart = kinds[0][:, None] != kinds[1][None, :]
        if not apart.any():
            return
        never = np.zeros(apart.shape, dtype=bool)
        yield Family(
            np.array(mine),
            np.array(theirs),
            np.array([drawing[i].at for i in mine]),
            np.array([board[j].at for j in theirs]),
            np.where(apart, costs.ERROR + STRANGE, NEVER) + self._names(mine, theirs),
            never,
            never,
            never,
            np.zeros(len(mine), dtype=np.int64),
            len(self.families),
            strange=True,
        )

    def _distinct(self, smalls: Sequence[Small]) -> tuple[list[Part], list[int]]:
        """Parts that look different, and for each part which of them it looks like."""
        index: dict[int, int] = {}
        first: list[Part] = []
        where = []
        for small in smalls:
            sight = self._sight(small.part)
            if sight not in index:
                index[sight] = len(first)
                first.append(small.part)
            where.append(index[sight])
        return first, where

    def _names(self, mine: Sequence[int], theirs: Sequence[int]) -> Ints:
        """A part with a name of its own is rather the drawn part of that name."""
        one = np.array([self.pair.drawing.smalls[i].part.name for i in mine])
        two = np.array([self.pair.board.smalls[j].part.name for j in theirs])
        own = np.array([not self.pair.board.smalls[j].part.anonymous for j in theirs])
        return np.asarray(
            costs.OTHER_NAME * (own[None, :] & (one[:, None] != two[None, :])).astype(np.int64)
        )

    def _odd(self) -> Iterator[Fit]:
        """Pairings of parts with other than two ends: by terminal name, at most one lead off."""
        by_kind: Mapping[str, list[int]] = defaultdict(list)
        for j, small in enumerate(self.pair.board.smalls):
            if len(small.at) != 2:
                by_kind[small.part.kind].append(j)
        for i, small in enumerate(self.pair.drawing.smalls):
            for j in by_kind[small.part.kind] if len(small.at) != 2 else ():
                yield from _by_name(i, j, small.part, self.pair.board.smalls[j].part)


def _loose(pair: Pair) -> frozenset[int]:
    """Places on which one lead lands and nothing else."""
    leads = Counter(place for small in pair.board.smalls for place in small.at)
    busy = {place for wire in pair.board.wires for place in (wire.a, wire.b)}
    busy |= {place for pins in pair.board.pins.values() for place in pins.values()}
    return frozenset(k for k, n in leads.items() if n == 1 and k not in busy and k != UNSEEN)


def _kind(part: Part) -> str:
    """The kind of a part, the same for all that a hand takes for one another."""
    return next((kinds[0] for kinds in FAMILIES if part.kind in kinds), part.kind)


def _kin(pair: Pair) -> list[tuple[str, ...]]:
    kinds = {s.part.kind for s in (*pair.drawing.smalls, *pair.board.smalls)}
    told = {kind for family in FAMILIES for kind in family}
    return [*FAMILIES, *((kind,) for kind in sorted(kinds - told))]


def base_price(wanted: Part, fitted: Part, verdict: Verdict) -> int:
    """What a pairing costs before leads and wrong parts: preferences only."""
    named = not fitted.anonymous and fitted.name != wanted.name
    price = verdict.apart + costs.UNREAD * len(verdict.unread)
    price += sum(costs.HARMLESS for r in verdict.remarks if r.harmless)
    return price + (costs.OTHER_NAME if named else 0)


def _facts(wanted: Part, fitted: Part, verdict: Verdict) -> tuple[int, int, int, int]:
    """Price without names, wrong, unread, and whether turning it round means "reversed"."""
    price = verdict.apart + costs.UNREAD * len(verdict.unread)
    price += sum(costs.HARMLESS for r in verdict.remarks if r.harmless)
    polar = wanted.swap == fitted.swap == "reversed" and "polarity" not in fitted.unread
    return price, len(verdict.wrong), len(verdict.unread), int(polar)


def _by_name(i: int, j: int, wanted: Part, fitted: Part) -> Iterator[Fit]:
    if set(wanted.terminals) != set(fitted.terminals):
        return
    ends = tuple(fitted.terminals.index(t) for t in wanted.terminals)
    orders = [ends] if wanted.kind != "bridge" else [ends, (ends[1], ends[0], *ends[2:])]
    for order in orders:
        every = (True,) * len(order)
        yield Fit(i, j, order, every)
        for s in range(len(order)) if len(order) > 1 else ():
            yield Fit(i, j, order, (*every[:s], False, *every[s + 1 :]))
