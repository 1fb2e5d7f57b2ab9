"""Currents that do not add up, from the readings and the resistors alone (Kirchhoff).

What flows into a valve by anode and screen leaves it by the cathode, whatever the valve is worth;
what flows into a node of resistors leaves it again. Where every voltage round such a place was
read, a current that is left over means a slip in one of the readings or a resistor that is not what
it is marked.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from buzzout.bench.probe import Taken
from buzzout.bench.score import ACCURACY, FLOOR
from buzzout.circuit import CHASSIS, Point, joined, metered
from buzzout.electrics.branch import Branch
from buzzout.electrics.common import common
from buzzout.electrics.operating import Operating
from buzzout.electrics.sockets import Valve

_SURE = 3.0  # deviations from which a current that is left over is told
_SHUT = 0.7  # a grid so far below its cathode takes no current (common practice) [V]
_CARRY = ("anode", "screen", "cathode")


@dataclass(frozen=True, slots=True)
class LeftOver:
    """A current that is left over. [A], with its deviation.

    `around` names the place; one of `readings` is a slip or one of `resistors` is not as marked.
    """

    around: str
    amps: float
    deviation: float
    readings: tuple[Taken, ...]
    resistors: tuple[str, ...]

    def __str__(self) -> str:
        told = ", ".join(str(t) for t in self.readings)
        return (
            f"currents at {self.around} do not add up ({metered(abs(self.amps), 'A')} left over):"
            f" one of these is a slip: {told}; or one of these is not as marked:"
            f" {', '.join(self.resistors)}"
        )


def left_over(
    state: Operating, taken: Sequence[Taken], names: Mapping[str, str]
) -> tuple[LeftOver, ...]:
    """Every place whose currents do not add up; `names` are those of the drawing."""
    of = state.net.of
    minus = {of[CHASSIS], _ground(state)}
    read = {of[t.probe.at]: t for t in taken if of.get(t.probe.to) in minus and t.probe.at in of}
    found = (_at(state, read, place, names) for place in _places(state))
    return tuple(one for one in found if one is not None and abs(one.amps) > _SURE * one.deviation)


def _ground(state: Operating) -> int:
    """The node that voltages are read against."""
    return state.net.of[common(state.net.circuit)]


def _places(state: Operating) -> Iterator[tuple[str, frozenset[int]]]:
    """Nodes that hold their current together: the valves, then the nodes of resistors alone."""
    of, valves = state.net.of, state.net.valves
    pairs: list[tuple[Point, Point]] = []
    for valve in valves:
        ends = [valve.electrodes[r] for r in _CARRY if r in valve.electrodes]
        pairs += pairwise(ends)
    by_node = {Point("node", str(of[p])) for pair in pairs for p in pair}
    linked = [(Point("node", str(of[a])), Point("node", str(of[b]))) for a, b in pairs]
    held: set[int] = set()
    for group in joined(sorted(by_node), linked):
        nodes = frozenset(int(p.pin) for p in group)
        held |= nodes
        inside = [v.name for v in valves if {of[v.electrodes["cathode"]]} <= nodes]
        if _ground(state) not in nodes:
            yield " and ".join(inside), nodes
    fed = {n for path in state.system.paths for n, r in state.rows.items() if r in (path.a, path.k)}
    for node, points in enumerate(state.net.groups):
        if node not in held | fed | {_ground(state), state.net.chassis}:
            yield str(points[0]), frozenset([node])


def _at(
    state: Operating,
    read: Mapping[int, Taken],
    place: tuple[str, frozenset[int]],
    names: Mapping[str, str],
) -> LeftOver | None:
    """What is left over at one place; None where not every voltage round it was read."""
    around, nodes = place
    edge = [b for b in state.net.resistive if len(set(state.net.ends(b)) & nodes) == 1]
    known = {*read, _ground(state)}
    resistors = [b for b in edge if b.role == "resistor" and math.isfinite(b.value)]
    if len(resistors) < 2 or len(resistors) < len(edge):
        return None
    if any(not {*state.net.ends(b)} <= known for b in resistors):
        return None
    if any(_may_take_grid_current(state, read, valve, nodes) for valve in state.net.valves):
        return None
    total, variance, slopes = 0.0, 0.0, dict[int, float]()
    for branch in resistors:
        amps, share = _current(state, read, branch, nodes, slopes)
        total += amps
        variance += (amps * share) ** 2
    for node, slope in slopes.items():
        variance += (slope * _off(read[node])) ** 2 if node in read else 0.0
    used = tuple(read[n] for n in slopes if n in read)
    told = tuple(names.get(b.part, b.part) for b in resistors)
    return LeftOver(around, total, math.sqrt(variance), used, told)


def _may_take_grid_current(
    state: Operating, read: Mapping[int, Taken], valve: Valve, nodes: frozenset[int]
) -> bool:
    """Whether a grid current may enter or leave the place, as the readings have it.

    The grid of another valve that sits on the place takes none where it was read to be well below
    its cathode; a valve's own grid is taken to take none but where it was read not to be.
    """
    at = {role: state.net.of[p] for role, p in valve.electrodes.items()}
    grid, cathode = at.get("grid", -1), at["cathode"]
    if (grid in nodes) == (cathode in nodes) or grid < 0:
        return False
    volts = {n: read[n].value for n in (grid, cathode) if n in read}
    volts |= dict.fromkeys({grid, cathode} & {_ground(state)}, 0.0)
    if len(volts) < 2:
        return grid in nodes
    return volts[grid] - volts[cathode] > -_SHUT


def _current(
    state: Operating,
    read: Mapping[int, Taken],
    branch: Branch,
    nodes: frozenset[int],
    slopes: dict[int, float],
) -> tuple[float, float]:
    """Current into the place through one resistor, and its tolerance as a deviation. [A], [1]."""
    a, b = state.net.ends(branch)
    inside, outside = (a, b) if a in nodes else (b, a)
    volts = {n: read[n].value if n in read else 0.0 for n in (a, b)}
    for node, sign in ((outside, 1.0), (inside, -1.0)):
        slopes[node] = slopes.get(node, 0.0) + sign / branch.value
    share = (branch.high - branch.low) / (2 * branch.value) / math.sqrt(3)
    return (volts[outside] - volts[inside]) / branch.value, share


def _off(taken: Taken) -> float:
    """Deviation of a reading, with what its own meter pulls the point down by at most. [V]."""
    return math.hypot(ACCURACY * taken.value, taken.step / math.sqrt(12), FLOOR)
