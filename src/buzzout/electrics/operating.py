"""Operating point of a whole set: voltages and currents everywhere, cold or warm, with ranges.

The rectifier side is a steady state over one mains cycle (see `rectifier` and `mains`), the rest a
direct-current network. Both are solved in turns until the limiter lamp, the reservoirs and the
valves agree. What floats, what is not modelled and what does not settle is named.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from buzzout.circuit import Circuit, Point
from buzzout.electrics.alternating import INSULATION, Complex, layout
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.draft import COLD, WARM, Draft, Power, draft, mains_volts
from buzzout.electrics.mains import (
    STIFF,
    Feed,
    MainsSide,
    Port,
    fundamental,
    hertz_of,
    lamp_ohms,
    line_current,
    outlet_nodes,
    real_ohms,
    solve_fed,
    unfed,
)
from buzzout.electrics.network import LEAST_OHMS, Floats, Network, network
from buzzout.electrics.newton import Solution, solve
from buzzout.electrics.paths import Way
from buzzout.electrics.rectifier import Pulse
from buzzout.electrics.reservoir import Reservoir, reservoirs
from buzzout.electrics.strike import Dark, struck
from buzzout.electrics.system import (
    GROUND,
    Fitted,
    Path,
    Source,
    System,
    path_pulse,
    valve_flow,
    voltage,
)
from buzzout.electrics.unmodelled import MOST_BIAS, swung
from buzzout.electrics.valves import Flow

_FREE_TURNS = 6  # after these the conductance of the valves at mains frequency is held
_ROUNDS = 40  # turns between mains side and direct current
_DRIVEN = 1.0  # a grid that an oscillator may pull so far is its own [V]
_AGREED = 2e-4  # relative change of the lamp's resistance and of every offset that ends the turns


@dataclass(frozen=True)
class Operating:
    """A settled (or confessed unsettled) state.

    `unsettled` names what is furthest from balance; `floating` are points without any path for
    direct current; `dark` gas tubes that do not strike; `remarks` what was assumed or left out.
    """

    net: Network
    power: Power
    system: System
    solution: Solution
    rows: Mapping[int, int]
    ways: tuple[Way, ...]
    side: MainsSide | None
    pulses: tuple[Pulse, ...]
    reservoirs: tuple[Reservoir, ...]
    line_amps: float
    lamp_volts: float
    settled: bool
    unsettled: tuple[str, ...]
    floating: tuple[Point, ...]
    piece: tuple[int, ...]
    remarks: tuple[str, ...]
    dark: tuple[Dark, ...] = ()

    def volts(self, at: Point, to: Point | None = None) -> float:
        """Direct voltage at a point, against chassis or another point. [V].

        NaN for unknown points, and where no path for direct current joins the two.
        """
        if at not in self.net.of or (to is not None and to not in self.net.of):
            return math.nan
        here, there = self.net.of[at], self.net.chassis if to is None else self.net.of[to]
        if self.piece[here] != self.piece[there]:
            return math.nan
        return self._levels[here] - self._levels[there]

    @cached_property
    def _levels(self) -> tuple[float, ...]:
        """Voltage of every node, each piece against its own zero. [V]."""
        return tuple(voltage(self.solution.x, self.rows[node]) for node in range(self.net.size))

    def amps(self, name: str) -> float:
        """Direct current through a resistor, winding, fuse, … from its first end. [A].

        `name` is a branch: the part's name, or `T1.red1-ct` for a piece of winding. NaN where there
        is none or where it floats.
        """
        for branch in self.net.resistive:
            if branch.name == name and math.isfinite(branch.value):
                return self.volts(branch.a, branch.b) / max(branch.value, LEAST_OHMS)
        return math.nan

    @cached_property
    def pulls(self) -> Floats:
        """What the grid current of each oscillator that may run takes off every row. [V].

        An oscillator a row. The network is taken without its valves: they hold nothing then.
        """
        told = swung(self.net) if self.power.heat == WARM else ()
        nodes = self.system.nodes
        right = np.zeros((nodes + 1, len(told)))
        for number, (grid, cathode, amps) in enumerate(told):
            right[self.rows[self.net.of[cathode]], number] += amps
            right[self.rows[self.net.of[grid]], number] -= amps
        matrix = self.system.conductance + INSULATION * np.eye(nodes)
        moved = np.zeros((len(told), self.system.size + 1))
        if told:
            pulled = np.linalg.solve(matrix, right[:nodes]).T
            moved[:, :nodes] = np.clip(pulled, -MOST_BIAS, MOST_BIAS)
        return moved

    @cached_property
    def oscillators(self) -> tuple[bool, ...]:
        """Of each section whether an oscillator may drive its grid: it draws another current then.

        How much is not computed: anything from next to nothing to twice, see `OSCILLATES`.
        """
        rows = [(v.grid, v.cathode) for v in self.system.valves]
        pulled = [np.max(np.abs(self.pulls[:, g] - self.pulls[:, k]), initial=0.0) for g, k in rows]
        return tuple(bool(volts > _DRIVEN) for volts in pulled)

    @cached_property
    def fundamental(self) -> Complex | None:
        """All unknowns of the mains side at mains frequency, where there is one. Peak."""
        return fundamental(self.side, self.pulses) if self.side else None

    @cached_property
    def swings(self) -> tuple[complex, ...]:
        """Alternating voltage of every node at mains frequency, none without a mains. Peak. [V]."""
        if self.side is None or self.fundamental is None:
            return ()
        rows = [self.side.plan.node[node] for node in range(self.net.size)]
        volts = [*self.fundamental.tolist(), 0j]  # the last is ground
        return tuple(volts[row] for row in rows)

    def flow(self, name: str) -> Flow | None:
        """Currents of a valve section. [A]."""
        return self._flows.get(name)

    @cached_property
    def _flows(self) -> Mapping[str, Flow]:
        return {valve.name: _flow(valve, self.solution.x) for valve in self.system.valves}


def _flow(valve: Fitted, x: Floats) -> Flow:
    got, e = valve_flow(valve, x), valve.emission
    slopes = tuple((e * a, e * b, e * c) for a, b, c in got.slopes)
    return Flow(e * got.grid, e * got.screen, e * got.anode, slopes)


def operate(
    circuit: Circuit,
    power: Power | None = None,
    conditions: Conditions | None = None,
    near: Operating | None = None,
) -> Operating:
    """Compute the operating point of a circuit. Never raises on a wild one.

    `near` is the state of a set that differs little: where the computation starts, no more.
    """
    power = power or Power()
    fitted = replace(
        conditions or Conditions(),
        valves="cold" if power.heat == COLD else "warm",
        power=True,
        filament=power.fraction,
    )
    return operate_network(network(circuit, fitted, near.net if near else None), power, near)


def operate_network(net: Network, power: Power, near: Operating | None = None) -> Operating:
    """Operating point of a network that is already made."""
    made = draft(net, power)
    if not made.system.gas:
        return _turns(made, near)
    told = struck(made, _solved)
    state = _turns(told.made)
    return replace(state, dark=told.dark, remarks=(*told.remarks, *state.remarks))


def _solved(made: Draft) -> tuple[System, Floats]:
    state = _turns(made)
    return state.system, state.solution.x


def _ports(made: Draft, plan_rows: Mapping[int, int]) -> tuple[Port, ...]:
    return tuple(
        Port(w.name, tuple((plan_rows[n], sign) for n, sign in w.weights)) for w in made.ways
    )


def _turns(made: Draft, near: Operating | None = None) -> Operating:
    """Mains side and direct current in turns until they agree."""
    net, power = made.net, made.power
    plan = layout(net)
    ports = _ports(made, plan.node)
    volts = mains_volts(net, power)
    linear = unfed(net, plan) if volts else None
    series = lamp_ohms(power.limiter, 0.0) * 3 if power.limiter else 0.0
    held: tuple[Reservoir, ...] = ()
    extra: dict[tuple[int, int], float] = {}
    state = _State()
    if near is not None and near.settled:
        state = _start(made, near)
        extra = _slopes(made, plan.node, made.system, state.x)
    for turn in range(_ROUNDS):
        side = solve_fed(linear, Feed(ports, volts, series, extra)) if linear else None
        hertz = hertz_of(net.circuit)
        held = reservoirs(side, made.ways, state.pulses, hertz, state.held) if side else ()
        system = replace(
            made.system, sources=_sources(made, volts, series), paths=_paths(made, side, held)
        )
        solution = solve(system, state.warm(system))
        pulses = tuple(path_pulse(system, i, solution.x) for i in range(len(system.paths)))
        amps = line_current(side, pulses) if side else 0.0
        new = lamp_ohms(power.limiter, amps * series) if power.limiter else 0.0
        last, state = state, _State(side, held, system, solution, pulses, amps, amps * series)
        if _agree(last, state) and abs(new - series) <= _AGREED * max(series, 1e-9):
            return _result(made, state, agreed=True)
        if solution.settled and turn < _FREE_TURNS:
            extra = _slopes(made, plan.node, system, solution.x)
        series = new
    return _result(made, state, agreed=False)


def _sources(made: Draft, volts: float, series: float) -> tuple[Source, ...]:
    """Given supplies, and the mains as a short for direct current, the limiter in it."""
    outlet = outlet_nodes(made.net)
    if outlet is None or not volts:
        return made.system.sources
    a, b = (made.rows[n] for n in outlet)
    return (*made.system.sources, Source(a, b, 0.0, max(series, STIFF)))


@dataclass(frozen=True)
class _State:
    """What one turn found."""

    side: MainsSide | None = None
    held: tuple[Reservoir, ...] = ()
    system: System | None = None
    solution: Solution | None = None
    pulses: tuple[Pulse, ...] = ()
    amps: float = 0.0
    lamp: float = 0.0

    @property
    def x(self) -> Floats:
        """The unknowns, as far as there are any."""
        return np.zeros(0) if self.solution is None else self.solution.x

    def warm(self, system: System) -> Floats | None:
        """A start for the next turn."""
        settled = self.solution is not None and self.solution.settled
        return self.x if settled and len(self.x) == system.size else None


def _start(made: Draft, near: Operating) -> _State:
    """What a set that differs little tells of this one: the same points, the same paths."""
    paths = {way.name: pulse for way, pulse in zip(near.ways, near.pulses, strict=True)}
    pulses = tuple(paths.get(way.name, Pulse(0.0, 0.0, 0.0, 0.0, 0.0)) for way in made.ways)
    stores = {w.name: held for w, held in zip(near.ways, near.reservoirs, strict=False)}
    held = tuple(stores.get(way.name, Reservoir(i)) for i, way in enumerate(made.ways))
    volts = np.zeros(made.system.nodes)
    for node, row in made.rows.items():
        told = next((p for p in made.net.groups[node] if p in near.net.of), None)
        if row != GROUND and told is not None:
            volts[row] = voltage(near.solution.x, near.rows[near.net.of[told]])
    first = near.system.nodes
    sources = near.solution.x[first : first + len(near.system.sources)]
    x = np.concatenate([volts, sources, [pulse.mean for pulse in pulses]])
    return _State(held=held, solution=replace(near.solution, x=x), pulses=pulses)


def _agree(last: _State, now: _State) -> bool:
    if last.solution is None or len(last.x) != len(now.x):
        return False
    scale = float(np.max(np.abs(now.x), initial=1.0))
    return float(np.max(np.abs(last.x - now.x), initial=0.0)) < _AGREED * scale


def _paths(made: Draft, side: MainsSide | None, held: tuple[Reservoir, ...]) -> tuple[Path, ...]:
    rows = made.rows
    if side is None:
        return tuple(Path(w.name, w.law, rows[w.a], rows[w.k]) for w in made.ways)
    ohms = real_ohms(side)
    return tuple(
        Path(
            way.name,
            way.law,
            rows[way.a],
            rows[way.k],
            peak=float(abs(side.open_circuit[i])),
            ohms=max(float(ohms[i, i]), 0.0),
            coupled=tuple(float(z) for z in ohms[i]),
            lift=held[i].lift if held else 0.0,
            choke=held[i].choke if held else 0,
            reactance=held[i].reactance if held else math.inf,
        )
        for i, way in enumerate(made.ways)
    )


def _slopes(
    made: Draft, at: Mapping[int, int], system: System, x: Floats
) -> dict[tuple[int, int], float]:
    """Conductances of the valves at the operating point, in rows of the alternating network."""
    table: dict[tuple[int, int], float] = {}
    for valve, on in zip(system.valves, made.valves, strict=True):
        got = valve_flow(valve, x)
        ends = tuple(at[n] for n in (on.grid, on.screen, on.anode))
        for row, slopes in zip(ends, got.slopes, strict=True):
            columns = (*zip(ends, slopes, strict=True), (at[on.cathode], -sum(slopes)))
            for column, slope in columns:
                for r, sign in ((row, 1.0), (at[on.cathode], -1.0)):
                    table[r, column] = table.get((r, column), 0.0) + sign * valve.emission * slope
    return table


def _result(made: Draft, state: _State, *, agreed: bool) -> Operating:
    if state.solution is None or state.system is None:
        raise AssertionError("no turn was made")
    settled = state.solution.settled and agreed
    remarks = list(made.remarks)
    if state.side is None and not made.power.supplies:
        remarks.append("no mains lead and no primary found: nothing is fed")
    remarks += _starved(made.ways, state)
    unsettled = () if settled else (_worst(made, state.system, state.solution),)
    if state.solution.settled and not agreed:
        unsettled = ("mains side and direct current do not agree",)
    return Operating(
        net=made.net,
        power=made.power,
        system=state.system,
        solution=state.solution,
        rows=made.rows,
        ways=made.ways,
        side=state.side,
        pulses=state.pulses,
        reservoirs=state.held,
        line_amps=state.amps,
        lamp_volts=state.lamp,
        settled=settled,
        unsettled=unsettled,
        floating=made.floating,
        piece=made.piece,
        remarks=tuple(remarks),
    )


def _starved(ways: tuple[Way, ...], state: _State) -> Iterator[str]:
    """Choke inputs that carry less than their critical current, each named once."""
    for number in sorted({held.group for held in state.held}):
        members = [i for i, held in enumerate(state.held) if held.group == number]
        held = state.held[members[0]]
        amps = sum(state.pulses[i].mean for i in members)
        names = " and ".join(dict.fromkeys(ways[i].name for i in members))
        if held.lone:
            yield f"{names}: a single path into a choke, computed as into a capacitor: too high"
        if held.critical > 0 and amps < held.critical:
            yield (
                f"{names}: choke input, {1e3 * amps:.3g} mA is below the critical current of"
                f" {1e3 * held.critical:.3g} mA: the voltage rises towards the peak, as computed;"
                " a bleeder that takes the difference would hold it"
            )


def _worst(made: Draft, system: System, solution: Solution) -> str:
    """Name of what is furthest from balance."""
    if solution.worst >= system.nodes + len(system.sources):
        return system.paths[solution.worst - system.nodes - len(system.sources)].name
    if solution.worst >= system.nodes:
        return "a supply"
    for valve in system.valves:
        if solution.worst in (valve.grid, valve.screen, valve.anode, valve.cathode):
            return valve.name
    node = next(n for n, row in made.rows.items() if row == solution.worst)
    return str(made.net.groups[node][0])
