"""How parts, leads, wires and points are called in a sentence."""

from __future__ import annotations

from collections.abc import Sequence

from buzzout.circuit import Circuit, Link, Part, Point
from buzzout.compare.values import described

ENDS = {"+": "+ lead", "-": "- lead", "a": "anode lead", "k": "cathode lead"}


def found_part(circuit: Circuit, part: Part) -> str:
    """`the 100k resistor between TS1.3 and V1.1 (line 27)`; a part with a name goes by it."""
    line = f" (line {part.span.line})" if part.span.line else ""
    if not part.anonymous:
        return f"{part.name} ({described(part)}){line}"
    return f"the {described(part)}{between(landings(circuit, part))}{line}"


def landings(circuit: Circuit, part: Part) -> tuple[Point, ...]:
    """Where the leads of a small part land, as far as anybody saw."""
    return tuple(
        circuit.landing(point)
        for point in part.points
        if circuit.landing(point) != point or point in circuit.links_at
    )


def between(points: Sequence[Point]) -> str:
    """` between A and B`, ` at A`, or nothing."""
    if len(points) == 2:
        return f" between {points[0]} and {points[1]}"
    if len(points) == 1:
        return f" at {points[0]}"
    return f" at {listed(points)}" if points else ""


def drawn_part(part: Part) -> str:
    """`R5 (100k resistor)`; furniture by its name alone."""
    return part.name if part.furniture else f"{part.name} ({described(part)})"


def both(wanted: Part, circuit: Circuit, fitted: Part) -> str:
    """One part by its name on the drawing and where it was found."""
    line = f", line {fitted.span.line}" if fitted.span.line else ""
    named = "" if fitted.anonymous or fitted.name == wanted.name else f"{fitted.name}, "
    where = between(landings(circuit, fitted)).strip()
    return f"{wanted.name} ({named}{described(fitted)} {where}{line})".replace(" )", ")")


def lead(terminal: str) -> str:
    """`the + lead`, `one lead`."""
    return f"the {ENDS[terminal]}" if terminal in ENDS else "one lead"


def wire(link: Link, seen_from: Point) -> str:
    """`the green wire from TS1.4`; a joint that nobody made a wire of is a connection."""
    if link.how == "lead":
        return f"the lead from {seen_from}"
    if link.how == "joint":
        return f"the connection from {seen_from}"
    colour = f"{link.colour} " if link.colour else ""
    return f"the {colour}wire from {seen_from}"


def listed(things: Sequence[object]) -> str:
    """`A`, `A and B`, `A, B and C`."""
    words = [str(thing) for thing in things]
    if len(words) < 2:
        return "".join(words)
    return ", ".join(words[:-1]) + " and " + words[-1]


def sentence(words: str) -> str:
    """A sentence with its capital and its full stop."""
    words = words.strip()
    return words[:1].upper() + words[1:] + ("" if words.endswith((".", "?", "!")) else ".")
