"""The laws of valves, rectifiers and stabilisers for many states at once.

The same laws as `valves` and `rectifier`, on arrays; a test holds the two
equal. One row is one state of a set: another sample of its parts, or a way to go wrong.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from buzzout.electrics.rectifier import LEAK, NODES, WEIGHTS, Law, choked, driven, drop
from buzzout.electrics.system import Path
from buzzout.electrics.valves import Model

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

_POINTS = 500  # of a table of one rectifier path
_GAS_SOFT = 0.5  # softness of a gas discharge's start [V]
_LEAST = 1e-6  # a choke that carries less has gone dry [A]


@dataclass(frozen=True)
class Flows:
    """Currents into grid, screen and anode [A], one column each, and their slopes [A/V].

    `slopes[:, i, j]` is the change of current i with voltage j; order grid, screen, anode.
    """

    amps: Floats
    slopes: Floats


def _softplus(x: Floats) -> tuple[Floats, Floats]:
    slope = 1 / (1 + np.exp(-np.clip(x, -700, 700)))
    return np.logaddexp(0.0, x), slope


def _space(m: Model, vg: Floats, va: Floats) -> tuple[Floats, Floats, Floats]:
    """Space current [A] and its slopes with grid and accelerating electrode [A/V]."""
    near = _pitch(m, 1.0, vg, va)
    if not m.far:
        return near
    far = _pitch(m, m.wide, vg, va)
    whole, grid, pull = ((1 - m.far) * n + m.far * f for n, f in zip(near, far, strict=True))
    return whole, grid, pull


def _pitch(m: Model, wide: float, vg: Floats, va: Floats) -> tuple[Floats, Floats, Floats]:
    """The same for a grid wound throughout so that its amplification is `wide` times mu."""
    on = va > 0
    v = np.where(on, va, 1.0)
    root = np.sqrt(m.bend**2 + v * v)
    lift = vg + m.contact
    sharp = 1 / np.hypot(1 / (m.sharp * wide), m.soft / root)
    inner = 1 / (m.mu * wide) + lift / root
    soft, slope = _softplus(sharp * inner)
    drive = np.maximum(v / sharp * soft, 1e-30)
    sharper = (sharp * m.soft * v / root**2) ** 2
    drive_g = v * slope / root
    drive_a = (1 - sharper) * soft / sharp + (
        sharper * inner - lift * (v / root) ** 2 / root
    ) * slope
    current = m.k * drive**m.power
    steep = m.power * current / drive
    return on * current, on * steep * drive_g, on * steep * drive_a


def _grid(m: Model, vg: Floats) -> tuple[Floats, Floats]:
    soft, slope = _softplus(vg / m.grid_soft)
    volts = m.grid_soft * soft
    return m.grid_k * volts**1.5, 1.5 * m.grid_k * np.sqrt(volts) * slope


def _division(m: Model, vs: Floats, va: Floats) -> tuple[Floats, Floats, Floats]:
    """The anode's part of the space current and its slopes with screen and anode."""
    on = (va > 0) & (vs > 0)
    a, s = np.where(on, va, 1.0), np.where(on, vs, 1.0)
    ratio = np.minimum(s / a, 1e6)
    caught = m.share * ratio**m.slope
    turned = (m.knee * ratio) ** 2
    part = 1 / (1 + caught + turned)
    steep = (m.slope * caught + 2 * turned) * part * part
    off = np.where(va <= 0, 0.0, 1.0)
    return np.where(on, part, off), np.where(on, -steep / s, 0.0), np.where(on, steep / a, 0.0)


