"""What to know before the meter goes to a place: how the set must stand, what is dangerous."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from buzzout.bench.case import Case
from buzzout.bench.ohmic import Ohms
from buzzout.bench.probe import ALTERNATING, DIRECT, OHMS, RIPPLE, Probe
from buzzout.bench.swing import Swing
from buzzout.circuit import Circuit, Point, listed
from buzzout.job.rulebook import figure
from buzzout.job.supplyline import SupplyLine

_FELT = 50.0  # direct volts that a hand must be warned of where none belong (common practice)


@dataclass(frozen=True)
class Stands:
    """What an end of a reading has against the common line, as leading explanations say. [V].

    The common line itself is no end.
    """

    at: Point
    low: float
    high: float

    def __str__(self) -> str:
        below = -self.low > self.high
        side = "below" if below else "above"
        return f"up to {max(-self.low, self.high):.0f} V {side} the common line at {self.at}"


def before(asked: Case, probe: Probe, stands: Sequence[Stands]) -> Iterator[str]:
    """Notes for one reading; `stands` is what may stand at its ends, see `Stands`."""
    if asked.pulled is not None and probe in asked.grids:
        yield f"{asked.pulled.words}: what stays is the capacitor's, what goes was the valve's"
    if probe.way == RIPPLE:
        yield "on top of the full HT: clip on unplugged and discharged, the meter through 100n 630V"
    view = asked.view(probe.step, probe.way)
    if isinstance(view, Ohms):
        yield cold(view.net.circuit)
    if probe.way != DIRECT:
        return
    felt = [end for end in stands if end.low < -_FELT or (len(stands) > 1 and end.high > _FELT)]
    if felt:
        yield f"CAUTION: {listed(felt)} may stand there"
    swinging = asked.view(probe.step, ALTERNATING)
    if isinstance(swinging, Swing) and swinging.feeds(probe.at):
        yield (
            "CAUTION: mains or a winding feeds this point: where a wire is open, its alternating"
            " volts stand there too, whatever a direct range shows"
        )


def cold(circuit: Circuit) -> str:
    """How a set must stand for the ohmmeter, with its mains switch by name."""
    switches = [part.name for part in SupplyLine(circuit).switches]
    on = f", mains switch {listed(switches)} ON" if switches else ""
    return unplugged(on, "valves left as they are now, cold")


def unplugged(switch: str, valves: str) -> str:
    """That the plug is out, then how a switch stands; reservoirs; then how the valves are."""
    return (
        f"UNPLUGGED{switch}; each reservoir discharged through a resistor and measured: below"
        f" {figure('work-volts'):g} V; {valves}"
    )


def where(probe: Probe) -> str:
    """A place in words; how a set must stand for an ohmmeter is said by `before`."""
    return f"{probe.at} to {probe.to}, ohmmeter" if probe.way == OHMS else str(probe)
