"""A fitted type against the wanted one: equivalent, or what differs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from buzzout.catalogue.names import plain
from buzzout.catalogue.records import Device, Difference, Electrode
from buzzout.catalogue.shelf import device, near_relatives

# Limits that matter when a weaker valve sits in a socket: key, how to say it.
_LIMITS = (
    ("anode_v", "anode limit", "V"),
    ("anode_w", "anode dissipation limit", "W"),
    ("screen_v", "screen limit", "V"),
    ("screen_w", "screen dissipation limit", "W"),
    ("cathode_ma", "cathode current limit", "mA"),
    ("peak_inverse_v", "peak inverse voltage limit", "V"),
    ("anode_rms_v", "limit per anode (r.m.s.)", "V"),
    ("dc_ma", "output current", "mA"),
    ("reservoir_uf", "largest reservoir", "uF"),
    ("heater_cathode_v", "heater to cathode limit", "V"),
)
_CHARACTER = (("mu", "amplification factor", ""), ("slope_ma_per_v", "slope", " mA/V"))
_ALIKE = 1.25  # printed typical figures of one type differ by less (ECC83: 1.25 at 100 V to 1.6)


def difference(wanted: str, fitted: str, own: Sequence[Path] = ()) -> Difference:
    """What a valve `fitted` where `wanted` is asked for would change.

    >>> difference("ECC83", "12AX7").same
    True
    """
    if plain(wanted) == plain(fitted):
        return Difference(wanted, fitted, same=True, unknown=False, reasons=())
    a, b = device(wanted, own), device(fitted, own)
    if a is None or b is None:
        missing = [name for name, found in ((wanted, a), (fitted, b)) if found is None]
        known = [f"{about}: {how}" for name in missing for about, how in near_relatives(name)]
        reasons = (*(f"{name} is not in the catalogue" for name in missing), *known)
        return Difference(wanted, fitted, same=False, unknown=True, reasons=reasons)
    if a == b:
        return Difference(wanted, fitted, same=True, unknown=False, reasons=())
    return Difference(wanted, fitted, same=False, unknown=False, reasons=tuple(reasons_for(a, b)))


def reasons_for(a: Device, b: Device) -> Iterator[str]:
    """What differs when `b` is fitted for `a`: base, pins, heater, kind, weaker limits."""
    if a.base != b.base:
        yield f"base {b.base} instead of {a.base}"
    elif pins := list(_pins(a, b)):
        yield "pins differ: " + ", ".join(pins)
    if a.cap != b.cap:
        yield f"top cap: {b.label('cap')} instead of {a.label('cap')}"
    if a.kind != b.kind:
        yield f"{b.kind} instead of {a.kind}"
    yield from _heaters(a, b)
    if a.kind == b.kind:
        yield from _character(a, b)
    yield from _weaker(a, b)
    if note := a.similar.get(b.name) or b.similar.get(a.name):
        yield note


def _systems(device: Device) -> set[str]:
    return {block.of for block in (*device.limits, *device.points)}


def _weaker(a: Device, b: Device) -> Iterator[str]:
    """Limits that are lower, of the whole and of each system that both have."""
    for of in sorted({"", *(_systems(a) & _systems(b))}):
        for key, words, unit in _LIMITS:
            before, after = _reach(a, key, of), _reach(b, key, of)
            if before is not None and after is not None and after < before:
                yield f"{of} {words} {after:g} {unit} instead of {before:g} {unit}".strip()


def _character(a: Device, b: Device) -> Iterator[str]:
    """Amplification and slope, where they are not alike: each at its highest anode voltage."""
    for of in sorted(_systems(a) & _systems(b)):
        for key, words, unit in _CHARACTER:
            before, after = _typical(a, key, of), _typical(b, key, of)
            if before and after and not 1 / _ALIKE < after / before < _ALIKE:
                yield f"{of} {words} {after:g}{unit} instead of {before:g}{unit}".strip()


def _typical(device: Device, key: str, of: str) -> float | None:
    told = [p.values for p in device.points if p.of == of and key in p.values]
    return max(told, key=lambda v: v.get("anode_v", 0))[key] if told else None


def _reach(device: Device, key: str, of: str) -> float | None:
    """A limit, or where only operating points tell it, the most that one of them uses."""
    limit = device.limit(key, of)
    if limit is None and key == "dc_ma":
        limit = max((p.values[key] for p in device.points if key in p.values), default=None)
    return limit


def _pins(a: Device, b: Device) -> Iterator[str]:
    for pin, before in a.pins.items():
        after = b.pins.get(pin)
        if after is not None and _job(before) != _job(after):
            yield f"{pin} is {b.label(pin)} instead of {a.label(pin)}"


def _job(electrode: Electrode) -> tuple[tuple[str, ...], int]:
    """What a pin does, whatever kind of "nothing" it is."""
    roles = tuple(sorted("unused" if r == "absent" else r for r in electrode.roles))
    return roles, electrode.section


def _heaters(a: Device, b: Device) -> Iterator[str]:
    before = {(h.volts, h.amps) for h in a.heaters}
    after = {(h.volts, h.amps) for h in b.heaters}
    if before == after:
        return
    shared = {h.volts for h in a.heaters} & {h.volts for h in b.heaters}
    if not shared:
        yield f"heater {_words(after)} instead of {_words(before)}"
    for volts in sorted(shared):
        amps = [next(h.amps for h in d.heaters if h.volts == volts) for d in (b, a)]
        if amps[0] != amps[1]:
            yield f"heater {amps[0]:g} A instead of {amps[1]:g} A at {volts:g} V"


def _words(heaters: set[tuple[float, float]]) -> str:
    if not heaters:
        return "none"
    return " or ".join(f"{volts:g} V {amps:g} A" for volts, amps in sorted(heaters))
