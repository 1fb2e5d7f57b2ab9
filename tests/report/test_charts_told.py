"""Charts of resistance and voltage: figures as a meter shows them, differences told in words."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from buzzout.circuit import Circuit, Point, Quantity, Reading
from buzzout.compare import Comparison
from buzzout.electrics import Meter, Pair, Range, Row, VoltageLine, side_by_side, three_charts
from buzzout.job import PunchList
from buzzout.report.charts import Charts, Line, tables
from buzzout.report.page import page

ANODE, GRID = Point("V1", "1"), Point("V1", "2")


def ohms(nominal: float, low: float, high: float, found: float, *, differs: bool) -> Pair:
    return Pair(ANODE, Range(nominal, low, high), Range(found, found, found), differs)


def volts(drawn: float, found: float, *, swing: float = 0.0, swing_found: float = 0.0) -> Row:
    lines = (
        VoltageLine(ANODE, "anode 2", v, v, v * 0.95, v * 1.05, s)
        for v, s in ((drawn, swing), (found, swing_found))
    )
    expected = Reading(ANODE, Point("chassis"), Quantity(168.0, "V"))
    return Row(ANODE, "anode 2", *lines, expected, None, abs(drawn - found) > 20)


def only(drawing: Circuit, charts: Charts) -> Line:
    (table,) = tables(charts, drawing)
    assert table.title == "V1 ECC83"
    (line,) = table.lines
    return line


@pytest.mark.parametrize(
    ("pair", "told"),
    [
        (ohms(1e5, 9e4, 1.1e5, 1e5, differs=False), ("100k", "90k to 110k", "100k")),
        (ohms(0.02, 0.0, 0.4, math.inf, differs=True), ("<1R", "", "open")),
        (ohms(math.inf, math.inf, math.inf, 4700, differs=True), ("open", "", "4.7k")),
        (ohms(123456.0, 1e5, 2e5, 123456.0, differs=False), ("123k", "100k to 200k", "123k")),
    ],
)
def test_resistances_read_as_on_a_meter(
    drawing: Circuit, pair: Pair, told: tuple[str, str, str]
) -> None:
    line = only(drawing, Charts([pair]))
    assert line.ohms is not None
    assert (line.ohms.drawn, line.ohms.range, line.ohms.found) == told
    assert line.differs == pair.differs


@pytest.mark.parametrize(
    ("row", "told", "differs"),
    [
        (volts(168.2, 168.2), ("168 V", "160 to 177 V", "168 V"), False),
        (volts(168.2, 12.04), ("168 V", "160 to 177 V", "12 V"), True),
        (volts(0.0, 0.0, swing=6.3, swing_found=6.2), ("6.3 V~", "", "6.2 V~"), False),
        (volts(0.0, 0.0, swing=6.3), ("6.3 V~", "", "0 V"), True),
        (volts(-4.8, -5.0, swing=238, swing_found=230), ("238 V~", "", "230 V~"), False),
    ],
)
def test_voltages_read_as_on_a_meter(
    drawing: Circuit, row: Row, told: tuple[str, str, str], differs: bool
) -> None:
    line = only(drawing, Charts(voltage=[row]))
    assert line.volts is not None
    assert (line.volts.drawn, line.volts.range, line.volts.found) == told
    assert (line.differs, line.maker, line.electrode) == (differs, "168V", "anode b")


def test_a_voltage_that_nothing_settles_is_not_a_zero(drawing: Circuit) -> None:
    assert only(drawing, Charts(voltage=[volts(math.nan, math.nan)])).volts is None
    half = only(drawing, Charts(voltage=[volts(math.nan, 40.0)])).volts
    assert half is not None
    assert (half.drawn, half.found) == ("not known", "40 V")


def test_pins_with_nothing_inside_and_nothing_on_them_are_left_out(drawing: Circuit) -> None:
    never, some = Range(math.inf, math.inf, math.inf), Range(1e3, 1e3, 1e3)
    pentode = replace(drawing.parts["V1"], type="EL84")  # nothing of use is on its pin 1
    circuit = drawing.but({**drawing.parts, "V1": pentode})
    assert tables(Charts([Pair(ANODE, never, never, False)]), circuit) == ()
    assert tables(Charts([Pair(ANODE, never, some, True)]), circuit)
    assert tables(Charts([Pair(ANODE, never, never, False)]), drawing), "an anode is no idle pin"


def computed(comparison: Comparison) -> Charts:
    drawn, found = comparison.reference, comparison.found
    volts_ = three_charts(drawn, found, None, Meter(per_volt=20e3))
    return Charts(side_by_side(drawn, found), volts_, remarks=("meter 20 kilohm per volt",))


def test_sockets_come_first_and_every_point_once(comparison: Comparison) -> None:
    charts = computed(comparison)
    found = tables(charts, comparison.reference)
    assert [table.title for table in found] == ["V1 ECC83", "Other points"]
    shown = [line.pin for line in found[1].lines] + [f"V1.{ln.pin}" for ln in found[0].lines]
    wanted = {str(pair.point) for pair in charts.resistance} | {
        str(r.point) for r in charts.voltage
    }
    assert sorted(shown) == sorted(wanted)
    assert any(line.differs for line in found[0].lines)


def test_the_page_prints_them_and_warns_while_the_gate_is_shut(punch: PunchList) -> None:
    text = page(punch, {}, computed(punch.comparison))
    assert text.count('<table class="chart">') == 2
    assert "Do not measure voltages while power must not go on." in text
    assert "Meter 20 kilohm per volt." in text
    assert 'aria-label="differs"' in text
    assert "What a meter should read" not in page(punch, {})
