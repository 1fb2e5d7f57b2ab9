"""Many states of one running set, solved together.

Newton's method on stacked matrices, each state from the undisturbed one. How the ripple of the
reservoir grows with the load is taken along; the driving side of the rectifier stays as it is, but
for a limiter lamp, which follows each state (see `behind`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from buzzout.bench.behind import Behind
from buzzout.bench.board import Board, Change
from buzzout.circuit import Point
from buzzout.electrics.alternating import Complex
from buzzout.electrics.laws import Bools, Floats, Ints, gas, valve
from buzzout.electrics.valves import Model

_LEAK = 1e-9  # insulation of a valve between grid and cathode, as in `electrics` [S]
_LOOSE = 1e-11  # ties what an open joint leaves in the air [S]
_ROUNDS, _HALVINGS = 60, 4
_SETTLED = 1e-7  # largest imbalance of a settled state [A]
_STILL = 0.01  # a settled state moves less than this in its last step [V]
_STRIDE = 60.0  # longest step of any voltage in one round [V]
_CHUNK = 256  # states solved together


@dataclass(frozen=True)
class States:
    """Solved states, one a change: unknowns, matrices of slopes, and whether each settled.

    `branch_amps` and `valve_amps` (grid, screen, anode) are currents; `valve_rows` gives, per
    state, the row of each electrode (grid, screen, anode, cathode), `emission` the factor on each
    section; `primary` what the primary gets and `inphase` the current of each path in phase with
    it, both peak at mains frequency, nothing without a mains side. [V], [A], [A/V]
    """

    x: Floats
    jacobian: Floats
    settled: Bools
    branch_amps: Floats
    valve_amps: Floats
    valve_rows: Ints
    emission: Floats
    primary: Complex
    inphase: Floats

    def rows(self, which: Sequence[int]) -> States:
        """Some of the states, in any order and as often as wanted."""
        own = list(which)
        return States(*(getattr(self, f.name)[own] for f in fields(self)))


def solve(board: Board, changes: Sequence[Change], near: Floats | None = None) -> States:
    """The states after each change; `near` are unknowns to start from, where they are known."""
    begin = np.broadcast_to(board.start, (len(changes), board.size)) if near is None else near
    parts = [
        _Batch(board, changes[i : i + _CHUNK]).solve(begin[i : i + _CHUNK])
        for i in range(0, len(changes), _CHUNK)
    ]
    return States(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(States)))


@dataclass(frozen=True)
class _Sheet:
    """Imbalance and slopes of some states under construction, at their unknowns `x`."""

    rest: Floats
    jacobian: Floats
    x: Floats
    each: Ints

    def between(self, a: int, b: int, amps: Floats, slope: Floats) -> None:
        """A current from row a to row b that depends on the voltage between them."""
        self.rest[:, a] += amps
        self.rest[:, b] -= amps
        for row, sign in ((a, 1.0), (b, -1.0)):
            self.jacobian[:, row, a] += sign * slope
            self.jacobian[:, row, b] -= sign * slope


def _put_valve(sheet: _Sheet, model: Model, rows: Ints, scale: Floats) -> None:
    """One section in every state; `rows` are those of grid, screen, anode and cathode."""
    each, jacobian = sheet.each, sheet.jacobian
    volts = sheet.x[each[:, None], rows]
    k = volts[:, 3]
    flows = valve(model, *(volts[:, i] - k for i in range(3)))
    for i in range(3):
        leak = _LEAK if i == 0 else _LEAK / 100
        amps = scale * flows.amps[:, i] + leak * (volts[:, i] - k)
        slopes = scale[:, None] * flows.slopes[:, i]
        slopes[:, i] += leak
        sheet.rest[each, rows[:, i]] += amps
        sheet.rest[each, rows[:, 3]] -= amps
        for j in range(3):
            for row, sign in ((rows[:, i], 1.0), (rows[:, 3], -1.0)):
                jacobian[each, row, rows[:, j]] += sign * slopes[:, j]
                jacobian[each, row, rows[:, 3]] -= sign * slopes[:, j]


class _Batch:
    """A chunk of changes as stacked arrays; the last row and column are the ground's."""

    def __init__(self, board: Board, changes: Sequence[Change]) -> None:
        self.board, self.changes = board, changes
        count, wide = len(changes), board.size + 1
        self.count, self.wide = count, wide
        self.each = np.arange(count)
        self.branch_rows = np.zeros((count, len(board.branches), 2), dtype=np.int64)
        self.branch_siemens = np.zeros((count, len(board.branches)))
        self.valve_rows = np.zeros((count, len(board.sections), 4), dtype=np.int64)
        self.linear = np.zeros((count, wide, wide))
        self.emission = np.ones((count, len(board.sections)))
        paths = board.state.system.paths
        self.path_share = np.ones((count, len(paths)))
        self.path_series = np.zeros((count, len(paths)))
        self._fill_common()
        for index, change in enumerate(changes):
            self._fill(index, change)
        self.behind = Behind(board, changes) if board.state.side is not None else None
        self.lamp = self.behind is not None and board.state.power.limiter is not None

    def _fill_common(self) -> None:
        board = self.board
        matrix = np.zeros((self.wide, self.wide))
        for number, branch in enumerate(board.branches):
            a, b = board.row(branch.a), board.row(branch.b)
            g = 1 / max(branch.value, 1e-3)
            _between(matrix, a, b, g)
            self.branch_rows[:, number] = (a, b)
            self.branch_siemens[:, number] = g
        for row in range(board.nodes + 1):
            matrix[row, row] += _LOOSE
        matrix[board.spare, board.spare] += _LOOSE
        self.linear[:] = matrix
        for number, points in enumerate(board.electrodes):
            self.valve_rows[:, number] = [board.row(p) for p in points]
        for number, valve_ in enumerate(board.state.system.valves):
            self.emission[:, number] = valve_.emission

    def _fill(self, index: int, change: Change) -> None:
        board, matrix = self.board, self.linear[index]
        if change.apart:
            self._take_apart(index, change.apart)
        known = [(n, e) for n, e in change.lifted if n in board.sections]
        for name, electrode in known:
            self.valve_rows[index, board.sections.index(name), electrode] = board.spare
        for a, b, siemens in change.conducts:
            _between(matrix, board.row(a, change.apart), board.row(b, change.apart), siemens)
            if (a, b) in board.branch_at:  # the branch itself is another than it was
                self.branch_siemens[index, board.branch_at[a, b]] += siemens
        for number, name in enumerate(board.sections):
            self.emission[index, number] *= change.emission.get(name, 1.0)
        for number, path in enumerate(board.state.system.paths):
            self.path_share[index, number] = change.paths.get(path.name, 1.0)
            self.path_series[index, number] = change.series.get(path.name, 0.0)

    def _take_apart(self, index: int, apart: frozenset[Point]) -> None:
        """Move the branches and electrodes on these points to the spare row."""
        board, matrix = self.board, self.linear[index]
        for number, branch in enumerate(board.branches):
            if branch.a in apart or branch.b in apart:
                a, b = self.branch_rows[index, number]
                g = self.branch_siemens[index, number]
                _between(matrix, a, b, -g)
                a, b = board.row(branch.a, apart), board.row(branch.b, apart)
                _between(matrix, a, b, g)
                self.branch_rows[index, number] = (a, b)
        for number, points in enumerate(board.electrodes):
            self.valve_rows[index, number] = [board.row(p, apart) for p in points]

    def solve(self, start: Floats) -> States:
        x = np.zeros((self.count, self.wide))
        x[:, : self.board.size] = start[:, : self.board.size]
        pick = np.arange(self.count)  # the states that have not settled yet
        rest, jacobian = self._balance(x, pick)
        moving = np.full(self.count, self.lamp)
        for _ in range(2 * _ROUNDS if self.lamp else _ROUNDS):
            step = self._step(rest, jacobian)
            longest = np.max(np.abs(step[:, : self.board.nodes + 1]), axis=1)
            going = (np.max(np.abs(rest), axis=1) >= _SETTLED) | (longest >= _STILL) | moving
            if not going.any():
                break
            pick, step, rest, longest = pick[going], step[going], rest[going], longest[going]
            step *= np.minimum(1.0, _STRIDE / np.maximum(longest, 1e-12))[:, None]
            x[pick], rest, jacobian = self._advance(x[pick], step, _norm(rest), pick)
            moving = moving[going]
            if self.behind is not None and self.lamp:
                moving = self.behind.follow(pick)
                sheet = _Sheet(rest, jacobian, x[pick], np.arange(len(pick)))
                self._carry(sheet, pick)
                cool = self.behind.warmth[pick] < 1
                rest[cool], jacobian[cool] = self._balance(x[pick[cool]], pick[cool])
        else:
            going = np.ones(len(pick), dtype=bool)
        settled = np.ones(self.count, dtype=bool)
        settled[pick[going]] = False
        return self._told(x, self._balance(x, np.arange(self.count))[1], settled)

    def _step(self, rest: Floats, jacobian: Floats) -> Floats:
        """The whole step that Newton's method asks for."""
        size = self.board.size
        step = np.zeros_like(rest)
        inner = jacobian[:, :size, :size]
        try:
            step[:, :size] = np.linalg.solve(inner, -rest[:, :size, None])[:, :, 0]
        except np.linalg.LinAlgError:
            nudged = inner + 1e-9 * np.eye(size)
            step[:, :size] = np.linalg.solve(nudged, -rest[:, :size, None])[:, :, 0]
        return step

    def _advance(
        self, x: Floats, step: Floats, off: Floats, pick: Ints
    ) -> tuple[Floats, Floats, Floats]:
        """Go along the step, less far in the states where all of it would make things worse.

        A shortest step is taken in any case: a valve whose grid hangs in the air gets worse before
        it gets better.
        """
        length = np.ones(len(pick))
        for _ in range(_HALVINGS):
            trial = x + length[:, None] * step
            rest, jacobian = self._balance(trial, pick)
            worse = _norm(rest) > off + 1e-9
            if not worse.any():
                break
            length = np.where(worse, length / 2, length)
        return trial, rest, jacobian

    def _balance(self, x: Floats, pick: Ints) -> tuple[Floats, Floats]:
        """What is out of balance in some of the states, and their slopes."""
        jacobian = self.linear[pick]
        rest = np.einsum("hij,hj->hi", jacobian, x)
        system = self.board.state.system
        sheet = _Sheet(rest, jacobian, x, np.arange(len(pick)))
        for number, fitted in enumerate(system.valves):
            rows = self.valve_rows[pick, number]
            _put_valve(sheet, fitted.model, rows, self._given(number)[pick])
        for tube in system.gas:
            a, b = self.board.row_of(tube.a), self.board.row_of(tube.b)
            amps, slope = gas(x[:, a] - x[:, b], tube.volts, tube.ohms)
            sheet.between(a, b, amps, slope)
        self._sources(rest, jacobian, x)
        self._paths(sheet, pick)
        rest[:, self.board.ground] = 0.0
        return rest, jacobian

    def _given(self, number: int) -> Floats:
        """Factor on the current of a section in each state."""
        own = self.emission[:, number]
        return own if self.behind is None else own * self.behind.warmth

    def _sources(self, rest: Floats, jacobian: Floats, x: Floats) -> None:
        for number, source in enumerate(self.board.state.system.sources):
            row = self.board.first + number
            a, b = self.board.row_of(source.a), self.board.row_of(source.b)
            amps = x[:, row]
            rest[:, a] += amps
            rest[:, b] -= amps
            rest[:, row] = x[:, a] - x[:, b] - source.ohms * amps - source.volts
            for at, sign in ((a, 1.0), (b, -1.0)):
                jacobian[:, at, row] += sign
                jacobian[:, row, at] += sign
            jacobian[:, row, row] -= source.ohms

    def _paths(self, sheet: _Sheet, pick: Ints) -> None:
        system = self.board.state.system
        for row, path in enumerate(system.paths, self.board.first + len(system.sources)):
            for end, sign in ((path.a, 1.0), (path.k, -1.0)):
                at = self.board.row_of(end)
                sheet.rest[:, at] += sign * sheet.x[:, row]
                sheet.jacobian[:, at, row] += sign
        self._carry(sheet, pick)

    def _carry(self, sheet: _Sheet, pick: Ints) -> None:
        """The rows of the rectifier paths, with what each carries as it is driven now."""
        system, jacobian = self.board.state.system, sheet.jacobian
        first = self.board.first + len(system.sources)
        coupled = self._coupled(pick)
        for i, path in enumerate(system.paths):
            row = first + i
            a, k = self.board.row_of(path.a), self.board.row_of(path.k)
            amps, slope = self._path(i, self._driving(i, sheet.x, pick), pick)
            sheet.rest[:, row] = sheet.x[:, row] - amps
            jacobian[:, row] = 0.0
            jacobian[:, row, first : first + len(system.paths)] = -slope[:, None] * coupled[:, i]
            jacobian[:, row, row] += 1.0 + slope * self.path_series[pick, i]
            jacobian[:, row, a] -= slope
            jacobian[:, row, k] += slope

    def _driving(self, index: int, x: Floats, pick: Ints) -> Floats:
        """The steady voltage that drives a rectifier path in some of the states. [V]."""
        system, path = self.board.state.system, self.board.state.system.paths[index]
        means = x[:, self.board.first + len(system.sources) : self.board.size]
        lifted = np.einsum("hj,hj->h", means, self._coupled(pick)[:, index])
        a, k = self.board.row_of(path.a), self.board.row_of(path.k)
        volts = x[:, a] - x[:, k] + lifted - self.path_series[pick, index] * means[:, index]
        return np.asarray(volts if self.board.state.reservoirs else volts + path.lift)

    def _coupled(self, pick: Ints) -> Floats:
        """Resistances between the paths in some of the states. [ohm]."""
        if self.behind is not None and self.lamp:
            return self.behind.coupled[pick]
        return np.broadcast_to(self.board.coupled, (len(pick), *self.board.coupled.shape))

    def _path(self, index: int, volts: Floats, pick: Ints) -> tuple[Floats, Floats]:
        """Mean current and slope of a rectifier path in some of the states."""
        if self.behind is not None and self.lamp:
            return self._carried(self.behind, index, volts, pick)
        amps, slope = self.board.tables[index].at(volts)
        share = self.path_share[pick, index]
        return share * amps, share * slope

    def _carried(
        self, behind: Behind, index: int, volts: Floats, pick: Ints
    ) -> tuple[Floats, Floats]:
        """The same by its pulse, not from the table."""
        share = self.path_share[pick, index]
        if self.board.state.ways[index].heated:
            share = share * behind.warmth[pick]
        return behind.carry(index, volts, share, pick)

    def _told(self, x: Floats, jacobian: Floats, settled: Bools) -> States:
        across = x[self.each[:, None], self.branch_rows[:, :, 0]]
        across = across - x[self.each[:, None], self.branch_rows[:, :, 1]]
        valve_amps = np.zeros((self.count, len(self.board.sections), 3))
        for number, fitted in enumerate(self.board.state.system.valves):
            volts = x[self.each[:, None], self.valve_rows[:, number]]
            flows = valve(fitted.model, *(volts[:, i] - volts[:, 3] for i in range(3)))
            valve_amps[:, number] = self._given(number)[:, None] * flows.amps
        given = [self._given(number) for number in range(len(self.board.sections))]
        primary: Complex = np.zeros(self.count, dtype=np.complex128)
        inphase = self.path_share
        if self.behind is not None:
            for index in range(len(self.board.state.system.paths)):
                self._carried(self.behind, index, self._driving(index, x, self.each), self.each)
            primary, inphase = self.behind.primary(), self.behind.drawn.inphase
        return States(
            x, jacobian, settled, across * self.branch_siemens, valve_amps, self.valve_rows,
            np.array(given).reshape(-1, self.count).T,
            primary, inphase,
        )  # fmt: skip


def _between(matrix: Floats, a: int, b: int, siemens: float) -> None:
    """A conductance between two rows of one state; the ground's row takes its share unused."""
    for row, other in ((a, b), (b, a)):
        matrix[row, row] += siemens
        matrix[row, other] -= siemens


def _norm(rest: Floats) -> Floats:
    return np.asarray(np.sqrt(np.sum(rest * rest, axis=1)), dtype=np.float64)
