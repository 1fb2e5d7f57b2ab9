"""Whatever can be typed is computed or said to be unsettled; nothing here may raise."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from buzzout.catalogue import base, device, device_names
from buzzout.circuit import CHASSIS, KINDS, Circuit, Element, Link, Mains, Part, Point, parse
from buzzout.electrics.bringup import bring_up
from buzzout.electrics.charts import voltage_chart
from buzzout.electrics.checks import meter_check
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.draft import STARTING, Power
from buzzout.electrics.mains import Lamp
from buzzout.electrics.operating import operate
from buzzout.electrics.ratings import audit
from buzzout.electrics.resistance import chart
from buzzout.electrics.signal import Drive, signals
from buzzout.electrics.stability import stability

VALUES = {
    "ohm": ["0R", "0.1R", "1k", "470k", "10M", None],
    "F": ["1p", "22n", "100u", None],
    "H": ["1m", "10H", None],
    "V": ["6.3V", None],
    "A": ["1A", None],
    "": [None],
}
TYPES = sorted(device_names())


def windings(rng):
    taps = [(), (0.0, 6.3), (-250.0, 0.0, 250.0), (0.0, 230.0), (0.0, 0.0), (250.0, 0.0, 250.0)]
    for n in range(rng.randrange(1, 4)):
        volts = rng.choice(taps)
        ends = tuple(f"w{n}{i}" for i in range(len(volts) or 2))
        ohms = rng.choice([(), (5.0,), (100.0,) * (len(ends) - 1), (0.0,)])
        load = rng.choice([None, 15.0, 8000.0])
        yield Element("winding", f"w{n}", ends, taps=volts, resistance=ohms, load=load)


def part(rng, number):
    kind = rng.choice(sorted(KINDS))
    name, known = f"X{number}", KINDS[kind]
    text = rng.choice(VALUES[known.unit])
    value = parse(text, known.unit) if text else None
    if kind == "socket":
        valve = rng.choice(TYPES)
        found = base(device(valve).base)
        pins = tuple(found.pins) if found else tuple("12345678")
        return Part(name, kind, pins, type=rng.choice([valve, "", "ZZ99"]))
    if kind == "transformer":
        elements = tuple(windings(rng))
        return Part(name, kind, tuple(t for e in elements for t in e.terminals), elements=elements)
    if kind in ("switch", "jack"):
        contact = Element("contact", "a1", ("a", "a1"), closed=rng.random() < 0.5)
        return Part(name, kind, ("a", "a1"), elements=(contact,))
    if kind == "can":
        section = Element("capacitor", "s", ("s", "can"), parse("32u", "F"))
        return Part(name, kind, ("s", "can"), elements=(section,))
    if kind == "cord":
        return Part(name, kind, tuple("LN"))
    return Part(name, kind, known.terminals or ("1", "2"), value)


def wild(seed):
    rng = random.Random(seed)
    parts = {p.name: p for p in (part(rng, n) for n in range(rng.randrange(1, 25)))}
    points = [p for one in parts.values() for p in one.points] + [CHASSIS, Point("HT")]
    links = tuple(Link(*rng.choices(points, k=2)) for _ in range(rng.randrange(60)))
    mains = Mains(parse("230V", "V")) if rng.random() < 0.7 else None
    return Circuit("found", parts=parts, links=links, names=("HT",), mains=mains)


@pytest.mark.parametrize("seed", range(80))
def test_anything_that_can_be_typed(seed):
    circuit = wild(seed)
    state = operate(circuit)
    assert state.settled or state.unsettled
    assert np.all(np.isfinite(state.solution.x))
    for line in chart(circuit, conditions=Conditions(valves="cold")).lines:
        assert not math.isnan(line.ohms.nominal)
        assert line.ohms.low <= line.ohms.high * (1 + 1e-6) + 1e-6
    voltage_chart(circuit)
    operate(circuit, Power(heat=STARTING, limiter=Lamp(60, 230)))
    assert all(s.verdict in ("over", "near", "within", "order") for s in audit(circuit))


@pytest.mark.parametrize("seed", range(200, 225))
def test_anything_that_can_be_typed_signals_and_checks(seed):
    circuit, other = wild(seed), wild(seed + 1)
    state = operate(circuit)
    got = signals(state, Drive(Point("HT")), 1000.0)
    assert np.all(np.isfinite(got.x))
    assert stability(state).modes >= 0
    assert meter_check(circuit, other).check is not None or meter_check(circuit, other).instead
    bring_up(circuit)
