"""Grids that hang in the air, and what holds one."""

import pytest

from buzzout.language import load
from buzzout.language.grids import floating

STAGE = """\
reference "Stage"
socket V1 B9A ECC83
connector SK1 3 pins
R2 resistor 100k V1.1 SK1.3
R3 resistor 1k5 V1.3 chassis
C1 capacitor 22n SK1.1 V1.2
"""
AWAY = "R2 resistor 100k V1.1 SK1.3\n"


@pytest.mark.parametrize(
    ("more", "less", "told"),
    [
        ("", "", ["V1.2"]),
        ("R1 resistor 1M V1.2 chassis", "", []),
        ("R1 resistor 10M V1.2 V1.3", "", []),
        ("R1 resistor 1M V1.2 V1.1", "", []),
        ("L1 inductor 10m V1.2 chassis", "", []),
        ("R1 resistor 1M V1.2 V1.7", "", ["V1.2"]),
        ("R1 resistor 1M V1.2 BIAS\nnode BIAS", "", []),
        ("R1 resistor 1M V1.2 BIAS\nC2 capacitor 1u BIAS chassis\nnode BIAS", "", ["V1.2"]),
        ("switch S1 on-off\nwire V1.2 S1.a\nwire S1.a1 chassis", "", []),
        ("", AWAY, []),
        ("wire V1.1 chassis", AWAY, []),
        ("R4 resistor 100k V1.6 SK1.3", "", ["V1.7", "V1.2"]),
    ],
)
def test_what_holds_a_grid(more, less, told, tmp_path):
    path = tmp_path / "it.buzz"
    path.write_text(f"{STAGE.replace(less, '') if less else STAGE}{more}\n", encoding="utf-8")
    found = floating(load(path).sound().circuit)
    assert [str(grid) for _, _, grid in found] == told
