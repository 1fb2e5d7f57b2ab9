import math
from dataclasses import astuple
from itertools import combinations

import pytest
from boards import Board, point

from buzzout.circuit import CHASSIS, Element, Part, Point, Reading, parse
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.reads import DOUBTFUL, DRIFTED, RIGHT, judge
from buzzout.electrics.resistance import chart, resistances, side_by_side


def stage():
    """A triode stage: 100 k anode load, 1k5 cathode, 1 M grid leak, 33 k from HT to chassis."""
    return (
        Board()
        .valve("V1", "ECC83", p1="A", p2="G", p3="K")
        .r("R1", "1M 10%", "G", "chassis")
        .r("R2", "1k5 10%", "K", "chassis")
        .r("R3", "100k 10%", "HT", "A")
        .r("R4", "33k 5%", "HT", "chassis")
        .c("C1", "25u", "K", "chassis")
    )


def test_chart_of_a_stage():
    told = chart(stage().circuit())
    ohms = {str(line.point): line.ohms for line in told.lines}
    assert ohms["V1.1"].nominal == pytest.approx(133e3)
    assert ohms["V1.1"].low == pytest.approx(90e3 + 31350)
    assert ohms["V1.1"].high == pytest.approx(110e3 + 34650)
    assert ohms["V1.2"].nominal == pytest.approx(1e6)
    assert point("V1.4") in told.open


def test_side_by_side_shows_the_moved_lead():
    found = stage().drop("R1").r("R1", "1M 10%", "K", "chassis")
    differing = [
        str(p.point) for p in side_by_side(stage().circuit(), found.circuit()) if p.differs
    ]
    assert differing == ["V1.2", "G"]


def test_readings_among_points_are_those_between_them():
    circuit = stage().r("R9", "2k2", "lone", "other").circuit()
    ready = resistances(circuit)
    points = [*map(point, ("V1.1", "HT", "lone", "G", "V1.2", "other")), CHASSIS]
    told = ready.among(points)
    assert list(told) == list(combinations(points, 2))
    for (a, b), ohms in told.items():
        assert astuple(ohms) == pytest.approx(astuple(ready.between(a, b)), rel=1e-12)


@pytest.mark.parametrize(
    ("rotation", "style", "ohms"),
    [(1.0, (), 500e3), (0.0, (), 0.0), (0.5, (), 250e3), (0.5, ("log",), 50e3)],
)
def test_pot_at_a_rotation(rotation, style, ohms):
    board = Board().part("P1", "pot", "500k", "chassis", "W", "X", style=style)
    told = resistances(board.circuit(), Conditions(rotations={"P1": rotation}))
    assert told.between(point("W"), CHASSIS).nominal == pytest.approx(ohms)
    assert told.between(point("X"), CHASSIS).nominal == pytest.approx(500e3)


def test_halves_of_a_track_keep_their_sum_in_tolerance():
    board = Board().part("P1", "pot", "100k 20%", "A", "W", "B")
    span = resistances(board.circuit(), Conditions(rotations={"P1": 0.3})).between(
        point("A"), point("B")
    )
    assert (span.low, span.high) == pytest.approx((80e3, 120e3))


def test_switch_as_set_and_as_told():
    contact = Element("contact", "a", ("1", "2"), closed=False)
    board = Board().r("R1", "1k", "A", "chassis")
    board.parts["S1"] = Part("S1", "switch", ("1", "2"), elements=(contact,))
    board.wire("S1.1", "A").wire("S1.2", "B")
    open_, shut = Conditions(), Conditions(contacts={"S1": True})
    circuit = board.circuit()
    assert math.isinf(resistances(circuit, open_).between(point("B"), CHASSIS).nominal)
    assert resistances(circuit, shut).between(point("B"), CHASSIS).nominal == pytest.approx(1000)


def test_unread_resistor_is_anything_from_short_to_open():
    board = Board().part("R1", "resistor", None, "A", "chassis", unread=frozenset({"value"}))
    told = chart(board.circuit(), points=[point("A")])
    assert told.lines[0].ohms.low < 1
    assert math.isinf(told.lines[0].ohms.high)
    assert "unread" in told.remarks[0]


