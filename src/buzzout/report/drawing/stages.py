"""Which stage each block belongs to, and the order of the stages along the signal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from buzzout.catalogue import device
from buzzout.report.drawing.blocks import Block, Pin
from buzzout.report.drawing.mains import mains_nodes, mains_transformers
from buzzout.report.drawing.nodes import is_chassis
from buzzout.report.drawing.sheet import Sheet
from buzzout.report.drawing.valves import detects, rectifies

SUPPLY, SPARE, INPUT, OUTPUT = "supply", "not used", "input", "output"
_MAINS = ("cord", "fuse", "switch", "pot", "lamp", "choke")
_PLACES = {"jack": INPUT, "speaker": OUTPUT}
# A coupling capacitor belongs to the grid that it feeds: what leads on from an anode is pulled less
# than what leads to a grid. A load hangs on its anode alone.
_NO_SIGNAL = (1, 10_000.0)  # a spare half of a valve comes last
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
    named = [name for name in dict.fromkeys(seeds.values()) if name != SUPPLY]
    order = _order(sheet, nearest, named)
    groups: dict[str, list[Block]] = {name: [] for name in (*order, SUPPLY)}
    for block in sheet.blocks:
        groups[nearest.get(block.id, SUPPLY)].append(block)
    return tuple(Stage(name, tuple(blocks)) for name, blocks in groups.items() if blocks)


def _seeds(sheet: Sheet) -> dict[str, str]:
    """Blocks that make a stage of their own, by id.

    Which stage a coil, a contact or a diode belongs to follows from what it is joined to: with the
    mains or what the mains transformer gives, it is supply.
    """
    mains = mains_nodes(sheet.circuit, sheet.blocks)
    feeding = {block.id for block in mains_transformers(sheet.circuit, sheet.blocks)}
    fed = mains | {
        node
        for block in sheet.blocks
        if block.id in feeding
        for node in _nodes(sheet, block)
        if not is_chassis(sheet.symbols.get(node, ""))
    }
    seeds = {}
    for block in sheet.blocks:
        seed = _seed(sheet, block, mains, fed)
        if seed:
            seeds[block.id] = seed
    return seeds


def _seed(sheet: Sheet, block: Block, mains: frozenset[int], fed: frozenset[int]) -> str:
    """The stage that a block makes, "" where it belongs to that of its neighbours."""
    kind, nodes = block.part.kind, _nodes(sheet, block)
    if block.shape == "heater" or (_rectifies(block) and nodes & fed) or _is_supply_valve(block):
        return SUPPLY
    if block.shape == "valve":
        if not _used(sheet, block):
            return SPARE
        return "" if detects(block) else block.id
    if kind == "transformer":
        if nodes & mains:
            return SUPPLY
        return OUTPUT if any(element.load for element in block.part.elements) else block.id
    if kind in _PLACES:
        return _PLACES[kind]
    if kind == "socket":
        return block.id
    return SUPPLY if nodes & mains and kind in _MAINS else ""


def _nodes(sheet: Sheet, block: Block) -> set[int]:
    return {sheet.circuit.node(pin.point) for pin in block.pins}


def _used(sheet: Sheet, block: Block) -> bool:
    """Whether anything is on a section of a valve but on its cathode, which sections may share."""
    pins = [p for p in block.pins if p.role not in ("cathode", "shield")]
    nodes = [sheet.circuit.node(pin.point) for pin in pins]
    return any(node in sheet.symbols or len(sheet.ends[node]) > 1 for node in nodes)


def _rectifies(block: Block) -> bool:
    """Whether what the mains transformer gives would be rectified in it."""
    return detects(block) or block.part.kind in ("diode", "bridge")


def _is_supply_valve(block: Block) -> bool:
    known = device(block.part.type) if block.shape == "valve" else None
    return known is not None and rectifies(known)


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
    """Parts across one winding, and those from one pin of a valve to a symbol.

    The first tune a coil or damp it; the others are a load, a cathode resistor, a grid leak.
    """
    coils = list(_windings(sheet, seeds))
    for block in sheet.blocks:
        nodes = _nodes(sheet, block)
        if block.id in seeds or len(block.pins) != 2:
            continue
        across = [stage for stage, coil in coils if len(nodes) == 2 and nodes <= coil]
        wired = nodes - set(sheet.symbols)
        if across:
            yield block.id, across[0]
        elif len(wired) == 1:
            for near, pin in sheet.ends[wired.pop()]:
                if near.shape == "valve" and pin.role and near.id in seeds:
                    yield block.id, seeds[near.id]
                    break


def _windings(sheet: Sheet, seeds: Mapping[str, str]) -> Iterator[tuple[str, set[int]]]:
    """The stage and the nodes of each winding."""
    for block in sheet.blocks:
        for group in block.groups:
            if block.id in seeds:
                yield seeds[block.id], {sheet.circuit.node(pin.point) for pin in group.pins}


def _order(sheet: Sheet, stage_of: Mapping[str, str], names: Iterable[str]) -> list[str]:
    """Stages by how far the signal has come when it gets there.

    What no input reaches (an oscillator) is a source of its own and stands before what it feeds.
    """
    names = list(names)
    signal = [b for b in sheet.blocks if stage_of.get(b.id, SUPPLY) != SUPPLY]
    main: dict[str, int] = {}
    for start in signal:  # where two inputs meet, the signal that has come further tells
        far = _walk(sheet, signal, start) if _lets_in(start, stage_of) else {}
        main |= {name: max(steps, main.get(name, 0)) for name, steps in far.items()}
    place: dict[str, tuple[int, float]] = {name: (1, steps) for name, steps in main.items()}
    for number, block in enumerate(signal):
        if block.id not in names or block.id in place:
            continue
        reached = _walk(sheet, signal, block)
        fed = [main[name] for name in names if name in reached and name in main]
        for name, steps in reached.items():
            before = (1, min(fed) - 0.5 + steps / 1000) if fed else (0, float(number + steps))
            place.setdefault(name, before)
    place |= {INPUT: (1, -1), OUTPUT: (2, 0), SPARE: (3, 0)}
    return sorted(names, key=lambda name: (place.get(name, _NO_SIGNAL), names.index(name)))


def _lets_in(block: Block, stage_of: Mapping[str, str]) -> bool:
    """Whether the signal comes in here: a jack, or a connector that is no outlet."""
    outlet = stage_of[block.id] == OUTPUT
    return block.part.kind == "jack" or (block.part.kind == "connector" and not outlet)


def _walk(sheet: Sheet, signal: Iterable[Block], start: Block) -> dict[str, int]:
    """Steps from the start to every block that the signal reaches, never backwards through a valve.

    It goes in by a grid; by a cathode only when it comes out of another one (a long-tailed pair);
    into a transformer by its first winding, out of the way of a switch by the pole alone. Where
    another valve drives a node, the signal of a part that ends there goes no further.
    """
    inside = {block.id for block in signal}
    driven = {
        sheet.circuit.node(pin.point)
        for block in signal
        if _amplifies(block)
        for pin in block.pins
        if pin.role in ("anode", "cathode")
    }
    steps: dict[str, int] = {}
    queue = [(start, "", 0, False)]
    seen: set[tuple[int, bool]] = set()
    while queue:
        block, entered, far, tail = queue.pop(0)
        if steps.setdefault(block.id, far) < far and block.shape == "valve":
            continue
        for pin in block.pins:
            node = sheet.circuit.node(pin.point)
            coupled = tail or (_amplifies(block) and pin.role == "cathode")
            backwards = node in driven and not (_amplifies(block) or coupled)
            shut = backwards or node in sheet.symbols or not _leaves(block, entered, pin)
            if (node, coupled) in seen or shut:
                continue
            seen.add((node, coupled))
            queue += [
                (b, p.side, far + 1, coupled and b.shape != "valve")
                for b, p in sheet.ends[node]
                if b.id in inside and _enters(b, p, coupled=coupled)
            ]
    return steps


def _enters(block: Block, pin: Pin, *, coupled: bool) -> bool:
    """Whether a signal goes into a block by this pin."""
    if block.part.kind == "transformer":
        return pin.side == "n"
    return not _amplifies(block) or _grid(pin) or (coupled and pin.role == "cathode")


def _leaves(block: Block, entered: str, pin: Pin) -> bool:
    """Whether a signal that came in at one side of a block goes out by this pin."""
    if block.shape == "pole" and entered == "s":
        return pin.side == "n"
    return not (_amplifies(block) and (_grid(pin) or pin.role == "screen"))


def _amplifies(block: Block) -> bool:
    return block.shape == "valve" and not detects(block)


def _grid(pin: Pin) -> bool:
    return "grid" in pin.role
