"""Pots that set the bias of the output valves, and how they stand where nobody says.

Before power they belong at their most negative; a set in use is taken to be set so that no anode
burns more than its share of the limit at rest.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

from buzzout.bench.faults import Fault
from buzzout.catalogue import device
from buzzout.circuit import Circuit, Point, listed, metered
from buzzout.electrics.common import common
from buzzout.electrics.draft import Power
from buzzout.electrics.operating import Operating, operate
from buzzout.electrics.output import CLASS_AB

ELSEWHERE, MOVED = "control elsewhere", "control moved"
_MOVES = 1.0  # volts by which a bias pot moves a grid from end to end, at least (common practice)
_READ = 0.02  # less than this across a cathode resistor is not read [V]
_HALVINGS = 7
# Places along its travel where a bias pot is thought of, by how many there are: every place of one
# may go with any of another, so several have fewer each, and more than these both ends.
_PLACES = (11, 6, 4, 3)


@dataclass(frozen=True)
class Bias:
    """Bias pots, each with the end where the bias is most negative: those that nobody states.

    Where the chassis file says how all of them stand, they are `stated`. `ends` are rotations, 0 or
    1. [1]
    """

    circuit: Circuit
    ends: tuple[tuple[str, float], ...]
    output: tuple[tuple[str, Point], ...]
    stated: bool = False

    @property
    def names(self) -> str:
        """The pots in words."""
        return listed([name for name, _ in self.ends])

    @property
    def fully(self) -> str:
        """How they are turned to the most negative bias."""
        ways = dict[str, list[str]]()
        for name, end in self.ends:
            ways.setdefault("clockwise" if end else "anticlockwise", []).append(name)
        return " and ".join(f"{listed(names)} fully {way}" for way, names in ways.items())

    def turned(self, share: float, circuit: Circuit | None = None) -> Circuit:
        """A circuit with all of them so far from the most negative bias. [1]."""
        return self.each([share] * len(self.ends), circuit)

    def each(self, shares: Sequence[float], circuit: Circuit | None = None) -> Circuit:
        """A circuit with each of them so far from its most negative end. [1]."""
        made = self.circuit if circuit is None else circuit
        parts = dict(made.parts)
        for (name, end), share in zip(self.ends, shares, strict=True):
            rotation = abs(end - share)
            parts[name] = replace(parts[name], setting=f"{100 * rotation:.4g}%")
        return made.but(parts)

    @cached_property
    def aimed(self) -> Circuit:
        """A set in use: no anode burns more than the share of its limit that is common practice."""
        low, high = 0.0, 1.0
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            burns = _burns(operate(self.turned(middle), Power()), self.output)
            low, high = (middle, high) if burns < CLASS_AB else (low, middle)
        return self.turned(round(low, 2))

    def at(self, circuit: Circuit) -> str:
        """How they stand in a circuit, in words."""
        return listed([f"{name} at {circuit.parts[name].setting}" for name, _ in self.ends])

    def assumed(self, circuit: Circuit) -> str:
        """What is to be said of readings that were computed with them as a circuit has them."""
        return f"{self.names}: rotation not stated, {self.at(circuit)} assumed"

    def raised(self, used: Circuit) -> str:
        """How far to turn them once all is as expected; `used` is a set in use."""
        state = operate(used, Power())
        cathodes = [point for role, point in self.output if role == "cathode"]
        volts = max((state.volts(p, common(used)) for p in cathodes), default=0.0)
        read = f": {listed([str(p) for p in cathodes])} then read {metered(volts, 'V')}"
        how = read if volts > _READ else ""
        return (
            f"then, with all in its range, turn {self.names} slowly, no further than where an anode"
            f" burns {CLASS_AB:.0%} of its limit (common practice){how}. Write down how it stands."
        )


def bias(circuit: Circuit, output: Sequence[tuple[str, Point]]) -> Bias | None:
    """The bias pots of these output valves, see `Bias`; None without any.

    `output` are electrodes with their roles, see `settings.Setting`.
    """
    grids = [point for role, point in output if role == "grid"]
    every = tuple(_ends(circuit, grids))
    left = tuple(end for end in every if not circuit.parts[end[0]].setting)
    return Bias(circuit, left or every, tuple(output), not left) if every else None


def _ends(circuit: Circuit, grids: Sequence[Point]) -> Iterator[tuple[str, float]]:
    state = operate(circuit, Power())
    if not state.settled:
        return
    for name, part in circuit.parts.items():
        ends = [part.point(t) for t in ("ccw", "cw")] if part.kind == "pot" else []
        if len(ends) < 2 or abs(state.volts(*ends)) < _MOVES:
            continue
        moved = [_grid_volts(circuit, name, turned, grids) for turned in ("0%", "100%")]
        by = [after - before for before, after in zip(*moved, strict=True)]
        if any(abs(volts) > _MOVES for volts in by):
            yield name, 0.0 if sum(by) > 0 else 1.0


def _grid_volts(circuit: Circuit, name: str, turned: str, grids: Sequence[Point]) -> list[float]:
    parts = {**circuit.parts, name: replace(circuit.parts[name], setting=turned)}
    state = operate(circuit.but(parts), Power())
    return [state.volts(grid) for grid in grids]


def _burns(state: Operating, output: Sequence[tuple[str, Point]]) -> float:
    """What the hottest anode of the output valves burns, as a share of its limit. [1]."""
    anodes = {point for role, point in output if role == "anode"}
    shares = [0.0]
    for valve in state.net.valves:
        at, flow = valve.electrodes, state.flow(valve.name)
        kind = device(state.net.circuit.parts[valve.part].type)
        watts = kind.limit("anode_w") if kind is not None else None
        if at.get("anode") in anodes and flow is not None and watts:
            shares.append(flow.anode * state.volts(at["anode"], at["cathode"]) / watts)
    return max(shares)


def elsewhere(circuit: Circuit, own: Bias) -> Iterator[tuple[Fault, Circuit]]:
    """The set with its bias pots anywhere else: no fault, and likely where nobody states them."""
    named, kind = own.names, MOVED if own.stated else ELSEWHERE
    stand = "stands" if len(own.ends) == 1 else "stand"
    says = "says otherwise" if own.stated else f"does not say how {named} {stand}"
    look = (
        f"look at {named}: the chassis file {says} (pot {own.ends[0][0]} … set 25%, or"
        f" set {own.ends[0][0]} 25% above the readings)"
    )
    words = f"{named} {stand} elsewhere, and nothing is wrong"
    count = _PLACES[len(own.ends) - 1] if len(own.ends) <= len(_PLACES) else 2
    travel = [number / (count - 1) for number in range(count)]
    for shares in product(travel, repeat=len(own.ends)):
        other = own.each(shares, circuit)
        yield Fault(kind, named, words, size=own.at(other), look=look), other
