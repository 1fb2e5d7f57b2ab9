"""Which pins of a device can trade places: like sections, heater ends, anodes of one cathode."""

from __future__ import annotations

from itertools import combinations

from buzzout.catalogue.records import Device, Exchange, Section


def exchanges(device: Device) -> tuple[Exchange, ...]:
    """Generators of the device's own symmetry; no two of them touch the same pin.

    Pins that are joined inside are one electrode and need no exchange. Sections that the catalogue
    calls unlike (an indicator's sensitive and dull system) are never exchanged.
    """
    found: list[Exchange] = []
    pairs = [] if device.unlike else combinations(device.sections, 2)
    for each in (*(_sections(device, a, b) for a, b in pairs), _heater(device)):
        if each and not any(set(each.pins) & set(other.pins) for other in found):
            found.append(each)
    return tuple(found)


def _sections(device: Device, a: Section, b: Section) -> Exchange | None:
    if a.kind != b.kind or set(a.pins) != set(b.pins):
        return None
    moved: dict[str, str] = {}
    for role, pin in a.pins.items():
        other = b.pins[role]
        if pin == other:
            continue
        if not _belongs(device, pin, a) or not _belongs(device, other, b):
            return None
        moved |= {pin: other, other: pin}
    if not moved:
        return None
    only_anodes = all(pin == b.pins[role] for role, pin in a.pins.items() if role != "anode")
    return Exchange("anodes exchanged" if only_anodes else "sections exchanged", moved)


def _belongs(device: Device, pin: str, section: Section) -> bool:
    """The pin is this section's own: not the top cap, and not shared with another section."""
    return pin in device.pins and str(device.pins[pin].section) == section.name


def _heater(device: Device) -> Exchange | None:
    """Ends that can be turned round: both are nothing but heater, and a tap sits in the middle."""
    for role in ("heater", "filament"):
        ends = [pin for pin, e in device.pins.items() if e.roles == (role,)]
        if len(ends) == 2 and _tap_in_the_middle(device):
            return Exchange(f"{role} ends turned round", {ends[0]: ends[1], ends[1]: ends[0]})
    return None


def _tap_in_the_middle(device: Device) -> bool:
    taps = {pin for pin, e in device.pins.items() if e.role in ("heater-tap", "filament-tap")}
    halves = [h for h in device.heaters if taps & {*h.one, *h.other}]
    return not taps or any(len(h.one) + len(h.other) == 3 for h in halves)
