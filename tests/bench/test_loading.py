"""What the diagnosis expects of a meter that is not light against the point."""

from pathlib import Path

import numpy as np
import pytest

from buzzout.bench.direct import Direct
from buzzout.bench.faults import Fault
from buzzout.bench.probe import Probe
from buzzout.circuit import CHASSIS, Fit, Part, Point, Remove, apply, parse
from buzzout.electrics.operating import operate
from buzzout.language import read


@pytest.fixture(scope="module")
def hall():
    return read("examples/hall-amplifier/hall-amplifier.reference.buzz")


@pytest.fixture(scope="module")
def view(hall):
    return Direct(operate(hall))


def named(view, words):
    return next(f for f in view.faults if f.words == words)


def metered(circuit, at, to, ohms):
    part = Part("Rmeter", "resistor", ("1", "2"), parse(f"{ohms / 1e6:g}M", "ohm"))
    state = operate(apply(circuit, [Fit(part, (("1", at), ("2", to)))]))
    assert state.settled
    return state.volts(at, to)


@pytest.mark.parametrize("meter", [10e6, 1e6])
@pytest.mark.parametrize(
    ("part", "at"),
    [("R36", Point("V3", "3")), ("R11", Point("V1", "3")), ("R10", Point("V1", "1"))],
)
def test_an_open_resistor_as_the_meter_shows_it(hall, view, part, at, meter):
    """The set without the part, and with a resistor in place of the meter."""
    probe = Probe(at, CHASSIS, meter)
    told = view.seen([probe], [view.faults[0], named(view, f"{part} open")])
    gone = apply(hall, [Remove(part)])
    assert told.mean[1, 0] == pytest.approx(metered(gone, at, CHASSIS, meter), rel=0.02, abs=0.05)
    assert told.mean[0, 0] == pytest.approx(metered(hall, at, CHASSIS, meter), rel=0.02, abs=0.05)
    assert told.healthy[0] == pytest.approx(told.mean[0, 0], rel=1e-4)


@pytest.fixture(scope="module")
def pair(tmp_path_factory):
    """Two EL84 in push-pull, their screens behind a resistor of their own."""
    text = Path("tests/electrics/cases/small_amp.buzz").read_text(encoding="utf-8")
    text = text.replace("C20.triangle V4.9 V5.9", "C20.triangle\nR12 resistor 1k HT2 V4.9")
    path = tmp_path_factory.mktemp("pair") / "pair.reference.buzz"
    path.write_text(f"{text}wire V4.9 V5.9\n", encoding="utf-8")
    return read(path)


@pytest.mark.parametrize(
    ("part", "at", "to"),
    [
        ("R10", Point("V4", "3"), CHASSIS),
        ("R12", Point("C20", "triangle"), Point("V4", "9")),
        ("R8", Point("V4", "2"), CHASSIS),
    ],
    ids=["cathode cut off", "open screen feed", "grid in the air"],
)
def test_an_output_stage_that_is_cut_off(pair, part, at, to):
    own = Direct(operate(pair))
    shown = own.seen([Probe(at, to)], [named(own, f"{part} open")]).mean[0, 0]
    gone = apply(pair, [Remove(part)])
    assert shown == pytest.approx(metered(gone, at, to, 10e6), rel=0.02, abs=0.1)
    if part != "R8":
        assert abs(shown) > 30


def test_each_fault_has_its_own_reading_whatever_was_asked_before(view):
    probes = [Probe(Point("V3", "3"), CHASSIS), Probe(Point("V1", "3"), CHASSIS, 1e6)]
    thought = [named(view, "R36 open"), view.faults[0], named(view, "R11 open")]
    whole = view.seen(probes, thought)
    for row, fault in enumerate(thought):
        for column, probe in enumerate(probes):
            one = view.seen([probe], [fault])
            assert one.mean[0, 0] == pytest.approx(whole.mean[row, column], rel=1e-9)
            assert one.moved[0, 0] == pytest.approx(whole.moved[row, column], rel=1e-9, abs=1e-12)


def test_two_faults_together_are_read_with_the_meter_in(hall, view):
    at = Point("V3", "3")
    one, other = (named(view, f"{part} open") for part in ("R36", "R11"))
    pair = Fault("pair", "both", "both", one.change.and_(other.change))
    gone = apply(hall, [Remove("R36"), Remove("R11")])
    shown = view.seen([Probe(at, CHASSIS)], [pair]).mean[0, 0]
    assert shown == pytest.approx(metered(gone, at, CHASSIS, 10e6), rel=0.02)


def test_the_mains_scales_what_a_heavy_meter_shows(view):
    at = Point("V3", "3")
    full, low = (
        view.seen([Probe(at, CHASSIS, supply=share)], [named(view, "R36 open")])
        for share in (1.0, 0.9)
    )
    assert low.mean == pytest.approx(0.9 * full.mean)
    assert np.allclose(low.moved, 0.9 * full.moved)
