"""Readings of the hall amplifier, as a diagnosis takes them."""

from buzzout.bench.probe import DIRECT, Probe, Taken
from buzzout.circuit import CHASSIS, Point
from buzzout.electrics.draft import Power
from buzzout.electrics.operating import operate

USUAL = ("HT1", "HT3", "HT4", "V1.6", "V1.1", "V2.1", "V4.3", "V3.6")


def point(text):
    owner, _, pin = text.partition(".")
    return CHASSIS if text == "chassis" else Point(owner, pin)


def read_off(circuit, points=USUAL, **power):
    """What a meter shows of a set as it is."""
    state = operate(circuit, Power(**power))
    return [Taken(Probe(point(p), CHASSIS), round(state.volts(point(p)), 1)) for p in points]


def taken(at, to, value, step=0.1, way=DIRECT):
    """One reading."""
    return Taken(Probe(point(at), point(to), way=way), value, step)
