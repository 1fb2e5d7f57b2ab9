"""The self-check: the repaired board equals the drawing, part by part and node by node.

The matching is the witness. Checking a witness is linear and shares nothing with the search that
found it: every part has its counterpart, every terminal's node has exactly one counterpart, and no
two nodes share one. That is an isomorphism (equality by substitution), and it is checked on every
run, not only in the tests.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from buzzout.circuit import Circuit, Point
from buzzout.compare.model import EARTH, FREE, UNSEEN, Pair, build, found_nodes
from buzzout.compare.values import judge


@dataclass(frozen=True, slots=True)
class Witness:
    """Claims that a drawn part is a found part: `ends` are terminals, meant and used."""

    part: str
    found: str
    ends: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Together:
    """Claims that found parts stand for drawn ones together.

    `ends` pairs an outer drawn terminal with an outer found one. `inner` are found terminals that
    must share a node with nothing else (two in series).
    """

    parts: tuple[str, ...]
    found: tuple[str, ...]
    ends: tuple[tuple[Point, Point], ...]
    inner: tuple[Point, ...] = ()


@dataclass(frozen=True)
class Claim:
    """All that is claimed: parts, pins that are used otherwise, what may be left out."""

    parts: tuple[Witness, ...]
    pins: Mapping[str, Mapping[str, str]]
    together: tuple[Together, ...] = ()


def differences(reference: Circuit, repaired: Circuit, claim: Claim) -> list[str]:
    """What still differs, in plain sentences; empty where the two are equal under the claim."""
    pair = build(reference, repaired)
    return [*_parts(pair, claim), *_nodes(pair, claim)]


def _parts(pair: Pair, claim: Claim) -> Iterator[str]:
    drawn = {s.part.name: s.part for s in pair.drawing.smalls}
    there = {s.part.name: s.part for s in pair.board.smalls}
    used = [w.found for w in claim.parts] + [name for t in claim.together for name in t.found]
    told = {w.part for w in claim.parts} | {name for t in claim.together for name in t.parts}
    if len(set(used)) != len(used):
        yield "one found part stands for two drawn ones"
    for name, part in drawn.items():
        if not part.optional and name not in told:
            yield f"{name} is missing"
    for name in sorted(there.keys() - set(used)):
        yield f"{name} is one too many"
    for witness in claim.parts:
        if witness.part not in drawn or witness.found not in there:
            yield f"{witness.found} cannot be {witness.part}: it is not there"
        else:
            lacking = {used for _, used in witness.ends}.difference(there[witness.found].terminals)
            yield from (f"{witness.found} has no terminal {used}" for used in sorted(lacking))
            for remark in judge(drawn[witness.part], there[witness.found]).wrong:
                yield f"{witness.part}: {remark.words}"


def _nodes(pair: Pair, claim: Claim) -> Iterator[str]:
    """Every node has one counterpart, and no two the same one."""
    whole = _whole_nodes(pair)
    to: dict[int, set[int]] = defaultdict(set)
    for node, place in (*_pins(pair, claim), *_leads(pair, claim), *_outer(pair, claim)):
        to[node].add(whole[place])
    yield from _inner(pair, claim, whole, {n for nodes in to.values() for n in nodes})
    owner: dict[int, int] = {}
    for node, counterparts in sorted(to.items()):
        if len(counterparts) > 1:
            yield f"{_called(pair, node)} is in {len(counterparts)} pieces"
        for other in counterparts:
            if owner.setdefault(other, node) != node:
                yield f"{_called(pair, node)} is joined with {_called(pair, owner[other])}"


def _whole_nodes(pair: Pair) -> dict[int, int]:
    """Place to found node: what wires join is one."""
    return {k: n for n, group in enumerate(found_nodes(pair.board)) for k in group}


def _pins(pair: Pair, claim: Claim) -> Iterator[tuple[int, int]]:
    for name, pins in pair.drawing.pins.items():
        turned = claim.pins.get(name, {}) if name != EARTH else {}
        for pin, node in pins.items():
            if node != FREE:
                yield node, pair.board.pins[name][turned.get(pin, pin)]


def _leads(pair: Pair, claim: Claim) -> Iterator[tuple[int, int]]:
    drawn = {s.part.name: s for s in pair.drawing.smalls}
    there = {s.part.name: s for s in pair.board.smalls}
    for witness in claim.parts:
        if witness.part in drawn and witness.found in there:
            mine, other = drawn[witness.part], there[witness.found]
            for meant, used in witness.ends:
                at = dict(zip(other.part.terminals, other.at, strict=True))
                if (place := at.get(used, UNSEEN)) != UNSEEN:
                    yield mine.at[mine.part.terminals.index(meant)], place


def _outer(pair: Pair, claim: Claim) -> Iterator[tuple[int, int]]:
    """Nodes and places of the outer leads of parts that stand for others together."""
    nodes = {p: n for s in pair.drawing.smalls for p, n in zip(s.part.points, s.at, strict=True)}
    places = {p: k for s in pair.board.smalls for p, k in zip(s.part.points, s.at, strict=True)}
    for together in claim.together:
        for meant, used in together.ends:
            yield nodes[meant], places[used]


def _inner(
    pair: Pair, claim: Claim, whole: Mapping[int, int], spoken_for: set[int]
) -> Iterator[str]:
    """The node between two parts in series is theirs alone."""
    places = {p: k for s in pair.board.smalls for p, k in zip(s.part.points, s.at, strict=True)}
    for together in claim.together:
        inner = {whole[places[p]] for p in together.inner}
        if len(inner) > 1 or inner & spoken_for:
            yield f"{' and '.join(together.found)} are not simply in series"


def _called(pair: Pair, node: int) -> str:
    """A node by its first points."""
    points = pair.drawing.nodes[node]
    return "the node of " + ", ".join(map(str, points[:2]))