def valve(m: Model, vg: Floats, vs: Floats, va: Floats) -> Flows:
    """Currents of a section in many states, voltages against its cathode. [V]."""
    amps, slopes = np.zeros((len(vg), 3)), np.zeros((len(vg), 3, 3))
    amps[:, 0], slopes[:, 0, 0] = _grid(m, vg)
    if not m.screen:
        amps[:, 2], slopes[:, 2, 0], slopes[:, 2, 2] = _space(m, vg, va)
        return Flows(amps, slopes)
    whole, whole_g, whole_s = _space(m, vg, vs)
    risen = 1 + m.rise * np.maximum(va, 0.0)
    rise = np.where(va > 0, m.rise, 0.0)
    part, part_s, part_a = _division(m, vs, va)
    total = whole * risen
    amps[:, 1], amps[:, 2] = total * (1 - part), total * part
    steep = (whole_g * risen, whole_s * risen, whole * rise)
    moved = (np.zeros_like(part), total * part_s, total * part_a)
    for column in range(3):
        slopes[:, 2, column] = steep[column] * part + moved[column]
        slopes[:, 1, column] = steep[column] * (1 - part) - moved[column]
    return Flows(amps, slopes)


@dataclass(frozen=True)
class Table:
    """Mean current of one rectifier path with the voltage that drives it. [V], [A], [A/V]."""

    volts: Floats
    amps: Floats
    slopes: Floats

    def at(self, volts: Floats) -> tuple[Floats, Floats]:
        """Current and slope, interpolated; straight on beyond the last point."""
        amps = np.interp(volts, self.volts, self.amps)
        slopes = np.interp(volts, self.volts, self.slopes)
        over = np.maximum(volts - self.volts[-1], 0.0)
        return amps + over * self.slopes[-1], slopes


def table(path: Path) -> Table:
    """The table of a path as the mains side drives it now."""
    volts = np.linspace(-1.3 * path.peak - 30, 0.3 * path.peak + 30, _POINTS)
    if path.choke:
        amps = _into_choke(path, volts)
        return Table(volts, amps, np.gradient(amps, volts))
    got = pulses(path.law, volts, path.peak, path.ohms)
    return Table(volts, got.mean, got.slope)


class Pulses(NamedTuple):
    """Currents of a path in many states; see `rectifier.Pulse`. `square` is that of the r.m.s."""

    mean: Floats
    slope: Floats
    inphase: Floats
    square: Floats


def pulses(
    law: Law,
    u: Floats,
    peak: float | Floats,
    ohms: float | Floats,
    more: float | Floats = 1.0,
) -> Pulses:
    """Currents of a path in many states, by `rectifier.pulse`. [A], [A/V], [A^2].

    `more` is a factor on the current of a rectifier valve at each voltage.
    """
    tall = np.maximum(np.broadcast_to(peak, u.shape), 1e-9)
    start = np.where(tall > 1e-9, np.arcsin(np.clip(-u / tall, -1.0, 1.0)), -np.pi / 2)
    half = (np.pi / 2 - start) / 2
    shape = np.sin(start[:, None] + half[:, None] * (NODES + 1))
    volts = u[:, None] + tall[:, None] * shape
    behind, by = (np.broadcast_to(value, u.shape)[:, None] for value in (ohms, more))
    amps, slope = driven(law, volts, behind, by)
    share = half / np.pi
    return Pulses(
        share * (amps @ WEIGHTS) + LEAK * u,
        share * (slope @ WEIGHTS) + LEAK,
        2 * share * ((amps * shape) @ WEIGHTS),
        share * (amps**2 @ WEIGHTS),
    )


def _into_choke(path: Path, volts: Floats) -> Floats:
    """Mean current of a path into a choke at each driving voltage, by halving. [A]."""
    low, high = np.zeros_like(volts), np.full_like(volts, 10.0)
    for _ in range(50):
        middle = (low + high) / 2
        lost = np.array([drop(path.law, float(amps))[0] for amps in middle])
        crest, _ = choked(middle, path.peak, path.reactance)
        holds = lost + path.ohms * middle < volts + crest
        low, high = np.where(holds, middle, low), np.where(holds, high, middle)
    return np.where(low > _LEAST, low / path.choke, 1e-9 * volts)


def gas(volts: Floats, burning: float, ohms: float) -> tuple[Floats, Floats]:
    """Current and slope of a discharge that burns at a voltage, either way round."""
    soft, slope = _softplus((np.abs(volts) - burning) / _GAS_SOFT)
    return np.sign(volts) * soft * _GAS_SOFT / ohms, slope / ohms
