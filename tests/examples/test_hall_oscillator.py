"""The attention tone of the hall amplifier: does it oscillate, and where?

Published figures of the ECC82 (Philips sheet, 11.11.1954 and 6.6.1959): mu 17; at 250 V with
220 k, 3.9 k in the cathode and a following 680 k it takes 0.82 mA and has a gain of 14.5. That is
the working point of the first half, and it makes ra 28.6 k. The follower takes 2.8 mA; the row
with 47 k, 1.2 k, 150 k and a gain of 13.5 takes 3.0 mA, which makes ra 9.3 k. From memory: 1.5 pF
grid to anode. Common practice for point-to-point wiring: 12 pF on the grid, 10 pF on the anode.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from buzzout.language import load

DRAWING = load(
    Path(__file__).parents[2] / "examples" / "hall-amplifier" / "hall-amplifier.reference.buzz"
).circuit
MU = 17.0
RA, RA_FOLLOWER = 28.6e3, 9.3e3  # ohm
GRID_ANODE, GRID_STRAY, ANODE_STRAY = 1.5e-12, 12e-12, 10e-12  # F
ANODE, CATHODE, FOLLOWER, FIRST, SECOND, GRID = range(6)
Sections = list[tuple[float, float]]


def value(name: str) -> float:
    quantity = DRAWING.parts[name].value
    assert quantity is not None
    return quantity.value


def sections() -> Sections:
    """The ladder as (farads, ohms) from the follower to the grid."""
    return [(value(f"C{c}"), value(f"R{r}")) for c, r in ((18, 33), (19, 34), (20, 35))]


def loop_gain(hertz: float, ladder: Sections, *, strays: bool = True) -> complex:
    """Voltage that comes back to the grid for one volt inside the valve. Nodal analysis. [1]"""
    s = 2j * np.pi * hertz
    y = np.zeros((6, 6), complex)

    def join(a: int, b: int | None, admittance: complex) -> None:
        y[a, a] += admittance
        if b is not None:
            y[b, b] += admittance
            y[a, b] -= admittance
            y[b, a] -= admittance

    join(ANODE, None, 1 / value("R31") + s * ANODE_STRAY * strays)
    join(ANODE, CATHODE, 1 / RA)
    join(CATHODE, None, 1 / value("R32") + s * value("C17"))
    join(FOLLOWER, None, 1 / value("R36") + 1 / RA_FOLLOWER + 1 / value("R37"))
    for a, b, (farads, ohms) in zip(
        (FOLLOWER, FIRST, SECOND), (FIRST, SECOND, GRID), ladder, strict=True
    ):
        join(a, b, s * farads)
        join(b, None, 1 / ohms)
    join(GRID, None, s * GRID_STRAY * strays)
    join(GRID, ANODE, s * GRID_ANODE * strays)
    return complex(np.linalg.solve(*_driven(y))[GRID])


def _driven(y: NDArray[np.complex128]) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Put in both valves: slope times grid-to-cathode voltage, one volt on the broken grid."""
    slope, follower_slope = MU / RA, MU / RA_FOLLOWER
    y[ANODE, CATHODE] -= slope
    y[CATHODE, CATHODE] += slope
    y[FOLLOWER, ANODE] -= follower_slope
    y[FOLLOWER, FOLLOWER] += follower_slope
    current = np.zeros(6, complex)
    current[ANODE], current[CATHODE] = -slope, slope
    return y, current


def oscillation(ladder: Sections, *, strays: bool = True) -> tuple[float, float]:
    """Frequency where the loop is in phase [Hz] and its gain there [1], the strongest such."""
    hertz = np.geomspace(20, 5000, 2000)
    gains = np.array([loop_gain(f, ladder, strays=strays) for f in hertz])
    turns = np.flatnonzero(np.diff(np.sign(gains.imag)))
    best = max(turns, key=lambda i: gains[i].real)
    share = gains[best].imag / (gains[best].imag - gains[best + 1].imag)
    at = float(hertz[best] + share * (hertz[best + 1] - hertz[best]))
    return at, loop_gain(at, ladder, strays=strays).real


def attenuation(ladder: Sections) -> tuple[float, float]:
    """Closed form of a ladder from a source without resistance: frequency [Hz], attenuation [1].

    omega^2 = a3/a1 and a1 a2/a3 - 1 with the coefficients of the third-order transfer function.
    """
    (c1, r1), (c2, r2), (c3, r3) = ladder
    a1 = (
        1 / (r1 * c1)
        + 1 / (r2 * c1)
        + 1 / (r3 * c1)
        + 1 / (r2 * c2)
        + 1 / (r3 * c2)
        + 1 / (r3 * c3)
    )
    a3 = 1 / (c1 * c2 * c3 * r1 * r2 * r3)
    a2 = (c1 * r1 + c2 * r1 + c2 * r2 + c3 * r2 + c3 * r3) * a3
    return float(np.sqrt(a3 / a1)) / (2 * np.pi), a1 * a2 / a3 - 1


def reactance() -> float:
    """The first capacitor at the frequency of the closed form. [ohm]"""
    return 1 / (2 * np.pi * attenuation(sections())[0] * value("C18"))


def test_closed_form_on_the_textbook_ladder() -> None:
    """Three equal sections, 100 k and 22 n: 29.53 Hz and 29."""
    hertz, down = attenuation([(22e-9, 100e3)] * 3)
    assert hertz == pytest.approx(29.53, abs=0.01)
    assert down == pytest.approx(29)


def test_it_oscillates_with_a_margin() -> None:
    hertz, gain = oscillation(sections())
    assert gain >= 1.3
    assert hertz == pytest.approx(182, abs=2)


def test_both_ways_agree_without_strays() -> None:
    """Stage, follower and closed form by hand give what the nodal analysis gives, within 3 %.

    The first section loads the follower with about its resistor in series with its capacitor.
    """
    stage = MU * value("R31") / (value("R31") + RA)
    tail = 1 / (1 / value("R36") + 1 / value("R37") + 1 / abs(value("R33") - 1j * reactance()))
    follower = MU * tail / (RA_FOLLOWER + (MU + 1) * tail)
    down = attenuation(sections())[1]
    assert oscillation(sections(), strays=False)[1] == pytest.approx(
        stage * follower / down, rel=0.03
    )


def test_equal_sections_would_not_oscillate() -> None:
    assert oscillation([(4.7e-9, 100e3)] * 3)[1] < 0.7
