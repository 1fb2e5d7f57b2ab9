"""Furniture as blocks: what is several things in one case stands where each of them is used.

A pole of a switch, the switch on a pot, each gang of it, each section of a can and the field coil
of a speaker are blocks of their own; their titles say what they are part of.
"""

from __future__ import annotations

from collections.abc import Iterator

from buzzout.circuit import Element, Part, printed
from buzzout.report.drawing.blocks import Block, Group, Pin, small
from buzzout.report.drawing.draft import Draft
from buzzout.report.drawing.facts import winding

_UNDRAWN = ("strip", "board", "bond")
_ENDS = {"cw": "n", "ccw": "s", "wiper": "e", "tap": "w"}
_FEW = 4  # boxes with so few pins show the empty ones too


def furniture(part: Part, draft: Draft) -> Iterator[Block]:
    """The blocks of one piece of furniture."""
    if part.kind in _UNDRAWN:
        return
    if part.kind == "pot":
        yield from _pot(part, draft)
    elif part.kind == "switch":
        yield from _switch(part, draft)
    elif part.kind == "can" and part.elements:
        yield from _can(part, draft)
    elif part.kind == "transformer":
        yield _transformer(part, draft)
    elif part.kind == "speaker" and len(part.terminals) > 2:
        yield from _speaker(part, draft)
    elif len(part.terminals) == 2 and part.kind not in ("jack", "connector", "cord"):
        yield small(part, draft.upper_first(part, part.terminals), draft.facts.of(part))
    else:
        few = len(part.terminals) <= _FEW
        pins = tuple(Pin(p, "s") for p in part.points if few or draft.wired(p))
        yield Block(part.name, part, "box", part.name, draft.facts.of(part), pins)


def _pot(part: Part, draft: Draft) -> Iterator[Block]:
    tracks = [e for e in part.elements if e.kind == "track"]
    tracks = tracks or [Element("track", "track", part.terminals[:3])]
    for track in tracks:
        sides = [(part.point(t), _ENDS.get(t.rstrip("2"), "w")) for t in track.terminals]
        pins = tuple(Pin(p, side) for side in "nsew" for p, where in sides if where == side)
        gang = f" {track.label.replace('track', 'gang ')}" if track is not tracks[0] else ""
        yield Block(
            f"{part.name}{gang}", part, "pot", f"{part.name}{gang}", draft.facts.of(part), pins
        )  # fmt: skip
    contacts = [e for e in part.elements if e.kind == "contact"]
    for contact in contacts:
        name = f"{part.name} {contact.label if len(contacts) > 1 else 'switch'}"
        yield draft.upright(part, contact.terminals, "switch", name)


def _switch(part: Part, draft: Draft) -> Iterator[Block]:
    """Each pole with its ways; poles that nothing is wired to are left out if another is."""
    poles: dict[str, list[str]] = {}
    for element in part.elements:
        poles.setdefault(element.terminals[0], []).extend(element.terminals[1:])
    if not poles:
        poles = {part.terminals[0]: list(part.terminals[1:])}
    wired = {
        pole: ways
        for pole, ways in poles.items()
        if any(draft.wired(part.point(t)) for t in (pole, *ways))
    } or dict(list(poles.items())[:1])
    for pole, ways in wired.items():
        name = f"{part.name}{pole}" if len(poles) > 1 else part.name
        if len(ways) == 1:
            yield draft.upright(part, (pole, ways[0]), "switch", name, part.setting)
            continue
        used = [w for w in ways if len(ways) < _FEW or draft.wired(part.point(w))]
        pins = (Pin(part.point(pole), "n"), *(Pin(part.point(w), "s") for w in used))
        lines = (f"set to {part.setting}",) if part.setting else draft.facts.of(part)
        yield Block(name, part, "pole", name, lines, pins)


def _can(part: Part, draft: Draft) -> Iterator[Block]:
    for section in part.elements:
        mark, common = section.terminals
        above = draft.upper_first(part, (mark, common))
        signs = {mark: "+", common: "-"}
        pins = tuple(Pin(part.point(t), s, signs[t]) for t, s in zip(above, "ns", strict=True))
        told = " ".join(str(fact) for fact in (section.value, section.voltage) if fact)
        lines = tuple(line for line in (told, draft.facts.doubt(part)) if line)
        name = f"{part.name} {section.label}"
        yield Block(name, part, "electrolytic", name, lines, pins)


def _transformer(part: Part, draft: Draft) -> Block:
    """Windings as groups of pins; the one called primary, else the first, feeds from above."""
    groups: list[Group] = []
    told: set[str] = set()
    for element in sorted(part.elements, key=lambda e: "primary" not in e.label.lower()):
        side = "s" if groups else "n"
        own = [t for t in element.terminals if t not in told]  # a tap may belong to two windings
        pins = tuple(Pin(part.point(t), side, "•" if t == element.dot else "") for t in own)
        groups.append(Group(side, pins, winding(element)))
        told.update(own)
    groups += [Group("s", (Pin(p, "s"),)) for p in part.points if p.pin not in told]
    pins = tuple(pin for group in groups for pin in group.pins)
    return Block(part.name, part, "box", part.name, draft.facts.of(part), pins, tuple(groups))


def _speaker(part: Part, draft: Draft) -> Iterator[Block]:
    above = draft.upper_first(part, part.terminals[:2])
    yield small(part, above, draft.facts.of(part))
    for coil in part.elements:
        ohms = " ".join(printed(each, "ohm") for each in coil.resistance)
        name = f"{part.name} {coil.label}"
        yield draft.upright(part, coil.terminals, "choke", name, ohms)
