"""Settle what is in order, so that only the disturbed rest has to be searched.

A found node is known where its anchors are those of one drawn node, or where its colour points to
one. A part is in order where a right drawn part lies between the same nodes. What is left is
disturbed: the parts that are not in order, the places they touch, and the furniture whose pins are
among those. Everything else is taken as it is. That is an assumption; `regions.py` makes
explanations of it, and only the programme of the whole board proves them.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from heapq import nlargest

from buzzout.compare.colours import Guesses, across, guess, look_of
from buzzout.compare.explanation import Match
from buzzout.compare.fits import Fit
from buzzout.compare.furniture import AS_DRAWN
from buzzout.compare.model import EARTH, UNSEEN, VOID, Labelled, Pair, Small, labelled_groups
from buzzout.compare.values import judge

FEW = 3  # pins of something small
MANY = 30  # nodes; a part that may lead to more of them says nothing
ELECTED = 1.5  # votes that a group of places has at least to be named by them
TRUSTED = 4  # parts in order that a group of places has at least to be trusted


@dataclass(frozen=True)
class Settled:
    """What is in order, and what is not.

    `fits` are pairings in order, `node_at` the drawn node of each place that is known, `may_be`
    those of a place that is not. `disturbed` are places to be explained; `pieces` the found groups
    of places of each node that is in several; `firm` the places that wires join to one that is
    not disturbed.
    """

    fits: tuple[Fit, ...]
    node_at: Mapping[int, int]
    may_be: Mapping[int, set[int]]
    disturbed: frozenset[int]
    pieces: Mapping[int, tuple[tuple[int, ...], ...]]
    firm: frozenset[int]

    def whole(self, pair: Pair) -> bool:
        """Nothing is left."""
        calm = len(self.fits) == len(pair.drawing.smalls) == len(pair.board.smalls)
        return calm and not (self.disturbed or self.pieces)


def settle(pair: Pair, named: Mapping[int, int] | None = None, *, around: int = 0) -> Settled:
    """Split a comparison into what is in order and the rest. Near-linear.

    `named` are the nodes of found groups of places as somebody else has them. What lies up to so
    many parts `around` the disturbed is taken for disturbed as well.
    """
    labelled = labelled_groups(pair)
    guesses = guess(pair, labelled.groups)
    group_of = {k: n for n, group in enumerate(labelled.groups) for k in group}
    sure = _sure(pair, guesses, labelled) if named is None else dict(named)
    fits = tuple(_in_order(pair, sure, group_of))
    doubts = _Doubts(pair, guesses, sure, fits)
    disturbed = doubts.disturbed()
    for _ in range(around):
        disturbed |= doubts.beside(disturbed)
    disturbed |= _on_same_furniture(pair, disturbed | _nearer_end(pair, disturbed, labelled))
    disturbed |= {k for w in labelled.suspects for k in (w.a, w.b)}
    disturbed |= doubts.named_by(disturbed)
    disturbed.discard(pair.board.pins[EARTH][""])
    return Settled(
        fits,
        doubts.node_at(),
        {k: guesses.nodes[n] for k, n in group_of.items() if n not in sure},
        frozenset(disturbed),
        _in_pieces(sure, labelled.groups),
        frozenset(k for group in labelled.groups if not disturbed.issuperset(group) for k in group),
    )


def _sure(pair: Pair, guesses: Guesses, labelled: Labelled) -> dict[int, int]:
    """Found group to drawn node where there is no doubt.

    Several groups may have anchors of one node: connections are missing. A node without anchors is
    known by its colour, one to one.
    """
    anchored = {n for pins in pair.drawing.pins.values() for n in pins.values()}
    sure = {n: label for n, label in enumerate(labelled.labels) if label is not None}
    claims: dict[int, list[int]] = defaultdict(list)
    for n, label in enumerate(labelled.labels):
        if label is None and len(guesses.surest[n]) == 1:
            claims[guesses.surest[n][0]].append(n)
    for node, groups in claims.items():
        if len(groups) == 1 and node not in anchored:
            sure[groups[0]] = node
    return _voted(pair, sure, labelled, anchored)


def _voted(
    pair: Pair, sure: dict[int, int], labelled: Labelled, anchored: set[int]
) -> dict[int, int]:
    """Name also the groups that most of their parts give one and the same name, as long as it goes.

    A part speaks for the nodes that parts like it join to the node at its other end: for one alone
    with one vote, for several with a share of it (percolation, as in `colours.py`).
    """
    group_of = {k: n for n, group in enumerate(labelled.groups) for k in group}
    node_of = {n: n for small in pair.drawing.smalls for n in small.at}
    far, near = across(pair.drawing.smalls, node_of), across(pair.board.smalls, group_of)
    beside: dict[int, list[tuple[int, Hashable]]] = defaultdict(list)
    for (look, there), ends in near.items():
        beside[there] += [(n, look) for n in ends]
    votes: dict[int, dict[int, float]] = defaultdict(lambda: defaultdict(float))
    named = dict(sure)
    while named:
        for there, node in named.items():
            for here, look in beside[there]:
                ends = far[look, node]
                nodes = set(ends) if len(ends) <= MANY else ()
                for each in nodes:
                    votes[here][each] += 1 / len(nodes)
        taken = anchored.union(sure.values())
        claims: dict[int, list[int]] = defaultdict(list)
        for n in votes.keys() - sure.keys():
            if (node := _elected(votes[n])) not in taken:
                claims[node].append(n)
        named = {n: node for node, (n, *more) in claims.items() if node != VOID and not more}
        sure |= named
    return sure


def _elected(votes: Mapping[int, float]) -> int:
    """The node with far more votes than any other; `VOID` if there is none."""
    ballot: list[tuple[int, float]] = [*votes.items(), (VOID, 0.0)]
    (node, most), (_, next_most) = nlargest(2, ballot, key=lambda vote: vote[1])
    return node if most >= max(ELECTED, 2 * next_most) else VOID


def _in_pieces(
    sure: Mapping[int, int], groups: Iterable[tuple[int, ...]]
) -> dict[int, tuple[tuple[int, ...], ...]]:
    """The groups of each node that has more than one, the largest first."""
    of: dict[int, list[tuple[int, ...]]] = defaultdict(list)
    for n, group in enumerate(groups):
        if n in sure:
            of[sure[n]].append(group)
    return {
        node: tuple(sorted(several, key=lambda group: -len(group)))
        for node, several in of.items()
        if len(several) > 1
    }


Key = tuple[object, ...]


def _in_order(pair: Pair, sure: Mapping[int, int], group_of: Mapping[int, int]) -> Iterator[Fit]:
    """Parts between known nodes with right parts drawn there, as many here as there."""
    drawn: dict[Key, list[int]] = defaultdict(list)
    for i, small in enumerate(pair.drawing.smalls):
        if len(small.at) == 2:
            drawn[_key(small, small.at)].append(i)
    found: dict[Key, list[int]] = defaultdict(list)
    for j, small in enumerate(pair.board.smalls):
        nodes = [sure.get(group_of[k], UNSEEN) if k != UNSEEN else UNSEEN for k in small.at]
        if len(nodes) == 2 and UNSEEN not in nodes:
            found[_key(small, nodes)].append(j)
    for key, theirs in found.items():
        mine = drawn.get(key, [])
        if len(mine) != len(theirs):
            continue
        mine.sort(key=lambda i: (_value(pair.drawing.smalls[i]), i))
        theirs.sort(key=lambda j: (_value(pair.board.smalls[j]), j))
        yield from _all_right(pair, mine, theirs, sure, group_of)


def _all_right(
    pair: Pair,
    mine: list[int],
    theirs: list[int],
    sure: Mapping[int, int],
    group_of: Mapping[int, int],
) -> Iterator[Fit]:
    for i, j in zip(mine, theirs, strict=True):
        one, two = pair.drawing.smalls[i], pair.board.smalls[j]
        if judge(one.part, two.part).wrong:
            continue
        straight = sure[group_of[two.at[0]]] == one.at[0]
        yield Fit(i, j, (0, 1) if straight else (1, 0), (True, True))


def _key(small: Small, nodes: Iterable[int]) -> Key:
    ends = tuple(nodes)
    return small.part.kind, ends if small.part.swap == "reversed" else tuple(sorted(ends))


def _value(small: Small) -> float:
    value = small.part.value or small.part.measured
    return value.value if value else 0.0


@dataclass(frozen=True)
class _Doubts:
    """What of the found groups of places is in doubt when some parts are in order."""

    pair: Pair
    guesses: Guesses
    sure: Mapping[int, int]
    fits: tuple[Fit, ...]

    @cached_property
    def group_of(self) -> Mapping[int, int]:
        """Place to group."""
        return {k: n for n, group in enumerate(self.guesses.groups) for k in group}

    @cached_property
    def lost(self) -> list[Small]:
        """Drawn parts that no part in order is."""
        met = {fit.i for fit in self.fits}
        return [s for i, s in enumerate(self.pair.drawing.smalls) if i not in met]

    @cached_property
    def lacking(self) -> Counter[int]:
        """How many of these are on each node."""
        return Counter(n for small in self.lost for n in small.at)

    @cached_property
    def counts(self) -> tuple[Counter[int], Counter[int]]:
        """How many found parts in order, and how many others, are on each group."""
        calm = {fit.j for fit in self.fits}
        right, wrong = Counter[int](), Counter[int]()
        for j, small in enumerate(self.pair.board.smalls):
            on = (self.group_of[k] for k in small.at if k != UNSEEN)
            (right if j in calm else wrong).update(on)
        return right, wrong

    @cached_property
    def idle(self) -> frozenset[int]:
        """Groups on which nothing lands and of which nothing is asked, such as a free tag."""
        busy = {self.group_of[k] for small in self.pair.board.smalls for k in small.at if k >= 0}
        busy |= {self.group_of[k] for k in self.pair.board.absent}
        busy |= {n for n, group in enumerate(self.guesses.groups) if len(group) > 1}
        busy |= self.sure.keys()
        return frozenset(range(len(self.guesses.groups))) - busy

    def node_at(self) -> dict[int, int]:
        """The drawn node of each place that is known; an idle one belongs to none."""
        known = {**self.sure, **dict.fromkeys(self.idle, VOID)}
        return {k: known[n] for k, n in self.group_of.items() if n in known}

    def trusted(self, n: int) -> bool:
        """A group with far more parts in order than not is what it seems."""
        if n not in self.sure:
            return False
        right, wrong = self.counts
        return right[n] >= max(TRUSTED, 2 * max(wrong[n], self.lacking[self.sure[n]]))

    def disturbed(self) -> set[int]:
        """Places of unknown nodes, of nodes that lack something, of parts not in order."""
        places = {
            k
            for n, group in enumerate(self.guesses.groups)
            if (self._lacks(n) and not self.trusted(n) if n in self.sure else n not in self.idle)
            for k in group
        }
        calm = {fit.j for fit in self.fits}
        wanted = {(look_of(small), node) for small in self.lost for node in small.at}
        for j, small in enumerate(self.pair.board.smalls):
            if j in calm:
                continue
            ends = {k: self.group_of[k] for k in small.at if k != UNSEEN}
            look = look_of(small)
            odd = [k for k, n in ends.items() if (look, self.sure.get(n)) not in wanted]
            places |= {k for k in odd or ends if not self.trusted(ends[k])}
        return places

    def beside(self, disturbed: set[int]) -> set[int]:
        """Places of groups without anchors that a part joins to a disturbed one."""
        groups = {self.group_of[k] for k in disturbed}
        ends = ({self.group_of[k] for k in s.at if k != UNSEEN} for s in self.pair.board.smalls)
        near = {n for on in ends if on & groups for n in on if not self.guesses.anchors[n]}
        return {k for n in near for k in self.guesses.groups[n]}

    def _lacks(self, n: int) -> bool:
        return self.lacking[self.sure[n]] > 0 and not self.guesses.anchors[n]

    def named_by(self, disturbed: set[int]) -> set[int]:
        """Places that are known only by pins that may be numbered otherwise."""
        more: set[int] = set()
        for n, group in enumerate(self.guesses.groups):
            if self.guesses.anchors[n] and not self.trusted(n):
                pins = {self.pair.board.pins[name][pin] for name, pin in self.guesses.anchors[n]}
                more |= set(group) if pins <= disturbed else set()
        return more


def _nearer_end(pair: Pair, disturbed: set[int], labelled: Labelled) -> set[int]:
    """Of each wire between different nodes the end on that furniture which is disturbed more.

    On something small, such as a control, either end.
    """
    at = {k: name for name, pins in pair.board.pins.items() for k in pins.values()}
    doubt = Counter(at[k] for k in disturbed if k in at)
    nearer = set()
    for wire in labelled.suspects:
        a, b = doubt[at.get(wire.a, "")], doubt[at.get(wire.b, "")]
        nearer |= {k for k, mine, other in ((wire.a, a, b), (wire.b, b, a)) if mine >= other}
        nearer |= {
            k for k in (wire.a, wire.b) if len(pair.board.pins.get(at.get(k, ""), ())) <= FEW
        }
    return nearer


def _on_same_furniture(pair: Pair, disturbed: set[int]) -> set[int]:
    """All pins of furniture that may be numbered otherwise: one of them is disturbed."""
    touched = (pins for pins in pair.board.pins.values() if disturbed.intersection(pins.values()))
    return {k for pins in touched for k in pins.values()}


def all_in_order(pair: Pair, fits: tuple[Fit, ...], node_at: Mapping[int, int]) -> Match:
    """The explanation of a board on which nothing is left to explain."""
    turns = dict.fromkeys(pair.board.called, (AS_DRAWN,))
    return Match(fits, node_at=node_at, turns=turns, steps=1)
