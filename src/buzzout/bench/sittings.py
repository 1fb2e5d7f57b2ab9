"""Readings as they were taken: by step, with what was read again, and with pots as they stood."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from buzzout.bench.probe import ALTERNATING, DIRECT, OHMS, TONE
from buzzout.circuit import Circuit, Reading, listed

_NOW = -1  # the sitting that holds now, of every step


@dataclass(frozen=True)
class Sitting:
    """The readings of one step. `step` is 0 where none was named: the whole set at full mains.

    `again` says that the same step was read again later, or with a pot turned since: then this one
    tells of an earlier state.
    """

    step: int
    readings: tuple[Reading, ...]
    again: bool = False

    def stood(self, circuit: Circuit, way: int = DIRECT) -> Circuit:
        """A circuit with its pots as the readings of one way say; under power all ways are one."""
        own = [r for r in self.readings if (way_of(r) == OHMS) == (way == OHMS)]
        told = (own or self.readings)[-1].turned if self.readings else ()
        return _turned(circuit, dict(told))

    def cold(self, circuit: Circuit, found: Circuit) -> Circuit:
        """The set of the readings under power as an ohmmeter meets it; `found` is the chassis."""
        turned = {name for r in self.readings for name, _ in r.turned} & found.parts.keys()
        there = self.stood(found, OHMS).parts
        return _turned(circuit, {name: there[name].setting for name in sorted(turned)})

    @property
    def name(self) -> str:
        """The step, with the pots that were set for it."""
        turned = dict(pot for r in self.readings for pot in r.turned)
        pots = listed([f"{name} at {how}" for name, how in turned.items()])
        step = f"step {self.step}" if self.step else "running"
        return f"{step} with {pots}" if pots else step

    def __str__(self) -> str:
        return f"{self.name}, before it was read again" if self.again else self.name


def _turned(circuit: Circuit, pots: Mapping[str, str]) -> Circuit:
    parts = {
        name: replace(circuit.parts[name], setting=how)
        for name, how in pots.items()
        if name in circuit.parts and circuit.parts[name].kind == "pot"
    }
    return circuit.but({**circuit.parts, **parts}) if parts else circuit


def sittings(circuit: Circuit) -> tuple[Sitting, ...]:
    """The readings of a file by their step, in order of the file.

    Where a step was read again, in the same way of measuring, the earlier readings are a sitting of
    their own before it. So are those under power from before a pot was turned.
    """
    last = {(r.step, way_of(r)): r.sitting for r in circuit.readings}
    stood = {(r.step, way_of(r) == OHMS): r.turned for r in circuit.readings}
    found: dict[tuple[int, int], list[Reading]] = {}
    for reading in circuit.readings:
        step, way = reading.step, way_of(reading)
        again = reading.sitting != last[step, way] or reading.turned != stood[step, way == OHMS]
        found.setdefault((step, reading.sitting if again else _NOW), []).append(reading)
    made = [Sitting(step, tuple(own), at != _NOW) for (step, at), own in found.items()]
    return tuple(sorted(made, key=lambda s: s.readings[-1].sitting))


def way_of(reading: Reading) -> int | None:
    """How a reading was taken (see `probe`); None for what takes no part."""
    if reading.value.unit == "ohm":
        return OHMS
    if reading.value.unit != "V":
        return None
    if reading.tone is not None:
        return TONE
    return ALTERNATING if reading.alternating else DIRECT
