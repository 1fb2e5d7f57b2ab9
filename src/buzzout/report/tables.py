"""Sheets of tables: for a terminal, as CSV and as JSON. Figures stay in base units in the last two.

A sheet knows nothing of valves; what stands in it is chosen in `ohms`, `volts`, `stresses`,
`stages` and `tones`.
"""

from __future__ import annotations

import csv
import io
import json
import math
import re
import textwrap
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import Any

from buzzout.circuit import CHASSIS, Circuit, Point, printed
from buzzout.job.confirm import CAUTION
from buzzout.report.wording import clean, program

FORMAT = 1  # 1: first published form
_NARROWEST = 12  # a folded column is no narrower
_LABEL = 12  # width of the column of labels above the tables


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its key in CSV and JSON, its heading, and how a value is said to a person.

    `only_data` leaves it out of the text.
    """

    key: str
    head: str = ""
    shown: Callable[[Any], str] = str
    right: bool = False
    only_data: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of values, one for each column."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Any, ...], ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """What a command prints: what it rests on, tables, and remarks below them."""

    title: str
    head: tuple[tuple[str, str], ...] = ()
    tables: tuple[Table, ...] = ()
    remarks: tuple[str, ...] = ()


def as_text(sheet: Sheet, width: int = 96) -> str:
    """A sheet for a person, cautions first."""
    sheet = replace(sheet, tables=tuple(_for_people(table) for table in sheet.tables))
    lines = [clean(sheet.title), "", *textwrap.wrap(CAUTION, width)]
    if sheet.head:
        lines.append("")
        for label, text in sheet.head:
            lines += textwrap.wrap(clean(f"{label:{_LABEL}}{text}"), width,
                                   subsequent_indent=" " * _LABEL)  # fmt: skip
    for table in sheet.tables:
        lines += [
            "",
            *_table(table, _fitted(_widths(table, sheet.tables), table.columns, width), width),
        ]
    if sheet.remarks:
        lines.append("")
        for remark in gathered(sheet.remarks):
            lines += textwrap.wrap(clean(remark), width, initial_indent="- ",
                                   subsequent_indent="  ")  # fmt: skip
    return "\n".join(line.rstrip() for line in lines)


def gathered(remarks: Iterable[str]) -> list[str]:
    """Remarks that say the same of several parts as one: `P1, P2: rotation not stated`."""
    said: dict[str, list[str]] = {}
    for remark in dict.fromkeys(remarks):
        who, colon, what = remark.partition(": ")
        said.setdefault(what if colon else who, []).append(who if colon else "")
    return [f"{', '.join(who)}: {what}" if who[0] else what for what, who in said.items()]


def _for_people(table: Table) -> Table:
    """Without the columns that are only data."""
    kept = [i for i, column in enumerate(table.columns) if not column.only_data]
    rows = tuple(tuple(row[i] for i in kept) for row in table.rows)
    return Table(table.title, tuple(table.columns[i] for i in kept), rows)


def _widths(table: Table, every: Sequence[Table]) -> list[int]:
    """Widths of the columns, the same in all tables that have the same columns."""
    alike = [t for t in every if t.columns == table.columns]
    return [
        max(len(column.head), *(len(_cell(column, row[i])) for t in alike for row in t.rows), 1)
        for i, column in enumerate(table.columns)
    ]


def _fitted(widths: Sequence[int], columns: Sequence[Column], width: int) -> list[int]:
    """The same made to fit a narrow terminal: the widest column of words is folded."""
    fitted = list(widths)
    words = [i for i, column in enumerate(columns) if not column.right]
    over = sum(fitted) + 2 * len(fitted) - width
    if over > 0 and words:
        widest = max(words, key=lambda i: fitted[i])
        fitted[widest] = max(fitted[widest] - over, _NARROWEST, len(columns[widest].head))
    return fitted


def _table(table: Table, widths: Sequence[int], width: int) -> Iterator[str]:
    if table.title:
        yield from textwrap.wrap(clean(table.title), width)
    heads = [column.head for column in table.columns]
    yield from _lines(heads, table.columns, widths)
    yield "  " + "-" * (sum(widths) + 2 * len(widths) - 2)
    for row in table.rows:
        cells = [_cell(column, value) for column, value in zip(table.columns, row, strict=True)]
        yield from _lines(cells, table.columns, widths)


def _lines(cells: Sequence[str], columns: Sequence[Column], widths: Sequence[int]) -> Iterator[str]:
    """One row; what does not fit its column goes on below."""
    folded = [
        [cell] if len(cell) <= width else textwrap.wrap(cell, width)
        for cell, width in zip(cells, widths, strict=True)
    ]
    for line in zip_longest(*folded, fillvalue=""):
        placed = [
            cell.rjust(width) if column.right else cell.ljust(width)
            for cell, column, width in zip(line, columns, widths, strict=True)
        ]
        yield "  " + "  ".join(placed).rstrip()


def _cell(column: Column, value: Any) -> str:
    return "" if value is None else clean(column.shown(value))


def as_csv(sheet: Sheet) -> str:
    """All tables as one CSV (RFC 4180): the union of their columns, the table's title first.

    Figures in base units; `open` for an infinite one, empty where nothing is known.
    """
    keys = list(dict.fromkeys(c.key for table in sheet.tables for c in table.columns))
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, ["table", *keys], restval="")
    writer.writeheader()
    for table in sheet.tables:
        for row in _records(table):
            writer.writerow({"table": table.title, **{k: _field(v) for k, v in row.items()}})
    return text.getvalue()


def _records(table: Table) -> Iterator[Mapping[str, Any]]:
    keys = [column.key for column in table.columns]
    for row in table.rows:
        yield dict(zip(keys, row, strict=True))


def _field(value: Any) -> str:
    if isinstance(value, float):
        number = _finite(value)
        return number if isinstance(number, str) else "" if number is None else f"{number:.6g}"
    text = "" if value is None else str(value)
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def as_json(sheet: Sheet, inputs: Mapping[str, str]) -> str:
    """A sheet as one JSON object; `inputs` gives the SHA-256 of each input file by name."""
    told = {
        "format": FORMAT,
        "program": program(),
        "title": sheet.title,
        "about": dict(sheet.head),
        "tables": [
            {
                "title": table.title,
                "rows": [{k: _plain(v) for k, v in row.items()} for row in _records(table)],
            }
            for table in sheet.tables
        ],
        "remarks": list(sheet.remarks),
        "inputs": [{"name": name, "sha256": digest} for name, digest in inputs.items()],
        "cautions": CAUTION,
    }
    return json.dumps(told, ensure_ascii=True, allow_nan=False, indent=1)


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return _finite(value)
    return value if value is None or isinstance(value, (bool, int)) else str(value)


def _finite(value: float) -> float | str | None:
    """A number of six figures; "open" for an infinite one, None where nothing is known."""
    if math.isnan(value):
        return None
    return "open" if math.isinf(value) else float(f"{value:.6g}")


# -- how figures are said ---------------------------------------------------------------------


def ohms(value: float) -> str:
    """`220k`, `<1R`, `open`."""
    if math.isnan(value):
        return "not known"
    if math.isinf(value):
        return "open"
    return "<1R" if value < 1 else printed(float(f"{value:.3g}"), "ohm")


def volts(value: float) -> str:
    """`168 V`, `1.42 V`: as many figures as a meter shows; `floats` where nothing settles it."""
    return "floats" if math.isnan(value) else f"{figure(value)} V"


def figure(value: float) -> str:
    """Three figures and no more than two decimals."""
    decimals = 0 if abs(value) >= 99.5 else 1 if abs(value) >= 9.95 else 2
    return f"{round(value, decimals) + 0.0:.{decimals}f}"


def amount(value: float, unit: str) -> str:
    """Three figures with a multiplier: `66.7 mA`, `8.35 W`, `12.5 uV`."""
    if not math.isfinite(value):
        return "not known"
    if abs(value) < 1e-9:
        return f"0 {unit}"
    for factor, prefix in ((1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "u")):
        if abs(value) >= 0.9995 * factor or prefix == "u":
            return f"{value / factor:.3g} {prefix}{unit}"
    raise AssertionError(value)


# -- points in the order of the bench ----------------------------------------------------------

WHERE = (Column("point", "point"), Column("electrode", "electrode"))


def by_socket(circuit: Circuit, points: Iterable[Point]) -> list[tuple[str, list[Point]]]:
    """Points under the heading of their socket, in order of the file; all others at the end."""
    sockets = {p.name: p for p in circuit.parts.values() if p.kind == "socket"}
    groups: dict[str, list[Point]] = {name: [] for name in sockets}
    others: list[Point] = []
    for point in points:
        groups.get(point.owner, others).append(point)
    titled = [
        (f"{name} {sockets[name].type}".strip(), sorted(mine, key=_by_pin))
        for name, mine in groups.items()
        if mine
    ]
    return [*titled, *([("Other points", others)] if others else [])]


def _by_pin(point: Point) -> tuple[int, str]:
    return (int(point.pin), "") if point.pin.isdigit() else (99, point.pin)


def called(text: str, circuit: Circuit) -> str:
    """Text with the parts that nobody gave a name called by value and line: `the 27k of line 347`.

    The language names them `@347`.
    """
    return re.sub(r"@\w+", lambda found: _nameless(found[0], circuit), text)


def _nameless(name: str, circuit: Circuit) -> str:
    part = circuit.parts.get(name)
    if part is None:
        return name
    what = (
        printed(part.value.value, "ohm" if part.kind == "resistor" else part.value.unit)
        if part.value
        else part.kind
    )
    return f"the {what} of line {part.span.line}"


def across(at: Point, to: Point) -> str:
    """`V1.3`, or `T1.h1 to T1.h2` where the other probe is not on the chassis."""
    return str(at) if to == CHASSIS else f"{at} to {to}"
