import re
from dataclasses import replace

import numpy as np
import pytest
from hall_readings import USUAL, point, read_off, taken

from buzzout.bench.board import Board
from buzzout.bench.case import case, together
from buzzout.bench.diagnose import diagnose
from buzzout.bench.direct import Direct
from buzzout.bench.faults import Fault
from buzzout.bench.probe import ALTERNATING, DIRECT, OHMS, OPEN, RIPPLE, Taken
from buzzout.bench.readings import Report, pulled
from buzzout.bench.reported import told as reported
from buzzout.bench.ripple import ripple
from buzzout.bench.swing import Swing
from buzzout.circuit import (
    Change,
    Cut,
    Element,
    Fit,
    Join,
    Part,
    Point,
    Remove,
    apply,
    parse,
)
from buzzout.electrics.operating import operate
from buzzout.language import read


def test_a_set_in_order(asked, hall):
    told = diagnose(asked, read_off(hall))
    assert told.explained
    assert told.explanations[0].words == "nothing that these points show"


@pytest.mark.parametrize("name", ["R10", "R41", "R23"])
def test_an_open_resistor(asked, hall, name):
    told = diagnose(asked, read_off(apply(hall, [Remove(name)])))
    assert told.explanations[0].words.startswith(f"{name} open")


def test_a_resistor_that_rose(asked, hall):
    risen = replace(hall.parts["R10"], value=parse("220k", "ohm"))
    told = diagnose(asked, read_off(apply(hall, [Change("R10", risen)])))
    assert told.explanations[0].words == "R10 drifted up (2.2 times its value, 220k)"


def test_a_weak_valve_and_the_reading_that_tells_it_from_its_cathode_resistor(asked, hall):
    told = diagnose(asked, read_off(hall, emission={"V1/2": 0.4}))
    two = {e.faults[0].words for e in told.explanations[:2]}
    assert two == {"V1/2 weak", "R11 drifted up"}
    assert "V1.3" in {str(n.probe.at) for n in told.next}
    more = [*USUAL, "V1.3"]
    told = diagnose(asked, read_off(hall, more, emission={"V1/2": 0.4}))
    assert told.explanations[0].faults[0].words == "V1/2 weak"


def leak(hall, ohms, a, b):
    part = Part("Rx", "resistor", ("1", "2"), parse(ohms, "ohm"))
    return apply(hall, [Fit(part, (("1", point(a)), ("2", point(b))))])


def test_a_leaky_coupling_capacitor_is_named_once_the_grid_was_read(asked, hall):
    leaky = leak(hall, "1M", "V2.1", "G4")
    told = diagnose(asked, read_off(leaky, (*USUAL, "G4", "G5")))
    assert told.explanations[0].faults[0].words == "C14 leaky"


@pytest.mark.parametrize(("name", "grid"), [("V4.2", "G4"), ("V5.2", "G5")])
def test_a_gassy_valve_or_a_leaky_capacitor_is_told_with_the_output_valves_out(hall, name, grid):
    """What stays on the grid then is the capacitor's, what goes was the valve's."""
    there = pulled(hall)
    asked = together([Direct(operate(hall))], there)
    feeds = {"G4": "V2.1", "G5": "TAIL"}[grid]
    leaky = leak(hall, "8M", feeds, grid)
    read = read_off(leaky, (*USUAL, grid))
    told = diagnose(asked, read)
    assert {"valve gassy", "capacitor leaky"} <= {e.faults[0].kind for e in told.explanations[:2]}
    probe = told.next[0].probe
    assert (str(probe.at), probe.step) == (name, there.step)
    assert there.words in told.next[0].notes[0]
    out = {n: p for n, p in there.circuit.parts.items() if p.type == "none"}
    for circuit, kind in ((leaky, "capacitor leaky"), (hall, "valve gassy")):
        state = operate(circuit.but({**circuit.parts, **out}), there.power)
        volts = round(state.volts(probe.at), 2)
        told = diagnose(asked, [*read, Taken(probe, volts, 0.01)])
        assert told.explanations[0].faults[0].kind == kind
        assert told.explanations[0].share > 0.9


