"""What a voltmeter would read at each point for each fault, with what good parts may do to it.

Linear round each state: a reading moves with every resistor inside its tolerance, every valve
inside its spread, the transformer, and with the unknown size of the fault itself.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from buzzout.bench.batch import States, solve
from buzzout.bench.board import Board, Change
from buzzout.bench.faults import Fault
from buzzout.bench.probe import DIRECT, Predicted, Probe
from buzzout.electrics.branch import ELECTRODE
from buzzout.electrics.laws import Floats
from buzzout.electrics.unmodelled import OSCILLATES

VALVE_SPREAD = 0.13  # standard deviation of a good valve's current; +-30 % is what makers allowed
TRANSFORMER = 0.02  # of a mains transformer's voltage; common practice
_FAR = 1e3  # beyond this a linear change means nothing [V]
UNIFORM = 3**0.5  # a part anywhere inside its tolerance: deviation is the tolerance over this


def predict(
    board: Board,
    faults: Sequence[Fault],
    probes: Sequence[Probe],
    states: States | None = None,
) -> Predicted:
    """Readings of every probe for every fault, the meter not yet taken into account.

    `states` are the solved states of these faults, where they are there already.
    """
    solved = solve(board, [fault.change for fault in faults]) if states is None else states
    return _told(board, solved, faults, _ends(board, faults, probes), _healthy(board, probes))


def _told(
    board: Board, solved: States, faults: Sequence[Fault], ends: np.ndarray, healthy: Floats
) -> Predicted:
    mean, adjoint, inside = _read(board, solved, ends)
    causes, moved = _moved(board, solved, adjoint, ends)
    own = _own(board, solved, faults, adjoint)
    everything = np.concatenate([moved, own[:, :, None]], axis=2)
    bounded = np.clip(np.nan_to_num(everything), -_FAR, _FAR)
    exact = np.zeros_like(mean)
    ways = np.full(len(healthy), DIRECT)
    return Predicted(
        np.nan_to_num(mean), bounded, inside, causes, solved.settled, healthy, exact, ways
    )


def metered(
    board: Board, faults: Sequence[Fault], probes: Sequence[Probe], near: Floats
) -> Predicted:
    """Each fault (one row) read at one probe of its own, with the meter in the equations.

    `near` are the unknowns of each fault without the meter.
    """
    meters = [Change(siemens=((p.at, p.to, 1 / p.meter),)) for p in probes]
    changes = [f.change.and_(meter) for f, meter in zip(faults, meters, strict=True)]
    solved = solve(board, changes, near)
    rows = [
        [(board.row(p.at, f.change.apart), board.row(p.to, f.change.apart))]
        for f, p in zip(faults, probes, strict=True)
    ]
    ends = np.array(rows, dtype=np.int64).reshape(-1, 1, 2)
    return _told(board, solved, faults, ends, np.zeros(1))


def _healthy(board: Board, probes: Sequence[Probe]) -> Floats:
    """The undisturbed voltage at each probe. [V]."""
    x = np.append(board.start, 0.0)
    return np.array([x[board.row(p.at)] - x[board.row(p.to)] for p in probes])


def _ends(board: Board, faults: Sequence[Fault], probes: Sequence[Probe]) -> np.ndarray:
    """Rows of the two ends of each probe in each state."""
    table = np.array([(board.row(p.at), board.row(p.to)) for p in probes], dtype=np.int64)
    ends = np.repeat(table[None], len(faults), axis=0).reshape(len(faults), len(probes), 2)
    for index, fault in enumerate(faults):
        for number, probe in enumerate(probes if fault.change.apart else ()):
            ends[index, number] = [board.row(p, fault.change.apart) for p in (probe.at, probe.to)]
    return ends


def _read(board: Board, states: States, ends: np.ndarray) -> tuple[Floats, Floats, Floats]:
    """Voltage of each probe, how it answers to a current anywhere, and the resistance it sees."""
    count, probes = ends.shape[:2]
    each = np.arange(count)[:, None]
    mean = states.x[each, ends[:, :, 0]] - states.x[each, ends[:, :, 1]]
    drive = np.zeros((count, board.size + 1, probes))
    number = np.arange(probes)[None, :]
    drive[each, ends[:, :, 0], number] += 1.0
    drive[each, ends[:, :, 1], number] -= 1.0
    matrix = np.swapaxes(states.jacobian[:, : board.size, : board.size], 1, 2)
    adjoint = np.zeros_like(drive)
    adjoint[:, : board.size] = _solved(matrix, drive[:, : board.size])
    return mean, adjoint, np.sum(adjoint * drive, axis=1)


def _solved(matrix: Floats, right: Floats) -> Floats:
    try:
        return np.asarray(np.linalg.solve(matrix, right))
    except np.linalg.LinAlgError:
        eye = 1e-9 * np.eye(matrix.shape[1])
        return np.asarray(np.linalg.solve(matrix + eye, right))


def _moved(
    board: Board, states: States, adjoint: Floats, ends: np.ndarray
) -> tuple[tuple[str, ...], Floats]:
    """How one standard deviation of each cause moves each probe: fault, probe, cause."""
    names: list[str] = []
    columns: list[Floats] = []
    each = np.arange(len(states.x))
    by_family: dict[str, Floats] = {}
    for number, branch in enumerate(board.branches):
        share = (branch.high - branch.low) / (2 * branch.value) if np.isfinite(branch.high) else 0.2
        share = min(share, 1.0)
        if branch.role == ELECTRODE:  # a current that is anything from nothing to the most
            share = branch.value * (1 / branch.low - 1 / branch.high) / 2
        rows = board.row(branch.a), board.row(branch.b)
        across = adjoint[:, rows[0]] - adjoint[:, rows[1]]
        column = -across * (states.branch_amps[:, number, None] * share / UNIFORM)
        family = branch.family or branch.name
        by_family[family] = by_family.get(family, np.zeros_like(column)) + column
    names += by_family
    columns += by_family.values()
    pulls = np.insert(board.state.pulls, board.nodes, 0.0, axis=1)  # the spare row
    for number, pull in enumerate(pulls):
        names.append(f"oscillator {number}")
        columns.append(pull[ends[:, :, 0]] - pull[ends[:, :, 1]])
    for number, name in enumerate(board.sections):
        names.append(name)
        by = OSCILLATES if board.state.oscillators[number] else VALVE_SPREAD
        columns.append(by * _valve_column(states, adjoint, number, each))
    names.append("transformer")
    columns.append(TRANSFORMER * _mains_column(board, states, adjoint))
    return tuple(names), np.stack(columns, axis=2)


def _valve_column(states: States, adjoint: Floats, number: int, each: np.ndarray) -> Floats:
    """Change of each probe with the logarithm of a section's current."""
    rows, amps = states.valve_rows[:, number], states.valve_amps[:, number]
    total = np.zeros((len(each), adjoint.shape[2]))
    for electrode in (1, 2):
        across = adjoint[each, rows[:, electrode]] - adjoint[each, rows[:, 3]]
        total -= across * amps[:, electrode, None]
    return total


