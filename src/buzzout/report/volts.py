"""The voltage chart as a sheet, by socket pin; beside it what the maker printed and what was read.

Also the steps of bringing a set up, each with what to meter and when to switch off.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from buzzout.circuit import Circuit, Point, Reading
from buzzout.report.tables import (
    WHERE,
    Column,
    Table,
    across,
    amount,
    by_socket,
    called,
    figure,
    volts,
)

if TYPE_CHECKING:
    from buzzout.electrics import Current, Row, Step, Verdict, VoltageChart, VoltageLine


def _apart(moved: Any) -> str:
    return "MOVED" if moved else ""


def _swing(value: float) -> str:
    return f"{figure(value)} V~"


_ONE = (
    *WHERE,
    Column("shown_v", "reads", volts, right=True),
    Column("low_v", "from", figure, right=True),
    Column("high_v", "to", figure, right=True),
    Column("unloaded_v", "unloaded", volts, right=True),
    Column("ac_v", "ac", _swing, right=True),
)
_TWO = (
    *WHERE,
    Column("drawn_v", "drawn", volts, right=True),
    Column("drawn_low_v", "from", figure, right=True),
    Column("drawn_high_v", "to", figure, right=True),
    Column("found_v", "found", volts, right=True),
    Column("found_low_v", "from", figure, right=True),
    Column("found_high_v", "to", figure, right=True),
    Column("moved", "", _apart),
    Column("printed_v", "maker", volts, right=True),
    Column("read_v", "read", volts, right=True),
    Column("drawn_ac_v", "ac drawn", _swing, right=True),
    Column("found_ac_v", "found", _swing, right=True),
)
_VERDICT = (
    Column("at", "between"),
    Column("told_v", "told", volts, right=True),
    Column("shown_v", "computed", volts, right=True),
    Column("low_v", "from", figure, right=True),
    Column("high_v", "to", figure, right=True),
    Column("agrees", "", lambda agrees: "fits" if agrees else "DOES NOT FIT"),
    Column("meter_ohm", "meter"),
    Column("mains_v", "mains", volts, right=True),
)


def _amps(value: float) -> str:
    return amount(value if abs(value) >= 1e-6 else 0.0, "A")


_CURRENT = (
    Column("where", "where"),
    Column("what", "current"),
    Column("amps", "", _amps, right=True),
    Column("low_a", "from", _amps, right=True),
    Column("high_a", "to", _amps, right=True),
)


def current_table(told: Iterable[Current]) -> Table:
    """What the mains, the rectifiers and the valves carry."""
    rows = tuple((c.where, c.what, c.amps, c.low, c.high) for c in told)
    return Table("CURRENTS", _CURRENT, rows)


def chart_tables(chart: VoltageChart, circuit: Circuit) -> tuple[Table, ...]:
    """The chart of one file by socket."""
    told = {line.point: line for line in chart.lines if _told(circuit, line)}
    return tuple(
        Table(title, _ONE, tuple(_line(told[p]) for p in own))
        for title, own in by_socket(circuit, told)
    )


def _line(line: VoltageLine) -> tuple[Any, ...]:
    loaded = abs(_known(line.volts - line.shown)) > 0.005 * abs(_known(line.volts))
    return (
        str(line.point), line.electrode, *_span(line), line.volts if loaded else None, _ac(line),
    )  # fmt: skip


def _told(circuit: Circuit, *lines: VoltageLine) -> bool:
    """Whether there is anything to say of a point; a pin with nothing on it floats."""
    at = lines[0].point
    alone = not any(link.touches(at) for link in circuit.links)
    return not (alone and all(math.isnan(line.shown) for line in lines))


def _ac(line: VoltageLine) -> float | None:
    """The alternating voltage where it is what counts. [V]."""
    return line.heater if line.heater > max(abs(_known(line.shown)), 0.01) else None


def _known(value: float) -> float:
    return 0.0 if math.isnan(value) else value


def _span(line: VoltageLine) -> tuple[float, float | None, float | None]:
    if math.isnan(line.shown):
        return math.nan, None, None
    return line.shown, line.low, line.high


def sheet_table(circuit: Circuit, sets: Mapping[str, Mapping[Point, str]]) -> Table:
    """One line a valve and set, one column a pin, as service sheets print it. Direct volts, or ~.

    `sets` gives what stands at the pins for each set: drawn, found, printed by the maker, read.
    """
    sockets = [p for p in circuit.parts.values() if p.kind == "socket"]
    used = {p.pin for cells in sets.values() for p in cells if p.owner in {s.name for s in sockets}}
    pins = sorted(used, key=lambda pin: (not pin.isdigit(), int(pin) if pin.isdigit() else 0, pin))
    rows = []
    for socket in sockets:
        name = f"{socket.name} {socket.type}".strip()
        for called_, cells in sets.items():
            own = [cells.get(socket.point(pin), "") if pin in socket.terminals else ""
                   for pin in pins]  # fmt: skip
            if any(own):
                rows.append((name, called_, *own))
                name = ""
    columns = (
        Column("valve", "valve"),
        Column("set", ""),
        *(Column(f"pin_{pin}", pin, right=True) for pin in pins),
    )
    return Table("BY SOCKET PIN, in volts; ~ alternating, - floats", columns, tuple(rows))


def pin_cells(circuit: Circuit, lines: Iterable[VoltageLine]) -> Mapping[Point, str]:
    """What to print at each pin that something is joined to; `-` where nothing settles it."""
    return {line.point: _pin(line) for line in lines if _told(circuit, line)}


def _pin(line: VoltageLine) -> str:
    swing = _ac(line)
    if swing is not None:
        return f"{figure(swing)}~"
    return "-" if math.isnan(line.shown) else figure(line.shown)


def read_cells(readings: Iterable[Reading]) -> Mapping[Point, str]:
    """What a maker printed or somebody read, the last word at each point."""
    return {
        r.at: figure(r.value.value) + ("~" if r.alternating else "")
        for r in readings
        if r.value.unit == "V"
    }


def row_tables(rows: Sequence[Row], circuit: Circuit) -> tuple[Table, ...]:
    """The points that moved first, then drawn, found, printed and read by socket."""
    told = {row.point: row for row in rows if _told(circuit, row.reference, row.found)}
    moved = tuple(_row(row) for row in rows if row.moved)
    first = (Table("POINTS THAT READ DIFFERENTLY ON THIS CHASSIS", _TWO, moved),) if moved else ()
    rest = (
        Table(title, _TWO, tuple(_row(told[p]) for p in own))
        for title, own in by_socket(circuit, told)
    )
    return (*first, *rest)


def _row(row: Row) -> tuple[Any, ...]:
    return (
        str(row.point), row.electrode, *_span(row.reference), *_span(row.found), row.moved,
        _value(row.expected), _value(row.measured), _ac(row.reference), _ac(row.found),
    )  # fmt: skip


def _value(reading: Reading | None) -> float | None:
    return None if reading is None else reading.value.value


def verdict_table(title: str, verdicts: Iterable[Verdict]) -> tuple[Table, ...]:
    """Printed or measured voltages against the computed ones; no table where there are none."""
    rows = tuple(
        (
            across(v.reading.at, v.reading.to), v.reading.value.value,
            *_span(v.computed), v.agrees, meter_said(v.reading), _supply(v.reading),
        )
        for v in verdicts
    )  # fmt: skip
    return (Table(title, _VERDICT, rows),) if rows else ()


def meter_said(reading: Reading) -> str:
    """`20k/V`, `10M`, `ac`; empty where the line names no meter."""
    if reading.alternating:
        return "ac"
    if reading.meter is None:
        return ""
    ohms = f"{reading.meter / 1e6:g}M" if reading.meter >= 1e6 else f"{reading.meter / 1e3:g}k"
    return f"{ohms}/V" if reading.per_volt else ohms


def _supply(reading: Reading) -> float | None:
    return None if reading.supply is None else reading.supply.value


# -- bringing up ------------------------------------------------------------------------------

_STEP = (
    Column("step", "step", right=True),
    Column("point", "meter at"),
    Column("shown_v", "expect", volts, right=True),
    Column("low_v", "from", figure, right=True),
    Column("high_v", "to", figure, right=True),
    Column("stop", "switch off at"),
)
_MOMENT = {"starting": "before the valves are warm", "warm": "warm", "cold": "nothing conducts"}


def step_tables(steps: Sequence[Step], circuit: Circuit) -> tuple[Table, ...]:
    """One table for each step, the mains current and the limiter lamp in its title."""
    return tuple(
        Table(_title(number, step), _STEP, tuple(_metered(number, step, circuit)))
        for number, step in enumerate(steps, 1)
    )


def _title(number: int, step: Step) -> str:
    lamp = f"behind a {step.limiter.watts:g} W lamp" if step.limiter else "without lamp"
    low, high = (amount(amps, "A") for amps in step.line_span)
    told = (
        f"{number}. {step.fraction:.0%} of the mains, {lamp}, {_MOMENT[step.heat]}:"
        f" {amount(step.line_amps, 'A')} ({low} to {high}) from the mains"
    )
    if not step.limiter:
        return told
    low, high = (figure(volts_) for volts_ in step.lamp_span)
    return f"{told}, {figure(step.lamp_volts)} V ({low} to {high}) across the lamp"


def _metered(number: int, step: Step, circuit: Circuit) -> Iterable[tuple[Any, ...]]:
    stops = dict(_split(words) for words in step.stop)
    for line in step.lines if step.settled else ():
        yield (number, str(line.point), *_span(line), _stop(stops, str(line.point)))
    for what, limit in stops.items():
        yield number, called(what, circuit), None, None, None, limit


def _split(words: str) -> tuple[str, str]:
    """A stop sentence as what to watch and the limit."""
    if words.startswith("more than ") and " across the limiter lamp" in words:
        return "limiter lamp", words.replace(" the limiter lamp", " it")
    for between in (" beyond ", " above "):
        what, found, limit = words.partition(between)
        if found:
            return what, f"{between.strip()} {limit}"
    return words, "stop"


def _stop(stops: Mapping[str, str], point: str) -> str:
    return stops.pop(point, "") if isinstance(stops, dict) else stops.get(point, "")


def floating(points: Iterable[Point]) -> tuple[str, ...]:
    """A remark naming what has no way to the chassis."""
    told = [str(point) for point in points]
    if not told:
        return ()
    return (f"nothing settles the voltage of {', '.join(told[:12])}"
            + (f" and {len(told) - 12} more" if len(told) > 12 else ""),)  # fmt: skip
