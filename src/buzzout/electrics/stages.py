"""One valve with its resistors, as stage tables and output stages have it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from buzzout.electrics.newton import solve
from buzzout.electrics.system import GROUND, Fitted, Source, System, valve_flow, voltage
from buzzout.electrics.valves import Flow, Model

_ROUNDS = 40
_TINY = 1.0  # a load of no ohms is taken as one ohm


@dataclass(frozen=True, slots=True)
class Stage:
    """What surrounds the valve. Voltages against chassis. [V], [ohm].

    `screen_volts` holds the screen, or `screen_ohms` feeds it from the supply; neither in a triode.
    `grid_volts` is the bias supply, `leak` what feeds it. `valves` share the cathode resistor.
    `triode` joins screen and anode. `to_cathode`: supplies are counted from the cathode.
    """

    supply: float
    load: float
    cathode: float
    following: float = math.inf
    screen_volts: float = 0.0
    screen_ohms: float = 0.0
    grid_volts: float = 0.0
    leak: float = 1e5
    valves: int = 1
    triode: bool = False
    to_cathode: bool = False


@dataclass(frozen=True, slots=True)
class Settled:
    """Operating point of a stage, one valve's share. [V], [A]; `gain` with the cathode bypassed."""

    anode: float
    screen: float
    grid: float
    cathode: float
    flow: Flow
    gain: float
    settled: bool


def settle(model: Model, stage: Stage, emission: float = 1.0) -> Settled:
    """Solve a stage. `gain` is gm times load, following leak and anode resistance in parallel."""
    got = _settle(model, stage, emission)
    if not stage.to_cathode:
        return got
    for _ in range(_ROUNDS):  # supplies counted from the cathode: raise them by its voltage
        raised = replace(stage, supply=stage.supply + got.cathode)
        if stage.screen_volts:
            raised = replace(raised, screen_volts=stage.screen_volts + got.cathode)
        last, got = got.cathode, _settle(model, raised, emission)
        if abs(got.cathode - last) < 1e-7:
            break
    return got


def _settle(model: Model, stage: Stage, emission: float) -> Settled:
    anode, grid, screen, cathode, supply = range(5)
    share = stage.valves  # one valve on `share` times the cathode resistor is the same
    ohms = [
        (anode, supply, max(stage.load, _TINY)),
        (grid, GROUND, 0.0),
        (cathode, GROUND, max(stage.cathode * share, 1e-3)),
    ]
    conductance = np.zeros((5, 5))
    for a, b, r in ohms:
        _resistor(conductance, a, b, r)
    sources = [Source(supply, GROUND, stage.supply)]
    sources.append(Source(grid, GROUND, stage.grid_volts, stage.leak))
    if stage.triode or not model.screen:
        _resistor(conductance, screen, anode, _TINY)
    elif stage.screen_ohms > 0:
        _resistor(conductance, screen, supply, stage.screen_ohms)
    else:
        sources.append(Source(screen, GROUND, stage.screen_volts or stage.supply))
    fitted = Fitted("", model, grid, screen, anode, cathode, emission)
    got = solve(System(conductance, tuple(sources), (fitted,)))
    at_anode, at_screen, at_grid, at_cathode = (
        voltage(got.x, n) for n in (anode, screen, grid, cathode)
    )
    flow = _scaled(valve_flow(fitted, got.x), emission)
    gain = _gain(flow, stage)
    return Settled(at_anode, at_screen, at_grid, at_cathode, flow, gain, got.settled)


def _resistor(conductance: np.ndarray, a: int, b: int, ohms: float) -> None:
    if ohms <= 0:
        return
    for row, other in ((a, b), (b, a)):
        if row != GROUND:
            conductance[row, row] += 1 / ohms
            if other != GROUND:
                conductance[row, other] -= 1 / ohms


def _scaled(flow: Flow, by: float) -> Flow:
    slopes = tuple((by * a, by * b, by * c) for a, b, c in flow.slopes)
    return Flow(by * flow.grid, by * flow.screen, by * flow.anode, slopes)


def _gain(flow: Flow, stage: Stage) -> float:
    gm, ga = flow.slopes[2][0], flow.slopes[2][2]
    if stage.triode:  # the screen's signal current runs through the load with the anode's
        gm += flow.slopes[1][0]
        ga += flow.slopes[2][1] + flow.slopes[1][1] + flow.slopes[1][2]
    load = 1 / max(stage.load, _TINY) + 1 / stage.following
    return gm / (load + ga)
