"""Resistance chart, power off: what an ohmmeter reads, and what the tolerances allow.

The resistance between two points of a resistor network never falls when any one of its resistors
rises [1]. So the network with every part at its lowest and the one with every part at its highest
give the exact range, without sampling. An ohmmeter is taken not to open any semiconductor and to
wait until capacitors are charged; a chart with such parts says so in its remarks.

References
----------
.. [1] J. C. Maxwell, A Treatise on Electricity and Magnetism (1873), art. 306; Rayleigh, Theory
   of Sound, vol. 1, art. 88 (monotonicity law).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

from buzzout.circuit import CHASSIS, Circuit, Point
from buzzout.electrics.branch import Branch
from buzzout.electrics.conditions import METER_OHMS, METER_SHARE, Conditions
from buzzout.electrics.linear import Solver, solver
from buzzout.electrics.network import Network, network


@dataclass(frozen=True, slots=True)
class Range:
    """A figure and what tolerances make of it; infinite means open. [ohm] in this module."""

    nominal: float
    low: float
    high: float

    def holds(self, reading: float) -> bool:
        """Tell whether a reading agrees, with the meter's own error."""
        low, high = self.widened()
        return low <= reading <= high

    def widened(self) -> tuple[float, float]:
        """Lowest and highest reading that a meter may show."""
        return (
            max(self.low * (1 - METER_SHARE) - METER_OHMS, 0.0),
            self.high * (1 + METER_SHARE) + METER_OHMS,
        )

    def apart(self, other: Range) -> bool:
        """Tell whether no reading can agree with both."""
        low, high = self.widened()
        other_low, other_high = other.widened()
        return high < other_low or other_high < low


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a chart: a point and its resistance to the chart's other end."""

    point: Point
    ohms: Range


@dataclass(frozen=True, slots=True)
class Chart:
    """Resistances from many points to one. `open` are the points that nothing joins to it."""

    to: Point
    lines: tuple[Line, ...]
    open: tuple[Point, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pair:
    """The same point on the drawing and on the board. `differs`: beyond tolerance and meter."""

    point: Point
    reference: Range
    found: Range
    differs: bool


@dataclass(frozen=True)
class Resistances:
    """A network ready for questions: as printed, with all parts low, and with all parts high."""

    network: Network

    @cached_property
    def nominal(self) -> Solver:
        """Every part as printed."""
        return solver(self.network.edges(lambda b: b.value))

    @cached_property
    def low(self) -> Solver:
        """Every part at its lowest."""
        return solver(self.network.edges(lambda b: b.low))

    @cached_property
    def high(self) -> Solver:
        """Every part at its highest."""
        return solver(self.network.edges(lambda b: b.high))

    def ohms(self, a: Point, b: Point) -> float:
        """Resistance between two points with every part as printed. [ohm]."""
        of = self.network.of
        if a not in of or b not in of:
            return math.inf
        return float(self.nominal.between([(of[a], of[b])])[0])

    def between(self, a: Point, b: Point) -> Range:
        """Resistance between two points. Points that the circuit does not have read open."""
        of = self.network.of
        if a not in of or b not in of:
            return Range(math.inf, math.inf, math.inf)
        pair = [(of[a], of[b])]
        return Range(*(float(s.between(pair)[0]) for s in (self.nominal, self.low, self.high)))

    def among(self, points: Sequence[Point]) -> Mapping[tuple[Point, Point], Range]:
        """Resistance between every two of some points that the circuit has, in their order."""
        pairs = list(combinations(points, 2))
        nodes = [(self.network.of[a], self.network.of[b]) for a, b in pairs]
        told = zip(*(s.between(nodes) for s in (self.nominal, self.low, self.high)), strict=True)
        return {pair: Range(*map(float, ohms)) for pair, ohms in zip(pairs, told, strict=True)}


def resistances(
    circuit: Circuit, conditions: Conditions | None = None, like: Resistances | None = None
) -> Resistances:
    """Make a circuit ready for questions; `like` is one that has parts in common."""
    return Resistances(network(circuit, conditions, like.network if like else None))


def chart(
    circuit: Circuit,
    to: Point = CHASSIS,
    points: Iterable[Point] | None = None,
    conditions: Conditions | None = None,
) -> Chart:
    """Resistance of every place for a meter probe to one point.

    `points` defaults to the pins, tags and terminals of furniture and the named nodes.
    """
    ready = resistances(circuit, conditions)
    of = ready.network.of
    wanted = [p for p in (places(circuit) if points is None else points) if p in of]
    if to not in of:
        return Chart(to, (), tuple(wanted), (f"the circuit has no point {to}",))
    figures = [s.to(of[to]) for s in (ready.nominal, ready.low, ready.high)]
    lines = [Line(p, Range(*(float(f[of[p]]) for f in figures))) for p in wanted if p != to]
    return Chart(
        to,
        tuple(line for line in lines if not math.isinf(line.ohms.low)),
        tuple(line.point for line in lines if math.isinf(line.ohms.low)),
        (*ready.network.remarks, *_cautions(ready.network)),
    )


def _cautions(net: Network) -> Iterator[str]:
    """How to hold the meter so that it reads what is computed."""
    kinds = {branch.kind for branch in net.branches}
    roles = {branch.role for branch in net.branches}
    if "diode" in kinds:
        yield "use an ohms range that does not open diodes, else exchange the probes and compare"
    if "electrolytic" in roles:
        yield "discharge first; plus probe to plus; wait until the reading stands still"


def places(circuit: Circuit) -> tuple[Point, ...]:
    """Where a probe can be put and found again: furniture terminals and named nodes."""
    fixed = [p for part in circuit.parts.values() if part.furniture for p in part.points]
    return (*fixed, *(Point(name) for name in circuit.names))


def side_by_side(
    reference: Circuit,
    found: Circuit,
    to: Point = CHASSIS,
    conditions: Conditions | None = None,
) -> tuple[Pair, ...]:
    """Resistances of the points that both circuits have, in the order of the drawing."""
    shared = [p for p in places(reference) if p in found.node_of and p != to]
    drawn = _table(chart(reference, to, shared, conditions))
    built = _table(chart(found, to, shared, conditions))
    return tuple(Pair(p, drawn[p], built[p], drawn[p].apart(built[p])) for p in drawn)


def _table(told: Chart) -> dict[Point, Range]:
    table = {line.point: line.ohms for line in told.lines}
    return table | {p: Range(math.inf, math.inf, math.inf) for p in told.open}


def solve_for(
    ready: Resistances, branch: Branch, ends: tuple[Point, Point], reading: float
) -> float:
    """The value of one resistor that would make the resistance between two points the reading.

    From the bilinear form R' = R - d t^2 / (1 + d Z) for a change d of the branch's conductance,
    with t the voltage across it at 1 A between the points and Z the resistance across its ends.

    Returns
    -------
    float
        [ohm]; NaN where no value of it does.
    """
    of = ready.network.of
    volts = ready.nominal.potentials(of[ends[0]], of[ends[1]])
    now = volts[of[ends[0]]]
    a, b = ready.network.ends(branch)
    across = volts[a] - volts[b]
    if not math.isfinite(now) or not math.isfinite(across) or abs(across) < 1e-9 * abs(now):
        return math.nan
    seen = float(ready.nominal.between([(a, b)])[0])
    gap = now - reading
    bottom = across**2 - seen * gap
    siemens = 1 / max(branch.value, 1e-3) + gap / bottom if bottom else 0.0
    return 1 / siemens if siemens > 0 else math.nan
