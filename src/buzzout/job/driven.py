"""Stages that hum drives to their limit: no anode swings further than its direct voltage.

The alternating network is linear, and a valve in it amplifies without end. Where an anode would
swing beyond the voltage that it stands at, the valve's slopes are lowered until it does not: what
follows it then gets no more than the stage can give, as with the describing function of a limiter.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from buzzout.electrics.mains import Unfed, solve_fed, unfed
from buzzout.electrics.operating import Operating
from buzzout.electrics.sockets import Valve

_ROLES = ("grid", "screen", "anode")  # the order of the slopes of a valve
_ROUNDS = 30
_OVER = 1.02  # a swing above this share of the direct voltage is taken down
_LEAST = 1.0  # an anode with less direct voltage gives no swing [V]


def limited(state: Operating) -> tuple[Operating, tuple[str, ...]]:
    """The state with no stage driven beyond its supply, and the stages that are at their limit."""
    side = state.side
    linear = unfed(state.net, side.plan) if side is not None and any(_beyond(state)) else None
    if linear is None:
        return state, ()
    left: dict[str, float] = {}
    now = state
    for _ in range(_ROUNDS):
        beyond = dict(_beyond(now))
        if not beyond:
            break
        for name, share in beyond.items():
            left[name] = left.get(name, 1.0) * share
        now = _with(state, linear, left)
    if any(_beyond(now)):  # what swings there is no valve's doing
        return state, ()
    return now, tuple(left)


def _beyond(state: Operating) -> Iterator[tuple[str, float]]:
    """Each valve whose anode swings too far, with the share of it that its voltage allows."""
    swings, of = state.swings, state.net.of
    for valve in state.net.valves if swings else ():
        at = valve.electrodes
        if not {"grid", "anode", "cathode"} <= at.keys():
            continue
        swing = abs(swings[of[at["anode"]]] - swings[of[at["cathode"]]])
        most = abs(state.volts(at["anode"], at["cathode"]))
        if most > _LEAST and swing > _OVER * most:
            yield valve.name, most / swing


def _with(state: Operating, linear: Unfed, left: Mapping[str, float]) -> Operating:
    """The state with only some of the slopes of some valves."""
    assert state.side is not None
    extra, plan = dict(state.side.fed.extra), state.side.plan
    for valve in state.net.valves:
        if valve.name in left:
            for place, slope in _slopes(state, valve):
                rows = (plan.node[place[0]], plan.node[place[1]])
                extra[rows] = extra.get(rows, 0.0) - (1 - left[valve.name]) * slope
    return replace(state, side=solve_fed(linear, replace(state.side.fed, extra=extra)))


def _slopes(state: Operating, valve: Valve) -> Iterator[tuple[tuple[int, int], float]]:
    """Where a valve's slopes stand in the network, by nodes. [S]."""
    flow = state.flow(valve.name)
    at = {role: state.net.of[p] for role, p in valve.electrodes.items()}
    for role, slopes in zip(_ROLES, flow.slopes if flow is not None else (), strict=False):
        if role not in at:
            continue
        known = [(at[r], s) for r, s in zip(_ROLES, slopes, strict=True) if r in at]
        for column, slope in (*known, (at["cathode"], -sum(s for _, s in known))):
            yield (at[role], column), slope
            yield (at["cathode"], column), -slope
