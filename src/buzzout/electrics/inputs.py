"""Where a signal comes in: contacts of jacks and connectors that lead to a grid.

Resistors, controls, capacitors and transformers may stand between. A contact that the set drives
itself is none: a footswitch on the grid of an oscillator, a socket at an anode or a cathode.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from functools import cached_property

from buzzout.circuit import Point
from buzzout.electrics.common import feeding
from buzzout.electrics.network import Network, network

_PLUGS = ("jack", "connector")
_NO_WAY = ("heater", "diode", "neon")


def plugged(net: Network, names: Collection[str]) -> Network:
    """The network with a plug in each of these jacks: their break contacts are open."""
    parts = net.circuit.parts
    jacks = [n for n in names if n in parts and parts[n].kind == "jack" and parts[n].elements]
    if not jacks:
        return net
    contacts = {**net.conditions.contacts, **dict.fromkeys(jacks, False)}
    return network(net.circuit, replace(net.conditions, contacts=contacts), net)


def inputs(net: Network) -> tuple[Point, ...]:
    """The contacts at which a signal comes in, one for each node, in the order of the file."""
    plugs = [p for p in net.circuit.parts.values() if p.kind in _PLUGS]
    ways = Ways(plugged(net, [part.name for part in plugs]))
    found: dict[int, Point] = {}
    for point in (p for part in plugs for p in part.points if p in ways.net.of):
        node = ways.net.of[point]
        if node not in found and ways.comes_in(node):
            found[node] = point
    return tuple(found.values())


@dataclass(frozen=True)
class Ways:
    """How a signal gets from node to node of a network outside its valves."""

    net: Network

    @cached_property
    def grids(self) -> frozenset[int]:
        """Nodes of control grids."""
        return self._electrodes("grid", "mixer-grid", "oscillator-grid")

    @cached_property
    def driven(self) -> frozenset[int]:
        """Nodes of the electrodes that a valve drives."""
        return self._electrodes("anode", "screen", "cathode")

    def _electrodes(self, *roles: str) -> frozenset[int]:
        ends = (valve.electrodes.items() for valve in self.net.valves)
        return frozenset(self.net.of[p] for each in ends for role, p in each if role in roles)

    @cached_property
    def still(self) -> frozenset[int]:
        """The chassis, and what an electrolytic holds there."""
        ends = [self.net.ends(b) for b in self.net.branches if b.role == "electrolytic"]
        held = {n for pair in ends if self.net.chassis in pair for n in pair}
        return frozenset(held | {self.net.chassis})

    @cached_property
    def near(self) -> Mapping[int, tuple[int, ...]]:
        """Neighbours of every node; the core of a transformer for signals counts as one."""
        table: dict[int, list[int]] = {}
        fed, cores = feeding(self.net.circuit), dict[str, int]()
        for branch in self.net.branches:
            if branch.kind in _NO_WAY or branch.role in _NO_WAY:
                continue
            pairs = [self.net.ends(branch)]
            if branch.role == "winding" and branch.part not in fed:
                core = cores.setdefault(branch.part, self.net.size + len(cores))
                pairs += [(core, end) for end in pairs[0]]
            for one, other in pairs:
                table.setdefault(one, []).append(other)
                table.setdefault(other, []).append(one)
        return {node: tuple(others) for node, others in table.items()}

    def reached(self, starts: Iterable[int], walls: AbstractSet[int]) -> frozenset[int]:
        """Nodes to which ways without a valve lead, the starts with them; none through a wall."""
        found = {node for node in starts if node not in walls}
        waiting = list(found)
        while waiting:
            for far in self.near.get(waiting.pop(), ()):
                if far not in found and far not in walls:
                    found.add(far)
                    waiting.append(far)
        return frozenset(found)

    def comes_in(self, start: int) -> bool:
        """Whether a signal from a node meets a grid before anything that a valve drives.

        What lies beyond the way to that grid does not count: another stage may be mixed in there.
        """
        if start in self.still | self.driven:
            return False
        way = self._way(start, self.grids, self.still | self.driven)
        return way is not None and self._way(start, self.driven, self.still | set(way[1:])) is None

    def _way(
        self, start: int, goal: AbstractSet[int], walls: AbstractSet[int]
    ) -> tuple[int, ...] | None:
        """A shortest way, its two ends with it; it ends at the first grid."""
        ways: deque[tuple[int, ...]] = deque([(start,)])
        seen = {start}
        while ways:
            way = ways.popleft()
            if way[-1] in goal:
                return way
            if way[-1] in self.grids and len(way) > 1:
                continue
            for far in self.near.get(way[-1], ()):
                if far not in seen and far not in walls:
                    seen.add(far)
                    ways.append((*way, far))
        return None
