"""Lines in the channels: one level stretch for each node, no two on one another."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from buzzout.report.drawing.layout import Drop

TRACK = 12.0  # height of one line in a channel, in points
MARGIN = 10.0


@dataclass(frozen=True, slots=True)
class Trunk:
    """The level stretch of a node: its channel, the number of its track, from x to x."""

    node: int
    channel: int
    track: int
    left: float
    right: float


def trunks(drops: Iterable[Drop], channel: Mapping[int, int]) -> dict[int, Trunk]:
    """Tracks by the left edge, longest first where two begin together."""
    reach: dict[int, list[float]] = {}
    for drop in drops:
        reach.setdefault(drop.node, []).append(drop.x)
    order = sorted(reach, key=lambda n: (channel[n], min(reach[n]), -max(reach[n]), n))
    ends: dict[tuple[int, int], float] = {}
    found = {}
    for node in order:
        left, right = min(reach[node]), max(reach[node])
        track = 0
        while ends.get((channel[node], track), -1e9) > left - TRACK:
            track += 1
        ends[channel[node], track] = right
        found[node] = Trunk(node, channel[node], track, left, right)
    return found


def tracks_in(found: Mapping[int, Trunk]) -> dict[int, int]:
    """How many tracks each channel needs."""
    most: dict[int, int] = {}
    for trunk in found.values():
        most[trunk.channel] = max(most.get(trunk.channel, 0), trunk.track + 1)
    return most


def joints(trunk: Trunk, drops: Sequence[Drop]) -> list[float]:
    """Where three lines or more of a node meet: the x of each dot."""
    spots: dict[float, set[str]] = {}
    for drop in drops:
        spots.setdefault(drop.x, set()).add("down" if drop.below else "up")
    dots = []
    for x, ways in spots.items():
        sides = (x > trunk.left + 0.01) + (x < trunk.right - 0.01)
        if len(ways) + sides >= 3:
            dots.append(x)
    return sorted(dots)
