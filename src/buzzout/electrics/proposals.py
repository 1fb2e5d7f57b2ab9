"""What another cathode resistor, or another bias, would do to an output stage that was read."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from buzzout.catalogue import device
from buzzout.catalogue.preferred import preferred
from buzzout.electrics.output import (
    ABSURD,
    CLASS_AB,
    Readings,
    each_amps,
    emission,
    limit_of,
    output_model,
    screen_volts,
    unfit,
)
from buzzout.electrics.stages import Stage, settle
from buzzout.electrics.stress import POWER_SHARE, WATTS

_HALVINGS = 16


@dataclass(frozen=True, slots=True)
class Proposal:
    """What another cathode resistor would do. [ohm], [V], [A], [W]; one valve's, watts for all.

    `watts` is what the resistor burns, `order` the size to order with half the rating as margin.
    """

    ohms: float
    drop: float
    cathode: float
    anode: float
    anode_volts: float
    screen: float
    screen_volts: float
    watts: float
    order: float
    settled: bool
    grid: float = 0.0


def predict(
    readings: Readings, ohms: float, supply_ohms: float = 0.0, grid: float | None = None
) -> Proposal | None:
    """The stage with another cathode resistor or bias, by the model set to this very valve.

    The model's current is scaled so that it gives the measured one at the measured voltages; then
    the stage is solved anew. `supply_ohms` is how much the supply rises for each ampere less
    (zero keeps anode and screen where they were read), `grid` another voltage of the bias supply
    [V]. None where the type has no model, or the
    readings are none that such a valve could give.
    """
    known, factor = output_model(readings.type), emission(readings)
    if known is None or not 1 / ABSURD < factor < ABSURD:
        return None
    now, each = readings, each_amps(readings)
    point = None
    for _ in range(30):
        stage = Stage(
            supply=now.anode, load=0.0, cathode=ohms, screen_volts=screen_volts(now),
            valves=readings.valves, grid_volts=readings.grid if grid is None else grid,
        )  # fmt: skip
        last, point = point, settle(known, stage, factor)
        rise = supply_ohms * (each - point.flow.cathode) * readings.valves
        now = replace(readings, anode=readings.anode + rise, screen=screen_volts(readings) + rise)
        if last is not None and abs(last.cathode - point.cathode) < 1e-6:
            break
    if point is None:
        return None
    total = point.cathode / ohms
    watts = point.cathode * total
    order = next((w for w in WATTS if w >= watts / POWER_SHARE), WATTS[-1])
    dissipation = (point.anode - point.cathode) * point.flow.anode
    screen = screen_volts(now)
    return Proposal(
        ohms, point.cathode, point.flow.cathode, dissipation, point.anode,
        (screen - point.cathode) * point.flow.screen, screen, watts, order, point.settled,
    )  # fmt: skip


def propose(
    readings: Readings, share: float = CLASS_AB, series: str = "E24", supply_ohms: float = 0.0
) -> Proposal | None:
    """The smallest preferred resistor that keeps the anode at or below a share of its limit.

    None where there is none, for a valve that is `unfit`, and where a bias supply sets the current.
    """
    limit = limit_of(device(readings.type), "anode_w")
    if math.isnan(limit) or readings.held or unfit(readings):
        return None
    sizes = list(_sizes(series))
    low, high, best = 0, len(sizes), None
    while low < high:  # the dissipation falls as the resistor rises
        middle = (low + high) // 2
        got = predict(readings, sizes[middle], supply_ohms)
        if got is None:
            return None
        if got.settled and got.anode <= share * limit:
            high, best = middle, got
        else:
            low = middle + 1
    return best


def bias_for(readings: Readings, share: float, supply_ohms: float = 0.0) -> Proposal | None:
    """The stage at the grid voltage that brings the anode to a share of its limit.

    Its `grid` is what the bias supply has to hold. None where no such supply is, the type has no
    model or limit, or the readings are none that such a valve could give.
    """
    limit = limit_of(device(readings.type), "anode_w")
    if not readings.held or math.isnan(limit):
        return None
    low, high, best = 3 * readings.grid, 0.0, None
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        got = predict(readings, readings.ohms, supply_ohms, middle)
        if got is None:
            return None
        if got.settled and got.anode <= share * limit:
            low, best = middle, replace(got, grid=middle)
        else:
            high = middle
    return best


def _sizes(series: str) -> Iterator[float]:
    """Preferred values from 22 ohm to 10 kohm."""
    figures = preferred(series)
    least = min(figures)
    for decade in (10, 100, 1000):
        for figure in figures:
            ohms = decade * figure / least
            if 22 <= ohms <= 10_000:
                yield ohms


def step_up(ohms: float, series: str = "E12") -> float:
    """The next preferred value above a resistance. [ohm]."""
    return next((r for r in _sizes(series) if r > ohms * 1.001), ohms)
