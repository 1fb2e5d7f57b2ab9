"""The punch list for a terminal: grouped by severity, numbered, wrapped; colour only on top."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from rich.console import Console
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
    page = _Page(console, width)
    whole = Text("\n").join(page.lines(punch, brief=brief))
    console.print(whole, soft_wrap=True)
    lines = (line.rstrip() for line in out.getvalue().split("\n"))
    return "\n".join(lines).rstrip("\n")


@dataclass(frozen=True)
class _Page:
    """Lines of text, wrapped by hand: a table of rich takes much longer to lay out."""

    console: Console
    width: int

    def lines(self, punch: PunchList, *, brief: bool) -> Iterator[Text]:
        """The whole list."""
        comparison = punch.comparison
        yield from self._labelled(
            "drawing", comparison.reference.title or comparison.reference.file
        )
        yield from self._labelled("chassis", comparison.found.title or comparison.found.file)
        if wording.needs_cautions(punch):
            yield Text()
            yield Text("BEFORE YOU OPEN OR MEASURE ANYTHING", style="bold")
            yield from self._hung(Text(), 2, [Text(CAUTION)])
        for severity in SEVERITIES:
            items = [item for item in punch.everything if item.severity == severity]
            if items:
                yield Text()
                yield from _heading(severity, len(items))
                yield from self._items(items, brief=brief)
        yield from self._foot(punch)

    def _items(self, items: Sequence[Item], *, brief: bool) -> Iterator[Text]:
        digits = max(2, *(len(str(item.number)) for item in items))
        for number, item in enumerate(items):
            if number and not brief:
                yield Text()
            mark = Text(f"{item.number:>{digits}}")
            told = _Page(self.console, self.width - digits - 2).told(item, brief=brief)
            yield from self._hung(mark, digits + 2, told)

    def told(self, item: Item, *, brief: bool) -> Iterator[Text]:
        """What is told of one item."""
        finding = item.finding
        head = Text.assemble((f"{item.severity}: ", STYLES[item.severity]))
        head.append(wording.head(item), style="bold")
        if brief:
            head.append(clean(f"  {wording.place(finding)}"), style="not bold")
        yield head
        if not brief:
            yield Text(clean(finding.text))
            for label, text in wording.rows(item):
                yield from self._labelled(label, text)

    def _labelled(self, label: str, text: str) -> Iterator[Text]:
        return self._hung(Text(label, style="dim"), LABELS + 1, [Text(clean(text))])

    def _hung(self, mark: Text, indent: int, told: Iterable[Text]) -> Iterator[Text]:
        """Lines wrapped and indented, with a mark before the first."""
        lead = mark.copy()
        for text in told:
            for line in text.wrap(self.console, self.width - indent, overflow="fold"):
                lead.pad_right(indent - len(lead))
                yield Text.assemble(lead, line)
                lead = Text()

    def _foot(self, punch: PunchList) -> Iterator[Text]:
        yield Text()
        yield Text("RESULT", style="bold")
        yield Text("------")
        for label, text in wording.result(punch):
            yield from self._labelled(label, text)
        wanted = tuple(f"{each.text}, because {each.reason}" for each in punch.departures)
        for label, lines in (*wording.rests_on(punch), ("wanted", wanted)):
            for number, line in enumerate(lines):
                yield from self._labelled("" if number else label, line)


def _heading(severity: str, count: int) -> Iterator[Text]:
    head = Text.assemble((severity.upper(), STYLES[severity]))
    head.append(f" ({count}): {wording.MEANING[severity]}")
    yield head
    yield Text("-" * len(head.plain))
