"""Colours of the drawing and the page, against published models of sight and contrast."""

from __future__ import annotations

import re
from importlib.resources import files
from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray

from buzzout.report.drawing import palette
from buzzout.report.drawing.palette import LOOKS, PAPER, TINT

# G. M. Machado, M. M. Oliveira, L. A. F. Fernandes: "A Physiologically-based Model for Simulation
# of Color Vision Deficiency", 2009, doi 10.1109/TVCG.2009.113, the tables for full severity.
SIGHT = {
    "all colours": np.eye(3),
    "no red": np.array([[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
                        [-0.003882, -0.048116, 1.051998]]),
    "no green": np.array([[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
                          [-0.011820, 0.042940, 0.968881]]),
    "no blue": np.array([[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
                         [0.004733, 0.691367, 0.303900]]),
}  # fmt: skip
# IEC 61966-2-1 (sRGB) to CIE XYZ, and the white D65.
TO_XYZ = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)  # fmt: skip
WHITE = np.array([0.9505, 1.0, 1.089])
# M. Okabe, K. Ito: "Color Universal Design", the set of eight.
OKABE_ITO = {"#000000", "#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7"}

Numbers = NDArray[np.float64]


def linear(colour: str) -> Numbers:
    """Linear light of a hexadecimal colour (IEC 61966-2-1)."""
    raw = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(raw <= 0.04045, raw / 12.92, ((raw + 0.055) / 1.055) ** 2.4)


def lab(light: Numbers) -> Numbers:
    """CIE 1976 L*a*b*."""
    t = TO_XYZ @ np.clip(light, 0, 1) / WHITE
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def contrast(one: str, other: str) -> float:
    """Contrast ratio of WCAG 2.1, definition of "relative luminance"."""
    lights = sorted(float(TO_XYZ[1] @ linear(colour)) for colour in (one, other))
    return (lights[1] + 0.05) / (lights[0] + 0.05)


def test_the_looks_are_of_the_published_set() -> None:
    assert {look.colour for look in LOOKS.values()} <= OKABE_ITO
    assert len({look.colour for look in LOOKS.values()}) == len(LOOKS)


@pytest.mark.parametrize("sight", SIGHT)
def test_the_looks_stay_apart_for_every_kind_of_sight(sight: str) -> None:
    # A difference of 10 is seen at a glance; just noticeable is about 2.3 (CIE 1976).
    seen = [lab(SIGHT[sight] @ linear(look.colour)) for look in LOOKS.values()]
    assert min(float(np.linalg.norm(a - b)) for a, b in combinations(seen, 2)) > 10


def test_words_on_the_drawing_are_readable() -> None:
    for ground in (PAPER, TINT):
        assert contrast(palette.BLACK, ground) >= 7
        assert contrast(palette.GREY, ground) >= 4.5


def themes() -> list[dict[str, str]]:
    """Named colours of the page, by day and by night."""
    css = (files("buzzout.report") / "templates" / "page.css").read_text()
    blocks = re.findall(r":root \{(.*?)\}", css, re.DOTALL)[:2]
    return [dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", block)) for block in blocks]


@pytest.mark.parametrize("theme", themes(), ids=["day", "night"])
def test_words_on_the_page_are_readable(theme: dict[str, str]) -> None:
    for ground in ("paper", "card"):
        assert contrast(theme["ink"], theme[ground]) >= 7
        assert contrast(theme["soft"], theme[ground]) >= 4.5
    for state in ("stop", "wait"):
        assert contrast(theme[state], theme[f"{state}-ground"]) >= 4.5
        assert contrast(theme["ink"], theme[f"{state}-ground"]) >= 4.5
