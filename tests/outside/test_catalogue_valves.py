"""Pins, heaters and limits of common types against two publications each.

The rows stand in `catalogue_valves.yaml`, typed from the publications and kept apart from the
device files; the publications are cited at its head.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from buzzout.catalogue import base, device

TABLE = yaml.safe_load(Path(__file__).with_name("catalogue_valves.yaml").read_text("utf-8"))
NOTHING = {"unused", "internal", "absent", "shield", "shell"}
# What the words of the table may be in the catalogue. The numbered grids of a bulb that mixes are
# named by their work: grid 1 of a 6A7 is the oscillator's.
WORDS = {
    "a": {"anode"},
    "d": {"anode"},
    "g": {"grid", "mixer-grid"},
    "g1": {"grid", "oscillator-grid", "mixer-grid"},
    "g2": {"screen", "oscillator-anode"},
    "g3": {"suppressor", "mixer-grid", "screen", "grid", "beam"},
    "g4": {"grid"},
    "g5": {"suppressor"},
    "k": {"cathode"},
    "h": {"heater", "filament"},
    "ht": {"heater-tap", "filament-tap"},
    "t": {"target"},
    "s": {"shield", "shell", "internal", "unused"},
}
NUMBERED = {"ECH81": {"g1": {"grid"}, "g3": {"mixer-grid"}}}
# A publication leaves these out where they share a pin with something else.
LEFT_OUT = {"suppressor", "beam", "shield", "mixer-grid"}


def rows(part):
    for name, told in TABLE[part].items():
        for source, row in told.items():
            yield pytest.param(name, source, row, id=f"{name}-{source}")


def read(row):
    """A row as electrodes by pin: sets of words, each with the mark of its system."""
    pins = {}
    for place, each in enumerate(row.split(), 1):
        pin, words = ("cap", each[4:]) if each.startswith("cap=") else (str(place), each)
        pins[pin] = [tuple((word + ".").split(".")[:2]) for word in words.split("+")]
    for pin, words in pins.items():
        if words[0][0].startswith("="):
            pins[pin] = pins[words[0][0][1:]]
    return pins


def electrode(found, pin):
    return found.cap if pin == "cap" else found.pins.get(pin)


def is_diode(found, pin):
    """A diode beside something else, or a detector: not a rectifier."""
    section = electrode(found, pin).section
    return "rectifier" not in found.kind and found.sections[section - 1].kind == "diode"


@pytest.mark.parametrize(("name", "source", "row"), list(rows("pins")))
def test_pins(name, source, row):
    """Every pin does what the publication says, and nothing that it does not say."""
    assert source in TABLE["sources"]
    found = device(name)
    told = read(row)
    assert len(told) - ("cap" in told) == len(base(found.base).pins)
    assert ("cap" in told) == (found.cap is not None)
    for pin, words in told.items():
        roles = set(electrode(found, pin).roles)
        first = words[0][0]
        if first in ("nc", "-"):
            assert roles <= NOTHING, pin
        elif first != "*":
            for word, _ in words:
                meant = NUMBERED.get(name, WORDS).get(word, WORDS[word])
                assert meant & roles, f"pin {pin}: {word} is {sorted(roles)}"
                assert word not in ("a", "d") or is_diode(found, pin) == (word == "d"), pin
            known = set().union(*(WORDS[word] for word, _ in words))
            assert roles - known <= LEFT_OUT, f"pin {pin}: {sorted(roles)}"


@pytest.mark.parametrize(("name", "source", "row"), list(rows("pins")))
def test_systems(name, source, row):
    """Electrodes of one system in the publication are of one section in the catalogue."""
    found = device(name)
    sections = {}
    for pin, words in read(row).items():
        for _, system in words:
            if system and electrode(found, pin).section:
                sections.setdefault(system, set()).add(electrode(found, pin).section)
    assert all(len(each) == 1 for each in sections.values()), source
    told = [next(iter(each)) for each in sections.values()]
    assert len(set(told)) == len(told), "two systems in one section"


@pytest.mark.parametrize("name", TABLE["pins"])
def test_the_publications_agree_with_each_other_on_what_is_where(name):
    """The table is no use if a row was typed wrongly: electrodes stand on the same pins in both."""
    kinds = []
    for row in TABLE["pins"][name].values():
        told = {pin: words[0][0][:1] for pin, words in read(row).items()}
        kinds.append({pin: kind for pin, kind in told.items() if kind in tuple("agkhdt")})
    for pin in set.intersection(*(set(each) for each in kinds)):
        assert len({each[pin] for each in kinds}) == 1, pin
    assert len(kinds) >= 2


@pytest.mark.parametrize(("name", "source", "row"), list(rows("heaters")))
def test_heaters(name, source, row):
    volts, amps = row
    assert source in TABLE["sources"]
    heater = next(each for each in device(name).heaters if each.volts == volts)
    assert heater.amps == amps


@pytest.mark.parametrize("name", TABLE["limits"])
def test_limits(name):
    told = dict(TABLE["limits"][name])
    of = told.pop("of", "")
    for key, by_source in told.items():
        assert len(by_source) >= 2
        assert set(by_source) <= set(TABLE["sources"])
        assert {device(name).limit(key, of)} == set(by_source.values()), key


def test_there_are_thirty_types_and_more():
    assert len(TABLE["pins"]) > 45
    assert len(TABLE["heaters"]) > 30
