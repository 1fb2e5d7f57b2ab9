"""A test tone followed through a set, and what an oscillator does, as a sheet."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from buzzout.circuit import Circuit, Point
from buzzout.report.ohms import electrode
from buzzout.report.tables import Column, Table, amount, by_socket, figure

if TYPE_CHECKING:
    from buzzout.electrics import Operating, Signals
    from buzzout.electrics.loops import Oscillation
    from buzzout.electrics.stability import Stability

_HEARD = 1e-3  # a point with less than a thousandth of the input carries no tone


def _times(gain: float) -> str:
    return f"{gain:.3g}"


def _decibels(value: float) -> str:
    return f"{round(value, 1) + 0.0:+.1f} dB"


def _level(volts: float) -> str:
    return amount(volts, "V")


@dataclass(frozen=True, slots=True)
class Followed:
    """What to call an answer ("drawn", "found", "lead open") and the answer itself."""

    title: str
    signals: Signals


def tone_tables(answers: Sequence[Followed], circuit: Circuit, level: float) -> tuple[Table, ...]:
    """Gain and level at each point that carries the tone, by socket, for each answer a column."""
    columns = [Column("point", "point"), Column("electrode", "electrode")]
    for one in answers:
        key = one.title.replace(" ", "_")
        columns += [
            Column(f"{key}_gain", f"{one.title}: times", _times, right=True),
            Column(f"{key}_db", "", _decibels, right=True),
            Column(f"{key}_v", "level", _level, right=True),
            Column(f"{key}_phase_deg", "phase", lambda d: f"{round(d) + 0:+d}", right=True),
        ]
    points = [p for p in places(circuit) if any(_heard(one.signals, p) for one in answers)]
    return tuple(
        Table(title, tuple(columns), tuple(_row(p, answers, circuit, level) for p in own))
        for title, own in by_socket(circuit, points)
    )


def places(circuit: Circuit) -> Iterator[Point]:
    """Where an oscilloscope can be clipped: pins of valves, ends of controls and plugs, nodes."""
    kinds = ("socket", "pot", "jack", "connector", "speaker")
    for part in circuit.parts.values():
        if part.kind in kinds:
            yield from part.points
    yield from (Point(name) for name in circuit.names)


def _heard(signals: Signals, point: Point) -> bool:
    size = abs(signals.gain(point))
    return not math.isnan(size) and size > _HEARD


def _row(
    point: Point, answers: Sequence[Followed], circuit: Circuit, level: float
) -> tuple[Any, ...]:
    row: list[Any] = [str(point), electrode(circuit, point)]
    for one in answers:
        gain = one.signals.gain(point)
        if not _heard(one.signals, point):
            row += [None, None, None, None]
            continue
        size = abs(gain)
        row += [size, 20 * math.log10(size), size * level, math.degrees(cmath.phase(gain))]
    return tuple(row)


def overloads(state: Operating, signals: Signals, level: float) -> Iterator[str]:
    """Valves whose grid is driven beyond its bias: the computed levels hold no longer there."""
    for valve in state.net.valves:
        at = valve.electrodes
        if "grid" not in at or state.flow(valve.name) is None:
            continue
        bias = state.volts(at["cathode"], at["grid"])
        peak = math.sqrt(2) * level * abs(signals.gain(at["grid"], at["cathode"]))
        if not math.isnan(bias) and peak > max(bias, 0.0) and peak > 0.01:
            yield (
                f"{valve.name}: {figure(peak)} V peak from grid to cathode is beyond its bias of"
                f" {figure(bias)} V: it limits, levels from there on are lower than computed"
            )


_LOOP = (
    Column("board", "where"),
    Column("hertz", "frequency", lambda f: f"{f:.4g} Hz", right=True),
    Column("gain", "loop gain", lambda g: f"{g:.3g}", right=True),
    Column("margin_db", "margin", _decibels, right=True),
    Column("starts", "", lambda starts: "starts" if starts else "DOES NOT START"),
)


def loop_table(lead: Point, told: Iterable[tuple[str, Sequence[Oscillation]]]) -> Table:
    """Frequencies without phase shift round the loop opened at a lead."""
    rows = [
        (where, o.hertz, o.gain, o.margin, o.starts)
        for where, found in told
        for o in found[:3]
        if o.gain > 0.01
    ]
    return Table(f"LOOP, opened at {lead}: where the phase comes back", _LOOP, tuple(rows))


def growth_said(where: str, told: Stability) -> str:
    """What the whole circuit does by itself."""
    if not told.counted:
        return f"{where}: whether the whole circuit is stable was not settled"
    if not told.modes:
        return (
            f"{where}: nothing in the whole circuit grows by itself (audio range, no stray wiring)"
        )
    at = ", ".join(f"{g.hertz:.4g} Hz" for g in told.growing) or "a frequency that was not found"
    ends = "a tone grows" if told.modes == 1 else f"{told.modes} tones grow"
    return f"{where}: {ends} in the circuit by itself, at first at {at}; limiting then moves it"
