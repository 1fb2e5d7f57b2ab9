"""The punch list for a terminal: grouped by severity, numbered, wrapped; colour only on top."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from buzzout.job.confirm import CAUTION
from buzzout.job.punch import Item, PunchList
from buzzout.job.rulebook import SEVERITIES
from buzzout.report import wording
from buzzout.report.wording import clean

STYLES = {"danger": "bold red", "damage": "bold magenta", "fault": "bold yellow", "note": "bold"}
LABELS = 10  # width of the column of labels


def as_text(punch: PunchList, width: int = 80, *, colour: bool = False, brief: bool = False) -> str:
    """The whole list for a terminal of `width` columns; `brief` gives one line for each finding."""
    out = io.StringIO()
    console = Console(
        file=out, width=width, force_terminal=colour, no_color=not colour, highlight=False,
        color_system="standard" if colour else None, markup=False, emoji=False,
        legacy_windows=False, _environ={},
    )  # fmt: skip
    for piece in _pieces(punch, brief=brief):
        console.print(piece)
    lines = (line.rstrip() for line in out.getvalue().split("\n"))
    return "\n".join(lines).rstrip("\n")


def _pieces(punch: PunchList, *, brief: bool) -> Iterator[RenderableType]:
    comparison = punch.comparison
    yield _labelled("drawing", comparison.reference.title or comparison.reference.file)
    yield _labelled("chassis", comparison.found.title or comparison.found.file)
    if wording.needs_cautions(punch):
        yield Text()
        yield Text("BEFORE YOU OPEN OR MEASURE ANYTHING", style="bold")
        yield Padding(Text(CAUTION), (0, 0, 0, 2))
    for severity in SEVERITIES:
        items = [item for item in punch.everything if item.severity == severity]
        if items:
            yield Text()
            yield _heading(severity, len(items))
            yield from _items(items, brief=brief)
    yield from _foot(punch)


def _heading(severity: str, count: int) -> RenderableType:
    head = Text(severity.upper(), style=STYLES[severity])
    head.append(f" ({count}): {wording.MEANING[severity]}", style="not bold")
    return Group(head, Text("-" * len(head.plain)))


def _items(items: Sequence[Item], *, brief: bool) -> Iterator[RenderableType]:
    digits = max(len(str(item.number)) for item in items)
    for number, item in enumerate(items):
        if number and not brief:
            yield Text()
        table = Table.grid(padding=(0, 2, 0, 0))
        table.add_column(justify="right", width=max(digits, 2), no_wrap=True)
        table.add_column(ratio=1, overflow="fold")
        table.add_row(str(item.number), _told(item, brief=brief))
        yield table


def _told(item: Item, *, brief: bool) -> RenderableType:
    finding = item.finding
    head = Text(f"{item.severity}: ", style=STYLES[item.severity])
    head.append(wording.head(item), style="bold")
    if brief:
        head.append(clean(f"  {wording.place(finding)}"), style="not bold")
        return head
    told = [_labelled(label, text) for label, text in wording.rows(item)]
    return Group(head, Text(clean(finding.text)), *told)


def _labelled(label: str, text: str) -> RenderableType:
    table = Table.grid(padding=(0, 1, 0, 0))
    table.add_column(width=LABELS, no_wrap=True)
    table.add_column(overflow="fold")
    table.add_row(Text(label, style="dim"), Text(clean(text)))
    return table


def _foot(punch: PunchList) -> Iterator[RenderableType]:
    yield Text()
    yield Text("RESULT", style="bold")
    yield Text("------")
    for label, text in wording.result(punch):
        yield _labelled(label, text)
    wanted = tuple(f"{each.text}, because {each.reason}" for each in punch.departures)
    for label, lines in (*wording.rests_on(punch), ("wanted", wanted)):
        for number, line in enumerate(lines):
            yield _labelled("" if number else label, line)
