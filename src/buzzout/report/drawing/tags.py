"""Tags of the chassis beside the lines of the drawing: where a node is to be found on the board."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from buzzout.circuit import Circuit, Point
from buzzout.compare.findings import Comparison
from buzzout.report.drawing.bands import Band
from buzzout.report.drawing.labels import wide
from buzzout.report.drawing.routes import Trunk

MOST, SIZE, STEP = 3, 8.0, 6.0  # tags told of one node, their size, search step; points


def tags_of(circuit: Circuit, comparison: Comparison | None) -> dict[Point, tuple[str, ...]]:
    """The tags of each node that has some, by the first point of the node in the circuit.

    With a comparison, the tags are those that the chassis has for the nodes of the drawing.
    """
    if comparison is None:
        every = {node.points[0]: _on(circuit, node.index) for node in circuit.nodes}
    else:
        nodes, points = comparison.matching.nodes, comparison.reference.nodes
        every = {
            points[index].points[0]: tuple(t for node in found for t in _on(comparison.found, node))
            for index, found in nodes.items()
        }
    return {point: tags for point, tags in every.items() if tags}


def _on(circuit: Circuit, index: int) -> tuple[str, ...]:
    """Tags of strips and boards on one node."""
    return tuple(
        str(point)
        for point in circuit.nodes[index].points
        if (part := circuit.parts.get(point.owner)) and part.kind in ("strip", "board")
    )


def placed_tags(
    band: Band, tags: Mapping[Point, tuple[str, ...]]
) -> Iterator[tuple[tuple[float, float], str]]:
    """Words and where they begin: over the level stretch of each node, clear of other leads."""
    named = {band.sheet.circuit.node_of[point]: told for point, told in tags.items()}
    for node, trunk in band.trunks.items():
        told = named.get(node, ())
        if not told:
            continue
        crossing = [d.x for d in band.drops if d.top <= 2 * trunk.channel <= d.bottom]
        texts = [_few(told, most) for most in range(min(MOST, len(told)), 0, -1)]
        spots = [_clear(trunk.left, trunk.right, wide(t, SIZE) + 4, crossing) for t in texts]
        fits = [(text, spot) for text, spot in zip(texts, spots, strict=True) if spot is not None]
        text, start = fits[0] if fits else (texts[-1], _beyond(band, trunk, texts[-1]))
        yield (start + 3, band.height(node) - 5), text


def _beyond(band: Band, trunk: Trunk, text: str) -> float:
    """Where a stretch is too short: behind its end if nothing passes there, else on it."""
    left, right = trunk.right, trunk.right + wide(text, SIZE) + 8
    crossed = any(
        left < drop.x < right and drop.top <= 2 * trunk.channel <= drop.bottom
        for drop in band.drops
    )
    met = any(
        other.left < right and left < other.right
        for other in band.trunks.values()
        if other is not trunk and (other.channel, other.track) == (trunk.channel, trunk.track)
    )
    return trunk.left if crossed or met else trunk.right


def _few(tags: Sequence[str], most: int) -> str:
    return " ".join(tags[:most]) + (" …" if len(tags) > most else "")


def _clear(left: float, right: float, room: float, crossing: Iterable[float]) -> float | None:
    """The first place on a stretch that no lead crosses; None where there is none."""
    crossing = sorted(crossing)
    spot = left
    while spot == left or spot + room < right:
        if not any(spot + 1 < x < spot + room for x in crossing):
            return spot
        spot += STEP
    return None
