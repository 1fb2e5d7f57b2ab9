"""Every label of the picture is made here: words in, the renderer's markup out.

The renderer takes `<...>` as markup and a backslash as an escape, also one that is written as a
character reference; so nothing that a user wrote may reach it without passing `words`.
"""

from __future__ import annotations

from collections.abc import Iterable

_ENTITIES = {
    "&": "&amp;",
    "<": "&lt;",
    ">": "&gt;",
    '"': "&quot;",
    "'": "&#39;",
    "\\": "&#92;&#92;",
}
# Widths of a proportional sans-serif face in parts of its size: enough to keep words apart.
_NARROW, _WIDE = frozenset("ijlI.,:;'|!()[]ft/ "), frozenset("mwMWQO@%&ΩK")


def words(text: str) -> str:
    """Text as markup; what is not printable becomes a blank."""
    return "".join(_ENTITIES.get(c, c if c.isprintable() else " ") for c in text) or " "


def label(
    text: str, size: float, align: str = "middle", *, bold: bool = False, colour: str = "#000000"
) -> str:
    """One line of text as a whole label, in a cell of known width so that it starts where it says.

    `align` is start, middle or end. The cell is `room` wide.
    """
    font = f'<FONT POINT-SIZE="{size:g}" COLOR="{colour}">{words(text)}</FONT>'
    if bold:
        font = f"<B>{font}</B>"
    side = {"start": "LEFT", "end": "RIGHT"}.get(align, "CENTER")
    return (
        '<<TABLE BORDER="0" CELLBORDER="0" CELLSPACING="0" CELLPADDING="0">'
        f'<TR><TD FIXEDSIZE="TRUE" WIDTH="{room(text, size)}" HEIGHT="{round(size * 1.8)}" '
        f'ALIGN="{side}">{font}</TD></TR></TABLE>>'
    )


def room(text: str, size: float) -> int:
    """Width of the cell of a label, in points: amply what the text needs."""
    return round(wide(text, size) * 1.3 + 8)


def wide(text: str, size: float) -> float:
    """About how wide a line of text is, in points."""
    parts = (
        0.3 if c in _NARROW else 0.88 if c in _WIDE else 0.7 if c.isupper() else 0.57 for c in text
    )
    return size * sum(parts)


def widest(lines: Iterable[str], size: float) -> float:
    """The width of the widest line, in points."""
    return max((wide(line, size) for line in lines), default=0.0) * 1.08  # some are bold
