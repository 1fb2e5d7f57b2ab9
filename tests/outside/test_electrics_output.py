"""Cathode resistors of published output stages, from the model alone.

The sheet prints voltages, currents and the cathode resistor that gives them. Here the stage is
solved with that resistor; the printed currents must come out.
"""

from __future__ import annotations

import pytest

from buzzout.electrics.output import output_model
from buzzout.electrics.stages import Stage, settle

# type, anode and screen to cathode, resistor, valves on it, anode and screen mA each; source
PUBLISHED = [
    ("EL84", 250, 250, 135, 1, 48, 5.5, "Philips EL84 sheet, 3.3.1955, page 2"),
    ("EL84", 250, 250, 210, 1, 36, 4.1, "Philips EL84 sheet, 11.11.1953, page 3"),
    ("EL84", 250, 210, 160, 1, 36, 3.9, "Philips EL84 sheet, 11.11.1953, page 3"),
    ("EL84", 250, 250, 130, 2, 31, 3.5, "Philips EL84 sheet, page 4"),
    ("EL84", 300, 300, 130, 2, 36, 4.0, "Philips EL84 sheet, page 4"),
    ("6V6GT", 250, 100, 250, 1, 17.5, 0.7, "Radiotron 6V6GT sheet, class A1"),
]


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda r: f"{r[0]} {r[1]} V {r[3]} ohm {r[4]}")
def test_cathode_resistor_gives_the_printed_currents(row):
    name, va, vs, rk, valves, ia, screen, _ = row
    stage = Stage(va, 0.0, rk, screen_volts=vs, valves=valves, to_cathode=True)
    got = settle(output_model(name), stage)
    assert got.settled
    assert 1e3 * got.flow.anode == pytest.approx(ia, rel=0.06)
    assert 1e3 * got.flow.screen == pytest.approx(screen, rel=0.12)
