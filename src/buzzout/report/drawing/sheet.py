"""A circuit as blocks with pins, and the nodes that join them: what is to be drawn, not how."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from buzzout.catalogue import device
from buzzout.catalogue.records import HEATING, Device, Section
from buzzout.circuit import CHASSIS, Circuit, Part, Point

MANY = 6  # a node with more ends than this is told by its symbol at each of them
_SUPPLY_NAME = re.compile(r"^(HT|B\+|H\.T\.?|EHT|BIAS)", re.IGNORECASE)
_ABOVE = {"anode": "n", "screen": "e", "grid": "w", "cathode": "s", "filament": "s"}
_UNDRAWN = ("strip", "board", "bond")
_BOXES = ("jack", "connector", "cord", "transformer", "can", "pot")  # whatever number of ends


@dataclass(frozen=True, slots=True)
class Pin:
    """A pin of a block: `side` is n, s, w or e; `role` what the catalogue calls it."""

    point: Point
    side: str
    role: str = ""

    @property
    def name(self) -> str:
        """What is printed at it."""
        return f"{self.point.pin} {self.role}" if self.role else self.point.pin


@dataclass(frozen=True, slots=True)
class Block:
    """One thing with pins.

    `shape` is "valve", "heater", "box", "pot" or the kind of a part with two ends; `lines` stand
    below the title.
    """

    id: str
    part: Part
    shape: str
    title: str
    lines: tuple[str, ...]
    pins: tuple[Pin, ...]


@dataclass(frozen=True)
class Sheet:
    """What is drawn. `symbols` gives nodes that are told by a symbol at each use."""

    circuit: Circuit
    blocks: tuple[Block, ...]
    symbols: Mapping[int, str] = field(default_factory=dict)

    @cached_property
    def pin_at(self) -> Mapping[Point, tuple[Block, Pin]]:
        """Where each point is drawn."""
        return {pin.point: (block, pin) for block in self.blocks for pin in block.pins}

    @cached_property
    def ends(self) -> Mapping[int, tuple[tuple[Block, Pin], ...]]:
        """The drawn pins of every node."""
        table: dict[int, list[tuple[Block, Pin]]] = {}
        for block in self.blocks:
            for pin in block.pins:
                table.setdefault(self.circuit.node(pin.point), []).append((block, pin))
        return {node: tuple(pins) for node, pins in table.items()}

    def symbol(self, point: Point) -> str:
        """The symbol at a point: "chassis", a name, or "" where a line is drawn."""
        return self.symbols.get(self.circuit.node_of.get(point, -1), "")


def sheet(circuit: Circuit) -> Sheet:
    """Blocks and symbols of a circuit."""
    heights = _heights(circuit)
    blocks = tuple(b for part in circuit.parts.values() for b in _blocks(circuit, part, heights))
    return Sheet(circuit, blocks, _symbols(circuit, blocks))


def _blocks(circuit: Circuit, part: Part, heights: Mapping[int, float]) -> Iterator[Block]:
    if part.kind in _UNDRAWN:
        return
    if part.kind == "socket":
        yield from _valve(circuit, part, heights)
    elif len(part.terminals) == 2 and part.kind not in _BOXES:
        yield small(part, _upper(circuit, part, heights))
    else:
        pins = tuple(Pin(p, _side(part, p.pin)) for p in part.points if _drawn(circuit, part, p))
        yield Block(part.name, part, _shape(part), called(part), describe(part), pins)


def small(part: Part, upper: str) -> Block:
    """The block of a part with two ends; `upper` is the terminal that is drawn above."""
    marked = part.swap == "reversed"
    lower = next(t for t in part.terminals if t != upper)
    pins = tuple(
        Pin(part.point(t), side, t if marked else "") for t, side in ((upper, "n"), (lower, "s"))
    )
    return Block(part.name, part, part.kind, called(part), describe(part), pins)


def called(part: Part) -> str:
    """The name to print: nothing for a part that nobody named but the line it stands on."""
    return f"line {part.name.lstrip('@')}" if part.anonymous else part.name


def describe(part: Part) -> tuple[str, ...]:
    """Value, type and ratings as they are printed beside a symbol."""
    facts = [str(x) for x in (part.value, part.voltage, part.power, part.current) if x]
    if part.kind in ("socket", "diode", "bridge"):
        facts = [part.type or "empty"] if part.kind == "socket" else [part.type]
    if "value" in part.unread:
        facts.append("not read")
    return tuple(line for line in (" ".join(facts),) if line)


def _shape(part: Part) -> str:
    return "pot" if part.kind == "pot" and len(part.terminals) == 3 else "box"


def _drawn(circuit: Circuit, part: Part, point: Point) -> bool:
    """Pins with nothing on them are left out of boxes, except on the small ones."""
    return len(part.terminals) <= 4 or point in circuit.links_at or part.kind == "transformer"


def _side(part: Part, pin: str) -> str:
    """Where a pin of a box sits: what feeds it above, what it feeds below."""
    if part.kind == "pot":
        return {"cw": "n", "ccw": "s"}.get(pin, "e")
    if part.kind == "transformer":
        first = part.elements[0].terminals if part.elements else ()
        return "n" if pin in first else "s"
    if part.kind == "can":
        common = part.elements[0].terminals[-1] if part.elements else part.terminals[-1]
        return "s" if pin == common else "n"
    if part.kind == "switch":
        return "n" if part.elements and any(pin == e.terminals[0] for e in part.elements) else "s"
    if part.kind == "bridge":
        return "n" if pin.startswith("~") else "s"
    return "s"


# ---- valves -------------------------------------------------------------------------------------


def _valve(circuit: Circuit, part: Part, heights: Mapping[int, float]) -> Iterator[Block]:
    known = device(part.type) if part.type else None
    if known is None or not known.sections:
        pins = tuple(
            Pin(p, "n" if heights[circuit.node(p)] > 0.45 else "s")
            for p in part.points
            if p in circuit.links_at
        )
        yield Block(part.name, part, "box", part.name, describe(part), pins)
        return
    sections = known.sections
    heating = {pin for pin, electrode in known.pins.items() if electrode.role in HEATING}
    if all(section.kind == "diode" for section in sections):
        told = {pin for section in sections for pin in section.pins.values()}
        yield _rectifier(part, known)
    else:
        told = set()
        for number, section in enumerate(sections):
            loose = () if number else _loose(circuit, part, known)
            yield _section(part, section, number if len(sections) > 1 else -1, loose)
    heater = tuple(
        Pin(p, "s") for p in part.points
        if p.pin in heating and p.pin not in told and p in circuit.links_at
    )  # fmt: skip
    if heater:
        yield Block(f"{part.name} heater", part, "heater", part.name, ("heater",), heater)


def _section(part: Part, section: Section, number: int, loose: tuple[Pin, ...]) -> Block:
    letter = chr(ord("a") + number) if number >= 0 else ""
    roles: dict[str, list[str]] = {}
    for role, pin in section.pins.items():
        roles.setdefault(pin, []).append(role)
    pins = [
        Pin(part.point(pin), _ABOVE.get(named[0], "w" if "grid" in named[0] else "s"), named[0])
        for pin, named in roles.items()
        if pin in part.terminals
    ]
    title = part.name + letter
    return Block(title, part, "valve", title, describe(part), (*pins, *loose))


def _loose(circuit: Circuit, part: Part, known: Device) -> tuple[Pin, ...]:
    """Pins that belong to no electrode of a section and yet have something on them."""
    told = {pin for section in known.sections for pin in section.pins.values()}
    told |= {pin for pin, electrode in known.pins.items() if electrode.role in HEATING}
    return tuple(
        Pin(p, "e", str(known.pins[p.pin]) if p.pin in known.pins else "")
        for p in part.points
        if p.pin not in told and p in circuit.links_at
    )


def _rectifier(part: Part, known: Device) -> Block:
    roles = {pin: role for section in known.sections for role, pin in section.pins.items()}
    pins = tuple(
        Pin(part.point(pin), "n" if role == "anode" else "s", role)
        for pin, role in roles.items()
        if pin in part.terminals
    )
    return Block(part.name, part, "valve", part.name, describe(part), pins)


# ---- nodes --------------------------------------------------------------------------------------


def _symbols(circuit: Circuit, blocks: tuple[Block, ...]) -> dict[int, str]:
    """Nodes that are told by a symbol: chassis, supply lines, heaters, whatever has many ends."""
    ends: dict[int, int] = {}
    heating: set[int] = set()
    for block in blocks:
        for pin in block.pins:
            at = circuit.node(pin.point)
            ends[at] = ends.get(at, 0) + 1
            if block.shape == "heater":
                heating.add(at)
    found = {}
    for node in circuit.nodes:
        busy = node.index in heating or ends.get(node.index, 0) > MANY
        if CHASSIS in node.points:
            found[node.index] = "chassis"
        elif busy or _SUPPLY_NAME.match(node.name):
            found[node.index] = name_of(circuit, node.index)
    return found


def name_of(circuit: Circuit, index: int) -> str:
    """What to call a node: the name that the file gives it, else the point it is best known by."""
    node = circuit.nodes[index]
    return node.name or _spokesman(circuit, node.points)


def _spokesman(circuit: Circuit, points: tuple[Point, ...]) -> str:
    """The point that a nameless node is best known by: a transformer's lead, else furniture."""
    ranked = sorted(
        points,
        key=lambda p: (
            (part := circuit.parts.get(p.owner)) is None or not part.furniture,
            part is None or part.kind != "transformer",
        ),
    )
    return str(ranked[0])


