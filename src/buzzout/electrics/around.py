"""What a loop leads through: coils that go by their inductances, and what the file leaves out.

From the lead where a loop is opened ways lead through parts, through coils and transformers, and
from the grid of every valve with a model to its other electrodes. The chassis, what an electrolytic
holds and the supplies end them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from buzzout.circuit import Element, Part, Point, listed
from buzzout.electrics.alternating import coupled, inductive
from buzzout.electrics.common import feeding
from buzzout.electrics.inputs import Ways
from buzzout.electrics.network import Network
from buzzout.electrics.operating import Operating
from buzzout.electrics.sockets import Valve

_VARIABLE = {"variable", "trimmer"}
_OTHERS = ("anode", "oscillator-anode", "screen", "cathode")


@dataclass(frozen=True)
class Around:
    """The ways from the two sides of an opened lead. `net` has the lead lifted."""

    state: Operating
    net: Network
    starts: tuple[Point, ...]

    @cached_property
    def coils(self) -> tuple[str, ...]:
        """Coils in it whose windings go by their inductances."""
        return tuple(part.name for part, wound in self._coils if all(inductive(e) for e in wound))

    @cached_property
    def tuned(self) -> bool:
        """Whether an inductance is in it: such a loop may swing far above the audio range."""
        ends = (self.net.ends(b) for b in self.net.branches if b.henries)
        return bool(self.coils) or any(set(pair) & self._nodes for pair in ends)

    @cached_property
    def variable(self) -> tuple[str, ...]:
        """Variable capacitors and trimmers in it."""
        parts = (p for p in self.net.circuit.parts.values() if _VARIABLE & set(p.style))
        within = (p for p in parts if any(map(self._has, p.points)))
        return tuple(part.name for part in within)

    @cached_property
    def untold(self) -> tuple[str, ...]:
        """What the file does not tell of its coils and valves, so that nothing can be computed."""
        return (*self._coils_untold(), *self._unknown())

    @cached_property
    def blind(self) -> tuple[str, ...]:
        """Sections in it that have no model: what they amplify is missing from the loop."""
        known = {v.electrodes["cathode"] for v in self.net.valves if self._amplifies(v)}
        return tuple(
            f"no model of the {valve.kind} of {valve.type} ({valve.name})"
            for valve in self.net.valves
            if valve.kind != "diode" and not self._amplifies(valve) and self._in(valve, known)
        )

    def _amplifies(self, valve: Valve) -> bool:
        return "grid" in valve.electrodes and self.state.flow(valve.name) is not None

    def _in(self, valve: Valve, known: set[Point]) -> bool:
        """Whether a grid of it and an electrode that it drives are both in the loop.

        A cathode that it shares with a section that amplifies tells nothing.
        """
        at = valve.electrodes
        grids = (p for role, p in at.items() if role.endswith("grid"))
        driven = (at[r] for r in _OTHERS if r in at and not (r == "cathode" and at[r] in known))
        return any(map(self._has, grids)) and any(map(self._has, driven))

    def _has(self, point: Point) -> bool:
        return self.net.of.get(point) in self._nodes

    @cached_property
    def _walls(self) -> frozenset[int]:
        fed = (p for s in self.state.power.supplies for p in (s.a, s.b) if p in self.net.of)
        return self._ways.still | {self.net.of[p] for p in fed}

    @cached_property
    def _ways(self) -> Ways:
        return Ways(self.net)

    @cached_property
    def _nodes(self) -> frozenset[int]:
        """All nodes of it."""
        found: frozenset[int] = frozenset()
        starts = {self.net.of[p] for p in self.starts}
        while starts:
            found |= self._ways.reached(starts | found, self._walls)
            starts = set(self._onward(found)) - found - self._walls
        return found

    def _onward(self, found: frozenset[int]) -> Iterator[int]:
        for valve in filter(self._amplifies, self.net.valves):
            if self.net.of[valve.electrodes["grid"]] in found:
                yield from (self.net.of[valve.electrodes[r]] for r in _OTHERS
                            if r in valve.electrodes)  # fmt: skip

    @cached_property
    def _coils(self) -> tuple[tuple[Part, tuple[Element, ...]], ...]:
        """Coils in it with the windings that are: no transformers, which have volts or a load."""
        found, fed = [], feeding(self.net.circuit)
        for part in self.net.circuit.parts.values():
            if part.kind != "transformer":
                continue
            wound = (e for e in part.elements if e.kind == "winding")
            within = tuple(e for e in wound if any(self._has(part.point(t)) for t in e.terminals))
            iron = coupled(part) or part.name in fed
            if within and not (iron and not all(map(inductive, within))):
                found.append((part, within))
        return tuple(found)

    def _coils_untold(self) -> Iterator[str]:
        bare = [
            f"{part.name} {listed([e.label for e in wound if not inductive(e)])}"
            for part, wound in self._coils
            if not all(map(inductive, wound))
        ]
        if bare:
            yield f"the inductance of {listed(bare)} is not in the file (as in: 120uH)"
        unmarked = [
            part.name
            for part, wound in self._coils
            if len(wound) > 1 and not all(e.dot for e in wound)
        ]
        if unmarked:
            pin = self._coils[0][1][0].terminals[0]
            yield (
                f"{listed(unmarked)}: no dot in the file on each winding (as in: dot {pin}), and on"
                " the dots hangs whether the loop feeds back"
            )

    def _unknown(self) -> Iterator[str]:
        """Sockets in it with a valve that is not in the catalogue."""
        for part in self.net.circuit.parts.values():
            if part.kind != "socket" or part.type in ("", "none"):
                continue
            wired = sum(map(self._has, part.points))
            if self.net.conditions.device(part.type) is None and wired > 1:
                yield f"no valve {part.type} in the catalogue ({part.name})"
