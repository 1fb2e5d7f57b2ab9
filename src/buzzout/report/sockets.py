"""A valve socket from below, as one looks at it with the chassis turned over: SVG of our own.

Pins go clockwise from the key or gap, which is drawn at the bottom; the geometry is that of
`Base.angles`. A wrong pin has a thick ring and a flag with the number of the finding, so that it is
told without colour as well.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from html import escape

from buzzout.catalogue import Base, base, device
from buzzout.circuit import Part, Point, Rewire
from buzzout.compare import Comparison, Finding
from buzzout.report.drawing.palette import VERMILION
from buzzout.report.wording import clean

WIDE, HIGH, RING, WORDS = 400, 264, 78, 106  # pixels: edges, circle of the pins, of their names
CAP = 30  # more height where there is a top cap
ACROSS, DOWN = WIDE // 2, HIGH // 2  # the middle


@dataclass(frozen=True, slots=True)
class Wrong:
    """What is wrong with one pin: numbers of the findings, and where what is on it belongs."""

    numbers: tuple[int, ...]
    belongs: str = ""


@dataclass(frozen=True)
class SocketView:
    """One socket: its picture, the pins that are wrong, and the same in words."""

    name: str
    title: str
    svg: str
    wrong: Mapping[str, Wrong] = field(default_factory=dict)
    words: tuple[str, ...] = ()


def socket_views(comparison: Comparison, numbers: Mapping[str, int]) -> tuple[SocketView, ...]:
    """Every socket of the drawing whose base is known, with the findings on its pins."""
    views = []
    for part in comparison.reference.parts.values():
        known = base(part.base) if part.kind == "socket" else None
        if known is not None:
            views.append(_view(part, known, _wrong_pins(part, comparison, numbers)))
    return tuple(views)


def _view(part: Part, known: Base, wrong: Mapping[str, Wrong]) -> SocketView:
    named = electrodes(part)
    title = f"{part.name} {part.type or 'empty'}, {known.name} from below"
    words = tuple(_in_words(pin, named.get(pin, ""), wrong[pin]) for pin in wrong)
    return SocketView(part.name, title, socket_svg(part, known, wrong), wrong, words)


def _in_words(pin: str, electrode: str, wrong: Wrong) -> str:
    numbers = ", ".join(map(str, wrong.numbers))
    goes = f": what is on it belongs on {wrong.belongs}" if wrong.belongs else ""
    return f"Pin {pin}{f' ({electrode})' if electrode else ''}, finding {numbers}{goes}."


def _wrong_pins(part: Part, comparison: Comparison, numbers: Mapping[str, int]) -> dict[str, Wrong]:
    """Pins of a socket that findings speak of, in the order of the base."""
    called = {part.name, *comparison.matching.parts.get(part.name, ())}
    found: dict[str, Wrong] = {}
    for finding in comparison.findings:
        if finding.harmless or finding.id not in numbers:
            continue
        belongs = {
            pin: to
            for pin, to in _belongs(finding, called).items()
            if any(Point(name, pin) in comparison.found.links_at for name in called)
        }
        pins = [p.pin for p in finding.points if p.owner in called] + list(belongs)
        for pin in dict.fromkeys(pins):
            before = found.get(pin, Wrong(()))
            found[pin] = Wrong(
                (*before.numbers, numbers[finding.id]), before.belongs or belongs.get(pin, "")
            )
    return {pin: found[pin] for pin in part.terminals if pin in found}


def _belongs(finding: Finding, called: Iterable[str]) -> dict[str, str]:
    return {
        old: new
        for edit in finding.remedy
        if isinstance(edit, Rewire) and edit.part in called
        for old, new in edit.pins
        if old != new
    }


def electrodes(part: Part) -> dict[str, str]:
    """Pin, or cap, to electrode; sections as letters, as on the drawing."""
    known = device(part.type) if part.type else None
    if known is None:
        return {}
    several = len(known.sections) > 1
    named = {}
    inside = dict(known.pins) | ({"cap": known.cap} if known.cap else {})
    for pin, electrode in inside.items():
        letter = f" {chr(96 + electrode.section)}" if several and electrode.section else ""
        named[pin] = "" if electrode.role == "absent" else " + ".join(electrode.roles) + letter
    return named


def socket_svg(part: Part, known: Base, wrong: Mapping[str, Wrong]) -> str:
    """One socket as an SVG element without outside references."""
    named = electrodes(part)
    label = escape(clean(f"Socket {part.name} from below"), quote=True)
    high = HIGH + CAP * ("cap" in part.terminals)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {high}" role="img"'
        f' aria-label="{label}" font-family="Arial, Helvetica, sans-serif" fill="currentColor">'
        f'<circle cx="{ACROSS}" cy="{DOWN}" r="{RING + 16}" fill="none" stroke="currentColor"'
        ' stroke-width="1.5"/>'
    )
    pieces = [
        head,
        _mark(known),
        _text(ACROSS, DOWN - 6, part.name, size=20, bold=True),
        _text(ACROSS, DOWN + 12, part.type or "empty", size=13),
        _text(ACROSS, DOWN + 28, "from below", size=10),
    ]
    for pin, angle in known.angles.items():
        pieces.append(_pin(pin, angle, named.get(pin, ""), wrong.get(pin)))
    if "cap" in part.terminals:
        pieces.append(_cap(named.get("cap", ""), wrong.get("cap")))
    return "".join([*pieces, "</svg>"])


def _spot(angle: float, radius: float) -> tuple[float, float]:
    """A spot on a circle, clockwise from the bottom as seen on the paper."""
    turn = math.radians(angle)
    return ACROSS - radius * math.sin(turn), DOWN + radius * math.cos(turn)


def _mark(known: Base) -> str:
    """Key, gap or whatever one counts from, at the bottom."""
    y = DOWN + RING + 16
    if known.mark == "key":
        return f'<path d="M{ACROSS - 6} {DOWN + 54}h12v-9a6 6 0 0 0 -12 0z"/>'
    return f'<path d="M{ACROSS - 9} {y + 8}l9 -14l9 14z"/>'


def _pin(pin: str, angle: float, electrode: str, wrong: Wrong | None) -> str:
    x, y = _spot(angle, RING)
    stroke = f'stroke="{VERMILION}" stroke-width="4"' if wrong else 'stroke="currentColor"'
    drawn = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="11" fill="none" {stroke}/>'
    drawn += _text(x, y + 4.5, pin, size=13, bold=True)
    tx, ty = _spot(angle, WORDS)
    anchor = "start" if tx > ACROSS + 12 else "end" if tx < ACROSS - 12 else "middle"
    lines = [*electrode.split(" + ")] if electrode else []
    if wrong and wrong.belongs:
        lines.append(f"belongs on {wrong.belongs}")
    down = ty + 4 - 6 * (len(lines) - 1)
    for i, line in enumerate(lines):
        drawn += _text(tx, down + 12 * i, line, size=11, anchor=anchor, bold="belongs" in line)
    if not wrong:
        return f"<g>{drawn}</g>"
    names = " ".join(f"f{number}" for number in wrong.numbers)
    return f'<g class="finding {names}">{drawn}{_flag(angle, wrong)}</g>'


def _cap(electrode: str, wrong: Wrong | None) -> str:
    """The top cap, which is on the other side, below the socket."""
    x, y = 20, HIGH + CAP - 14
    stroke = f'stroke="{VERMILION}" stroke-width="4"' if wrong else 'stroke="currentColor"'
    drawn = (
        f'<circle cx="{x}" cy="{y}" r="9" fill="none" {stroke}/><circle cx="{x}" cy="{y}" r="3"/>'
    )
    belongs = f", belongs on {wrong.belongs}" if wrong and wrong.belongs else ""
    told = f"top cap: {electrode or 'joined to nothing'}{belongs}"
    drawn += _text(x + (52 if wrong else 18), y + 4, told, size=11, anchor="start")
    if not wrong:
        return f"<g>{drawn}</g>"
    names = " ".join(f"f{number}" for number in wrong.numbers)
    return f'<g class="finding {names}">{drawn}{_flag_at(x + 30, y, wrong)}</g>'


def _flag(angle: float, wrong: Wrong) -> str:
    """The numbers of the findings, between the pin and the middle."""
    return _flag_at(*_spot(angle, RING - 26), wrong)


def _flag_at(x: float, y: float, wrong: Wrong) -> str:
    told = ",".join(map(str, wrong.numbers))
    wide = 10 + 7 * len(told)
    return (
        f'<rect x="{x - wide / 2:.1f}" y="{y - 8:.1f}" width="{wide}" height="16" rx="4"'
        f' fill="#FFFFFF" stroke="{VERMILION}" stroke-width="2"/>'
        f'<text x="{x:.1f}" y="{y + 4:.1f}" font-size="11" font-weight="bold" fill="#000000"'
        f' text-anchor="middle">{told}</text>'
    )


def _text(  # noqa: PLR0913 - a place and a face
    x: float, y: float, text: str, *, size: int, anchor: str = "middle", bold: bool = False
) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}"{weight} text-anchor="{anchor}">'
        f"{escape(clean(text))}</text>"
    )
