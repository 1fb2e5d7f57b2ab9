"""Readings of a set with a valve that has no model: a healthy one is left in peace."""

import pytest
from hall_readings import point, taken

from buzzout.bench.case import case
from buzzout.bench.diagnose import diagnose
from buzzout.bench.probe import ALTERNATING
from buzzout.bench.readings import report
from buzzout.bench.reported import told as reported
from buzzout.bench.sittings import Sitting
from buzzout.circuit import Point, Quantity, Reading
from buzzout.compare import compare
from buzzout.electrics.charts import voltage_chart
from buzzout.electrics.operating import operate
from buzzout.language import load

SET = """\
reference "Front end"
mains 230 V 50 Hz region UK
default resistor 10% 0.5W
cord M1 L brown N blue E green/yellow
bond PE1
fuse F1 500mA slow
switch S1 on-off set on
transformer T1
winding T1 primary 0 230 0-230V dcr 25R
winding T1 ht a1 ct a2 250-0-250V 60mA dcr 150R+155R
winding T1 heaters h1 h2 6.3V 2A
wire M1.L F1.1
wire F1.2 S1.a
wire S1.a1 T1.230
wire M1.N T1.0
wire M1.E PE1
socket V1 B9A ECH81
socket V2 B9A EZ81
socket V3 B9A EM84
heaters V1 V2 V3 from T1.h1 T1.h2
wire T1.h2 chassis
wire T1.a1 V2.1
wire T1.a2 V2.7
wire T1.ct chassis
can C30 red 32u 450V yellow 32u 450V
wire C30.can chassis
node HT1 V2.3 C30.red
node HT2 C30.yellow
R40 resistor 3k3 5W HT1 HT2
R41 resistor 22k 5W HT1 chassis
R1 resistor 22k 2W HT2 V1.1
R2 resistor 180R V1.3 chassis
R3 resistor 47k V1.9 V1.3
R4 resistor 33k 1W HT2 V1.8
R5 resistor 1M V1.2 chassis
wire V1.7 V1.9
wire V1.6 HT2
R6 resistor 470k HT2 V3.9
R7 resistor 1M V3.1 chassis
wire V3.9 V3.7
wire V3.6 HT2
wire V3.2 chassis
"""


@pytest.fixture(scope="module")
def front(tmp_path_factory):
    path = tmp_path_factory.mktemp("front") / "front.reference.buzz"
    path.write_text(SET, encoding="utf-8")
    return case(operate(load(path).sound().circuit))


def explained(front, read):
    return diagnose(front, [taken(at, "chassis", volts) for at, volts in read.items()])


HEALTHY = {"V1.1": 100.0, "V1.3": 2.5, "V1.9": -8.0, "V1.8": 105.0, "V3.9": 40.0}


@pytest.mark.parametrize("at", [*HEALTHY, "all"])
def test_what_a_healthy_set_reads_is_explained_by_nothing(front, at):
    read = HEALTHY if at == "all" else {at: HEALTHY[at]}
    assert explained(front, read).explanations[0].words == "nothing that these points show"


def test_a_screen_that_gets_nothing_is_a_fault(front):
    told = explained(front, {**HEALTHY, "V1.1": 0.2, "V1.3": 1.1})
    assert told.explanations[0].words != "nothing that these points show"
    words = " ".join(each.words for each in told.explanations[:3])
    assert "R1 open" in words


def test_the_current_of_an_oscillator_does_not_tell_a_weak_valve(front):
    direct = front.views[0]
    assert direct.board.state.oscillators == (True,)
    assert not any(fault.kind == "valve weak" for fault in direct.faults)
    assert any(fault.words.startswith("V1/2 dead") for fault in direct.faults)


@pytest.mark.parametrize("ends", [("T1.h1", "T1.h2"), ("V1.4", "V1.5"), ("V1.4", "chassis")])
def test_heaters_are_read_where_one_end_is_earthed(front, ends):
    assert front.view(0, ALTERNATING).knows(*map(point, ends))
    told = diagnose(front, [taken(*ends, 6.2, way=ALTERNATING)])
    assert told.explanations[0].words == "nothing that these points show"


@pytest.mark.parametrize("ends", [("V1.3", "chassis"), ("V1.5", "chassis"), ("V1.1", "V1.4")])
def test_what_no_winding_feeds_is_no_such_reading(front, ends):
    assert not front.view(0, ALTERNATING).knows(*map(point, ends))


@pytest.fixture(scope="module")
def strange(tmp_path_factory):
    """The same set with an indicator that no catalogue knows."""
    path = tmp_path_factory.mktemp("strange") / "front.reference.buzz"
    text = SET.replace("V3 B9A EM84", "V3 B9A XQ99").replace("heaters V1 V2 V3", "heaters V1 V2")
    path.write_text(text, encoding="utf-8")
    return load(path).circuit


def test_what_a_valve_in_no_catalogue_draws_is_in_the_ranges(strange):
    """Its anodes may draw nothing or twice what is usual; where a cathode stands nobody knows."""
    chart = voltage_chart(strange)
    anode, rail, other = (chart.at(Point(*p)) for p in (("V3", "9"), ("HT2", ""), ("V3", "3")))
    assert anode.low < 40
    assert anode.high > 225
    assert 210 < rail.low < 225
    assert 285 < rail.high < 300
    assert other.low < -40
    assert other.high > 40


def test_a_reading_at_a_valve_in_no_catalogue_convicts_nothing(strange):
    """Without a wide range R6 would have to be open, or the valve be shorted."""
    told = diagnose(case(operate(strange)), [taken("V3.9", "chassis", 40.0)])
    faults = [each for each in told.explanations if each.slip is None]
    assert faults[0].words == "nothing that these points show"
    assert faults[0].misfit < 0.1


@pytest.mark.parametrize(
    ("to", "volts", "told"),
    [
        ("chassis", 2.6, "STOPPED? V1.9 reads 2.6V: the oscillator stands still, or nearly"),
        ("chassis", -8.0, "V1.9 reads -8V: the oscillator runs"),
        ("V1.3", -9.0, "V1.9 reads -9V: the oscillator runs"),
        ("chassis", 0.1, ""),
    ],
)
def test_the_grid_of_an_oscillator_tells_whether_it_runs(tmp_path, to, volts, told):
    drawn = tmp_path / "front.reference.buzz"
    drawn.write_text(SET, encoding="utf-8")
    circuit = load(drawn).circuit
    reading = Reading(Point("V1", "9"), point(to), Quantity(volts, "V", text=f"{volts:g}V"))
    made = report([Sitting(0, (reading,))], compare(circuit, circuit))
    assert made.in_order == ("STOPPED" not in told)
    assert [line.strip() for line in reported(made) if told and told in line] or not told
    if not told:
        assert not made.steps[0].notes
