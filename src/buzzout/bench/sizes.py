"""How large a part must be: preferred value, tolerance, watts and volts, each with its reason."""

from __future__ import annotations

import math
from dataclasses import dataclass

from buzzout.catalogue.codes import nearest_preferred, preferred, series_of
from buzzout.circuit import Part, Quantity, printed
from buzzout.electrics.stress import WATTS, Stress, shop_volts

# Series that each kind is made in, coarse enough that a shop has it. Common practice.
_SERIES = {"resistor": "E24", "capacitor": "E6", "electrolytic": "E6"}
# Tolerance in which each kind is bought today unless the drawing asks for less. Common practice.
_TOLERANCE = {"resistor": 0.05, "capacitor": 0.1, "electrolytic": 0.2}
# Highest voltage that leaded film resistors of a size stand (limiting element voltage), from memory
# of makers' sheets: a small 220k across the HT fails by it long before it is warm.
_ELEMENT_VOLTS = ((0.25, 250.0), (0.5, 350.0), (1.0, 500.0), (2.0, 500.0), (3.0, 750.0))


@dataclass(frozen=True)
class Sized:
    """What to ask for. `watts` and `volts` are None where the kind has none; [W], [V]."""

    value: Quantity
    tolerance: float
    watts: float | None
    volts: float | None
    why: tuple[str, ...]


def size(part: Part, stress: Stress | None) -> Sized:
    """Size a part that is bought by its value (`part.value` is known)."""
    assert part.value is not None
    value, reason = _value(part, part.value)
    watts, volts, why = None, None, [reason] if reason else []
    if part.kind == "resistor":
        watts, told = _watts(part, value, stress)
        why += told
    elif part.kind in ("capacitor", "electrolytic"):
        volts, told = _volts(part, stress)
        why += told
    return Sized(value, _tolerance(part), watts, volts, tuple(why))


def _value(part: Part, drawn: Quantity) -> tuple[Quantity, str]:
    """The nearest preferred value; an electrolytic is never smaller than drawn."""
    series = _SERIES.get(part.kind)
    if series is None or drawn.value <= 0 or _made(drawn.value, series):
        return drawn, ""
    if part.kind == "electrolytic":
        near = _next_up(drawn.value, series)
        why = "the next size up; they were made to -20 % +50 % (common practice)"
    else:
        near = nearest_preferred(drawn.value, series)
        why = f"the nearest of {series}, IEC 60063"
    new, old = printed(near, drawn.unit), printed(drawn.value, drawn.unit)
    return Quantity(near, drawn.unit, drawn.minus, drawn.plus), f"{new} for {old}: {why}"


def _made(value: float, series: str) -> bool:
    """Whether a value belongs to a series or a coarser one."""
    name = series_of(value)
    return bool(name) and int(name[1:]) <= int(series[1:])


def _next_up(value: float, series: str) -> float:
    """The smallest preferred value that is not below `value`."""
    figures = preferred(series)
    decade = math.floor(math.log10(value)) - (len(str(figures[0])) - 1)
    steps = (float(f"{f}e{decade + d}") for d in (0, 1) for f in figures)
    return min(s for s in steps if s >= value * (1 - 1e-9))


def _tolerance(part: Part) -> float:
    """The drawing's where it is tighter, else what is usual in a shop. [1]."""
    usual = _TOLERANCE.get(part.kind, 0.1)
    drawn = part.value.minus if part.value else None
    return min(usual, drawn) if drawn else usual


def _watts(part: Part, value: Quantity, stress: Stress | None) -> tuple[float, list[str]]:
    """The larger of drawn and computed power, and of what the voltage across it asks for."""
    sizes: list[tuple[float, str]] = []
    if stress is not None:
        sizes.append((stress.order, _computed(stress)))
        across = math.sqrt(max(stress.value, 0.0) * value.value)
        why = f"{across:.0f} V across it {stress.when}; limiting voltage of its size"
        sizes.append((resistor_volts(across), why))
    if part.power is not None:
        sizes.append((part.power.value, "the size that is drawn"))
    if not sizes:
        return 0.5, ["nothing computed or drawn: the usual size (common practice)"]
    largest = max(watts for watts, _ in sizes)
    ordered = next((w for w in WATTS if w >= largest * (1 - 1e-9)), largest)
    return ordered, _because(f"{ordered:g}W", sizes)


def resistor_volts(volts: float) -> float:
    """The smallest size of a film resistor that stands a voltage. [V] to [W]."""
    return next((watts for watts, most in _ELEMENT_VOLTS if most >= volts), 5.0)


def _volts(part: Part, stress: Stress | None) -> tuple[float | None, list[str]]:
    """The larger of drawn and computed rating."""
    sizes: list[tuple[float, str]] = []
    if stress is not None and math.isfinite(stress.order):
        sizes.append((stress.order, _computed(stress)))
    if part.voltage is not None:
        sizes.append((part.voltage.value, "the rating that is drawn"))
    if not sizes:
        return None, ["no voltage computed or drawn: find out before it is ordered"]
    largest = max(volts for volts, _ in sizes)
    ordered = shop_volts(largest)
    return ordered, _because(f"{ordered:g}V", sizes)


def _computed(stress: Stress) -> str:
    """What the circuit asks of the part, when, and the margin that is taken on it."""
    if stress.unit == "W" and stress.value < 1e-3:
        return "computed: less than a milliwatt"
    figure = f"{stress.value:.2g} W" if stress.unit == "W" else f"{stress.value:.0f} V"
    return f"computed: {figure} {stress.when}; margin: {stress.margin}"


def _because(ordered: str, sizes: list[tuple[float, str]]) -> list[str]:
    """What decided the size, and what was computed where the drawing decided."""
    ranked = sorted(sizes, key=lambda pair: -pair[0])
    decided = ranked[0][1]
    return [f"{ordered}: {decided}" + (f"; {sizes[0][1]}" if sizes[0][1] != decided else "")]