def _heights(circuit: Circuit) -> dict[int, float]:
    """How high on the sheet each node wants to be: HT 1, anodes 0.8, chassis 0, others between."""
    fixed: dict[int, float] = {circuit.node(CHASSIS): 0.0}
    for node in circuit.nodes:
        if _SUPPLY_NAME.match(node.name):
            fixed[node.index] = 1.0
    for part in circuit.parts.values():
        known = device(part.type) if part.kind == "socket" and part.type else None
        for pin, electrode in known.pins.items() if known else ():
            height = {"anode": 0.8, "screen": 0.85, "grid": 0.45, "cathode": 0.3}
            if electrode.role in height and pin in part.terminals:
                fixed.setdefault(circuit.node(part.point(pin)), height[electrode.role])
    return _relaxed(circuit, fixed)


def _relaxed(circuit: Circuit, fixed: Mapping[int, float]) -> dict[int, float]:
    """Free nodes settle between their neighbours; a fixed number of rounds, so it is repeatable."""
    pairs = [
        tuple(circuit.node(p) for p in part.points)
        for part in circuit.parts.values()
        if len(part.terminals) == 2
    ]
    heights = {node.index: fixed.get(node.index, 0.5) for node in circuit.nodes}
    for _ in range(20):
        sums: dict[int, list[float]] = {}
        for a, b in pairs:
            sums.setdefault(a, []).append(heights[b])
            sums.setdefault(b, []).append(heights[a])
        for node, near in sums.items():
            if node not in fixed:
                heights[node] = sum(near) / len(near)
    return heights


def _upper(circuit: Circuit, part: Part, heights: Mapping[int, float]) -> str:
    a, b = part.terminals
    higher = heights[circuit.node(part.point(b))] > heights[circuit.node(part.point(a))] + 1e-6
    return b if higher else a