def test_negative_and_alternating_volts_are_warned_of(hall):
    """Without its wire the middle of the HT winding stands far below the chassis."""
    asked = case(operate(hall))
    dead = [taken(p, "chassis", 0.1) for p in ("HT1", "HT4", "V1.1", "V4.3")]
    found = {str(n.probe.at): n for n in diagnose(asked, dead, 99).next if n.probe.way == DIRECT}
    warned = " ".join(found["T1.red/yellow"].notes)
    assert "below the common line" in warned
    assert "alternating volts" in warned
    assert not found["V4.2"].notes


def test_two_points_far_above_the_chassis_are_warned_of_as_such(asked):
    """What stands between them says nothing of a hand that touches one of them."""
    told = diagnose(asked, [taken("V1.6", "chassis", 230.0), taken("HT4", "chassis", 240.0)], 99)
    across = {(str(n.probe.at), str(n.probe.to)): n for n in told.next if n.probe.way == DIRECT}
    notes = " ".join(across["V1.1", "HT4"].notes)
    volts = re.findall(r"up to (\d+) V above the common line at (V1.1|HT4)", notes)
    assert [at for _, at in volts] == ["V1.1", "HT4"]
    assert all(240 <= int(v) < 300 for v, _ in volts)
    assert "below" not in notes


@pytest.mark.parametrize(("tap", "how"), [("210", "10% too high"), ("250", "8% too low")])
def test_mains_on_the_wrong_tap(asked, hall, tap, how):
    """Where half a rectifier lowers the HT as much, heaters and windings tell."""
    ends = Point("S1", "a1"), Point("T1", "230")
    moved = apply(hall, [Cut(*ends), Join(ends[0], Point("T1", tap))])
    told = diagnose(asked, read_off(moved))
    named = [e.words for e in told.explanations[:4] if f"S1.a1 is on T1.{tap}" in e.words]
    assert len(named) == 1
    assert how in named[0]
    swing, of = Swing(operate(moved)), asked.view(0, ALTERNATING)
    wound = [p for p in of.probes if str(p.at) in {"T1.h1", "T1.red1", "T1.r1"}]
    more = [Taken(p, round(swing.volts(p), 1)) for p in wound]
    best = diagnose(asked, [*read_off(moved), *more]).explanations[0]
    assert best.faults[0].kind == "wrong tap"
    assert best.share > 0.7


def selected(hall, position):
    """The same with a voltage selector behind the switch."""
    ends = Point("S1", "a1"), Point("T1", "230")
    throws = [("a1", "210"), ("a2", "230"), ("a3", "250")]
    elements = tuple(Element("contact", t, ("a", t), closed=t == f"a{position}") for t, _ in throws)
    part = Part("VS1", "switch", ("a", "a1", "a2", "a3"), elements=elements, setting=position)
    wires = [Join(Point("VS1", t), Point("T1", tap)) for t, tap in throws]
    return apply(hall, [Cut(*ends), Fit(part, (("a", ends[0]),)), *wires])


@pytest.mark.parametrize(
    ("written", "stands", "how"), [("2", "1", "10% too high"), ("1", "2", "9% too low")]
)
def test_a_voltage_selector_that_stands_otherwise(hall, written, stands, how):
    """It is named before a wire, and where it belongs, in each case at 2 for 230 V."""
    asked = case(operate(selected(hall, written)))
    truth = operate(selected(hall, stands))
    swing = Swing(truth)
    wound = [p for p in asked.view(0, ALTERNATING).probes if str(p.at) in {"T1.h1", "T1.r1"}]
    volts = read_off(selected(hall, stands))
    told = diagnose(asked, [*volts, *(Taken(p, round(swing.volts(p), 1)) for p in wound)])
    best = told.explanations[0]
    assert best.words.startswith(f"VS1 stands at {stands}, not at {written} as written down")
    assert how in best.words
    assert best.share > 0.7
    look = f"look at VS1 before any meter: the chassis file has it at {written}; for this mains set"
    rows = reported(Report((), told))
    assert [row for row in rows if row.startswith(look)] == [
        f"{look} VS1 to 2, unplugged: no wire is to be moved"
    ]


def test_a_primary_without_taps_has_no_wrong_one():
    supply = case(operate(read("examples/power-supply/power-supply.reference.buzz")))
    assert not [f for f in supply.faults if f.kind == "wrong tap"]


