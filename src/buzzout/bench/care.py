"""What to know before the meter goes to a place: how the set must stand, what is dangerous."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from buzzout.bench.case import Case
from buzzout.bench.ohmic import Ohms
from buzzout.bench.probe import ALTERNATING, DIRECT, OHMS, RIPPLE, Probe
from buzzout.bench.swing import Swing
from buzzout.circuit import Circuit, listed
from buzzout.job.rulebook import figure
from buzzout.job.supplyline import SupplyLine

_FELT = 50.0  # direct volts that a hand must be warned of where none belong (common practice)


def before(asked: Case, probe: Probe, shows: Sequence[tuple[str, float]]) -> Iterator[str]:
    """Notes for one reading; `shows` is what leading explanations would show there. [V]."""
    if asked.pulled is not None and probe in asked.grids:
        yield f"{asked.pulled.words}: what stays is the capacitor's, what goes was the valve's"
    if probe.way == RIPPLE:
        yield "on top of the full HT: clip on unplugged and discharged, the meter through 100n 630V"
    view = asked.view(probe.step, probe.way)
    if isinstance(view, Ohms):
        yield cold(view.net.circuit)
    if probe.way != DIRECT:
        return
    lowest = min((volts for _, volts in shows), default=0.0)
    if lowest < -_FELT:
        yield f"CAUTION: up to {-lowest:.0f} V below the common line may stand there"
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
