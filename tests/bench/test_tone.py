"""A test tone: what no direct voltage shows. Levels come from `electrics`, one changed set each."""

import numpy as np
import pytest

from buzzout.bench.board import Board, Change
from buzzout.bench.case import together
from buzzout.bench.diagnose import diagnose
from buzzout.bench.direct import Direct
from buzzout.bench.faults import Fault
from buzzout.bench.probe import OHMS, TONE, Probe, Source, Taken, told
from buzzout.bench.readings import names, report
from buzzout.bench.sittings import sittings
from buzzout.bench.tone import Tone
from buzzout.circuit import CHASSIS, Cut, Point, Remove, apply
from buzzout.compare import Comparison, Matching, Proof, compare
from buzzout.electrics.draft import Power
from buzzout.electrics.operating import operate
from buzzout.electrics.signal import Drive, signals
from buzzout.language import load, read

SOURCE = Source(Point("J1", "tip"), 1e-3, 1000.0)
PINS = ("V1.6", "V1.1", "V2.6", "V2.1", "V4.2", "V5.2")


@pytest.fixture(scope="module")
def hall():
    return read("examples/hall-amplifier/hall-amplifier.reference.buzz")


@pytest.fixture(scope="module")
def asked(hall):
    return together([Direct(operate(hall), sources=[SOURCE])])


def probe(text):
    owner, _, pin = text.partition(".")
    return Probe(Point(owner, pin), CHASSIS, way=TONE, tone=SOURCE)


def levels(circuit, pins=PINS, **power):
    """Levels of the tone as `electrics` has them for a circuit. [V]."""
    got = signals(operate(circuit, Power(**power)), Drive(SOURCE.at), SOURCE.hertz)
    return [SOURCE.volts * abs(got.gain(probe(p).at)) for p in pins]


def taken(circuit, **power):
    read_ = zip(PINS, levels(circuit, **power), strict=True)
    return [Taken(probe(p), float(f"{v:.3g}"), 10**-3 * v) for p, v in read_]


@pytest.mark.parametrize(("change", "edits", "power"), [
    (Change(), (), {}),
    (Change(farads={"C5": 0.0}), (Remove("C5"),), {}),
    (Change(farads={"C4": 0.0}), (Remove("C4"),), {}),
    (Change(emission={"V1/2": 0.4}), (), {"emission": {"V1/2": 0.4}}),
    (Change(apart=frozenset({Point("V2", "7")})), (Cut(Point("R15", "2"), Point("V2", "7")),), {}),
])  # fmt: skip
def test_each_fault_against_the_changed_set(hall, change, edits, power):
    """The same levels as the changed circuit solved by itself."""
    tone = Tone(Board(operate(hall)), SOURCE)
    mean = tone.seen([probe(p) for p in PINS], [Fault("it", "it", "it", change)]).mean[0]
    changed = levels(apply(hall, edits), **power)
    for score, level in zip(mean, changed, strict=True):
        assert told(TONE, score) == pytest.approx(level, rel=0.02, abs=1e-4)


@pytest.mark.filterwarnings("error")
def test_a_valve_that_passes_nothing_has_no_slopes_to_move(hall):
    """A chassis whose valve is dead: what is predicted is a number, with and without a fault."""
    tone = Tone(Board(operate(hall, Power(emission={"V1/2": 0.0}))), SOURCE)
    thought = [
        Fault("it", "it", "it", Change()),
        Fault("it", "it", "it", Change(farads={"C4": 0.0})),
    ]
    seen = tone.seen([probe(p) for p in PINS], thought)
    assert np.isfinite(seen.mean).all()
    assert np.isfinite(seen.moved).all()
    level = told(TONE, seen.mean[0, 1])
    assert level == pytest.approx(levels(hall, ["V1.1"], emission={"V1/2": 0.0})[0], abs=1e-4)


@pytest.mark.parametrize("name", ["C5", "C13", "C14", "C15"])
def test_an_open_coupling_capacitor(asked, hall, name):
    best = diagnose(asked, taken(apply(hall, [Remove(name)]))).explanations[0]
    assert best.words == f"{name} open"
    assert best.share > 0.9


