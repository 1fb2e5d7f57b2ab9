"""Stages that are driven to their limit: no anode swings further than its direct voltage.

The alternating network is linear, and a valve in it amplifies without end. Where an anode would
swing beyond the voltage that it stands at, the valve's slopes are lowered until it does not: what
follows it then gets no more than the stage can give, as with the describing function of a limiter.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from buzzout.electrics.mains import Unfed, solve_fed, unfed
from buzzout.electrics.operating import Operating
from buzzout.electrics.signal import Drive, Linear, Signals, answer
from buzzout.electrics.sockets import Valve
from buzzout.electrics.stress import States
from buzzout.electrics.system import GROUND

_ROLES = ("grid", "screen", "anode")  # the order of the slopes of a valve
_ROUNDS = 30
_OVER = 1.02  # a swing above this share of the direct voltage is taken down
_UNDER = 0.9  # one that was taken down gives this share of it again
_LEAST = 1.0  # an anode with less direct voltage gives no swing [V]


def limited(state: Operating) -> tuple[Operating, tuple[str, ...]]:
    """The state with no stage driven beyond its supply by hum, and the stages at their limit."""
    side = state.side
    linear = unfed(state.net, side.plan) if side is not None and any(_beyond(state)) else None
    if linear is None:
        return state, ()
    left = _left(state, lambda left: _with(state, linear, left).swings)
    return (_with(state, linear, left), tuple(left)) if left else (state, ())


def within_supply(states: States) -> States:
    """Both states that ratings are judged in, no stage driven beyond its supply."""
    return States(limited(states.warm)[0], limited(states.surge)[0])


def driven(view: Linear, drive: Drive, hertz: float, volts: float) -> Signals:
    """The answer to a source of so many volts, peak, for one volt of it; see `signal.answer`."""

    def limited_to(left: Mapping[str, float]) -> Signals:
        return answer(replace(view, left=left) if left else view, drive, hertz)

    def swings(left: Mapping[str, float]) -> Sequence[complex]:
        got = limited_to(left)
        rows = (got.plan.node[node] for node in range(got.net.size))
        return [0j if row == GROUND else volts * complex(got.x[row]) for row in rows]

    return limited_to(_left(view.state, swings))


def _left(
    state: Operating, swings: Callable[[Mapping[str, float]], Sequence[complex]]
) -> Mapping[str, float]:
    """The share of its slopes that is left to each valve at its limit.

    `swings` gives the peak at every node for such shares. A stage that has come down gets its share
    back as far as the stages before it come down. None are taken where what swings is no valve's
    doing.
    """
    left: dict[str, float] = {}
    for _ in range(_ROUNDS):
        allowed = dict(_allowed(state, swings(left)))
        beyond = {name for name, share in allowed.items() if share * _OVER < 1}
        short = {name for name in left if allowed.get(name, 1.0) * _UNDER > 1}
        if not beyond | short:
            return left
        now = {name: left.get(name, 1.0) * allowed[name] for name in beyond | short}
        left = {name: share for name, share in {**left, **now}.items() if share < 1}
    return {} if any(_beyond(state, swings(left))) else left


def _beyond(
    state: Operating, swings: Sequence[complex] | None = None
) -> Iterator[tuple[str, float]]:
    """Each valve whose anode swings too far, with the share of it that its voltage allows."""
    swings = state.swings if swings is None else swings
    yield from (each for each in _allowed(state, swings) if each[1] * _OVER < 1)


def _allowed(state: Operating, swings: Sequence[complex]) -> Iterator[tuple[str, float]]:
    """Each valve with what its direct voltage allows over what its anode swings."""
    of = state.net.of
    for valve in state.net.valves if swings else ():
        at = valve.electrodes
        if not {"grid", "anode", "cathode"} <= at.keys():
            continue
        swing = abs(swings[of[at["anode"]]] - swings[of[at["cathode"]]])
        most = abs(state.volts(at["anode"], at["cathode"]))
        if most > _LEAST and swing > 0:
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
