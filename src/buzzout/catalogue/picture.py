"""A socket seen from below, as text and as SVG, from the one table of pins in `bases`."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from math import cos, radians, sin

from buzzout.catalogue.bases import Base

_ROWS, _SPREAD = 13, 11
_SIZE, _RADIUS, _WIDTH = 260, 78, 560


def socket_text(base: Base, labels: Mapping[str, str]) -> str:
    """The socket from below with a label at each pin, its mark (key or gap) at the bottom."""
    left = max((len(labels.get(pin, "")) for pin in base.pins), default=0) + 3
    middle = left + _SPREAD
    rows = [[" "] * (2 * middle + 1) for _ in range(_ROWS)]
    for pin, angle in base.angles.items():
        column = middle - round(_SPREAD * sin(radians(angle)))
        row = round((1 + cos(radians(angle))) / 2 * (_ROWS - 1))
        _write(rows[row], column, pin, labels.get(pin, ""), column < middle)
    mark = f"[{base.mark}]"
    start = middle - len(mark) // 2
    rows[_ROWS - 1][start : start + len(mark)] = mark
    return "\n".join("".join(row).rstrip() for row in rows)


def _write(row: list[str], column: int, pin: str, label: str, on_the_left: bool) -> None:
    text = f"{label} {pin}".strip() if on_the_left else f"{pin} {label}".strip()
    start = column - len(text) + 1 if on_the_left else column
    row[start : start + len(text)] = text


def socket_svg(base: Base, labels: Mapping[str, str]) -> str:
    """The same as SVG: pure ASCII, the same bytes every time."""
    x, y = _WIDTH / 2, _SIZE / 2
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_SIZE}" role="img">',
        '<g font-family="sans-serif" font-size="13">',
        f"<title>{_plain(base.name)} seen from below</title>",
        f'<circle cx="{x:g}" cy="{y:g}" r="{_RADIUS + 16}" fill="none" stroke="black"/>',
        f'<text x="{x:g}" y="{y + _RADIUS + 12:g}" text-anchor="middle">{_plain(base.mark)}</text>',
    ]
    for pin, angle in base.angles.items():
        lines += _pin_svg(x - sin(radians(angle)) * _RADIUS, y, angle, (pin, labels.get(pin, "")))
    return "\n".join([*lines, "</g>", "</svg>"]) + "\n"


def _pin_svg(across: float, middle: float, angle: float, told: tuple[str, str]) -> list[str]:
    pin, label = told
    down = middle + cos(radians(angle)) * _RADIUS
    side = -1 if sin(radians(angle)) > 0.01 else 1
    anchor = "end" if side < 0 else "start"
    beyond = across + side * 30 + (0 if abs(sin(radians(angle))) > 0.2 else side * 6)
    return [
        f'<circle cx="{across:.1f}" cy="{down:.1f}" r="11" fill="white" stroke="black"/>',
        f'<text x="{across:.1f}" y="{down + 4:.1f}" text-anchor="middle">{_plain(pin)}</text>',
        f'<text x="{beyond:.1f}" y="{down + 4:.1f}" text-anchor="{anchor}">{_plain(label)}</text>',
    ]


def _plain(text: str) -> str:
    return escape(text).encode("ascii", "xmlcharrefreplace").decode("ascii")