def test_an_open_coupling_capacitor_and_the_resistor_behind_it(asked, hall):
    """No level tells C3 from R5, which carries no direct current either; an ohmmeter does."""
    levels_ = taken(apply(hall, [Remove("C3")]))
    lines = diagnose(asked, levels_).explanations
    assert {e.words for e in lines[:2]} == {"C3 open", "R5 open"}
    ends = [hall.landing(p) for p in hall.parts["R5"].points]
    # R6 and R7 lie beside its 220k, each with its pot
    measured = Taken(Probe(*ends, way=OHMS), 171e3, 1e3)
    best = diagnose(asked, [*levels_, measured]).explanations[0]
    assert best.words == "C3 open"


def test_a_dried_out_cathode_capacitor(asked, hall):
    told_ = diagnose(asked, taken(apply(hall, [Remove("C2")]))).explanations
    assert any("C2 dried out" in e.words for e in told_[:2])


def test_a_set_in_order(asked, hall):
    assert diagnose(asked, taken(hall)).explanations[0].words == "nothing that these points show"


def test_levels_in_a_file(tmp_path, hall):
    path = tmp_path / "readings.found.buzz"
    lines = [f"reads {p} {v * 1e3:.4g} mV ac" for p, v in zip(PINS, levels(hall), strict=True)]
    lines += ["reads V4.3 12 V ac", "tone J2.tip 5 mV 1000 Hz", "reads V1.1 20 mV ac"]
    lines = ['found "readings"', "step 0 mains 230 V", "tone J1.tip 1 mV 1kHz", *lines]
    path.write_text("\n".join(lines), encoding="utf-8")
    circuit = load(path, hall, wanted="found").sound().circuit
    whole = Comparison(hall, hall, (), Proof(True, True, 0, 0), Matching(), hall)
    (step,) = report(sittings(circuit), whole).steps
    assert len(step.lines) == len(PINS) + 2  # each level is of the tone above it
    assert [line.off for line in step.lines[:-1]] == [False] * len(PINS) + [True]
    lines = lines[:-2]
    path.write_text("\n".join(lines), encoding="utf-8")
    circuit = load(path, hall, wanted="found").sound().circuit
    (step,) = report(sittings(circuit), whole).steps
    assert [line.off for line in step.lines] == [False] * len(PINS) + [True]


def test_ripple_in_a_file(tmp_path, hall):
    """An alternating voltage on a capacitor of the HT is its ripple, not that of a winding."""
    path = tmp_path / "readings.found.buzz"
    lines = [
        'found "readings"',
        "step 0 mains 230 V",
        "reads C30.square 4.4 V ac",
        "reads C30.triangle 35 mV ac",
    ]
    for read_, off in (("0.9 mV", False), ("30 mV", True)):
        path.write_text("\n".join([*lines, f"reads V3.1 {read_} ac"]), encoding="utf-8")
        circuit = load(path, hall, wanted="found").sound().circuit
        whole = Comparison(hall, hall, (), Proof(True, True, 0, 0), Matching(), hall)
        made = report(sittings(circuit), whole)
        assert [line.off for line in made.steps[0].lines] == [False, False, off]
    assert made.diagnosis.explanations[0].faults[0].words == "C31 dried out"


def test_parts_of_a_chassis_are_called_as_on_the_drawing(tmp_path, hall):
    """Nothing on a chassis has a name, in none of the ways and steps that are asked about."""
    chassis = load("examples/hall-amplifier/as-drawn.found.buzz").sound().circuit
    compared = compare(hall, chassis)
    path = tmp_path / "readings.found.buzz"
    lines = ['found "readings"', "step 0 mains 230 V", "reads V4.3 12.5 V", "reads V4.2 4.6 V",
             "reads C30.square 266 V", "reads V2.1 168 V", "tone J1.tip 1 mV 1000 Hz"]  # fmt: skip
    lines += [
        f"reads {p} {v * 1e3:.4g} mV ac" for p, v in zip(PINS[:2], levels(hall), strict=False)
    ]
    path.write_text("\n".join(lines), encoding="utf-8")
    circuit = load(path, chassis, wanted="found").sound().circuit
    told_ = report(sittings(circuit), compared).diagnosis
    assert {e.faults[0].words for e in told_.explanations[:2]} == {"C14 leaky", "V4 gassy"}
    first = told_.next[0]
    assert (str(first.probe.at), first.probe.step) == ("V4.2", 4)
    dry = [f.words for f in Direct(operate(chassis), names=names(compared)).ripple.faults]
    assert {"C31 dried out", "C32 dried out"} <= set(dry)
