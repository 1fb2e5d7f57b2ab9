"""Gas stabilisers and neon lamps: which of them strike.

A discharge starts when the voltage that it sees while dark reaches its striking voltage, and then
holds the lower burning voltage. So the set is computed with all of them dark, the one that is
furthest over its striking voltage is lit, and so on. In a warm set a tube may also have struck
while no valve drew current yet and the HT was higher; it stays lit if it still carries current.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from buzzout.electrics.draft import STARTING, WARM, Draft, Power, draft
from buzzout.electrics.network import Floats
from buzzout.electrics.rectifier import Law, driven
from buzzout.electrics.system import Stabiliser, System, voltage

Solve = Callable[[Draft], "tuple[System, Floats]"]
_LEAST = 1e-5  # a tube that carries less goes out [A]


@dataclass(frozen=True, slots=True)
class Dark:
    """A discharge that does not burn: the voltage across it, and what it needs to strike. [V]."""

    name: str
    volts: float
    strike: float


@dataclass(frozen=True)
class Struck:
    """A draft with the tubes that burn, what the others lack, and remarks."""

    made: Draft
    dark: tuple[Dark, ...]
    remarks: tuple[str, ...]


def struck(made: Draft, solve: Solve) -> Struck:
    """Light what strikes. `solve` gives the system that was solved and its unknowns."""
    tubes = made.system.gas
    lit = {t.name for t in tubes if math.isnan(t.strike)}
    remarks = [
        f"{t.name}: its striking voltage is not known, taken as burning"
        for t in tubes
        if t.name in lit
    ]
    lit, across = _light(made, lit, solve)
    wanting = [t for t in tubes if t.name not in lit]
    if wanting and made.power.heat == WARM:
        early, _ = _light(_starting(made), lit, solve)
        kept = early & _carrying(_with(made, early), solve)
        remarks += [
            f"{t.name}: strikes only before the valves are warm; warm it sees"
            f" {across[t.name]:.0f} V while dark and needs {t.strike:.0f} V"
            for t in wanting
            if t.name in kept
        ]
        lit = lit | kept
    dark = tuple(Dark(t.name, across[t.name], t.strike) for t in tubes if t.name not in lit)
    remarks += [
        f"{d.name}: does not strike: {d.volts:.0f} V across it, it needs {d.strike:.0f} V;"
        " taken as dark"
        for d in dark
    ]
    return Struck(_with(made, lit), dark, tuple(remarks))


def _starting(made: Draft) -> Draft:
    """The same set before its valves are warm."""
    power: Power = replace(made.power, heat=STARTING)
    return draft(made.net, power)


def _with(made: Draft, lit: set[str]) -> Draft:
    """The draft with these tubes burning and the others dark."""
    gas = tuple(t if t.name in lit else replace(t, volts=math.inf) for t in made.system.gas)
    return replace(made, system=replace(made.system, gas=gas))


def _light(made: Draft, lit: set[str], solve: Solve) -> tuple[set[str], dict[str, float]]:
    """Tubes that burn in the end, and the voltage across the others."""
    while True:
        system, x = solve(_with(made, lit))
        across = {t.name: _across(t, x) for t in system.gas if t.dark}
        over = {t.name: across[t.name] / t.strike for t in system.gas if t.dark}
        most = max(over, key=lambda name: over[name], default="")
        if not most or over[most] < 1.0:
            return lit, across
        lit = lit | {most}


def _across(tube: Stabiliser, x: Floats) -> float:
    return abs(voltage(x, tube.a) - voltage(x, tube.b))


def _carrying(made: Draft, solve: Solve) -> set[str]:
    system, x = solve(made)
    return {t.name for t in system.gas if gas_amps(t, x) > _LEAST}


def gas_amps(tube: Stabiliser, x: Floats) -> float:
    """Size of the current through a discharge. [A]."""
    if tube.dark:
        return 0.0
    law = Law(knee=tube.volts, ohms=tube.ohms)
    amps, _ = driven(law, x[:1] * 0.0 + _across(tube, x), 0.0)
    return float(amps[0])
