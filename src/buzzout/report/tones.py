"""A test tone followed through a set, and what an oscillator does, as a sheet."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from buzzout.circuit import Circuit, Point, frequency, listed
from buzzout.electrics.loops import COUPLING, FACTORS
from buzzout.report.ohms import electrode
from buzzout.report.tables import WHERE, Column, Table, amount, by_socket, figure

if TYPE_CHECKING:
    from buzzout.electrics import Operating, Signals
    from buzzout.electrics.gains import Gains, LoopRange
    from buzzout.electrics.loops import Cut, Oscillation
    from buzzout.electrics.stability import Stability

OSCILLATES = "oscillates"
_HEARD = 1e-3  # a point with less than a thousandth of the input carries no tone
_PEAKS = 2 * math.sqrt(2)  # peak to peak over r.m.s. of a sine


def _times(gain: float) -> str:
    return f"{gain:.3g}"


def _decibels(value: float) -> str:
    return f"{round(value, 1) + 0.0:+.1f} dB"


def _level(volts: float | str) -> str:
    return volts if isinstance(volts, str) else amount(volts, "V")


def _degrees(value: float) -> str:
    return f"{round(value) + 0:+d}"


@dataclass(frozen=True, slots=True)
class Followed:
    """What to call an answer ("drawn", "found", "lead open") and the answer with its ranges.

    `unsteady` are points where a loop that oscillates by itself leaves nothing of a computed gain.
    """

    title: str
    gains: Gains
    unsteady: frozenset[Point] = frozenset()

    @property
    def signals(self) -> Signals:
        """The answer itself."""
        return self.gains.signals


def tone_tables(answers: Sequence[Followed], circuit: Circuit, level: float) -> tuple[Table, ...]:
    """Level and gain at each point that carries the tone, by socket, for each answer."""
    columns = (*WHERE, *(c for one in answers for c in _columns(one, len(answers))))
    points = [p for p in places(circuit) if any(_heard(one.signals, p) for one in answers)]
    return tuple(
        Table(title, columns, tuple(_row(p, answers, circuit, level) for p in own))
        for title, own in by_socket(circuit, points)
    )


def stage_table(
    answers: Sequence[Followed], circuit: Circuit, level: float, along: Sequence[Point]
) -> Table:
    """The points of the signal's way, in its order."""
    columns = (*WHERE, *(c for one in answers for c in _columns(one, len(answers))))
    rows = tuple(_row(p, answers, circuit, level) for p in along)
    return Table("STAGE BY STAGE: what should stand there", columns, rows)


def _columns(one: Followed, many: int) -> Iterator[Column]:
    """Columns of one of many answers; of several the text has the more telling ones."""
    key = one.title.replace(" ", "_")
    yield Column(f"{key}_v", f"{one.title}: r.m.s.", _level, right=True)
    yield Column(f"{key}_low_v", "from", _level, right=True, only_data=many > 2)
    yield Column(f"{key}_high_v", "to", _level, right=True, only_data=many > 2)
    yield Column(f"{key}_pp_v", "peak to peak", _level, right=True, only_data=many > 1)
    yield Column(f"{key}_gain", "times", _times, right=True, only_data=many > 1)
    yield Column(f"{key}_db", "", _decibels, right=True)
    yield Column(f"{key}_phase_deg", "phase", _degrees, right=True, only_data=many > 1)


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
        if not _heard(one.signals, point):
            row += [None] * 7
            continue
        if point in one.unsteady:
            row += [OSCILLATES, *[None] * 6]
            continue
        size, low, high = one.gains.size(point)
        row += [size * level, low * level, high * level, _PEAKS * size * level, size]
        row += [20 * math.log10(size), math.degrees(cmath.phase(one.signals.gain(point)))]
    return tuple(row)


def overloads(state: Operating, one: Followed, level: float) -> Iterator[str]:
    """Valves whose grid is driven beyond its bias: the computed levels hold no longer there."""
    signals = one.signals
    for valve in state.net.valves:
        at = valve.electrodes
        if "grid" not in at or at["grid"] in one.unsteady or state.flow(valve.name) is None:
            continue
        bias = state.volts(at["cathode"], at["grid"])
        peak = math.sqrt(2) * level * abs(signals.gain(at["grid"], at["cathode"]))
        if not math.isnan(bias) and peak > max(bias, 0.0) and peak > 0.01:
            yield (
                f"{valve.name}: {figure(peak)} V peak from grid to cathode is beyond its bias of"
                f" {figure(bias)} V: it limits, levels from there on are lower than computed"
            )


