"""The rated volts of a class X or Y capacitor are alternating ones (IEC 60384-14)."""

from __future__ import annotations

from math import isclose, sqrt
from pathlib import Path
from types import SimpleNamespace

import pytest

from buzzout.circuit import Part, parse
from buzzout.electrics.ratings import audit
from buzzout.electrics.stress import FINE, OVER
from buzzout.electrics.stress_parts import rated_volts
from buzzout.language.load import read


@pytest.mark.parametrize(
    ("style", "peak"), [(("X2",), 275 * sqrt(2)), (("y1",), 275 * sqrt(2)), (("paper",), 275)]
)
def test_a_mains_class_stands_the_peak_of_its_rating(style: tuple[str, ...], peak: float) -> None:
    part = Part("C1", "capacitor", ("1", "2"), voltage=parse("275V", "V"), style=style)
    rated = rated_volts(part, SimpleNamespace(name="C1"))  # type: ignore[arg-type]
    assert rated is not None
    assert isclose(rated, peak)


SET = """reference "Filter"
mains {mains} V 50 Hz region UK
cord M1 L brown N blue E green/yellow
transformer T1
winding T1 primary 0 230 230V dcr 30R
winding T1 heaters h1 h2 6.3V 1.5A dcr 0.1R
wire M1.L T1.230
wire M1.N T1.0
C1 capacitor 47n {volts} X2 M1.L M1.N
"""


@pytest.mark.parametrize(
    ("mains", "volts", "verdict"),
    [
        (230, 250, FINE),  # 253 V with the mains 10 % high, of 275 V
        (230, 275, FINE),
        (240, 250, FINE),
        (230, 220, OVER),
        (250, 240, OVER),
    ],
)
def test_a_mains_class_may_see_a_tenth_more_with_the_mains_high(
    tmp_path: Path, mains: int, volts: int, verdict: str
) -> None:
    """A maker's guide: 110 % of the rated voltage, the variation of the mains with it."""
    file = tmp_path / "it.reference.buzz"
    file.write_text(SET.format(mains=mains, volts=f"{volts}V"), encoding="utf-8")
    [told] = [s for s in audit(read(file)) if (s.part, s.what) == ("C1", "voltage")]
    assert told.value / told.limit == pytest.approx(mains / volts, rel=0.005)
    assert told.verdict == verdict
    assert told.order == 250
