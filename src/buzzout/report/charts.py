"""Charts of resistance and voltage by socket pin: the drawing beside the chassis, in words.

The figures are computed by the caller; this only says them. Nothing is told by colour alone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from buzzout.catalogue import Device, device
from buzzout.catalogue.records import EMPTY
from buzzout.circuit import Circuit, Part, Point, printed
from buzzout.report.sockets import electrodes
from buzzout.report.wording import clean

if TYPE_CHECKING:
    from buzzout.electrics import Pair, Range, Row, VoltageLine

OPEN, UNKNOWN = "open", "not known"
SWING, SWING_SHARE = 0.5, 0.1  # alternating voltages further apart than this differ; V, share


@dataclass(frozen=True, slots=True)
class Charts:
    """What to print, computed for one comparison; either may be empty.

    `resistance` are the resistances to `to` with the power off, `voltage` the voltages to it.
    `remarks` say what they rest on, such as the meter and what was left out.
    """

    resistance: Sequence[Pair] = ()
    voltage: Sequence[Row] = ()
    to: str = "chassis"
    remarks: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class Said:
    """One figure: what to expect, its range in words, and the same on the chassis as typed in."""

    drawn: str
    range: str
    found: str
    differs: bool


@dataclass(frozen=True, slots=True)
class Line:
    """One point of a table; None or "" where nothing is known."""

    pin: str
    electrode: str
    ohms: Said | None
    volts: Said | None
    maker: str
    read: str

    @property
    def differs(self) -> bool:
        """Whether drawing and chassis disagree here."""
        return any(said is not None and said.differs for said in (self.ohms, self.volts))


@dataclass(frozen=True, slots=True)
class Table:
    """The points of one socket, or all the others."""

    title: str
    lines: tuple[Line, ...]

    def any(self, column: str) -> bool:
        """Whether a column has anything in it: "ohms", "volts", "maker", "read"."""
        return any(getattr(line, column) for line in self.lines)


def tables(charts: Charts, drawing: Circuit) -> tuple[Table, ...]:
    """One table for each socket in order of the drawing, then one for the other points."""
    known = _Known(
        {pair.point: pair for pair in charts.resistance}, {row.point: row for row in charts.voltage}
    )
    points = tuple(dict.fromkeys((*known.ohms, *known.volts)))
    sockets = [part for part in drawing.parts.values() if part.kind == "socket"]
    found = [(f"{part.name} {part.type}".strip(), known.socket(part)) for part in sockets]
    names = {part.name for part in sockets}
    rest = tuple(known.line(p, str(p), "") for p in points if p.owner not in names)
    every = (Table(clean(title), lines) for title, lines in (*found, ("Other points", rest)))
    return tuple(table for table in every if table.lines)


@dataclass(frozen=True)
class _Known:
    """The figures of every point."""

    ohms: Mapping[Point, Pair]
    volts: Mapping[Point, Row]

    def socket(self, part: Part) -> tuple[Line, ...]:
        """The pins of a socket with a figure, idle ones left out."""
        valve = device(part.type) if part.type else None
        told = [p for p in part.points if p in self.ohms or p in self.volts]
        named = electrodes(part)
        return tuple(
            self.line(p, p.pin, named.get(p.pin, "")) for p in told if not self._idle(p, valve)
        )

    def _idle(self, point: Point, valve: Device | None) -> bool:
        """Whether a pin is joined to nothing inside and nothing is on it, drawn or found."""
        electrode = valve.pins.get(point.pin) if valve else None
        pair = self.ohms.get(point)
        ends = (pair.reference.nominal, pair.found.nominal) if pair else ()
        return electrode is not None and electrode.role in EMPTY and all(map(math.isinf, ends))

    def line(self, point: Point, name: str, electrode: str) -> Line:
        """One point in words."""
        ohms, volts = self.ohms.get(point), self.volts.get(point)
        return Line(
            clean(name),
            clean(electrode),
            _ohms(ohms) if ohms else None,
            _volts(volts) if volts else None,
            clean(f"{volts.expected.value}") if volts and volts.expected else "",
            clean(f"{volts.measured.value}") if volts and volts.measured else "",
        )


def _ohms(pair: Pair) -> Said:
    return Said(
        _ohm(pair.reference.nominal), _span(pair.reference), _ohm(pair.found.nominal), pair.differs
    )


def _ohm(value: float) -> str:
    """`220k`, `<1R`, `open`."""
    if math.isinf(value):
        return OPEN
    return "<1R" if value < 1 else printed(float(f"{value:.3g}"), "ohm")


def _span(ohms: Range) -> str:
    if math.isinf(ohms.low) or ohms.high < 1:
        return ""
    return f"{_ohm(ohms.low)} to {_ohm(ohms.high)}"


def _volts(row: Row) -> Said | None:
    drawn, found = row.reference, row.found
    if math.isnan(drawn.shown) and math.isnan(found.shown) and not drawn.heater + found.heater:
        return None
    swings = _swings(drawn) or _swings(found)
    apart = abs(drawn.heater - found.heater) > max(SWING, SWING_SHARE * drawn.heater)
    low, high = _figure(drawn.low), _figure(drawn.high)
    span = "" if _swings(drawn) or low == high else f"{low} to {high} V"
    return Said(_volt(drawn), span, _volt(found), row.moved or (swings and apart))


def _swings(line: VoltageLine) -> bool:
    """Whether the alternating voltage is what a person would measure here."""
    steady = 0.0 if math.isnan(line.shown) else abs(line.shown)
    return line.heater > max(1.0, 2 * steady)


def _volt(line: VoltageLine) -> str:
    """`168 V`; `6.3 V~` where it alternates."""
    if _swings(line):
        return f"{_figure(line.heater)} V~"
    return UNKNOWN if math.isnan(line.shown) else f"{_figure(line.shown)} V"


def _figure(value: float) -> str:
    """As many figures as a meter shows."""
    if abs(value) >= 100:
        return f"{value:.0f}"
    return f"{round(value, 1) + 0.0:g}"
