"""Ratings audit: what every part has to stand, running and before the heaters are warm."""

from __future__ import annotations

from dataclasses import replace

from buzzout.circuit import Circuit
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.draft import STARTING, WARM, Power
from buzzout.electrics.limited import within_supply
from buzzout.electrics.operating import operate
from buzzout.electrics.stress import FINE, HIGH_MAINS, NEAR, ORDER, OVER, States, Stress
from buzzout.electrics.stress_parts import capacitors, fuses, heaters, resistors, windings
from buzzout.electrics.stress_valves import blind, grids, rectifiers, stabilisers, valves


def audit(
    circuit: Circuit, power: Power | None = None, conditions: Conditions | None = None
) -> tuple[Stress, ...]:
    """All stresses of a set, worst first within each verdict."""
    base = power or Power()
    surge = replace(base, heat=STARTING, fraction=base.fraction * HIGH_MAINS)
    states = States(
        operate(circuit, replace(base, heat=WARM), conditions), operate(circuit, surge, conditions)
    )
    return audit_states(states)


def audit_states(states: States) -> tuple[Stress, ...]:
    """Stresses from operating points that are already there, no stage beyond its supply."""
    states = within_supply(states)
    found = [
        *resistors(states),
        *capacitors(states),
        *valves(states),
        *blind(states),
        *grids(states),
        *rectifiers(states),
        *stabilisers(states),
        *windings(states.warm),
        *heaters(states.warm),
        *fuses(states.warm),
    ]
    rank = {OVER: 0, NEAR: 1, ORDER: 2, FINE: 3}
    return tuple(sorted(found, key=lambda s: (rank[s.verdict], -_share(s), s.part, s.what)))


def _share(stress: Stress) -> float:
    return stress.value / stress.limit if stress.limit > 0 else 0.0
