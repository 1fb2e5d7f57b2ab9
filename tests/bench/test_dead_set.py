"""Sets without HT, dark heaters, and halves of a supply."""

from dataclasses import replace

from hall_readings import USUAL, read_off, taken

from buzzout.bench.diagnose import diagnose
from buzzout.bench.probe import ALTERNATING, OHMS, RIPPLE
from buzzout.circuit import Remove, apply

DEAD = [taken(p, "chassis", 0.0) for p in USUAL]
HEATERS = taken("T1.h1", "T1.h2", 6.3, way=ALTERNATING)
RECTIFIER = taken("V6.4", "V6.5", 6.3, way=ALTERNATING)
PRIMARY = {  # all that is in series from the plug to the transformer
    "F1 open", "no contact between S1.a and S1.a1", "T1.0-210 open", "T1.210-230 open",
    *(f"wire from {a} to {b} open or its joint dry" for a, b in (
        ("M1.L", "F1.1"), ("F1.2", "S1.a"), ("S1.a1", "T1.230"), ("M1.N", "T1.0"))),
}  # fmt: skip


def sides(summary):
    """The sides that a sentence about a dead set tells, most likely first."""
    said = {"mains side": "mains", "rectifier": "rectifier", "short across": "short"}
    parts = summary.removeprefix("no HT: ").split("; ")
    return [next(name for words, name in said.items() if words in part) for part in parts]


def test_a_dead_set_is_told_as_such(asked):
    """Nothing anywhere: one sentence for the whole, then what it may be; no line stands twice."""
    told = diagnose(asked, DEAD)
    assert told.summary.startswith("no HT: if no heater glows, the mains side")
    assert sides(told.summary)[:2] == ["mains", "rectifier"]
    words = [e.words for e in told.explanations]
    assert words[0] == "F1 open"  # what goes most often
    assert set(words[:8]) == PRIMARY
    assert words[8].startswith("no HT: V6")
    assert len(set(words)) == len(words)
    assert told.next[0].probe.way == OHMS  # plug out: it tells the fuse from what is in series
    (note,) = told.next[0].notes
    assert note == (
        "UNPLUGGED, mains switch S1 ON; each reservoir discharged through a resistor and measured:"
        " below 10 V; valves left as they are now, cold"
    )
    assert any(n.probe.way == ALTERNATING for n in diagnose(asked, DEAD, 20).next)


def test_a_dead_set_whose_heaters_have_their_voltage(asked):
    told = diagnose(asked, [*DEAD, HEATERS])
    assert sides(told.summary) == ["rectifier"]
    assert told.explanations[0].words.startswith("no HT: V6")
    assert told.next[0].probe.at.owner in ("V6", "T1")  # the rectifier's own heater
    assert PRIMARY.isdisjoint(e.words for e in told.explanations)
    told = diagnose(asked, [*DEAD, HEATERS, RECTIFIER])
    assert told.explanations[0].words.startswith("no HT: V6")
    assert told.explanations[0].share > 0.5


def test_a_short_across_ht_loads_the_heaters_too(asked):
    """It draws what primary and rectifier let through: the heaters stand a tenth lower."""
    told = diagnose(asked, [*DEAD, replace(HEATERS, value=5.6)])
    assert "short" in sides(told.summary)


def test_a_dead_set_with_dark_heaters(asked):
    told = diagnose(asked, [*DEAD, replace(HEATERS, value=0.0)])
    assert sides(told.summary) == ["mains"]
    assert {e.words for e in told.explanations[:8]} == PRIMARY
    fuse = taken("F1.1", "F1.2", 0.2, way=OHMS)
    told = diagnose(asked, [*DEAD, replace(HEATERS, value=0.0), fuse])
    assert {e.words for e in told.explanations[:7]} == PRIMARY - {"F1 open"}


def test_a_set_with_ht_has_no_word_of_a_dead_one(asked, hall):
    for removed in ("R10", "R41", "R23"):
        assert diagnose(asked, read_off(apply(hall, [Remove(removed)]))).summary == ""


def test_a_dark_valve_and_its_wire(asked, hall):
    """V3 without heater voltage at its own pins, the others with it."""
    points = ("HT1", "HT4", "V1.1", "V4.3", "V3.6", "V3.8")
    at = read_off(hall, points, emission={"V3/1": 1e-6, "V3/2": 1e-6})
    at += [
        taken("V3.4", "V3.9", 0.0, way=ALTERNATING), taken("V2.4", "V2.9", 6.2, way=ALTERNATING),
    ]  # fmt: skip
    told = diagnose(asked, at)
    assert all("V3.4" in e.words or "V3.9" in e.words for e in told.explanations[:2])
    assert told.explanations[0].faults[0].kind == "mains side open"


def test_half_a_winding_is_told_from_half_a_rectifier(asked):
    halves = [
        taken(p, "chassis", v) for p, v in
        (("HT1", 233.0), ("HT4", 175.0), ("V1.1", 113.0), ("V4.3", 8.0), ("V2.1", 150.0))
    ]  # fmt: skip
    whole = [taken("T1.red1", "chassis", 245.0, way=ALTERNATING),
             taken("T1.red2", "chassis", 245.0, way=ALTERNATING)]  # fmt: skip
    told = diagnose(asked, [*halves, *whole])
    assert told.next[0].probe.way == RIPPLE
    for volts, kinds in (
        (8.6, {"half a rectifier", "electrolytic leaky"}),
        (3.2, {"rectifier worn"}),
        (60.0, {"electrolytic dry"}),
    ):
        hums = taken("HT1", "chassis", volts, way=RIPPLE)
        told = diagnose(asked, [*halves, *whole, hums])
        assert told.explanations[0].faults[0].kind in kinds
    gone = [whole[0], taken("T1.red2", "chassis", 0.0, way=ALTERNATING)]
    told = diagnose(asked, [*halves, *gone])
    assert "red2" in told.explanations[0].words


def test_one_half_of_the_rectifier(asked, hall):
    told = diagnose(asked, [
        taken(p, "chassis", v) for p, v in
        (("HT1", 233.0), ("HT4", 175.0), ("V1.1", 113.0), ("V4.3", 8.0), ("V2.1", 150.0),
         ("V3.6", 57.0))
    ])  # fmt: skip
    kinds = [e.faults[0].kind for e in told.explanations[:3]]
    assert {"half a rectifier", "rectifier worn"} & set(kinds)
