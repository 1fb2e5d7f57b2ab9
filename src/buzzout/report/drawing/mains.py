"""Where the mains goes on the sheet, and whether it is joined to the chassis."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from buzzout.circuit import CHASSIS, Circuit
from buzzout.report.drawing.blocks import Block

_SERIES = ("fuse", "switch", "pole")  # what a mains conductor goes through on its way


def mains_nodes(circuit: Circuit, blocks: Sequence[Block]) -> frozenset[int]:
    """Nodes that line and neutral reach through fuses and switches; the chassis ends the way."""
    return frozenset(_reached(circuit, blocks) - {circuit.node(CHASSIS)})


def chassis_live(circuit: Circuit, blocks: Sequence[Block]) -> bool:
    """Whether a conductor of the mains is the chassis, or no transformer keeps the set from it."""
    reached = _reached(circuit, blocks)
    if circuit.node(CHASSIS) in reached:
        return True
    fed = list(_on(circuit, blocks, reached))
    used = any(block.shape not in (*_SERIES, "box") for block in fed)
    return used and not any(block.part.kind == "transformer" for block in fed)


def mains_transformers(circuit: Circuit, blocks: Sequence[Block]) -> tuple[Block, ...]:
    """The transformers that the mains feeds."""
    fed = _on(circuit, blocks, mains_nodes(circuit, blocks))
    return tuple(block for block in fed if block.part.kind == "transformer")


def _reached(circuit: Circuit, blocks: Sequence[Block]) -> set[int]:
    chassis = circuit.node(CHASSIS)
    reached = {
        circuit.node(pin.point)
        for block in blocks
        if block.part.kind == "cord"
        for pin in block.pins
        if pin.point.pin != "E"
    }
    while True:
        through = _on(circuit, blocks, reached - {chassis}, _SERIES)
        more = {circuit.node(pin.point) for block in through for pin in block.pins}
        if more <= reached:
            return reached
        reached |= more


def _on(
    circuit: Circuit,
    blocks: Iterable[Block],
    nodes: Collection[int],
    shapes: Collection[str] = (),
) -> Iterable[Block]:
    """The blocks with a pin on some of the nodes."""
    return (
        block
        for block in blocks
        if (not shapes or block.shape in shapes)
        and any(circuit.node(pin.point) in nodes for pin in block.pins)
    )
