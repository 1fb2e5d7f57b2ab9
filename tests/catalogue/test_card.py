"""The look-up: what is asked for and what the card says."""

from __future__ import annotations

import re

import pytest

from buzzout.catalogue import device_names
from buzzout.catalogue.card import WIDTH, card, figure, meanings
from buzzout.catalogue.sources import sources


def test_a_card_begins_with_name_names_and_base():
    text, known = card("6v4")
    assert known
    head = [line.split(" [")[0] for line in text.splitlines()[:3]]
    assert head[0] == "EZ80   full-wave rectifier"
    assert "6V4" in head[1]
    assert head[2] == "base: B9A (noval, nine pins), seen from below, clockwise from the mark"


@pytest.mark.parametrize(
    ("name", "lines"),
    [
        (
            "12AX7",
            (
                "heater: 12.6 V 0.15 A between pin 4 and pin 5",
                "heater: 6.3 V 0.3 A between pins 4, 5 and pin 9",
                "no difference to the circuit: sections exchanged, heater ends turned round",
                "typical (class A, each section): anode 250 V, grid -2 V",
                "[1] Brimar (STC)",
            ),
        ),
        ("6K7", ("top cap: grid",)),
        ("0A2", ("joined inside:", "leave free, never a tie point:")),
        ("1N4007", ("leads: a anode, k cathode",)),
        ("EZ80", ("rectifier",)),
    ],
)
def test_a_card_tells(name, lines):
    text, known = card(name)
    assert known
    for line in lines:
        assert line in text


@pytest.mark.parametrize("name", device_names())
def test_every_card_cites_every_source_and_keeps_its_width(name):
    text, known = card(name)
    assert known
    body, _, cited = text.rpartition("\n\n[1] ")
    numbers = {int(part.split("]")[0]) for part in body.split("[")[1:] if part[0].isdigit()}
    listed = [line for line in ("[1] " + cited).splitlines() if line.startswith("[")]
    assert numbers == set(range(1, len(listed) + 1))
    assert max(map(len, text.splitlines())) <= WIDTH
    assert not any(line != line.rstrip() for line in text.splitlines())


def test_a_base_has_a_card():
    text, known = card("noval")
    assert known
    assert text.startswith("B9A   noval, nine pins\nalso called noval, 9-pin-miniature\n")
    assert "[gap]" in text


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (
            "bands brown black yellow silver",
            "bands brown black yellow silver\n100k ohm, 10 %\nso 90k to 110k\nseries: E3\n",
        ),
        (
            "body green blue orange",
            "body, end, dot green blue orange\n56k ohm, 20 %\nso 44.8k to 67.2k\nseries: E12\n",
        ),
        (
            "code 103K",
            "marked 103K\nas a resistor: 103k ohm\nas a capacitor: 10nF, 10 %\n",
        ),
        (
            "code 220",
            (
                "marked 220\nas a capacitor: 22pF\n"
                "an old part without code may mean 220pF by it: measure\n"
            ),
        ),
        (
            "value 4k7 5%",
            (
                "4.7k  5 %\nbands: yellow violet red gold\nseries: E3\n"
                "nearest in E24, by ratio: 4.7k\n"
            ),
        ),
        (
            "value 500k 20%",
            (
                "500k  20 %\nbands: green black yellow\nseries: no preferred value\n"
                "nearest in E6, by ratio: 470k\n"
            ),
        ),
        (
            "bands brown-black-yellow, silver",
            "bands brown black yellow silver\n100k ohm, 10 %\nso 90k to 110k\nseries: E3\n",
        ),
        ("mica red green black", "mica, 25pF, 20 %, 500 V\n"),
        ("mica red/green/black", "mica, 25pF, 20 %, 500 V\n"),
        (
            "mica white brown red black black red",
            (
                "war six code: mica, 1.2nF, 20 %\n"
                "old six code: black is no tolerance of a mica capacitor\n"
            ),
        ),
    ],
)
def test_cards_of_codes(asked, told):
    assert card(asked) == (told, True)


def test_cards_of_colours_carry_their_source_and_caution():
    text, known = card("colours output")
    assert known
    assert "  blue          anode [1][2]\n" in text
    assert "  [3] common practice\n" in text
    for asked in ("colours mains", "colours germany old"):
        text, known = card(asked)
        assert known
        assert "prove each" in text
        assert "unplug" in text
    assert "legend printed on the can decides" in card("colors can")[0]


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("ECC38", "Did you mean ECC83 or ECC32 or ECC33?"),
        ("12AX7WB", "Did you mean 12AX7 or 12AX7A"),
        ("bands pink red red", "pink is no first band"),
        ("bands", "A card can also be asked for with: bands, body, code, colors, colours, mica"),
        ("colours powr", "did you mean power?"),
        ("code zzz", "'zzz' is not a value"),
        ("value 4712", "4.712k cannot be shown in bands"),
        ("mica gold gold gold gold gold gold", "gold stands for no figure"),
        ("", "is neither a type nor a base"),
    ],
)
def test_no_card(asked, words):
    text, known = card(asked)
    assert not known
    assert words in text


@pytest.mark.parametrize(
    ("asked", "told", "known"),
    [
        ("12AX7 for ECC83", "12AX7 fitted for ECC83: another name for the same type\n", True),
        (
            "ECC81 for ECC83",
            (
                "ECC81 fitted for ECC83: not the same type; it differs\n"
                "  amplification factor 60 instead of 100\n"
                "  slope 5.5 mA/V instead of 1.6 mA/V\n"
                "  heater to cathode limit 90 V instead of 180 V\n"
            ),
            True,
        ),
        (
            "5751 for ECC83",
            (
                "5751 fitted for ECC83: nothing can be said\n5751 is not in the catalogue\n"
                "5751 is a near relative of ECC83: mu 70 instead of 100, heater current differs"
            ),
            False,
        ),
    ],
)
def test_cards_of_one_type_for_another(asked, told, known):
    assert card(asked) == (told, known)


def test_the_card_of_sources_counts_every_source():
    text, known = card("sources")
    assert known
    assert "from memory alone: " in text
    rows = text.partition("figures that name it:\n")[2]
    plain = " ".join(rows.split())
    for each in sources().values():
        assert f" {each.grade}: {each.cite}" in plain
    counts = [int(found) for found in re.findall(r"^ *(\d+)  \w", rows, re.MULTILINE)]
    assert len(counts) == len(sources())
    assert counts == sorted(counts, reverse=True)


def test_a_card_of_ones_own_device(tmp_path):
    path = tmp_path / "devices.yaml"
    path.write_text(
        'EC900:\n  kind: triode\n  base: B7G\n  sections: {"1": triode}\n  pins:\n'
        '    "1": anode 1\n    "2": unused\n    "3": heater\n    "4": heater\n'
        '    "5": unused\n    "6": grid 1\n    "7": cathode 1\n    source: carton\n',
        encoding="utf-8",
    )
    text, known = card("ec900", [path])
    assert known, text
    assert "[1] carton" in text


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("anode_v", 250.0, "anode 250 V"),
        ("slope_ma_per_v", 1.6, "slope 1.6 mA/V"),
        ("mu", 100.0, "mu 100"),
        ("reservoir_uf", 50.0, "reservoir 50 uF"),
    ],
)
def test_figures_in_words(key, value, words):
    assert figure(key, value) == words


def test_every_figure_has_a_meaning_in_the_schema():
    told = meanings()
    assert told["anode_v"]
    assert all(text for text in told.values())
