"""What is told of a fuse: the current of the set, and for which setting of its bias it holds."""

import re

import pytest
from small_set import changed

from buzzout.job.fuses import fuses
from buzzout.job.supplyline import SupplyLine

CATHODE = ("R7 resistor 180R 2W V2.3 chassis", "wire V2.3 chassis")
LEAK = "R6 resistor 470k V2.2 chassis"
SUPPLY = """strip TS1 4 tags
R6 resistor 220k V2.2 P1.wiper
C92 electrolytic 50u 50V chassis + TS1.1 -
D1 diode 1N4007 TS1.1 a TS1.2 k
R92 resistor 82k TS1.2 T1.red1
pot P1 22k lin{}
wire P1.cw TS1.1
R93 resistor 4k7 P1.ccw chassis"""


@pytest.fixture
def running(circuit):
    """The line of the fuse, and its currents while running. [mA]."""

    def _running(*swaps):
        told = fuses(SupplyLine(circuit(changed(*swaps))))[0].told
        line = next(each for each in told if "running" in each)
        part = line[line.index("full load") : line.index(" in the first")]
        return line, [int(value) for value in re.findall(r"(\d+)mA (?:running|with)", part)]

    return _running


def biased(setting):
    return [CATHODE, (LEAK, SUPPLY.format(setting))]


def test_without_a_control_of_the_bias_there_is_one_current(running):
    line, currents = running()
    assert len(currents) == 1
    assert "clockwise" not in line


def test_a_control_of_the_bias_is_told_with_both_its_ends(running):
    """Each end is what the set draws when the file says that the control stands there."""
    line, both = running(*biased(""))
    assert "with P1 fully clockwise (" in line
    assert "with it anticlockwise)" in line
    ends = [running(*biased(setting)) for setting in (" set 100%", " set 0%")]
    assert [currents for _, currents in ends] == [[current] for current in both]
    assert both[1] > 1.2 * both[0]
    assert not any("clockwise" in line for line, _ in ends)
