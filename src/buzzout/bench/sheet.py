"""Sheets to fill in on paper: one for each socket, strip and other piece of furniture."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from buzzout.bench.pages import rendered
from buzzout.catalogue import base
from buzzout.catalogue.picture import socket_svg
from buzzout.circuit import Circuit, Part

# Lines for each point: a tag carries more leads than a pin. Common practice.
_ROWS = {"strip": 3, "can": 3}
_ROWS_ELSE = 2
_BOX, _HEIGHT = 34, 46


@dataclass(frozen=True, slots=True)
class Sheet:
    """One piece of furniture to write down. `picture` is SVG or ""."""

    name: str
    what: str
    points: tuple[str, ...]
    rows: int
    picture: str = ""
    fitted: bool = False


# A drawing knows no strips: while none is written down, there are empty sheets for them.
_BLANKS, _TAGS = 2, 12
_BLANK = Sheet(
    "TS___",
    "strip or board: give it a name, count its tags, mark the earthed ones",
    tuple(f"tag {number}" for number in range(1, _TAGS + 1)),
    _ROWS["strip"],
)


def sheets(chassis: Circuit) -> str:
    """The page with all sheets, in the order of the file; sockets as seen from below."""
    parts = [part for part in chassis.parts.values() if part.furniture and part.kind != "bond"]
    made = [_sheet(part) for part in parts]
    if not any(part.kind == "strip" for part in parts):
        made += [_BLANK] * _BLANKS
    return rendered("sheet.html", title=chassis.title, sheets=made)


def _sheet(part: Part) -> Sheet:
    points = tuple(str(point) for point in part.points)
    return Sheet(
        part.name, _what(part), points, _ROWS.get(part.kind, _ROWS_ELSE), _picture(part),
        fitted=part.kind in ("socket", "fuse", "lamp"),
    )  # fmt: skip


def _what(part: Part) -> str:
    if part.kind == "socket":
        return f"{part.base} socket, seen from below, pins clockwise"
    if part.kind == "strip":
        return f"strip of {len(part.terminals)} tags; mark the earthed ones"
    return part.kind


def _picture(part: Part) -> Markup | str:
    """SVG that we made ourselves; names in it are escaped where it is made."""
    found = base(part.base) if part.kind == "socket" else None
    if found is not None:
        return Markup(socket_svg(found, {}))  # noqa: S704 - our own drawing
    return Markup(_strip_svg(part)) if part.kind == "strip" else ""  # noqa: S704


def _strip_svg(part: Part) -> str:
    """A row of boxes with the numbers of the tags; they are figures, nothing to escape."""
    width = _BOX * len(part.terminals) + 2
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {_HEIGHT}" role="img">',
        '<g font-family="sans-serif" font-size="12" text-anchor="middle">',
    ]
    for index, tag in enumerate(part.terminals):
        left = 1 + index * _BOX
        rows.append(
            f'<rect x="{left}" y="1" width="{_BOX}" height="26" fill="none" stroke="black"/>'
            f'<text x="{left + _BOX / 2:g}" y="42">{int(tag)}</text>'
        )
    return "\n".join([*rows, "</g>", "</svg>"])
