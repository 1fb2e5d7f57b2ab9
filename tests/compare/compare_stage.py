"""A small set for the tests: one double triode stage with a volume control, drawn and wired."""

from __future__ import annotations

from dataclasses import replace

from buzzout.circuit import CHASSIS, Circuit, Edit, Element, Link, Part, Point, apply, parse

CAN = (
    Element("capacitor", "square", ("square", "can"), parse("32u", "F"), parse("350V", "V")),
    Element("capacitor", "triangle", ("triangle", "can"), parse("16u", "F"), parse("350V", "V")),
)
FURNITURE = (
    Part("V1", "socket", tuple("123456789"), type="ECC83", base="B9A"),
    Part("V2", "socket", tuple("123456789"), type="ECC83", base="B9A"),
    Part("J1", "jack", ("tip", "sleeve")),
    Part("C9", "can", ("square", "triangle", "can"), elements=CAN),
    Part(
        "P1",
        "pot",
        ("ccw", "wiper", "cw"),
        value=parse("500k", "ohm"),
        elements=(Element("track", "", ("ccw", "wiper", "cw")),),
    ),
    Part("L1", "choke", ("1", "2"), value=parse("10H", "H")),
)
# name, kind, value, rating, the two points
SMALL = (
    ("R1", "resistor", "1M", "0.5W", "J1.tip", "chassis"),
    ("R2", "resistor", "68k", "0.5W", "J1.tip", "V1.2"),
    ("R3", "resistor", "100k", "0.5W", "V1.1", "C9.square"),
    ("R4", "resistor", "1k5", "0.5W", "V1.3", "chassis"),
    ("C1", "electrolytic", "25u", "25V", "V1.3", "chassis"),
    ("C2", "capacitor", "22n", "400V", "V1.1", "P1.cw"),
    ("R5", "resistor", "220k", "0.5W", "V1.6", "C9.square"),
    ("R6", "resistor", "2k2", "0.5W", "V1.8", "chassis"),
    ("C3", "capacitor", "100n", "400V", "V1.6", "V2.2"),
    ("R7", "resistor", "470k", "0.5W", "V2.2", "chassis"),
    ("R8", "resistor", "10k", "1W", "C9.square", "C9.triangle"),
    ("R9", "resistor", "47k", "0.5W", "V2.1", "C9.triangle"),
    ("R10", "resistor", "820R", "0.5W", "V2.3", "chassis"),
    ("D1", "diode", "1N4007", "", "C9.triangle", "V2.8"),
)
# colour and the two points
WIRES = (
    ("green", "P1.wiper", "V1.7"),
    ("black", "P1.ccw", "chassis"),
    ("black", "J1.sleeve", "chassis"),
    ("black", "C9.can", "chassis"),
    ("brown", "V1.4", "V1.5"),
    ("brown", "V1.5", "V2.5"),
    ("brown", "V2.4", "V2.5"),
    ("white", "V1.9", "V2.9"),
    ("red", "L1.1", "C9.square"),
)


def point(text: str) -> Point:
    """`V1.3` or `chassis`."""
    owner, _, pin = text.partition(".")
    return Point(owner, pin) if pin else CHASSIS


def part(name: str, kind: str, value: str, rating: str = "") -> Part:
    """A small part."""
    ends = {"electrolytic": ("+", "-"), "diode": ("a", "k")}.get(kind, ("1", "2"))
    if kind == "diode":
        return Part(name, kind, ends, type=value)
    unit = "ohm" if kind == "resistor" else "F"
    more = {"voltage" if rating.endswith("V") else "power": parse(rating)} if rating else {}
    return Part(name, kind, ends, value=parse(value, unit), **more)  # type: ignore[arg-type]


def drawing() -> Circuit:
    """The reference."""
    return _wired("reference", [name for name, *_ in SMALL])


def chassis(*edits: Edit) -> Circuit:
    """The same, found: parts without names (`@1` is R1, `@2` R2, … in the table's order)."""
    return apply(_wired("found", [f"@{n}" for n in range(1, len(SMALL) + 1)]), edits)


def _wired(kind: str, names: list[str]) -> Circuit:
    parts = {p.name: p for p in FURNITURE}
    links = [Link(point(a), point(b), "wire", colour) for colour, a, b in WIRES]
    for name, (_, sort, value, rating, *ends) in zip(names, SMALL, strict=True):
        parts[name] = part(name, sort, value, rating)
        links += [Link(p, point(e), "lead") for p, e in zip(parts[name].points, ends, strict=True)]
    return Circuit(kind, parts=parts, links=tuple(links))


def found_name(name: str) -> str:
    """How the part of that name is called in the found circuit."""
    return f"@{[row[0] for row in SMALL].index(name) + 1}"


def changed(name: str, **what: object) -> Part:
    """The found part with other properties."""
    return replace(chassis().parts[found_name(name)], **what)  # type: ignore[arg-type]
