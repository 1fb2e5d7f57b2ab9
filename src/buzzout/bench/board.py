"""One running set, ready for many small changes: where everything is in its equations.

The operating point of the set as it should be comes from `electrics`. A change (a part open, a
capacitor leaky, a valve weak) disturbs the same equations a little; `solve` solves many of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from buzzout.circuit import Point
from buzzout.electrics.laws import Floats, Table, table
from buzzout.electrics.mains import Unfed, unfed
from buzzout.electrics.operating import Operating
from buzzout.electrics.system import GROUND


@dataclass(frozen=True)
class Change:
    """One way in which the equations differ from those of the undisturbed set.

    `siemens` are conductances added between two points; `emission` factors on valve sections;
    `apart` points that lost their joint with the rest of their node, `lifted` electrodes (section;
    0 grid, 1 screen) without contact; `paths` factors on rectifier paths, `series` ohms in each.

    What does not act on direct current under power: `gas` are conductances that are there only
    while a valve works (its name, two points, siemens); `breaks` names of breaks on the mains
    side, `gap` the points that such a break parts, for an ohmmeter; `inside` the valve that the
    change lies in: without it there is none; `farads` factors on capacitors, for a signal; `draws`
    what the set takes from the mains more than before, no rectifier conducting. [S]
    """

    siemens: tuple[tuple[Point, Point, float], ...] = ()
    emission: Mapping[str, float] = field(default_factory=dict)
    apart: frozenset[Point] = frozenset()
    lifted: tuple[tuple[str, int], ...] = ()
    paths: Mapping[str, float] = field(default_factory=dict)
    series: Mapping[str, float] = field(default_factory=dict)
    gas: tuple[tuple[str, Point, Point, float], ...] = ()
    breaks: tuple[str, ...] = ()
    gap: frozenset[Point] = frozenset()
    inside: str = ""
    farads: Mapping[str, float] = field(default_factory=dict)
    draws: complex = 0.0

    @property
    def conducts(self) -> tuple[tuple[Point, Point, float], ...]:
        """Conductances that are added under power, those of gas among them. [S]."""
        return (*self.siemens, *((a, b, siemens) for _, a, b, siemens in self.gas))

    def and_(self, other: Change) -> Change:
        """Both at once."""
        emission = dict(self.emission)
        for name, share in other.emission.items():
            emission[name] = emission.get(name, 1.0) * share
        return Change(
            (*self.siemens, *other.siemens), emission, self.apart | other.apart,
            (*self.lifted, *other.lifted), {**self.paths, **other.paths},
            {**self.series, **other.series}, (*self.gas, *other.gas),
            (*self.breaks, *other.breaks), self.gap | other.gap, self.inside or other.inside,
            {**self.farads, **other.farads}, self.draws + other.draws,
        )  # fmt: skip


class Board:
    """Rows of points, branches, electrodes and rectifier paths of one running set."""

    def __init__(self, state: Operating) -> None:
        """Take the undisturbed set; it must have settled."""
        self.state = state
        system = state.system
        self.nodes = system.nodes
        self.spare = system.nodes  # row of what an open joint leaves in the air
        self.first = system.nodes + 1  # rows of sources and paths
        self.size = self.first + len(system.sources) + len(system.paths)
        self.ground = self.size
        self.sections = [v.name for v in system.valves]
        self.branches = [b for b in state.net.resistive if np.isfinite(b.value)]

    # -- where things are ------------------------------------------------------------------------

    def row(self, point: Point, apart: frozenset[Point] = frozenset()) -> int:
        """Row of a point; the ground's own row for chassis and for what floats by itself."""
        if point in apart:
            return self.spare
        node = self.state.net.of.get(point)
        row = GROUND if node is None else self.state.rows[node]
        return self.ground if row == GROUND else row

    def row_of(self, row: int) -> int:
        """A row of the system as it is numbered here: the ground has a row of its own."""
        return self.ground if row == GROUND else row

    @cached_property
    def branch_at(self) -> dict[tuple[Point, Point], int]:
        """Number of the branch between two terminals of one part."""
        return {(b.a, b.b): i for i, b in enumerate(self.branches)}

    @cached_property
    def electrodes(self) -> list[tuple[Point, Point, Point, Point]]:
        """Grid, screen, anode and cathode point of each section, in the order of the system."""
        by_name = {v.name: v.electrodes for v in self.state.net.valves}
        found = []
        for name in self.sections:
            at = by_name[name]
            screen = at.get("screen", at["cathode"])
            found.append((at["grid"], screen, at["anode"], at["cathode"]))
        return found

    @cached_property
    def tables(self) -> list[Table]:
        """Current of each rectifier path with the voltage that drives it."""
        return [table(path) for path in self.state.system.paths]

    @cached_property
    def mains(self) -> Unfed | None:
        """The network at mains frequency, nothing fed yet; None without a mains side."""
        side = self.state.side
        return None if side is None else unfed(self.state.net, side.plan)

    @cached_property
    def start(self) -> Floats:
        """The undisturbed unknowns, with the spare row among them."""
        x, n = self.state.solution.x, self.nodes
        return np.concatenate([x[:n], [0.0], x[n:]])

    @cached_property
    def coupled(self) -> Floats:
        """Resistances between the paths, with the ripple of the reservoir as one of them."""
        paths, held = self.state.system.paths, self.state.reservoirs
        means = [p.mean for p in self.state.pulses]
        z = np.zeros((len(paths), len(paths)))
        for i, path in enumerate(paths):
            z[i, : len(path.coupled)] = path.coupled
            own = [j for j in range(len(paths)) if held and held[j].group == held[i].group]
            total = sum(means[j] for j in own)
            if path.lift and total > 1e-9:
                z[i, own] += path.lift / total
        return z
