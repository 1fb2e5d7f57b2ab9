"""Preferred numbers: the E series of IEC 60063, and rounding to them by a stated rule.

The value of step i of N is 10^(i/N), rounded to two figures up to E24 and to three beyond. The
published tables depart from that rounding at eight values of E24 (27 to 47 and 82) and at 920 of
E192; these exceptions are listed, the rest is computed. Checked against the `eseries` package.
"""

from __future__ import annotations

from functools import cache
from math import floor, log10, sqrt

SERIES = ("E3", "E6", "E12", "E24", "E48", "E96", "E192")
_E24_EXCEPTIONS = {26: 27, 29: 30, 32: 33, 35: 36, 38: 39, 42: 43, 46: 47, 83: 82}
_E192_EXCEPTIONS = {919: 920}
# Tolerance that a series is made for, as a fraction: half the step, roughly. IEC 60063.
TOLERANCE = {"E3": 0.4, "E6": 0.2, "E12": 0.1, "E24": 0.05, "E48": 0.02, "E96": 0.01, "E192": 0.005}


@cache
def preferred(series: str) -> tuple[int, ...]:
    """Figures of one decade: two-figure values up to E24, three-figure values beyond.

    >>> preferred("E6")
    (10, 15, 22, 33, 47, 68)

    Raises
    ------
    ValueError
        If there is no such series.
    """
    name = series.upper()
    if name not in SERIES:
        raise ValueError(f"there is no series {series!r}; there are {', '.join(SERIES)}")
    steps = int(name[1:])
    if steps <= 24:
        exact = [round(10 * 10 ** (i / 24)) for i in range(0, 24, 24 // steps)]
        return tuple(_E24_EXCEPTIONS.get(v, v) for v in exact)
    exact = [round(100 * 10 ** (i / steps)) for i in range(steps)]
    return tuple(_E192_EXCEPTIONS.get(v, v) for v in exact)


def nearest_preferred(value: float, series: str = "E24", rule: str = "ratio") -> float:
    """The preferred value nearest to `value` (> 0), in the same unit.

    `rule` decides where the border between two neighbours lies: "ratio" at their geometric mean
    (the smaller error in per cent; the default), "difference" at their arithmetic mean. 18.3 rounds
    to 22 by ratio in E6 and to 15 by difference. On the border itself the lower one is taken.

    Raises
    ------
    ValueError
        For a value that is not positive, an unknown series or rule.
    """
    if value <= 0 or rule not in ("ratio", "difference"):
        raise ValueError(f"no preferred value for {value!r} by rule {rule!r}")
    below, above = _neighbours(value, series)
    border = sqrt(below * above) if rule == "ratio" else (below + above) / 2
    return below if value <= border * (1 + 1e-12) else above


def _neighbours(value: float, series: str) -> tuple[float, float]:
    """Largest preferred value not above `value`, and the next one."""
    figures = preferred(series)
    decade = floor(log10(value)) - (len(str(figures[0])) - 1)
    around = [_scaled(f, decade + d) for d in (-1, 0, 1) for f in figures]
    index = max(i for i, v in enumerate(around) if v <= value * (1 + 1e-12))
    return around[index], around[index + 1]


def _scaled(figure: int, exponent: int) -> float:
    """`figure` times ten to `exponent`, rounded as printed and not as multiplied."""
    return float(f"{figure}e{exponent}")


def series_of(value: float) -> str:
    """The coarsest series that has `value` (> 0): "E12" for 120; "" if none has."""
    if value <= 0:
        return ""
    for series in SERIES:
        if abs(_neighbours(value, series)[0] / value - 1) < 1e-9:
            return series
    return ""
