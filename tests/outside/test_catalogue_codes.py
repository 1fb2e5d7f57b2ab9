"""Bands, letter codes, capacitor codes and dots against printed examples and `rkm_codes`."""

from __future__ import annotations

import pytest
import rkm_codes
from hypothesis import given
from hypothesis import strategies as st

from buzzout.catalogue.codes import bands, bands_for, capacitor_code, mica, rkm
from buzzout.catalogue.colours import MAINS, TRANSFORMERS, meaning

# Letter codes as the article on IEC 60062 of the English Wikipedia lists them ("RKM code"), and
# as the Tennessee school network's page on resistors prints them (tnlab.org).
WIKIPEDIA, TNLAB = "Wikipedia, RKM code", "tnlab.org, resistors"
LETTERS = [
    ("R47", 0.47, WIKIPEDIA),
    ("4R7", 4.7, WIKIPEDIA),
    ("470R", 470, WIKIPEDIA),
    ("4K7", 4700, WIKIPEDIA),
    ("47K", 47e3, WIKIPEDIA),
    ("47K3", 47.3e3, WIKIPEDIA),
    ("470K", 470e3, WIKIPEDIA),
    ("4M7", 4.7e6, WIKIPEDIA),
    ("2K2", 2200, TNLAB),
    ("1M0", 1e6, TNLAB),
]


@pytest.mark.parametrize(("said", "ohms", "source"), LETTERS)
def test_printed_letter_codes(said, ohms, source):
    assert rkm(said).value == ohms, source


@given(
    st.integers(1, 999),
    st.integers(0, 2),
    st.sampled_from(["R", "K", "M", "G"]),
)
def test_letter_codes_of_resistors_against_rkm_codes(figures, places, letter):
    """The package of that name reads the same value, wherever the letter stands."""
    digits = str(figures).rjust(places + 1, "0")
    cut = len(digits) - places
    said = digits[:cut] + letter + digits[cut:]
    assert rkm(said).value == pytest.approx(float(rkm_codes.from_rkm(said)), rel=1e-12)


@given(st.integers(1, 999), st.sampled_from(["p", "n", "u"]))
def test_letter_codes_of_capacitors_against_rkm_codes(figures, letter):
    digits = f"{figures:03d}".lstrip("0")
    said = f"{digits[:1]}{letter}{digits[1:]}"
    assert rkm(said, "F").value == pytest.approx(float(rkm_codes.from_rkm(said)), rel=1e-12)


# Bands with their values as printed.
BANDS = [
    ("yellow violet red gold", 4700, 0.05, "ik1zyw, resistor colour code"),
    ("brown black green silver", 1e6, 0.1, "ik1zyw, resistor colour code"),
    ("red red black brown brown", 2200, 0.01, "ik1zyw, resistor colour code"),
    ("orange orange gold gold", 3.3, 0.05, "ik1zyw, resistor colour code"),
    ("blue red red gold", 6200, 0.05, "tangible-technology.com, How to read the code"),
    ("brown red orange", 12e3, 0.2, "pbsiddharthaelectronics.in, Resistors colour code"),
    ("green blue black", 56, 0.2, "pbsiddharthaelectronics.in, Resistors colour code"),
]


@pytest.mark.parametrize(("said", "ohms", "tolerance", "source"), BANDS)
def test_printed_bands(said, ohms, tolerance, source):
    read = bands(said.split())
    assert (read.value, read.minus, read.plus) == (ohms, tolerance, tolerance), source
    assert bands_for(ohms, tolerance) == tuple(said.split())


# Body, end and dot, as printed on resistors of the thirties.
ANTIQUE = "The antique resistor color code, reprint at studylib.net, document 18561656"
OLD_RADIO = "eHow, How to read old radio resistors, article 12267373"
BODIES = [
    ("red black green", 2e6, 0.2, ANTIQUE),
    ("green brown orange", 51e3, 0.2, OLD_RADIO),
]


