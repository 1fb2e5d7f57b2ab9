"""The rated volts of a class X or Y capacitor are alternating ones (IEC 60384-14)."""

from __future__ import annotations

from math import isclose, sqrt
from types import SimpleNamespace

import pytest

from buzzout.circuit import Part, parse
from buzzout.electrics.stress_parts import rated_volts


@pytest.mark.parametrize(
    ("style", "peak"), [(("X2",), 275 * sqrt(2)), (("y1",), 275 * sqrt(2)), (("paper",), 275)]
)
def test_a_mains_class_stands_the_peak_of_its_rating(style: tuple[str, ...], peak: float) -> None:
    part = Part("C1", "capacitor", ("1", "2"), voltage=parse("275V", "V"), style=style)
    rated = rated_volts(part, SimpleNamespace(name="C1"))  # type: ignore[arg-type]
    assert rated is not None
    assert isclose(rated, peak)