def test_a_supply_without_amplifying_valves(hall):
    supply = read("examples/power-supply/power-supply.reference.buzz")
    asked = case(operate(supply))
    leaky = leak(supply, "8k", "HT", "chassis")
    told = diagnose(asked, read_off(leaky, ("RES", "HT")))
    assert "C1.triangle leaky" in told.explanations[0].words
    ripples_ = [p for p in asked.volts if p.way == RIPPLE]
    assert [str(p.at) for p in ripples_] == ["RES", "HT"]


def test_a_short_on_the_reservoir_leaves_no_more_ripple_than_half_waves(hall):
    view = ripple(Board(operate(hall)))
    short = [f for f in case(operate(hall)).faults if f.words == "C30.square shorted"]
    assert np.exp(view.seen(view.probes, short).mean[0]).max() < 0.6


def test_two_faults_at_once(asked, hall):
    both = apply(hall, [Remove("R10"), Remove("R23")])
    told = diagnose(asked, read_off(both, (*USUAL, "V1.3")))
    best = told.explanations[0]
    assert {f.words for f in best.faults} == {"R10 open", "R23 open"}
    assert told.explained


def test_a_slip_of_the_pen_is_told_as_such(asked, hall):
    taken = read_off(hall)
    taken[4] = replace(taken[4], value=taken[4].value / 10)
    told = diagnose(asked, taken)
    assert told.explanations[0].slip == taken[4]


def test_a_slip_explains_its_own_reading_alone(asked, hall):
    readings = read_off(hall)
    readings[4] = replace(readings[4], value=readings[4].value / 10)
    readings[1] = replace(readings[1], value=readings[1].value * 0.9)
    told = diagnose(asked, readings)
    alone = next(e for e in told.explanations if e.slip == readings[4] and len(e.words) < 80)
    assert not told.explained
    assert alone.unexplained == (readings[1],)
    assert alone.words.endswith("is a slip of meter or pen; it explains no other")


def test_a_fault_and_a_slip_beside_it(asked, hall):
    readings = read_off(apply(hall, [Remove("R23")]))
    pen = USUAL.index("V4.3")
    readings[pen] = replace(readings[pen], value=readings[pen].value / 10)
    told = diagnose(asked, readings)
    assert told.explained
    both = [e for e in told.explanations[:3] if e.slip == readings[pen]]
    assert "R23 open and the reading V4.3" in " ".join(e.words for e in both)


def test_same_readings_same_answer(asked, hall):
    taken = read_off(apply(hall, [Remove("R10")]))
    assert diagnose(asked, taken) == diagnose(asked, taken)


def test_order_of_readings_does_not_matter(asked, hall):
    taken = read_off(apply(hall, [Remove("R10")]))
    one, other = diagnose(asked, taken), diagnose(asked, taken[::-1])
    assert [e.words for e in one.explanations[:3]] == [e.words for e in other.explanations[:3]]


def test_nothing_read(asked):
    assert diagnose(asked, []).explanations == ()


def test_an_open_finding_may_not_be_there(hall):
    """The transcription has R10 at 10k; the readings say that it is 100k as drawn."""
    wrong = apply(hall, [Change("R10", replace(hall.parts["R10"], value=parse("10k", "ohm")))])
    words = "R10 as drawn after all"
    not_there = Fault("finding not there", words, words)
    as_typed = case(operate(wrong), others=[(not_there, hall)])
    told = diagnose(as_typed, read_off(hall))
    assert told.explanations[0].words == words


def test_ways_of_measuring_are_explained_together(asked):
    """An anode at nothing: its resistor open, or anode and chassis touch; an ohmmeter tells."""
    volts = [taken("HT4", "chassis", 221.0), taken("V1.1", "chassis", 0.0)]
    open_ = diagnose(asked, [*volts, taken("HT4", "V1.1", OPEN, way=OHMS)])
    assert open_.explanations[0].words == "R10 open"
    intact = diagnose(asked, [*volts, taken("HT4", "V1.1", 100e3, way=OHMS, step=1e3)])
    assert intact.explanations[0].words != "R10 open"