@pytest.mark.parametrize(("said", "ohms", "tolerance", "source"), BODIES)
def test_printed_bodies(said, ohms, tolerance, source):
    read = bands(said.split(), body=True)
    assert (read.value, read.plus) == (ohms, tolerance), source


# Capacitor codes as printed.
CAPACITORS = [
    ("103", 10e-9, None, "staff.bcc.edu, capacitor codes"),
    ("104", 100e-9, None, "staff.bcc.edu, capacitor codes"),
    ("223", 22e-9, None, "staff.bcc.edu, capacitor codes"),
    ("473J", 47e-9, 0.05, "regiscoyne.com, capacitor codes"),
    ("124", 120e-9, None, "av-info.eu, capacitor codes"),
    ("25 mmfd", 25e-12, None, "vcomp.co.uk, mica capacitors: 25 mmfd is 25 pF"),
]


@pytest.mark.parametrize(("said", "farads", "tolerance", "source"), CAPACITORS)
def test_printed_capacitor_codes(said, farads, tolerance, source):
    read = capacitor_code(said)
    assert read.value == pytest.approx(farads, rel=1e-12), source
    assert read.plus == tolerance


MICA = [
    ("red green black", "", 25e-12, "vcomp.co.uk, mica capacitors"),
    ("white brown red black blue red", "war six", 1200e-12, "OD 1647, page 111, worked example"),
]


@pytest.mark.parametrize(("dots", "style", "farads", "source"), MICA)
def test_printed_dots(dots, style, farads, source):
    assert mica(dots.split(), style).value.value == pytest.approx(farads, rel=1e-12), source


# Lead colours as printed, each with what it must say. RF Cafe, Transformer lead color code;
# Wikipedia, Electronic color code; A. Emmerson, mains cords, rec.antiques.radio+phono, 17.10.1995.
RF_CAFE, WIKI, EMMERSON = "RF Cafe", "Wikipedia", "Emmerson"
LEADS = [
    ("power", "Black / Red", "primary", RF_CAFE),
    ("power", "Red", "HT winding", RF_CAFE),
    ("power", "Red / Yellow", "HT winding, centre tap", RF_CAFE),
    ("power", "Yellow", "rectifier filament", RF_CAFE),
    ("power", "Yellow / Blue", "rectifier filament winding, centre tap", RF_CAFE),
    ("power", "Green / Yellow", "heater winding 1, centre tap", RF_CAFE),
    ("power", "Brown", "heater winding 2", RF_CAFE),
    ("power", "Slate / Yellow", "heater winding 3, centre tap", RF_CAFE),
    ("if", "Blue", "anode", RF_CAFE),
    ("if", "Green", "grid or diode", RF_CAFE),
    ("interstage", "Brown", "second anode", RF_CAFE),
    ("interstage", "Yellow", "second grid", RF_CAFE),
    ("output", "Green", "secondary", WIKI),
    ("output", "Black", "secondary", WIKI),
    ("output", "Yellow", "secondary, tap", WIKI),
    ("europe", "brown", "line", EMMERSON),
    ("europe", "blue", "neutral", EMMERSON),
    ("britain old", "red", "line", EMMERSON),
    ("britain old", "black", "neutral", EMMERSON),
    ("britain old", "green", "protective earth", EMMERSON),
    ("germany old", "red", "protective earth", EMMERSON),
    ("belgium old", "black", "protective earth", EMMERSON),
    ("netherlands old", "grey", "protective earth", EMMERSON),
    ("russia old", "grey", "neutral", EMMERSON),
    ("switzerland old", "yellow", "protective earth", EMMERSON),
    ("america", "white", "neutral", EMMERSON),
]


@pytest.mark.parametrize(("table", "said", "words", "source"), LEADS)
def test_printed_lead_colours(table, said, words, source):
    rows = {**TRANSFORMERS, **MAINS}[table]
    assert meaning(rows, said).startswith(words), source
