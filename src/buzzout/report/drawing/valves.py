"""Valves as blocks: each section of its own, rectifiers whole, heaters apart."""

from __future__ import annotations

from collections.abc import Iterator

from buzzout.catalogue import device
from buzzout.catalogue.records import HEATING, Device, Section
from buzzout.circuit import Part
from buzzout.report.drawing.blocks import Block, Pin
from buzzout.report.drawing.draft import Draft

_SIDES = {"anode": "n", "screen": "e", "grid": "w", "cathode": "s", "filament": "s", "target": "n"}


def valve(part: Part, draft: Draft) -> Iterator[Block]:
    """The blocks of one socket with what sits in it."""
    known = device(part.type) if part.type else None
    lines = draft.facts.of(part)
    if known is None or not known.sections:
        pins = tuple(
            Pin(p, "n" if draft.height(p) > 0.45 else "s") for p in part.points if draft.wired(p)
        )
        yield Block(part.name, part, "box", part.name, lines, pins)
        return
    heating = {pin for pin, electrode in known.pins.items() if electrode.role in HEATING}
    if rectifies(known):
        told = {pin for section in known.sections for pin in section.pins.values()}
        yield _rectifier(part, known, lines)
    else:
        told = set()
        for number, section in enumerate(known.sections):
            loose = () if number else _loose(draft, part, known)
            letter = chr(ord("a") + number) if len(known.sections) > 1 else ""
            title = part.name + letter
            pins = (*_pins(part, section), *loose)
            yield Block(title, part, "valve", title, lines, pins)
    heater = [p.pin for p in part.points if p.pin in heating - told and draft.wired(p)]
    heater.sort(key=lambda pin: -draft.height(part.point(pin)))
    if heater:
        pins = tuple(Pin(part.point(pin), "s") for pin in heater)
        yield Block(f"{part.name} heater", part, "heater", part.name, ("heater",), pins)


def rectifies(known: Device) -> bool:
    """Whether a valve is made for the supply: a rectifier or a stabiliser."""
    return "rectifier" in known.kind or known.kind == "stabiliser"


def detects(block: Block) -> bool:
    """Whether a block is a diode section: an anode, a cathode and nothing to steer it."""
    roles = {pin.role for pin in block.pins}
    steered = any("grid" in role for role in roles) or roles & {"screen", "target"}
    return block.shape == "valve" and "anode" in roles and not steered


def _pins(part: Part, section: Section) -> Iterator[Pin]:
    """The pins of one section, each with the first of its roles."""
    roles: dict[str, str] = {}
    for role, pin in section.pins.items():
        roles.setdefault(pin, role)
    for pin, role in roles.items():
        if pin in part.terminals:
            yield Pin(part.point(pin), _SIDES.get(role, "w" if "grid" in role else "s"), role)


def _loose(draft: Draft, part: Part, known: Device) -> tuple[Pin, ...]:
    """Pins that belong to no electrode of a section and yet have something on them."""
    told = {pin for section in known.sections for pin in section.pins.values()}
    told |= {pin for pin, electrode in known.pins.items() if electrode.role in HEATING}
    return tuple(
        Pin(p, "e", str(known.pins[p.pin]) if p.pin in known.pins else "")
        for p in part.points
        if p.pin not in told and draft.wired(p)
    )


def _rectifier(part: Part, known: Device, lines: tuple[str, ...]) -> Block:
    roles = {pin: role for section in known.sections for role, pin in section.pins.items()}
    pins = tuple(
        Pin(part.point(pin), "n" if role == "anode" else "s", role)
        for pin, role in roles.items()
        if pin in part.terminals
    )
    return Block(part.name, part, "valve", part.name, lines, pins)
