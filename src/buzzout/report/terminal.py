"""The punch list for a terminal: grouped by severity, numbered, wrapped; colour only on top."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from buzzout.job.confirm import CAUTION
from buzzout.job.punch import Item, PunchList
from buzzout.job.rulebook import SEVERITIES
from buzzout.report import wording
from buzzout.report.wording import clean

# How a terminal is told, by ECMA-48, 8.3.117 "select graphic rendition".
PLAIN, BOLD, DIM = "", "1", "2"
STYLES = {"danger": "1;31", "damage": "1;35", "fault": "1;33", "note": BOLD}
LABELS = 10  # width of the column of labels


def as_text(punch: PunchList, width: int = 80, *, colour: bool = False, brief: bool = False) -> str:
    """The whole list for a terminal of `width` columns; `brief` gives one line for each finding."""
    lines = _Page(width, colour).lines(punch, brief=brief)
    return "\n".join(line.rstrip() for line in lines).rstrip("\n")


@dataclass(frozen=True)
class _Page:
    """Lines of a page so many columns wide, with colour or without."""

    width: int
    colour: bool

    def lines(self, punch: PunchList, *, brief: bool) -> Iterator[str]:
        """The whole list."""
        comparison = punch.comparison
        yield from self._labelled(
            "drawing", comparison.reference.title or comparison.reference.file
        )
        yield from self._labelled("chassis", comparison.found.title or comparison.found.file)
        if told := wording.half_typed(punch):
            yield from self._labelled("half typed", told)
        if wording.needs_cautions(punch):
            yield ""
            yield self._in(BOLD, "BEFORE YOU OPEN OR MEASURE ANYTHING")
            yield from self._hung("", 2, self._less(2).wrapped((CAUTION, PLAIN)))
        for severity in SEVERITIES:
            items = [item for item in punch.everything if item.severity == severity]
            if items:
                yield ""
                yield from self._heading(severity, len(items))
                yield from self._items(items, brief=brief)
        yield from self._foot(punch)

    def _heading(self, severity: str, count: int) -> Iterator[str]:
        name, meaning = severity.upper(), f" ({count}): {wording.MEANING[severity]}"
        yield self._in(STYLES[severity], name) + meaning
        yield "-" * len(name + meaning)

    def _items(self, items: Sequence[Item], *, brief: bool) -> Iterator[str]:
        digits = max(2, *(len(str(item.number)) for item in items))
        for number, item in enumerate(items):
            if number and not brief:
                yield ""
            told = self._less(digits + 2).told(item, brief=brief)
            yield from self._hung(f"{item.number:>{digits}}", digits + 2, told)

    def told(self, item: Item, *, brief: bool) -> Iterator[str]:
        """What is told of one item."""
        finding = item.finding
        place = clean(f"  {wording.place(finding)}") if brief else ""
        severity = (f"{item.severity}: ", STYLES[item.severity])
        yield from self.wrapped(severity, (wording.head(item), BOLD), (place, PLAIN))
        if not brief:
            yield from self.wrapped((clean(finding.text), PLAIN))
            for label, text in wording.rows(item):
                yield from self._labelled(label, text)

    def _foot(self, punch: PunchList) -> Iterator[str]:
        yield ""
        yield self._in(BOLD, "RESULT")
        yield "------"
        for label, text in wording.result(punch):
            yield from self._labelled(label, text)
        wanted = tuple(f"{each.text}, because {each.reason}" for each in punch.departures)
        for label, lines in (*wording.rests_on(punch), ("wanted", wanted)):
            for number, line in enumerate(lines):
                yield from self._labelled("" if number else label, line)

    def _labelled(self, label: str, text: str) -> Iterator[str]:
        indent = LABELS + 1
        return self._hung(label, indent, self._less(indent).wrapped((clean(text), PLAIN)), DIM)

    def _hung(
        self, mark: str, indent: int, lines: Iterable[str], style: str = PLAIN
    ) -> Iterator[str]:
        """Lines moved to the right, with a mark before the first."""
        for number, line in enumerate(lines):
            lead = " " * indent if number else self._in(style, mark.ljust(indent))
            yield lead + line

    def _less(self, indent: int) -> _Page:
        """What is left of the page beside something so many columns wide."""
        return _Page(self.width - indent, self.colour)

    def wrapped(self, *told: tuple[str, str]) -> Iterator[str]:
        """Lines of a text that is told in several styles."""
        text = "".join(part for part, _ in told)
        styles = [style for part, style in told for _ in part]
        at = 0
        for line in textwrap.wrap(text, self.width, break_on_hyphens=False) or [""]:
            at = text.index(line, at)
            alike = groupby(zip(line, styles[at:], strict=False), key=lambda each: each[1])
            yield "".join(self._in(style, "".join(c for c, _ in part)) for style, part in alike)
            at += len(line)

    def _in(self, style: str, text: str) -> str:
        return f"\x1b[{style}m{text}\x1b[0m" if self.colour and style else text
