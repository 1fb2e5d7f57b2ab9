"""Which stage each block belongs to, and the order of the stages along the signal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from buzzout.report.drawing.sheet import Block, Sheet

SUPPLY, SPARE = "supply", "not used"
_MAINS = ("cord", "fuse", "switch", "can", "lamp", "bond", "choke")
# A coupling capacitor belongs to the grid that it feeds: what leads on from an anode is pulled less
# than what leads to a grid. A load hangs on its anode alone.
_NO_SIGNAL = (1, 10_000)  # a spare half of a valve comes last
_PULL = {"grid": 0.0, "cathode": 0.1, "screen": 0.2, "anode": 3.0}


@dataclass(frozen=True, slots=True)
class Stage:
    """A group of blocks drawn together."""

    name: str
    blocks: tuple[Block, ...]


def stages(sheet: Sheet) -> tuple[Stage, ...]:
    """Stages in signal order, the supply last."""
    seeds = _seeds(sheet)
    nearest = _nearest(sheet, seeds)
    order = _order(sheet, [name for name in dict.fromkeys(seeds.values()) if name != SUPPLY])
    groups: dict[str, list[Block]] = {name: [] for name in (*order, SUPPLY)}
    for block in sheet.blocks:
        groups[nearest.get(block.id, SUPPLY)].append(block)
    return tuple(Stage(name, tuple(blocks)) for name, blocks in groups.items() if blocks)


def _seeds(sheet: Sheet) -> dict[str, str]:
    """Blocks that make a stage of their own, by id."""
    mains = _mains_nodes(sheet)
    seeds = {}
    for block in sheet.blocks:
        kind = block.part.kind
        nodes = {sheet.circuit.node(pin.point) for pin in block.pins}
        if block.shape == "heater" or _rectifies(block):
            seeds[block.id] = SUPPLY
        elif block.shape == "valve":
            seeds[block.id] = block.id if _used(sheet, nodes) else SPARE
        elif kind == "jack":
            seeds[block.id] = "input"
        elif kind == "speaker":
            seeds[block.id] = "output"
        elif kind == "transformer":
            load = any(element.load for element in block.part.elements)
            seeds[block.id] = "output" if load and not nodes & mains else SUPPLY
        elif kind == "socket":
            seeds[block.id] = block.id
        elif kind == "can" or (kind in _MAINS and nodes & mains):
            seeds[block.id] = SUPPLY
    return seeds


def _used(sheet: Sheet, nodes: Iterable[int]) -> bool:
    """Whether anything at all is on a section of a valve."""
    return any(node in sheet.symbols or len(sheet.ends[node]) > 1 for node in nodes)


def _rectifies(block: Block) -> bool:
    roles = {pin.role for pin in block.pins}
    return block.shape == "valve" and "anode" in roles and not roles & {"grid", "screen"}


def _mains_nodes(sheet: Sheet) -> set[int]:
    """Nodes that the mains lead reaches through fuses and switches."""
    node = sheet.circuit.node
    reached = {
        node(p.point)
        for b in sheet.blocks
        if b.part.kind == "cord"
        for p in b.pins
        if not sheet.symbol(p.point)
    }
    for _ in sheet.blocks:
        more = {
            node(pin.point)
            for block in sheet.blocks
            if block.part.kind in ("fuse", "switch")
            and any(node(pin.point) in reached for pin in block.pins)
            for pin in block.pins
        }
        if more <= reached:
            break
        reached |= more
    return reached


def _nearest(sheet: Sheet, seeds: Mapping[str, str]) -> dict[str, str]:
    """The stage of every block: that of the seed fewest parts away, symbols not crossed."""
    best = dict(seeds) | dict(_hanging(sheet, seeds))
    queue = sorted(
        (_PULL.get(pin.role, 0.3), name, sheet.circuit.node(pin.point))
        for block in sheet.blocks
        if (name := seeds.get(block.id, ""))
        for pin in block.pins
    )
    seen: set[int] = set()
    while queue:
        cost, name, node = queue.pop(0)
        if node in seen or node in sheet.symbols:
            continue
        seen.add(node)
        for block, _pin in sheet.ends.get(node, ()):
            if block.id not in best:
                best[block.id] = name
                queue += [(cost + 1, name, sheet.circuit.node(p.point)) for p in block.pins]
        queue.sort()
    return best


def _hanging(sheet: Sheet, seeds: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Parts from one pin of a valve to a symbol: a load, a cathode resistor, a grid leak."""
    for block in sheet.blocks:
        nodes = {sheet.circuit.node(pin.point) for pin in block.pins} - set(sheet.symbols)
        if block.id in seeds or len(nodes) != 1:
            continue
        for near, pin in sheet.ends[nodes.pop()]:
            if near.shape == "valve" and pin.role:
                yield block.id, seeds[near.id]
                break


def _order(sheet: Sheet, names: Iterable[str]) -> list[str]:
    """Stages by how far the signal has come when it gets there.

    What no input reaches (an oscillator) is a source of its own and stands before the inputs.
    """
    names = list(names)
    main = _walk(sheet, [b for b in sheet.blocks if b.part.kind == "jack"])
    own: dict[str, int] = {}
    for block in sheet.blocks:
        if block.id in names and block.id not in main | own:
            offset = len(own)
            own |= {b: offset + steps for b, steps in _walk(sheet, [block]).items() if b not in own}
    place = {name: (0, own[name]) for name in own if name not in main}
    place |= {name: (1, steps) for name, steps in main.items()}
    place |= {"input": (1, -1), "output": (2, 0), SPARE: (3, 0)}
    return sorted(names, key=lambda name: (place.get(name, _NO_SIGNAL), names.index(name)))


def _walk(sheet: Sheet, start: Iterable[Block]) -> dict[str, int]:
    """Steps from the start to every block that the signal reaches, never backwards through a valve.

    It goes in by a grid; by a cathode only when it comes out of another one (a long-tailed pair).
    """
    steps: dict[str, int] = {}
    queue = [(block, 0, False) for block in start]
    seen: set[tuple[int, bool]] = set()
    while queue:
        block, far, tail = queue.pop(0)
        if steps.setdefault(block.id, far) < far and block.shape == "valve":
            continue
        for pin in block.pins:
            node = sheet.circuit.node(pin.point)
            coupled = tail or (block.shape == "valve" and pin.role == "cathode")
            inwards = block.shape == "valve" and pin.role in ("grid", "screen")
            if (node, coupled) in seen or node in sheet.symbols or inwards:
                continue
            seen.add((node, coupled))
            doors = ("grid", "cathode") if coupled else ("grid",)
            queue += [
                (b, far + 1, coupled and b.shape != "valve")
                for b, p in sheet.ends[node]
                if b.shape != "valve" or p.role in doors
            ]
    return steps
