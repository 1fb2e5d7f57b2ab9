"""What a current can pass on its way through parts: the edges between the nodes of a circuit.

Everything that can carry a current counts, an open switch as much as a closed one: a rule holds in
every position of it. Transformers are crossed along a winding, never through the core.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from buzzout.catalogue import device
from buzzout.circuit import Circuit, Element, Part, Point

_PLAIN = {
    "resistor": "resistor", "thermistor": "resistor", "capacitor": "capacitor",
    "electrolytic": "capacitor", "diode": "diode", "inductor": "winding", "neon": "lamp",
    "lamp": "lamp", "fuse": "fuse", "choke": "winding", "speaker": "winding",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Passage:
    """One way through one part.

    `how` is "fuse", "contact", "winding", "resistor", "capacitor", "lamp", "diode", "track" or
    "heater"; `element` the winding or contact, None in a plain part.
    """

    part: Part
    how: str
    a: Point
    b: Point
    element: Element | None = None

    def __str__(self) -> str:
        return called(self.part)


def called(part: Part) -> str:
    """A part as a person finds it: its name, else what it is and the line it stands on."""
    if not part.anonymous:
        return part.name
    value = f"{part.value} " if part.value else ""
    return f"the {value}{part.kind} on line {part.span.line}"


@dataclass(frozen=True)
class Ways:
    """A circuit as nodes and passages between them."""

    circuit: Circuit

    @cached_property
    def passages(self) -> tuple[Passage, ...]:
        """All of them, in the order of the file."""
        return tuple(p for part in self.circuit.parts.values() for p in _inside(part))

    @cached_property
    def at(self) -> Mapping[int, tuple[tuple[Passage, int], ...]]:
        """Node to the passages that leave it, each with the node it leads to."""
        table: dict[int, list[tuple[Passage, int]]] = {}
        for passage in self.passages:
            a, b = self.node(passage.a), self.node(passage.b)
            if a != b:
                table.setdefault(a, []).append((passage, b))
                table.setdefault(b, []).append((passage, a))
        return {node: tuple(rows) for node, rows in table.items()}

    def node(self, point: Point) -> int:
        """Node of a point; -1 for a point that the circuit does not have."""
        return self.circuit.node_of.get(point, -1)

    def nodes(self, points: Iterable[Point]) -> frozenset[int]:
        """Nodes of several points."""
        return frozenset(self.node(p) for p in points) - {-1}

    def reached(
        self,
        start: Iterable[int],
        through: Callable[[Passage], bool],
        avoid: frozenset[int] = frozenset(),
    ) -> frozenset[int]:
        """Nodes that can be reached from any of `start` through the passages that are allowed."""
        seen = set(start)
        queue = deque(sorted(seen))
        while queue:
            for passage, far in self.at.get(queue.popleft(), ()):
                if far not in seen and far not in avoid and through(passage):
                    seen.add(far)
                    queue.append(far)
        return frozenset(seen)

    def path(
        self,
        start: Iterable[int],
        goal: frozenset[int],
        through: Callable[[Passage], bool],
        avoid: frozenset[int] = frozenset(),
    ) -> tuple[Passage, ...] | None:
        """A shortest way from `start` to `goal`; empty where they meet, None without any."""
        came: dict[int, tuple[Passage, int] | None] = dict.fromkeys(sorted(start))
        queue = deque(came)
        while queue:
            here = queue.popleft()
            if here in goal:
                return tuple(_back(came, here))
            for passage, far in self.at.get(here, ()):
                if far not in came and (far not in avoid or far in goal) and through(passage):
                    came[far] = passage, here
                    queue.append(far)
        return None


def _back(came: Mapping[int, tuple[Passage, int] | None], node: int) -> list[Passage]:
    """The passages that led to a node, from the start."""
    steps: list[Passage] = []
    step = came[node]
    while step is not None:
        steps.append(step[0])
        step = came[step[1]]
    return steps[::-1]


def _inside(part: Part) -> Iterator[Passage]:
    if part.kind == "socket":
        yield from _heaters(part)
        return
    if part.kind == "bridge":
        for a in ("~1", "~2"):
            for b in ("+", "-"):
                yield Passage(part, "diode", part.point(a), part.point(b))
        return
    if part.kind == "pot" and not part.elements:
        yield from _chain(part, "track", ("ccw", "wiper", "cw"), None)
    for element in part.elements:
        if element.kind != "conductor" and part.kind not in _PLAIN:
            yield from _chain(part, element.kind, element.terminals, element)
    how = _PLAIN.get(part.kind)
    if how and len(part.terminals) >= 2:
        inner = part.elements[0] if part.elements else None
        yield Passage(part, how, part.points[0], part.points[1], inner)


def _chain(
    part: Part, how: str, terminals: tuple[str, ...], element: Element | None
) -> Iterator[Passage]:
    """Terminal by terminal along a winding, a track; a section of a can is one step."""
    for a, b in pairwise(terminals):
        yield Passage(part, how, part.point(a), part.point(b), element)


def _heaters(part: Part) -> Iterator[Passage]:
    valve = device(part.type) if part.type else None
    if valve is None:
        return
    pins = [pin for pin, e in valve.pins.items() if e.role.startswith(("heater", "filament"))]
    pins = [pin for pin in pins if pin in part.terminals]
    for a, b in pairwise(pins):
        yield Passage(part, "heater", part.point(a), part.point(b))
