"""The output stage from readings at the bench. What to change stands in `proposals`.

The cathode current follows from the drop across a *measured* resistor. The quick rule multiplies it
by the anode voltage to chassis; the valve itself sees anode to *cathode*, and a part of the cathode
current is the screen's. Both figures are given, and which is which.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from buzzout.catalogue import device
from buzzout.electrics.models import model
from buzzout.electrics.valves import Model, flow

# Share of the anode limit at rest that is left alone: class AB stages are commonly set to 70 %,
# class A runs up to the limit (common practice).
CLASS_AB, CLASS_A = 0.7, 1.0
SCREEN_UNSURE = 0.2  # the screen's share of the cathode current is known to a fifth of itself


@dataclass(frozen=True, slots=True)
class Readings:
    """What the meter said, the set running without signal.

    Parameters
    ----------
    type : str
        Valve type as printed on it.
    drop : float
        Voltage across the cathode resistor. [V]
    ohms : float
        That resistor as measured, power off. [ohm]
    anode, screen : float
        Voltage of anode and screen to chassis; the screen may be left out (NaN). [V]
    valves : int
        How many share the resistor.
    accuracy : float
        Of each reading, as a share of it: 1 % for a hand-held meter (common practice). [1]
    grid : float
        What a bias supply holds the grid at, to chassis; NaN where one does and nobody read it, 0
        where the cathode resistor makes the bias. [V]
    marked : float or None
        Tolerance of the resistor where only its marking is known; None: it was measured. [1]
    """

    type: str
    drop: float
    ohms: float
    anode: float
    screen: float = math.nan
    valves: int = 1
    accuracy: float = 0.01
    marked: float | None = None
    grid: float = 0.0

    @property
    def held(self) -> bool:
        """Whether a bias supply sets the current, and not the cathode resistor."""
        return self.grid != 0.0

    def error(self, name: str) -> float:
        """How far one of the readings may be off, as a share of it. [1]."""
        return self.marked if name == "ohms" and self.marked is not None else self.accuracy


@dataclass(frozen=True, slots=True)
class Figure:
    """A value and how far it may be off either way, from the meter's accuracy and the model."""

    value: float
    off: float

    @property
    def low(self) -> float:
        """Lowest. Unit of the value."""
        return self.value - self.off

    @property
    def high(self) -> float:
        """Highest. Unit of the value."""
        return self.value + self.off


@dataclass(frozen=True, slots=True)
class OutputStage:
    """An output stage as read. Currents and powers are one valve's, with the total beside them.

    `quick` is anode to chassis times cathode current, of one valve; `quick_total` of all that share
    the resistor. `share` is the screen's part of the cathode current, `share_from` where it comes
    from. `limit` are the published limits, NaN where none is known. [A], [W]
    """

    readings: Readings
    total: Figure
    cathode: Figure
    quick: Figure
    quick_total: Figure
    anode: Figure
    screen: Figure
    share: float
    share_from: str
    anode_limit: float
    screen_limit: float
    cathode_limit: float
    resistor_watts: float
    remarks: tuple[str, ...] = ()

    @property
    def over(self) -> tuple[str, ...]:
        """Which limits are passed, or may be within the meter's accuracy."""
        told = (
            ("anode dissipation", self.anode, self.anode_limit),
            ("screen dissipation", self.screen, self.screen_limit),
            ("cathode current", self.cathode, self.cathode_limit),
        )
        return tuple(what for what, got, limit in told if got.high > limit)

    @property
    def verdict(self) -> str:
        """Where the anode stands against its limit: over, at the limit within the meter, below."""
        if math.isnan(self.anode_limit):
            return "no limit known"
        if self.anode.low > self.anode_limit:
            return "over the limit"
        return "at the limit" if self.anode.high > self.anode_limit else "below the limit"


def output_stage(readings: Readings) -> OutputStage:
    """Currents and dissipations from readings."""
    tube = device(readings.type)
    share, origin, remarks = _screen_share(readings, tube)
    remarks = (*remarks, *_condition(readings))
    limits = [limit_of(tube, key) for key in ("anode_w", "screen_w", "cathode_ma")]

    def figure(of: Callable[[Readings, float], float]) -> Figure:
        return _propagated(of, readings, share)

    return OutputStage(
        readings,
        figure(lambda r, _: r.drop / r.ohms),
        figure(lambda r, _: each_amps(r)),
        figure(lambda r, _: r.anode * each_amps(r)),
        figure(lambda r, _: r.anode * r.drop / r.ohms),
        figure(lambda r, s: (r.anode - r.drop) * each_amps(r) * (1 - s)),
        figure(lambda r, s: (screen_volts(r) - r.drop) * each_amps(r) * s),
        share,
        origin,
        limits[0],
        limits[1],
        limits[2] / 1e3,
        readings.drop**2 / readings.ohms,
        remarks,
    )


