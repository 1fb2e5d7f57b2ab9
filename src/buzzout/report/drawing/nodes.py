"""Nodes that are told by a symbol at each use: chassis, supply lines, heaters, the busy ones."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from buzzout.circuit import CHASSIS, Circuit, Point
from buzzout.report.drawing.blocks import Block
from buzzout.report.drawing.heights import SUPPLY_NAME

MANY = 6  # a node with more ends than this is told by its symbol at each of them
EARTHED, LIVE = "chassis", "chassis LIVE"


def is_chassis(symbol: str) -> bool:
    """Whether a symbol is that of the chassis, which is drawn and not written."""
    return symbol in (EARTHED, LIVE)


def symbols(circuit: Circuit, blocks: Sequence[Block], *, live: bool) -> dict[int, str]:
    """The symbol of each node that has one; `live` tells that the mains is on the chassis."""
    at = [(circuit.node(pin.point), block) for block in blocks for pin in block.pins]
    ends = Counter(node for node, _block in at)
    heaters = Counter(node for node, block in at if block.shape == "heater")
    wound = {node for node, block in at if block.part.kind == "transformer"}
    found = {}
    for node in circuit.nodes:
        index = node.index
        in_parallel = heaters[index] > 2 or (heaters[index] and index in wound)
        if CHASSIS in node.points:
            found[index] = LIVE if live else EARTHED
        elif in_parallel or ends[index] > MANY or SUPPLY_NAME.match(node.name):
            found[index] = name_of(circuit, index)
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
