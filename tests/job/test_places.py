"""Which part of a set a point belongs to."""

import pytest
from small_set import SET, changed

from buzzout.circuit import CHASSIS, Point
from buzzout.job.places import Places

CASES = [
    ("M1.L", {"mains"}),
    ("S1.a1", {"mains"}),
    ("T1.0", {"mains"}),
    ("T1.210", {"mains"}),
    ("M1.E", {"earth", "chassis"}),
    ("PE1", {"earth", "chassis"}),
    ("chassis", {"chassis"}),
    ("J1.sleeve", {"chassis"}),
    ("J1.tip", {"outside"}),
    ("LS1.1", {"outside"}),
    ("T1.red1", {"ht"}),
    ("V3.3", {"ht"}),
    ("C30.triangle", {"ht"}),
    ("V2.7", {"ht"}),
    ("V2.9", {"ht"}),
    ("V2.3", {"output"}),
    ("V2.2", {"output"}),
    ("V1.1", set()),
    ("T1.h6", set()),
]


def point(text):
    owner, _, pin = text.partition(".")
    return CHASSIS if owner == "chassis" else Point(owner, pin)


@pytest.mark.parametrize(("text", "places"), CASES, ids=[c[0] for c in CASES])
def test_places_of_the_set(text, places, circuit):
    assert Places(circuit(SET)).of([point(text)]) == places


def test_what_hangs_on_the_mains_behind_a_lamp_belongs_to_it(circuit):
    swap = ("wire M1.N T1.0", "wire M1.N T1.0\nlamp PL2 110V 20mA\nwire PL2.1 S1.a1")
    assert Places(circuit(changed(swap))).of([Point("PL2", "2")]) == {"mains"}


def test_a_point_that_is_not_there_belongs_nowhere(circuit):
    assert Places(circuit(SET)).of([Point("X9", "1")]) == frozenset()