def _mains_column(board: Board, states: States, adjoint: Floats) -> Floats:
    """Change of each probe with the logarithm of the alternating voltage."""
    system = board.state.system
    total = np.zeros((len(states.x), adjoint.shape[2]))
    for number, source in enumerate(system.sources):
        total += adjoint[:, board.first + number] * source.volts
    for number, path in enumerate(system.paths):
        row = board.first + len(system.sources) + number
        ends = [board.row_of(node) for node in (path.a, path.k)]
        slope = np.max(np.abs(states.jacobian[:, row][:, ends]), axis=1)
        total += adjoint[:, row] * (slope * path.peak)[:, None]
    return total


def _own(board: Board, states: States, faults: Sequence[Fault], adjoint: Floats) -> Floats:
    """What half a step in the size of each fault does to each probe."""
    branch_at = {b.name: i for i, b in enumerate(board.branches)}
    section_at = {name: i for i, name in enumerate(board.sections)}
    out = np.zeros((len(faults), adjoint.shape[2]))
    for index, fault in enumerate(faults):
        if not fault.step:
            continue
        one = slice(index, index + 1)
        if fault.of in section_at:
            part = states.rows([index])
            column = _valve_column(part, adjoint[one], section_at[fault.of], np.arange(1))[0]
        elif fault.of == "series":
            column = _series(board, states, fault, adjoint, index)
        else:
            column = _conductance(board, states, (fault, branch_at.get(fault.of)), adjoint, index)
        out[index] = column * fault.step / 2
    return out


def _conductance(
    board: Board,
    states: States,
    what: tuple[Fault, int | None],
    adjoint: Floats,
    index: int,
) -> Floats:
    """Change of each probe with the logarithm of a leak, or of a drifted resistor's value."""
    fault, branch = what
    a, b, siemens = fault.change.conducts[0]
    rows = board.row(a, fault.change.apart), board.row(b, fault.change.apart)
    across = states.x[index, rows[0]] - states.x[index, rows[1]]
    if branch is not None:  # what is there in all, the drift included
        value = board.branches[branch].value
        siemens += 1 / max(value, 1e-3)
    moved = adjoint[index, rows[0]] - adjoint[index, rows[1]]
    return np.asarray(-moved * across * siemens, dtype=np.float64)


def _series(board: Board, states: States, fault: Fault, adjoint: Floats, index: int) -> Floats:
    """Change of each probe with the logarithm of the ohms added in the rectifier."""
    system = board.state.system
    total = np.zeros(adjoint.shape[2])
    for number, path in enumerate(system.paths):
        row = board.first + len(system.sources) + number
        ends = [board.row_of(node) for node in (path.a, path.k)]
        slope = float(np.max(np.abs(states.jacobian[index, row, ends])))
        ohms = fault.change.series.get(path.name, 0.0)
        total -= adjoint[index, row] * slope * ohms * states.x[index, row]
    return total
