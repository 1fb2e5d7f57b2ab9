"""From a circuit to a network: nodes, the branches between them, the valves on them.

Wires, closed contacts and a wiper at the end of its track make one node of several points. What no
branch ties to anything is *floating*; it is named and never upsets a solution.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import chain, count

import numpy as np
from numpy.typing import NDArray

from buzzout.circuit import CHASSIS, Circuit, Element, Part, Point, pieces
from buzzout.electrics.branch import Branch, Contents
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.inside import contents
from buzzout.electrics.sockets import Socket, Valve, socket

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Edges:
    """Two-ended conductances between numbered nodes: arrays of one length. `siemens` in [S]."""

    size: int
    a: Ints
    b: Ints
    siemens: Floats


@dataclass(frozen=True, slots=True)
class Inside:
    """A part, and what it holds under the conditions of its network."""

    part: Part
    socket: Socket
    contents: Contents


@dataclass(frozen=True)
class Network:
    """A circuit as nodes and branches under stated conditions.

    `of` gives the node number of every point; `groups` the points of every node, in the order of
    the file. `inside` tells of every part what it holds; `remarks` say what had to be assumed.
    """

    circuit: Circuit
    conditions: Conditions
    of: Mapping[Point, int]
    groups: tuple[tuple[Point, ...], ...]
    inside: Mapping[str, Inside]
    branches: tuple[Branch, ...]
    valves: tuple[Valve, ...]
    remarks: tuple[str, ...]

    @property
    def size(self) -> int:
        """Number of nodes."""
        return len(self.groups)

    @property
    def chassis(self) -> int:
        """Node number of the chassis."""
        return self.of[CHASSIS]

    @cached_property
    def resistive(self) -> tuple[Branch, ...]:
        """The branches that an ohmmeter sees, leaky capacitors among them."""
        found = [b for b in self.branches if b.kind == "resistor"]
        leaky = (b for b in self.branches if b.name in self.conditions.leaks)
        return (*found, *(_leak(b, self.conditions.leaks[b.name]) for b in leaky))

    @cached_property
    def heaters(self) -> Mapping[str, tuple[Branch, ...]]:
        """The pieces of heater in each socket, by the name of its part."""
        found: dict[str, tuple[Branch, ...]] = {}
        for branch in self.resistive:
            if branch.role == "heater":
                found[branch.part] = (*found.get(branch.part, ()), branch)
        return found

    def ends(self, branch: Branch) -> tuple[int, int]:
        """Node numbers of the two ends of a branch."""
        return self.of[branch.a], self.of[branch.b]

    def edges(self, which: Callable[[Branch], float], over: Iterable[Branch] = ()) -> Edges:
        """Branches as conductances; `which` picks the value of each. [ohm]."""
        rows = [(*self.ends(b), siemens(which(b))) for b in (over or self.resistive)]
        a, b, g = zip(*rows, strict=True) if rows else ((), (), ())
        return Edges(
            self.size,
            np.array(a, dtype=np.int64),
            np.array(b, dtype=np.int64),
            np.array(g, dtype=np.float64),
        )

    def windings(self) -> tuple[tuple[str, Element], ...]:
        """All windings of transformers, with the name of their part."""
        return tuple(
            (part.name, element)
            for part in self.circuit.parts.values()
            for element in part.elements
            if element.kind == "winding"
        )


def _leak(branch: Branch, ohms: float) -> Branch:
    name = f"{branch.name} leak"
    a, b = branch.a, branch.b
    return Branch(name, branch.part, "resistor", a, b, ohms, ohms, ohms, role="leak")


LEAST_OHMS = 1e-3  # a dead short, for branches whose span begins at zero


def siemens(ohms: float) -> float:
    """Conductance of a resistance [S]; shorts are taken as a milliohm, infinite as nothing."""
    return 0.0 if math.isinf(ohms) else 1.0 / max(ohms, LEAST_OHMS)


def network(
    circuit: Circuit, conditions: Conditions | None = None, like: Network | None = None
) -> Network:
    """The network of a circuit. Never fails on a wild one: what does not fit is remarked on.

    `like` is a network of a circuit that has parts in common: they are not looked into again.
    """
    conditions = conditions or Conditions()
    known = _known(like, conditions) if like else {}
    inside: dict[str, Inside] = {}
    branches: list[Branch] = []
    joins: list[tuple[Point, Point]] = []
    valves: list[Valve] = []
    remarks: list[str] = []
    for part in circuit.parts.values():
        told = known.get(part.name)
        if told is None or told.part is not part:
            told = Inside(part, socket(part, conditions), contents(part, conditions))
        inside[part.name] = told
        valves += told.socket.valves
        for each in (told.contents, told.socket.contents):
            branches += each.branches
            joins += each.joins
            remarks += each.remarks
    # a valve may have a pin or a cap that its socket, as typed, has not
    inner = [p for valve in valves for p in valve.electrodes.values()]
    inner += [p for branch in branches for p in (branch.a, branch.b)]
    groups = _grouped(circuit, inner, joins)
    of = {point: index for index, group in enumerate(groups) for point in group}
    return Network(
        circuit,
        conditions,
        of,
        groups,
        inside,
        tuple(branches),
        tuple(valves),
        tuple(remarks),
    )


def _grouped(
    circuit: Circuit, inner: Iterable[Point], joins: Iterable[tuple[Point, Point]]
) -> tuple[tuple[Point, ...], ...]:
    """The points of every node: the circuit's own nodes, and what is joined inside its parts."""
    number = dict(circuit.node_of)
    size = 1 + max(number.values())
    more = dict.fromkeys(p for p in (*inner, *chain.from_iterable(joins)) if p not in number)
    number.update(zip(more, count(size), strict=False))
    piece = pieces(size + len(more), [(number[a], number[b]) for a, b in joins])
    groups: list[list[Point]] = [[] for _ in range(max(piece) + 1)]
    for point in (*circuit.points, *more):
        groups[piece[number[point]]].append(point)
    return tuple(map(tuple, groups))


def _known(like: Network, conditions: Conditions) -> Mapping[str, Inside]:
    """What a network tells of parts under these conditions."""
    apart = like.conditions.apart(conditions)
    if apart is None:
        return {}
    return {name: told for name, told in like.inside.items() if name not in apart}
