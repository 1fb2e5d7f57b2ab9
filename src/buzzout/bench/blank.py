"""The files of a new job, as text to fill in: the chassis, the readings, the decisions.

The chassis file is valid from the start and says nothing yet. Every line to fill in is a comment
until somebody takes the # away: what is not looked at must not look as if it were, and what the
drawing says is told in brackets only, so that nobody confirms it unseen.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from buzzout.circuit import Circuit, Element, Part, printed

CAUTION = """\
# Lethal voltages, also after switching off. Unplug. Discharge each reservoir through a resistor and
# MEASURE that it is discharged. One hand, no jewellery, never alone. A set without a mains
# transformer has a live chassis. If you are not competent, do not open it. Local codes and
# licensed practice come first.
"""

_SAY_AGAIN = {
    "pot": "its value and law as you read them",
    "fuse": "the value on the link itself, not on the holder",
    "can": "sections by their marks",
    "choke": "what is printed on it",
    "lamp": "what is printed on its cap",
    "speaker": "what is printed on it",
    "transformer": "once you have looked at it; then a winding line for each winding",
    "cord": "conductors with their colours",
}


def chassis(drawing: Circuit, drawing_file: str) -> str:
    """The found file of a new job: every piece of furniture, every point, nothing claimed."""
    rows = [
        f'found "{drawing.title.replace(chr(34), "")}, as received"',
        f'of "{drawing_file}"',
        *CAUTION.splitlines(),
        "#",
        "# Fill in by taking the # away from a line once you have LOOKED. Under an at line write",
        "# what lands there and where it goes, one thing a line, every lead from both its ends:",
        "#   at TS1.3",
        "#     resistor bands brown black yellow silver  to V1.1",
        "#     wire green                                to V1.2",
        "# What is empty:  at V1.9 nothing.  An end that you cannot see:  to ?",
        "# date 2026-11-30",
        "",
        "# -- strips and boards: count their tags, say which are bolted to the chassis",
        "# strip TS1 12 tags earthed 3",
        "",
        "# -- the metal itself: what is soldered or bolted to it, wherever that is",
        "# at chassis",
    ]
    for part in drawing.parts.values():
        if part.furniture and part.kind != "strip":
            rows += ["", *_piece(part)]
    return "\n".join(row.rstrip() for row in rows) + "\n"


def _piece(part: Part) -> Iterator[str]:
    yield f"# -- {part.name}, {_told(part)}"
    if part.kind == "socket":
        yield f"# fitted {part.name} "
    elif part.kind == "jack":
        yield f"# jack {part.name} {' '.join(part.terminals)}"
    elif part.kind == "connector":
        yield f"# connector {part.name} {len(part.terminals)} pins"
    elif part.kind == "bond":
        yield f"# bond {part.name}"
    else:
        yield f"# {part.kind} {part.name} "
    wound = part.elements if part.kind == "transformer" else ()
    if wound:
        drawn = f"(drawn: {_wound(wound)})"
        hint = f"volts and current behind the terminals, as printed or measured {drawn}"
        yield from (f"# {row}" for row in textwrap.wrap(hint, 96))
    for element in wound:
        yield f"# winding {part.name} {element.label} {' '.join(element.terminals)} "
    yield from (f"# at {point}" for point in part.points)


def _wound(elements: tuple[Element, ...]) -> str:
    """What the drawing says of windings: `ht 250-0-250V 80mA, secondary load 15R`."""
    told = []
    for e in elements:
        volts = "-".join(f"{abs(v):g}" for v in e.taps) + "V" if e.taps else ""
        current = str(e.current) if e.current is not None else ""
        load = f"load {printed(e.load, 'ohm')}" if e.load is not None else ""
        told.append(" ".join(word for word in (e.label, volts, current, load) if word))
    return ", ".join(told)


def _told(part: Part) -> str:
    """What it is, with what the drawing says in brackets."""
    if part.kind == "socket":
        types = " or ".join([part.type, *part.accepts]) if part.type else "no valve named"
        return f"{part.base} socket (drawn: {types}); pins clockwise seen from below"
    drawn = [str(q) for q in (part.value, part.voltage, part.current) if q is not None]
    drawn += part.style
    told = f" (drawn: {' '.join(drawn)})" if drawn else ""
    hint = _positions(part) if part.kind == "switch" else _SAY_AGAIN.get(part.kind)
    return f"{part.kind}{told}" + (f": {hint}" if hint else "")


def _positions(switch: Part) -> str:
    """How a switch is said again: its poles and ways as drawn, the positions that it can be in."""
    poles = sum(len(terminal) == 1 for terminal in switch.terminals)
    ways = len(switch.terminals) // poles - 1
    count = f"{poles} poles " if poles > 1 else ""
    if ways == 1:
        return f"as you find it, with its position: {count}on-off set on, or set off"
    several = ", ".join(f"set {way}" for way in range(1, ways))
    count = count or "1 pole "
    return f"as you find it, with its position: {count}{ways} ways {several} or set {ways}"


def readings(title: str, chassis_file: str) -> str:
    """The readings file of a new job: the chassis with what the meter said."""
    clean = title.replace(chr(34), "")
    return f'found "{clean}, readings"\ninclude "{chassis_file}"\n{CAUTION}{_READINGS}'


_READINGS = """\
#
# One line a reading. A step line stands above the readings of one step of the plan (buzzout job
# bring-up) and says which meter (10M, or 20k/V) and the mains as you MEASURED it: a dial is no
# measurement. Resistances with the power off. What you read again after a repair gets a step line
# of its own. A set line says how a pot stands from there on.
# step 6 meter 10M mains 228 V
# reads V1.1 138 V
# reads V4.7 to V4.3 262 V
# reads T1.h1 to T1.h2 6.2 V ac
# reads V4.3 to chassis 148R
# set P6 40%
# reads V4.8 0.31 V
"""


DECISIONS = """\
# Decisions, one a line. A finding is named by what it is (see: buzzout job plan), not by number.
#   restore    part-missing:R24:TS4.1:chassis
#   accept     value-drifted:R36:TS3.2:TS3.5   because "tone is not used"   by "A. Miller"
#   departure  part-extra:P2.ccw:P2.cw         because "wanted top cut"
# restore: put it right. accept: leave it, with a reason and a name. departure: wanted, and written
# down in a .departures.buzz file in this folder.
# Nothing is done because it stands here: it is done when the comparison no longer shows it.
"""
