"""The tables of lead and wire colours."""

from __future__ import annotations

import pytest

from buzzout.catalogue import colours

TABLES = {
    **colours.TRANSFORMERS,
    **colours.MAINS,
    "chassis": colours.CHASSIS_WIRES,
    "can": colours.CAN_MARKS,
}


@pytest.mark.parametrize("name", TABLES)
def test_no_table_gives_a_colour_two_meanings(name):
    told = [each.colour for each in TABLES[name]]
    assert len(set(told)) == len(told)


@pytest.mark.parametrize("name", TABLES)
def test_every_row_has_a_known_source(name):
    for each in TABLES[name]:
        assert each.sources
        assert set(each.sources) <= set(colours.SOURCES)


@pytest.mark.parametrize("name", TABLES)
def test_every_row_is_found_by_its_own_colour(name):
    for each in TABLES[name]:
        assert colours.meaning(TABLES[name], each.colour) == each.meaning


@pytest.mark.parametrize(
    ("said", "plain"),
    [
        ("Green and Yellow", "green/yellow"),
        ("Gray-Red", "grey/red"),
        ("slate / yellow", "grey/yellow"),
        ("light blue", "blue"),
    ],
)
def test_spellings(said, plain):
    assert colours.colour_of(said) == plain


@pytest.mark.parametrize(
    ("table", "said", "words"),
    [
        ("power", "Red", "HT winding, both ends"),
        ("power", "red and yellow", "HT winding, centre tap"),
        ("output", "blue", "anode"),
        ("interstage", "pink", ""),
    ],
)
def test_meanings(table, said, words):
    assert colours.meaning(colours.TRANSFORMERS[table], said) == words


def test_green_and_yellow_of_a_heater_is_told_from_the_protective_earth():
    """The one pair of meanings that can kill: each table must say which it is."""
    heater = colours.meaning(colours.TRANSFORMERS["power"], "green/yellow")
    assert "no earth conductor" in heater
    assert colours.meaning(colours.MAINS["europe"], "green/yellow") == "protective earth"


def test_red_in_an_old_lead_depends_on_the_country():
    told = {name: colours.meaning(table, "red") for name, table in colours.MAINS.items()}
    assert told["britain old"] == "line (live)"
    assert told["germany old"].startswith("protective earth")


def test_the_caution_sends_to_the_meter():
    assert "unplug" in colours.MAINS_CAUTION
    assert "meter" in colours.MAINS_CAUTION
