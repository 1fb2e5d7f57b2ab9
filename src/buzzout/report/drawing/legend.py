"""The legend under the picture: its title, the looks in use, how to read it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buzzout.report.drawing import symbols
from buzzout.report.drawing.bands import Band
from buzzout.report.drawing.canvas import Canvas, Pen, Spot
from buzzout.report.drawing.facts import told
from buzzout.report.drawing.marks import Marks
from buzzout.report.drawing.palette import BLACK, GREY, Look
from buzzout.report.drawing.sheet import Sheet

LINE, ROOM = 17.0, 460.0
LIVE = "CHASSIS LIVE: the mains can be on it. Touch nothing while it is plugged in."


@dataclass(frozen=True, slots=True)
class Scope:
    """What the picture holds: the whole circuit or surroundings, tags of the chassis or none."""

    whole: bool
    tagged: bool


def draw_legend(
    paper: Canvas, drawn: Sheet, laid_out: Sequence[Band], laid: Marks, scope: Scope
) -> None:
    """Title, samples and notes: beside the last band where there is room, else under it."""
    paper.layer()
    x, y = _corner(laid_out)
    if drawn.circuit.title:
        paper.text((x, y), drawn.circuit.title, "start", 14, bold=True)
        y += 6
    if drawn.live:
        y += LINE
        symbols.warning(paper, (x + 8, y - 1))
        paper.text((x + 22, y), LIVE, "start", 12, bold=True)
    for look in laid.looks:
        y += LINE
        _sample(paper, look, (x, y))
    for note in _notes(drawn, laid, scope):
        y += LINE
        paper.text((x, y), note, "start", 10, colour=GREY)


def _corner(laid_out: Sequence[Band]) -> Spot:
    """Where the legend begins."""
    if not laid_out:
        return 0.0, 0.0
    last = laid_out[-1]
    if max(band.right for band in laid_out) - last.right > ROOM:
        top = min(a[1] for a, _b in last.bounds.values())
        return last.right + 40, top + 20
    return 0.0, last.bottom + 34


def _notes(drawn: Sheet, laid: Marks, scope: Scope) -> list[str]:
    notes = []
    if laid.looks:
        notes.append("A number in a frame is the number in the punch list.")
    if not scope.whole:
        notes.append("Only the surroundings of the findings are drawn.")
    if drawn.usual:
        notes.append(f"Where no rating stands: {told(drawn.usual)}.")
    notes.append("Chassis and supply lines are drawn at each use; valve pins count from below.")
    if scope.tagged:
        notes.append("Small print over a line: tags of the chassis where it is to be found.")
    return notes


def _sample(paper: Canvas, look: Look, at: Spot) -> None:
    x, y = at
    pen = Pen(look.colour, look.width, look.line)
    if look.name in ("differs", "rule", "harmless"):
        paper.box((x + 2, y - 6), (x + 34, y + 6), pen, rounded=True)
        if look.name == "differs":
            paper.box((x + 5, y - 3), (x + 31, y + 3), Pen(look.colour), rounded=True)
    else:
        paper.line([(x + 2, y), (x + 34, y)], pen)
    paper.text((x + 42, y), look.legend, "start", 10, colour=BLACK)