def each_amps(readings: Readings) -> float:
    """Cathode current of one valve. [A]."""
    return readings.drop / readings.ohms / readings.valves


def screen_volts(readings: Readings) -> float:
    """Screen to chassis, that of the anode where nobody read it. [V]."""
    return readings.anode if math.isnan(readings.screen) else readings.screen


def limit_of(tube: Any, key: str) -> float:
    """A published limit of a valve of the catalogue; NaN where none is known. [W], [mA]."""
    found = tube.limit(key) if tube is not None else None
    return math.nan if found is None else float(found)


def _propagated(of: Callable[[Readings, float], float], readings: Readings, share: float) -> Figure:
    """A figure with the root of the squares of what each reading's error does to it."""
    middle = of(readings, share)
    off = [of(readings, share * (1 + SCREEN_UNSURE)) - middle]
    for name in ("drop", "ohms", "anode", "screen"):
        value = getattr(readings, name)
        off.append(
            of(replace(readings, **{name: value * (1 + readings.error(name))}), share) - middle
        )
    known = [x for x in off if not math.isnan(x)]
    return Figure(middle, math.sqrt(sum(x * x for x in known)))


# A good valve passes from half to one and a half times what its sheet has; outside of that the
# readings, or the circuit round the valve, are not what they are taken for (common practice).
_WORN, _TOO_MUCH = 0.5, 1.5
# Below this share of a new valve's current no resistor is chosen: one that brings a worn valve to
# its limit takes a new one far beyond. Common practice.
_FIT = 0.7
ABSURD = 10.0  # beyond this, or below its inverse, nothing is predicted


def emission(readings: Readings) -> float:
    """The current read over what the sheet's valve passes at these voltages. [1].

    NaN where the type has no model, or nobody read what a bias supply holds its grid at; infinite
    where the model has the valve cut off.
    """
    known = output_model(readings.type)
    if known is None or math.isnan(readings.grid):
        return math.nan
    vk = readings.drop
    there = flow(known, readings.grid - vk, screen_volts(readings) - vk, readings.anode - vk)
    return each_amps(readings) / there.cathode if there.cathode > 1e-6 else math.inf


def _condition(readings: Readings) -> Iterator[str]:
    """What the current says of the valve and its grid."""
    factor = emission(readings)
    if math.isnan(readings.grid):
        yield (
            "a bias supply holds the grid and its volts were not read: nothing is said of the"
            " valve; read the grid at its pin (the meter pulls it down a little)"
        )
    if factor < _WORN:
        why = "worn" if readings.held else "worn, or its grid is negative: measure the grid"
        yield f"{factor:.0%} of the current that a new valve passes at these voltages: {why}"
    if factor > _TOO_MUCH:
        much = "far more than" if factor > ABSURD else f"{factor:.1f} times"
        yield (
            f"{much} the current that a new valve passes at these voltages: grid positive (leaky"
            " coupling capacitor, gas), another resistor than was taken, or a reading is wrong"
        )
    if why := unfit(readings):
        yield why


def unfit(readings: Readings) -> str:
    """Why no resistor is chosen for such a valve, in words; "" where it is good enough for one.

    Nothing is said of a type without a model.
    """
    share = emission(readings)
    if share < _FIT:
        return (
            f"no resistor is proposed: the valve passes {share:.0%} of the current of a new one;"
            f" below {_FIT:.0%} (common practice) what suits it would destroy a new one:"
            " replace it first, then measure again"
        )
    if share > _TOO_MUCH:
        return (
            "no resistor is proposed while more current flows than such a valve passes by itself:"
            " mend that first, then measure again"
        )
    return ""


def output_model(type_name: str) -> Model | None:
    """The model of an output valve's amplifying section."""
    tube = device(type_name)
    for section in tube.sections if tube is not None else ():
        known = model(tube, section.kind)
        if known is not None:
            return known.model
    return None


def _screen_share(readings: Readings, tube: Any) -> tuple[float, str, tuple[str, ...]]:
    """The screen's part of the cathode current: from the model, else from a point of the sheet."""
    known = output_model(readings.type)
    if known is not None and not known.screen:
        return 0.0, "a triode", ()
    remarks: tuple[str, ...] = ()
    if math.isnan(readings.screen):
        remarks = ("screen voltage not read, taken as the anode's",)
    if known is not None and emission(readings) < ABSURD:
        vk = readings.drop
        got = flow(known, readings.grid - vk, screen_volts(readings) - vk, readings.anode - vk)
        if got.cathode > 0:
            return got.screen / got.cathode, "the model", remarks
    for point in tube.points if tube is not None else ():
        anode, screen = point.get("anode_ma"), point.get("screen_ma")
        if anode and screen:
            return screen / (anode + screen), "a published point", remarks
    return 0.0, "nothing known: all taken as anode current", remarks