_frequency = partial(frequency, figures=4)
_LOOP = (
    Column("board", "where"),
    Column("hertz", "frequency", _frequency, right=True),
    Column("low_hertz", "from", _frequency, right=True),
    Column("high_hertz", "to", _frequency, right=True),
    Column("gain", "loop gain", _times, right=True),
    Column("low_gain", "from", _times, right=True),
    Column("high_gain", "to", _times, right=True),
    Column("margin_db", "margin", _decibels, right=True),
    Column("starts", "", lambda starts: "starts" if starts else "DOES NOT START"),
    Column("sets", "of good sets", lambda share: f"{share:.0%} start", right=True),
)


@dataclass(frozen=True, slots=True)
class Told:
    """Where a loop has no phase shift, in which set; `starts` is None where nobody can tell."""

    where: str
    at: Oscillation
    span: LoopRange | None
    starts: bool | None


def loop_table(lead: str, told: Iterable[Told]) -> Table:
    """Frequencies without phase shift round the loop opened at a lead, with their ranges."""
    rows = []
    for each in told:
        o, span = each.at, each.span
        hertz, gain = (span.hertz, span.gain) if span else ((None, None), (None, None))
        share = span.starts if span else None
        rows.append((each.where, o.hertz, *hertz, o.gain, *gain, o.margin, each.starts, share))
    return Table(f"LOOP, opened at {lead}: where the phase comes back", _LOOP, tuple(rows))


def tuned_said(where: str, loop: Cut) -> Iterator[str]:
    """What was taken for the coils and variable capacitors of a loop."""
    if loop.coils:
        yield (
            f"{where}: the windings of {listed(loop.coils)} are coupled by their inductances; the"
            f" file does not tell how closely: a coupling factor of {COUPLING:g} is taken (common"
            f" practice); {_from(loop)}"
        )
    if loop.turned:
        yield (
            f"{where}: with one winding of {loop.turned} turned round it would start: look at the"
            " dots, and at which end of each winding goes where"
        )
    if loop.around.variable:
        yield (
            f"{listed(loop.around.variable)} fully meshed, as in the file; another place on the"
            f" dial: --what-if {loop.around.variable[0]}=50p"
        )
    yield "stray capacitances are not in the file; ranges of a loop with coils are not computed"


def _from(loop: Cut) -> str:
    if loop.starts is None:
        return f"whether it starts hangs on that: it does with any from {loop.least:g} on"
    if loop.least:
        return f"it starts with any from {loop.least:g} on"
    return f"it starts with none up to {FACTORS[-1]:g}"


def growth_said(where: str, told: Stability) -> str:
    """What the whole circuit does by itself."""
    if not told.counted:
        return f"{where}: whether the whole circuit is stable was not settled"
    if not told.modes:
        return (
            f"{where}: nothing in the whole circuit grows by itself (audio range, no stray wiring)"
        )
    tones = [g for g in told.growing if not g.drifts]
    drifts = len(tones) < len(told.growing)
    many = max(told.modes - drifts, len(tones))
    at = [_frequency(g.hertz) for g in tones]
    at += ["a frequency that was not found"] * (many > len(tones))
    ends = "a tone grows" if many == 1 else f"{many} tones grow"
    grows = f"{ends} in the circuit by itself, at first at {', '.join(at)}; limiting then moves it"
    return f"{where}: " + "; ".join([grows] * bool(at) + [_DRIFTS] * drifts)


# Motor-boating is what the trade calls it where coupling capacitors let it come back each time.
_DRIFTS = "something drifts away by itself without a tone: it motor-boats, or goes to one end"


def unsteady_said(one: Followed, told: Stability, circuit: Circuit) -> Iterator[str]:
    """Why some points have no figure; nothing where all have one."""
    if any(p in one.unsteady and _heard(one.signals, p) for p in places(circuit)):
        yield (
            f"{growth_said(one.title, told)}. Where the valves of that loop make the level stands"
            f" {OSCILLATES!r}: a figure would mean nothing there"
        )
