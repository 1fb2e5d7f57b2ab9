"""Smooth laws for the currents of triodes, pentodes and beam tetrodes, with their slopes.

All voltages are against the cathode. The space current follows a power of an effective voltage
that tends smoothly to zero at cut-off, in the form that Koren gave [1] with a contact potential
added to the grid and a least roundness, which the spread of the electrons' speeds gives however low
the anode voltage; in a pentode the screen takes the anode's place there, and the current divides
between anode and screen. A variable-mu grid, wound in two pitches, is two such grids side by side.
Grid current follows a three-halves law with a retarding-field tail.
Parameters are fitted by `tools/fit_valves.py` to the published points in `references/models/`.

Not modelled: emission limits and heaters below their voltage, secondary emission (the kink of a
true tetrode), grid current at very low anode voltage, grid current by gas.

References
----------
.. [1] N. Koren, improved valve models, Glass Audio 8 no. 5 (1996).
   The equation only; its factor 2 is inside our constant.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

_NOTHING = 1e-9  # voltages below this carry no current, and spare the divisions [V]
_HUGE = 35.0  # exp(35) dwarfs 1 in double precision


@dataclass(frozen=True, slots=True)
class Model:
    """Parameters of one section.

    Parameters
    ----------
    mu : float
        Amplification factor (screen to grid in a pentode). [1]
    power : float
        Exponent of the space-current law, 1.5 for ideal plane electrodes. [1]
    k : float
        Space current at an effective volt. [A/V^power]
    sharp : float
        How sharply the current is cut off. [1]
    bend : float
        Voltage below which mu falls. [V]
    contact : float
        Contact potential, added to the grid voltage. [V]
    screen : bool
        Has a screen that takes the anode's place in the space-current law.
    share, slope, knee, rise : float
        Screen over anode current at equal voltages [1]; power of Vg2/Va in it [1]; anode voltage
        of the knee over screen voltage [1]; rise of the space current with the anode [1/V].
    soft : float
        Least roundness of the cut-off, as grid voltage. [V]
    far, wide : float
        Share of a variable-mu grid that is wound in wide pitch, 0 in others [1]; amplification
        there over that of the rest [1].
    grid_k, grid_soft : float
        Grid current at one volt [A/V^1.5] and softness of its start [V]. One pair for all types,
        set so that every second grid leak row of the EABC80 sheet comes out (Philips, 11.11.1953,
        page 2).
    """

    mu: float
    power: float
    k: float
    sharp: float
    bend: float
    contact: float
    screen: bool = False
    share: float = 0.0
    slope: float = 1.0
    knee: float = 0.08
    rise: float = 0.0
    soft: float = 0.0
    far: float = 0.0
    wide: float = 1.0
    grid_k: float = 1.4e-4
    grid_soft: float = 0.25


class Flow(NamedTuple):
    """Currents into grid, screen and anode, and their slopes. [A] and [A/V].

    `slopes[i][j]` is the change of current i with voltage j; order grid, screen, anode.
    """

    grid: float
    screen: float
    anode: float
    slopes: tuple[tuple[float, float, float], ...]

    @property
    def cathode(self) -> float:
        """Current out of the cathode. [A]."""
        return self.grid + self.screen + self.anode


def softplus(x: float) -> tuple[float, float]:
    """ln(1 + e^x) and its slope, without overflow."""
    if x > _HUGE:
        return x, 1.0
    if x < -_HUGE:
        tail = math.exp(max(x, -700.0))
        return tail, tail
    grown = math.exp(x)
    return math.log1p(grown), grown / (1 + grown)


def space(model: Model, vg: float, va: float) -> tuple[float, float, float]:
    """Space current [A] and its slopes with the grid and the accelerating electrode [A/V]."""
    near = _pitch(model, 1.0, vg, va)
    if not model.far:
        return near
    far = _pitch(model, model.wide, vg, va)
    whole, grid, pull = (
        (1 - model.far) * n + model.far * f for n, f in zip(near, far, strict=True)
    )
    return whole, grid, pull


def _pitch(model: Model, wide: float, vg: float, va: float) -> tuple[float, float, float]:
    """The same for a grid wound throughout so that its amplification is `wide` times mu."""
    if va <= _NOTHING:
        return 0.0, 0.0, 0.0
    root = math.sqrt(model.bend**2 + va * va)
    lift = vg + model.contact
    sharp = 1 / math.hypot(1 / (model.sharp * wide), model.soft / root)
    inner = 1 / (model.mu * wide) + lift / root
    soft, slope = softplus(sharp * inner)
    drive = va / sharp * soft
    if drive <= 0:
        return 0.0, 0.0, 0.0
    sharper = (sharp * model.soft * va / root**2) ** 2  # how sharp grows with the voltage [1]
    drive_g = va * slope / root
    drive_a = (1 - sharper) * soft / sharp + (
        sharper * inner - lift * (va / root) ** 2 / root
    ) * slope
    current = model.k * drive**model.power
    steep = model.power * current / drive
    return current, steep * drive_g, steep * drive_a


def grid_current(model: Model, vg: float) -> tuple[float, float]:
    """Current into the grid [A] and its slope [A/V]."""
    soft, slope = softplus(vg / model.grid_soft)
    volts = model.grid_soft * soft
    return model.grid_k * volts**1.5, 1.5 * model.grid_k * math.sqrt(volts) * slope


def division(model: Model, vs: float, va: float) -> tuple[float, float, float]:
    """Anode's part of the space current and its slopes with screen and anode. [1] and [1/V].

    Screen over anode current is `share (Vs/Va)^slope + (knee Vs/Va)^2`: the first term is what the
    wires of the screen catch, the second turns all current to the screen below the knee.
    """
    if va <= _NOTHING or vs <= _NOTHING:
        return (0.0 if va <= _NOTHING else 1.0), 0.0, 0.0
    ratio = min(vs / va, 1e6)
    caught = model.share * ratio**model.slope
    turned = (model.knee * ratio) ** 2
    part = 1 / (1 + caught + turned)
    steep = (model.slope * caught + 2 * turned) * part * part
    return part, -steep / vs, steep / va


def flow(model: Model, vg: float, vs: float, va: float) -> Flow:
    """Currents of a section at these voltages against its cathode. `vs` is ignored in a triode."""
    ig, ig_g = grid_current(model, vg)
    if not model.screen:
        ia, ia_g, ia_a = space(model, vg, va)
        return Flow(ig, 0.0, ia, ((ig_g, 0.0, 0.0), (0.0, 0.0, 0.0), (ia_g, 0.0, ia_a)))
    whole, whole_g, whole_s = space(model, vg, vs)
    risen = 1 + model.rise * max(va, 0.0)
    rise = model.rise if va > 0 else 0.0
    part, part_s, part_a = division(model, vs, va)
    total = whole * risen
    to_screen, to_anode = total * (1 - part), total * part
    anode = (
        whole_g * risen * part,
        whole_s * risen * part + total * part_s,
        whole * rise * part + total * part_a,
    )
    screen = (
        whole_g * risen * (1 - part),
        whole_s * risen * (1 - part) - total * part_s,
        whole * rise * (1 - part) - total * part_a,
    )
    return Flow(ig, to_screen, to_anode, ((ig_g, 0.0, 0.0), screen, anode))
