"""A meter that is not light against the point, held against the set with a resistor drawn in."""

from pathlib import Path

import numpy as np
import pytest
from boards import Board, point
from scipy.optimize import brentq

from buzzout.catalogue import device
from buzzout.circuit import CHASSIS, Fit, Part, Remove, apply, parse
from buzzout.electrics.charts import Meter, voltage_chart
from buzzout.electrics.draft import Power, Supply
from buzzout.electrics.models import model
from buzzout.electrics.operating import operate
from buzzout.electrics.ranges import source_ohms
from buzzout.electrics.valves import flow
from buzzout.language.load import read

AMP = Path(__file__).parent / "cases" / "small_amp.buzz"
MEG10 = 10e6
FED = Power(supplies=(Supply(point("HT"), CHASSIS, 250.0),))


def with_resistor(circuit, at, to, ohms=MEG10):
    part = Part("Rmeter", "resistor", ("1", "2"), parse(f"{ohms / 1e3:g}k", "ohm"))
    return apply(circuit, [Fit(part, (("1", at), ("2", to)))])


def stage(cathode=None, screen=None):
    """An EL84 fed as marked; without its cathode resistor or the feed of its screen where asked."""
    board = Board().valve("V1", "EL84", p7="A", p9="S", p2="G", p3="K")
    board.r("RA", "220k", "HT", "A").r("RG", "1M", "G", "chassis").r("RL", "10M", "HT", "G")
    if cathode:
        board.r("RK", cathode, "K", "chassis")
    if screen:
        board.r("RS", screen, "HT", "S")
    return board.circuit()


CASES = {
    "cut-off cathode": (stage(screen="100R"), "K", "chassis", True),
    "open screen feed": (stage(cathode="130R"), "HT", "S", True),
    "grid leak of 1M": (stage(cathode="130R", screen="100R"), "G", "chassis", False),
    "anode with 220k": (stage(cathode="10k", screen="220k"), "A", "chassis", False),
}


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("meter", [10e6, 1e6])
def test_a_meter_shows_what_a_resistor_in_its_place_leaves(name, meter):
    circuit, at, to, bent = CASES[name]
    at, to = point(at), point(to)
    line = voltage_chart(circuit, FED, Meter(ohms=meter, to=to), [at]).lines[0]
    drawn = operate(with_resistor(circuit, at, to, meter), FED)
    assert drawn.settled
    assert line.shown == pytest.approx(drawn.volts(at, to), rel=0.01, abs=0.01)
    assert line.low <= line.shown <= line.high
    state = operate(circuit, FED)
    straight = line.volts / (1 + source_ohms(state, (at,), to)[0] / meter)
    if bent:  # the line round the state is of no use there
        assert abs(straight) < 0.6 * abs(line.shown)
    assert abs(line.shown) < abs(line.volts)


def test_the_cathode_of_a_triode_cut_off_by_hand():
    """With nothing else at the cathode the valve must give what the meter and its leak take."""
    board = Board().valve("V1", "ECC83", p1="HT", p2="chassis", p3="K")
    line = voltage_chart(board.circuit(), FED, Meter(ohms=MEG10), [point("K")]).lines[0]
    valve = model(device("ECC83"), "triode").model

    def left_over(volts):
        got = flow(valve, -volts, 0.0, 250 - volts)
        return got.grid + got.anode - 1e-9 * volts + 1e-11 * (250 - volts) - volts / MEG10

    assert line.shown == pytest.approx(brentq(left_over, 0, 50), abs=0.01)
    assert 1.5 < line.shown < line.volts < 10  # ECC83: mu 100, so a few volts cut 250 V off


def test_the_range_is_that_of_sets_with_the_meter_in():
    """With a resistor drawn for the meter: the same, but for another draw of the sets."""
    circuit = apply(read(AMP), [Remove("R41"), Remove("C40")])
    at = point("V3.3")
    line = voltage_chart(circuit, None, Meter(ohms=MEG10), [at]).lines[0]
    meter = voltage_chart(with_resistor(circuit, at, CHASSIS), None, None, [at]).lines[0]
    assert (line.shown, line.low, line.high) == pytest.approx(
        (meter.shown, meter.low, meter.high), rel=0.03
    )
    assert line.low < 0.97 * line.shown
    assert np.isfinite([line.low, line.high]).all()
