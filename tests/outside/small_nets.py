"""Nets of two to four parts, small enough for every explanation of a difference to be tried.

Two judges of the fewest errors, neither of which knows of programmes. `fewest` tries every way to
take found places for drawn nodes and found parts for drawn parts. `edit_distance` leaves parts,
values and leads to the exact graph edit distance of networkx, and tries beforehand what an edit
distance cannot say in one edit: wires, exchanged values, parts turned round.

Costs: a part missing or too many, a lead off, a wrong value or kind, two exchanged values, a part
reversed, a wire missing, too many or with one end moved: 1 each.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import combinations, product
from random import Random
from typing import Any

import networkx as nx

from buzzout.circuit import Circuit, Link, Part, Point, parse

# Apart by more than a tolerance, and neither makes the other with itself or with the other one.
RESISTORS = ("10k", "15k")
ELECTROLYTIC = "10u"
MOST = 5  # places on a board; every way to take them for nodes is tried
NEVER = 1000  # a part is no node
Home = Mapping[int, int | None]  # the node of each place; None belongs to nothing drawn


@dataclass(frozen=True)
class Net:
    """Parts (value, place, place) and, on a board, wires between places."""

    parts: tuple[tuple[str, int, int], ...]
    wires: tuple[tuple[int, int], ...] = ()

    @property
    def places(self) -> list[int]:
        return sorted(
            {p for _, *ends in self.parts for p in ends} | {p for w in self.wires for p in w}
        )


def circuit(net: Net, kind: str) -> Circuit:
    parts, links = {}, []
    for n, (value, a, b) in enumerate(net.parts, 1):
        name = f"P{n}" if kind == "reference" else f"@{n}"
        what, ends, unit = ("electrolytic", ("+", "-"), "F") if value == ELECTROLYTIC else (
            "resistor", ("1", "2"), "ohm")  # fmt: skip
        parts[name] = Part(name, what, ends, value=parse(value, unit))
        links += [
            Link(Point(name, e), Point(f"n{p}"), "lead") for e, p in zip(ends, (a, b), strict=True)
        ]
    links += [Link(Point(f"n{a}"), Point(f"n{b}"), "wire") for a, b in net.wires]
    return Circuit(kind, parts=parts, links=tuple(links))


# ---- made up


def drawing(random: Random, parts: int, nodes: int) -> Net:
    looks = [random.choice(RESISTORS) for _ in range(parts)]
    if random.random() < 0.5:
        looks[0] = ELECTROLYTIC
    return Net(tuple((look, *random.sample(range(nodes), 2)) for look in looks))


def board(random: Random, drawn: Net, slips: int) -> Net:
    """The drawing wired up, a node perhaps on several places, and some slips of the hand."""
    net = Net(tuple(random.sample(drawn.parts, len(drawn.parts))))
    for more in random.choice(((), (1,), (1, 1), (2,))):
        net = _on_more_places(random, net, more)
    for _ in range(slips):
        net = random.choice(SLIPS)(random, net)
    return net


def _on_more_places(random: Random, net: Net, more: int) -> Net:
    """One node on one place more, or on two more with the wires in a ring; never beyond `MOST`."""
    more = min(more, MOST - len(net.places))
    old, new = random.choice(net.places), max(net.places) + 1
    places = (old, *range(new, new + more))
    parts = [
        (v, *(random.choice(places) if p == old else p for p in ends)) for v, *ends in net.parts
    ]
    wires = combinations(places, 2)
    return Net(tuple(parts), (*net.wires, *wires))


def _part_gone(random: Random, net: Net) -> Net:
    rest = list(net.parts)
    rest.pop(random.randrange(len(rest)))
    return replace(net, parts=tuple(rest)) if rest else net


def _part_more(random: Random, net: Net) -> Net:
    ends = random.sample(net.places, 2)
    return replace(net, parts=(*net.parts, (random.choice(RESISTORS), *ends)))


def _other_values(random: Random, net: Net) -> Net:
    other = dict(zip(RESISTORS, RESISTORS[::-1], strict=True))
    few = random.sample(range(len(net.parts)), min(len(net.parts), random.choice((1, 2))))
    parts = list(net.parts)
    for n in few:
        value, a, b = parts[n]
        parts[n] = (other.get(value, value), a, b)
    return replace(net, parts=tuple(parts))


def _turned(_random: Random, net: Net) -> Net:
    return replace(net, parts=tuple((v, b, a) for v, a, b in net.parts))


def _node_split(random: Random, net: Net) -> Net:
    """Some leads of one place on a new one, with no wire between."""
    return replace(_on_more_places(random, net, 1), wires=net.wires)


def _lead_moved(random: Random, net: Net) -> Net:
    rest = list(net.parts)
    value, _, b = rest.pop(random.randrange(len(rest)))
    to = random.choice([p for p in net.places if p != b] or [b + 1])
    return replace(net, parts=(*rest, (value, to, b)))


def _wire_more(random: Random, net: Net) -> Net:
    a, b = random.sample(net.places, 2)
    return replace(net, wires=(*(w for w in net.wires if set(w) != {a, b}), (a, b)))


def _wire_gone(random: Random, net: Net) -> Net:
    return replace(net, wires=tuple(random.sample(net.wires, max(0, len(net.wires) - 1))))


def _other_kind(random: Random, net: Net) -> Net:
    rest = list(net.parts)
    value, a, b = rest.pop(random.randrange(len(rest)))
    there = random.choice(RESISTORS) if value == ELECTROLYTIC else ELECTROLYTIC
    return replace(net, parts=(*rest, (there, a, b)))


SLIPS = (
    _other_kind,
    _part_gone,
    _part_more,
    _other_values,
    _turned,
    _node_split,
    _lead_moved,
    _wire_more,
    _wire_gone,
)


# ---- wires: the same for both judges


def wiring(net: Net, home: Home) -> int:
    """Errors in the wires alone, if the places belong to these nodes."""
    wrong = [w for w in net.wires if home[w[0]] != home[w[1]]]
    piece = {p: p for p in net.places}
    for a, b in net.wires:
        if home[a] == home[b] and piece[a] != piece[b]:
            piece = {p: piece[a] if q == piece[b] else q for p, q in piece.items()}
    pieces = Counter(home[p] for p, q in piece.items() if p == q and home[p] is not None)
    lacking = {node: n - 1 for node, n in pieces.items() if n > 1}
    return len(wrong) + sum(lacking.values()) - _mended_by_moving(wrong, home, lacking)


def _mended_by_moving(
    wrong: list[tuple[int, int]], home: Home, lacking: dict[int | None, int]
) -> int:
    """Most wrong wires of which one end is right and the other can make a connection that lacks."""
    best = 0
    for choice in product(*([home[a], home[b], None] for a, b in wrong)):
        asked = Counter(node for node in choice if node is not None)
        if all(n <= lacking.get(node, 0) for node, n in asked.items()):
            best = max(best, asked.total())
    return best


# ---- first judge


def fewest(drawn: Net, found: Net) -> int:
    """Every way to take places for nodes, every way to take parts for parts."""
    best = len(drawn.parts) + len(found.parts) + len(found.wires)
    for choice in product([*drawn.places, None], repeat=len(found.places)):
        home = dict(zip(found.places, choice, strict=True))
        cost = wiring(found, home)
        if cost < best:
            best = min(best, cost + min(_parts(drawn.parts, found.parts, home, best - cost, ())))
    return best


def _parts(
    drawn: tuple[tuple[str, int, int], ...],
    found: tuple[tuple[str, int, int], ...],
    home: Home,
    most: int,
    wrong: tuple[tuple[str, str], ...],
) -> Iterator[int]:
    """Costs of the ways to pair the parts; `wrong` are wanted and fitted value of those paired."""
    if not drawn:
        crossed = min(wrong.count(RESISTORS), wrong.count(RESISTORS[::-1]))
        yield len(found) + len(wrong) - crossed
        return
    first, *rest = drawn
    yield 1 + min(_parts(tuple(rest), found, home, most - 1, wrong))
    for j, there in enumerate(found):
        off = _off(first, there, home)
        if off < min(most, 2):
            others = (*found[:j], *found[j + 1 :])
            more = () if first[0] == there[0] else ((first[0], there[0]),)
            yield off + min(_parts(tuple(rest), others, home, most - off, (*wrong, *more)))


def _off(one: tuple[str, int, int], two: tuple[str, int, int], home: Home) -> int:
    """Leads off and reversal of one part taken for another."""
    straight = (home[two[1]] != one[1]) + (home[two[2]] != one[2])
    turned = (home[two[2]] != one[1]) + (home[two[1]] != one[2])
    return min(straight, turned + (one[0] == two[0] == ELECTROLYTIC))


# ---- second judge


def edit_distance(drawn: Net, found: Net, most: int) -> int | None:
    """The fewest errors by graph edit distances; None if there is nothing up to `most`."""
    best = None
    tries = [
        (cost + wiring(net, home), net, home)
        for cost, net in _exchanged_and_turned(found)
        for home in _partitions(found.places)
    ]
    same = {place: place for place in drawn.places}
    for cost, net, home in sorted(tries, key=lambda t: t[0]):
        if cost <= most:
            one, two = _padded(_graph(drawn, same), _graph(net, home), (most - cost) // 2)
            rest = nx.graph_edit_distance(
                one, two, upper_bound=most - cost,
                node_subst_cost=_other, node_del_cost=_never, node_ins_cost=_never,
                edge_subst_cost=_leads_changed, edge_del_cost=_leads, edge_ins_cost=_leads,
            )  # fmt: skip
            if rest is not None:
                best = cost + round(rest)
                most = best - 1
    return best


def _graph(net: Net, home: Mapping[int, int]) -> nx.Graph:
    """Parts against nodes. Each edge knows the leads that it stands for, each half an error."""
    graph = nx.Graph()
    for n, (value, *ends) in enumerate(net.parts):
        kind = "electrolytic" if value == ELECTROLYTIC else "resistor"
        graph.add_node(("part", n), kind=kind, look=value)
        for lead, place in zip("+-" if value == ELECTROLYTIC else "  ", ends, strict=True):
            edge = (("part", n), ("node", home[place]))
            graph.add_node(edge[1], kind="node", look="node")
            leads = graph.edges[edge]["leads"] if graph.has_edge(*edge) else Counter()
            graph.add_edge(*edge, leads=leads + Counter([lead]), kind=kind)
    return graph


def _padded(one: nx.Graph, two: nx.Graph, gone: int) -> tuple[nx.Graph, nx.Graph]:
    """Both with blanks, so that as many of each kind stand on either side.

    What is taken for a blank is gone. networkx (3.6.1) does not try every way once its first choice
    is to leave a vertex out; with blanks it never has to. `gone` resistors on either side may be
    gone beyond those that are too many: an unlike pair with no lead in place costs more than that.
    """
    counts = [Counter(kind for _, kind in graph.nodes(data="kind")) for graph in (one, two)]
    for graph, mine, theirs in ((one, *counts), (two, *counts[::-1])):
        for kind in ("node", "electrolytic", "resistor"):
            blanks = max(0, theirs[kind] - mine[kind])
            blanks += min(gone, *(c[kind] for c in counts)) if kind == "resistor" else 0
            graph.add_nodes_from((("blank", kind, n) for n in range(blanks)), kind=kind, look="")
    return one, two


def _other(one: dict[str, str], two: dict[str, str]) -> int:
    if (one["kind"] == "node") != (two["kind"] == "node"):
        return NEVER
    return int(one["look"] != two["look"] and bool(one["look"]) and bool(two["look"]))


def _never(_node: object) -> int:
    return NEVER


def _leads(edge: dict[str, Any]) -> float:
    return edge["leads"].total() / 2


def _leads_changed(one: dict[str, Any], two: dict[str, Any]) -> float:
    """On a part of another kind no lead is the right one or the wrong one."""
    a, b = one["leads"], two["leads"]
    if one["kind"] != two["kind"]:
        return abs(a.total() - b.total()) / 2
    return ((a - b).total() + (b - a).total()) / 2


def _exchanged_and_turned(net: Net) -> Iterator[tuple[int, Net]]:
    """The net with values exchanged in pairs and electrolytics turned back, 1 each."""
    for cost, parts in _exchanged(net.parts):
        polar = [n for n, part in enumerate(parts) if part[0] == ELECTROLYTIC]
        for size in range(len(polar) + 1):
            for few in combinations(polar, size):
                turned = tuple(
                    (v, b, a) if n in few else (v, a, b) for n, (v, a, b) in enumerate(parts)
                )
                yield cost + size, replace(net, parts=turned)


def _exchanged(parts: tuple[tuple[str, int, int], ...]) -> Iterator[tuple[int, tuple]]:
    """Exchanges of two unlike resistors that share no part; each pair is tried in one order."""
    one, two = ([n for n, (v, *_) in enumerate(parts) if v == r] for r in RESISTORS)
    for size in range(min(len(one), len(two)) + 1):
        for a in combinations(one, size):
            for b in combinations(two, size):
                now = list(parts)
                for n in (*a, *b):
                    now[n] = (RESISTORS[n in a], *parts[n][1:])
                yield size, tuple(now)


def _partitions(places: list[int]) -> Iterator[dict[int, int]]:
    """Every way to take several places for one node; a node goes by its first place."""
    if not places:
        yield {}
        return
    *rest, last = places
    for home in _partitions(rest):
        for node in dict.fromkeys(home.values()):
            yield {**home, last: node}
        yield {**home, last: last}
