"""Which pins of a device can trade places: like sections, heater ends, anodes of one cathode."""

from __future__ import annotations

from itertools import pairwise

from buzzout.catalogue.records import Device, Exchange, Section


def exchanges(device: Device) -> tuple[Exchange, ...]:
    """Generators of the device's own symmetry; they share no pin unless sections come in threes.

    Pins that are joined inside are one electrode and need no exchange.
    """
    found = [_sections(a, b) for a, b in pairwise(device.sections) if _alike(a, b)]
    return tuple(x for x in (*found, _heater(device)) if x)


def _alike(a: Section, b: Section) -> bool:
    return a.kind == b.kind and set(a.pins) == set(b.pins)


def _sections(a: Section, b: Section) -> Exchange | None:
    moved: dict[str, str] = {}
    for role, pin in a.pins.items():
        if pin != b.pins[role]:
            moved |= {pin: b.pins[role], b.pins[role]: pin}
    if not moved or "cap" in moved:
        return None
    diodes = {role for role, pin in a.pins.items() if pin != b.pins[role]} == {"anode"}
    return Exchange("anodes exchanged" if diodes else "sections exchanged", moved)


def _heater(device: Device) -> Exchange | None:
    """Ends that can be turned round: both are nothing but heater, and a tap sits in the middle."""
    for role in ("heater", "filament"):
        ends = [pin for pin, e in device.pins.items() if e.roles == (role,)]
        if len(ends) == 2 and _tap_in_the_middle(device):
            name = "heater ends turned round" if role == "heater" else "filament ends turned round"
            return Exchange(name, {ends[0]: ends[1], ends[1]: ends[0]})
    return None


def _tap_in_the_middle(device: Device) -> bool:
    taps = {pin for pin, e in device.pins.items() if e.role == "heater-tap"}
    halves = [h for h in device.heaters if taps & {*h.one, *h.other}]
    return not taps or any(len(h.one) + len(h.other) == 3 for h in halves)
