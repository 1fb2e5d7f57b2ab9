"""The resistance chart as a sheet: one file, or drawing and chassis side by side."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from buzzout.catalogue import device
from buzzout.circuit import Circuit, Point
from buzzout.report.tables import WHERE, Column, Table, across, by_socket, called, ohms

if TYPE_CHECKING:
    from buzzout.compare import Finding
    from buzzout.electrics import Chart, Check, Judgement, Pair, Range

_RIGHT = "transcription right"
_ONE = (
    *WHERE,
    Column("ohm", "reads", ohms, right=True),
    Column("low_ohm", "from", ohms, right=True),
    Column("high_ohm", "to", ohms, right=True),
)
_TWO = (
    *WHERE,
    Column("drawn_ohm", "drawn", ohms, right=True),
    Column("drawn_low_ohm", "from", ohms, right=True),
    Column("drawn_high_ohm", "to", ohms, right=True),
    Column("found_ohm", "found", ohms, right=True),
    Column("found_low_ohm", "from", ohms, right=True),
    Column("found_high_ohm", "to", ohms, right=True),
    Column("differs", "", lambda differs: "DIFFERS" if differs else ""),
)
_READ = (
    Column("at", "between"),
    Column("read_ohm", "read", ohms, right=True),
    Column("found_ohm", "as transcribed", ohms, right=True),
    Column("drawn_ohm", "as drawn", ohms, right=True),
    Column("verdict", "verdict"),
    Column("why", ""),
)


def chart_tables(told: Chart, circuit: Circuit) -> tuple[Table, ...]:
    """The chart of one file by socket; points with no way to the other probe read open."""
    span: dict[Point, Range | None] = {line.point: line.ohms for line in told.lines}
    span |= dict.fromkeys(told.open)
    return tuple(
        Table(title, _ONE, tuple((str(p), electrode(circuit, p), *_figures(span[p])) for p in own))
        for title, own in by_socket(circuit, _in_order(circuit, span))
    )


def _figures(span: Range | None) -> tuple[float | None, float | None, float | None]:
    """Nominal, lowest, highest; an open one has no range."""
    if span is None or math.isinf(span.low):
        return math.inf, None, None
    return span.nominal, span.low, span.high


def _in_order(circuit: Circuit, points: Mapping[Point, object]) -> list[Point]:
    owners = {name: place for place, name in enumerate(circuit.parts)}
    return sorted(points, key=lambda p: owners.get(p.owner, len(owners)))


def pair_tables(pairs: Sequence[Pair], circuit: Circuit) -> tuple[Table, ...]:
    """The points that differ first, then the whole chart by socket."""
    told = {pair.point: pair for pair in pairs}
    different = [pair for pair in pairs if pair.differs]
    tables = [
        Table(title, _TWO, tuple(_row(circuit, told[p]) for p in own))
        for title, own in by_socket(circuit, told)
    ]
    if not different:
        return tuple(tables)
    rows = tuple((str(p.point), *_row(circuit, p)[1:]) for p in different)
    return (Table("POINTS THAT DIFFER BEYOND TOLERANCE", _TWO, rows), *tables)


def _row(circuit: Circuit, pair: Pair) -> tuple[object, ...]:
    return (
        str(pair.point), electrode(circuit, pair.point),
        *_figures(pair.reference), *_figures(pair.found), pair.differs,
    )  # fmt: skip


def electrode(circuit: Circuit, point: Point) -> str:
    """What a socket pin is joined to inside its valve; empty elsewhere."""
    part = circuit.parts.get(point.owner)
    valve = device(part.type) if part is not None and part.kind == "socket" and part.type else None
    if valve is None:
        return ""
    told = str(valve.pins.get(point.pin, ""))
    return told.removesuffix(" 1") if len(valve.sections) == 1 else told


def judged_table(judged: Iterable[Judgement], circuit: Circuit) -> tuple[Table, ...]:
    """The readings of the chassis file, each with its verdict; no table where there are none."""
    rows = tuple(
        (
            between(j.at, j.to, circuit), j.reading, j.found.nominal,
            None if j.reference is None else j.reference.nominal, j.verdict,
            "" if j.verdict == _RIGHT else called(j.why, circuit),
        )
        for j in judged
    )  # fmt: skip
    return (Table("READINGS, POWER OFF", _READ, rows),) if rows else ()


_SETTLED = (
    Column("number", "no", right=True),
    Column("between", "between"),
    Column("found_ohm", "if as transcribed", right=True),
    Column("slip_ohm", "if a slip of the pen", right=True),
    Column("finding", "finding"),
    Column("text", only_data=True),
)
_UNTOLD = (Column("finding", "finding"), Column("instead", "what would tell"))


def settled_tables(
    checks: Sequence[Check],
    instead: Mapping[int, str],
    findings: Sequence[Finding],
    circuit: Circuit,
) -> tuple[Table, ...]:
    """Readings in order, each with the findings that it settles; then what no ohmmeter tells."""
    rows: list[tuple[object, ...]] = []
    for number, check in enumerate(checks, 1):
        first: tuple[object, ...] = (
            number, between(check.at, check.to, circuit), meter_span(check.found),
        )  # fmt: skip
        for n, reading in zip(check.decides, check.readings, strict=True):
            text = called(findings[n].text, circuit)
            rows.append((*first, meter_span(reading), _brief(text), text))
            first = (None, "", "")
    left = tuple((_brief(called(findings[n].text, circuit)), words) for n, words in instead.items())
    return (
        *((Table("MEASURE, IN THIS ORDER", _SETTLED, tuple(rows)),) if rows else ()),
        *((Table("NO RESISTANCE TELLS", _UNTOLD, left),) if left else ()),
    )


_BRIEF = 52  # letters of a finding in a table


def _brief(text: str) -> str:
    first = text.split(". ", maxsplit=1)[0].rstrip(".")
    return first if len(first) <= _BRIEF else first[: _BRIEF - 1].rsplit(" ", 1)[0] + " …"


def meter_span(span: Range) -> str:
    """What a meter may show, its own error included: `312k to 382k`, `open`, `less than 1R`."""
    low, high = span.widened()
    if math.isinf(low):
        return "open"
    if high < 1:
        return "<1R"
    return f"{ohms(max(low, 0.0))} to {ohms(high)}"


def between(at: Point, to: Point, circuit: Circuit) -> str:
    """Where the two probes were; a part measured by itself by its name."""
    if at.owner == to.owner and at.owner.startswith("@"):
        return called(at.owner, circuit)
    return across(at, to)