def test_leaky_capacitor():
    board = Board().c("C1", "22n", "A", "chassis")
    span = resistances(board.circuit(), Conditions(leaks={"C1": 5e6})).between(point("A"), CHASSIS)
    assert span.nominal == pytest.approx(5e6)


def test_centre_tapped_winding_by_its_ohms():
    board = Board().winding_part(
        "T1", "transformer", [("ht", "a ct b", (300, 0, 300), (110, 120))], ct="chassis"
    )
    told = {str(x.point): x.ohms.nominal for x in chart(board.circuit()).lines}
    assert told == pytest.approx({"T1.a": 110, "T1.ct": 0, "T1.b": 120})


def test_cold_heater_and_empty_socket():
    board = Board().valve("V1", "ECC83", p4="A", p5="chassis")
    cold = resistances(board.circuit(), Conditions(valves="cold")).between(point("A"), CHASSIS)
    assert cold.nominal == pytest.approx(12.6 / 0.15 / 6)
    out = Conditions(valves="cold", empty=frozenset({"V1"}))
    assert math.isinf(resistances(board.circuit(), out).between(point("A"), CHASSIS).low)


READS = [
    ("V1.1", "134k", RIGHT, ""),
    ("V1.1", "230k", DRIFTED, "R3"),
    ("V1.3", "1k9", DRIFTED, "R2"),
    ("V1.2", "180", DOUBTFUL, ""),
    ("V1.1", "20k", DOUBTFUL, ""),
]


@pytest.mark.parametrize(("at", "ohms", "verdict", "part"), READS)
def test_reading_judged(at, ohms, verdict, part):
    reading = Reading(point(at), CHASSIS, parse(ohms, "ohm"))
    told = judge(stage().circuit(readings=(reading,)))
    assert told[0].verdict == verdict
    if part:
        assert told[0].drifts[0].part == part
        again = stage().change(part, value=parse(f"{told[0].drifts[0].now:.6f}", "ohm"))
        now = resistances(again.circuit()).between(point(at), CHASSIS).nominal
        assert now == pytest.approx(reading.value.value, rel=1e-6)


def test_reading_as_drawn_but_not_as_transcribed_is_doubtful():
    found = stage().drop("R2").r("R2", "15k 10%", "K", "chassis")
    reading = Reading(point("V1.3"), CHASSIS, parse("1k52", "ohm"))
    told = judge(found.circuit(readings=(reading,)), stage().circuit())
    assert told[0].verdict == DOUBTFUL
    assert "as the drawing has it" in told[0].why


def test_lifted_resistor_is_judged_by_its_marking():
    found = stage().change("R3", measured=parse("190k", "ohm"))
    told = judge(found.circuit())
    assert (told[0].verdict, told[0].drifts[0].part) == (DRIFTED, "R3")


def test_chart_says_how_to_hold_the_meter():
    board = Board().e("C1", "8u", "A", "chassis").part("D1", "diode", None, "A", "chassis")
    said = " ".join(chart(board.circuit(), points=[point("A")]).remarks)
    assert "discharge first" in said
    assert "diodes" in said
    assert chart(Board().r("R1", "1k", "A", "chassis").circuit()).remarks == ()


def test_empty_circuit_has_an_empty_chart():
    told = chart(Board().circuit())
    assert told.lines == ()
    assert chart(Board().circuit(), Point("nowhere", "1")).remarks == (
        "the circuit has no point nowhere.1",
    )


@pytest.mark.parametrize(("rotation", "tap", "wiper"), [(0.25, 50e3, 25e3), (0.75, 50e3, 75e3)])
def test_tapped_track(rotation, tap, wiper):
    ends = ("ccw", "wiper", "cw", "tap")
    track = Element("track", "track", ends, parse("100k", "ohm"))
    board = Board().wire("P1.ccw", "chassis")
    board.parts["P1"] = Part("P1", "pot", ends, parse("100k", "ohm"), elements=(track,))
    told = resistances(board.circuit(), Conditions(rotations={"P1": rotation}))
    assert told.between(point("P1.tap"), CHASSIS).nominal == pytest.approx(tap)
    assert told.between(point("P1.wiper"), CHASSIS).nominal == pytest.approx(wiper)
    assert told.between(point("P1.cw"), CHASSIS).nominal == pytest.approx(100e3)
