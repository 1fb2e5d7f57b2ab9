"""Sockets from below, as text and as SVG."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest

from buzzout.catalogue import base, base_names, device, device_names
from buzzout.catalogue.card import device_svg, labels
from buzzout.catalogue.picture import socket_svg, socket_text

B7G = """\
                           4 cathode

            heater 3               5 heater



  anode or link 2                     6 grid



                 a 1               7 g

                         [gap]"""


def test_a_socket_as_text():
    """Seen from below the numbers run clockwise from the gap, which is drawn at the bottom."""
    told = {
        "1": "a",
        "2": "anode or link",
        "3": "heater",
        "4": "cathode",
        "5": "heater",
        "6": "grid",
        "7": "g",
    }
    assert socket_text(base("B7G"), told) == B7G


@pytest.mark.parametrize("name", base_names())
def test_pins_run_clockwise_in_the_text_picture(name):
    """From the mark at the bottom up the left side and down the right."""
    known = base(name)
    rows = socket_text(known, {}).splitlines()
    middle = rows[-1].index(f"[{known.mark}]") + len(f"[{known.mark}]") // 2
    left, right = [], []
    for row in rows:
        for pin in row.replace(f"[{known.mark}]", "").split():
            column = row.index(pin)
            (left if column <= middle and known.angles[pin] <= 180 else right).append(pin)
    assert left[::-1] + right == list(known.pins)


@pytest.mark.parametrize("name", [n for n in device_names() if base(device(n).base)])
def test_every_label_stands_beside_its_pin(name):
    found = device(name)
    known = base(found.base)
    text = socket_text(known, labels(found))
    for pin, label in labels(found).items():
        if pin in known.pins:
            assert f"{label} {pin}" in text or f"{pin} {label}" in text, pin


@pytest.mark.parametrize("name", ["ECC83", "5Y3GT", "2A3", "EM84"])
def test_svg_is_plain_and_the_same_every_time(name):
    svg = device_svg(device(name))
    assert svg == device_svg(device(name))
    assert svg.isascii()
    root = ET.fromstring(svg)
    texts = [each.text for each in root.iter() if each.tag.endswith("text")]
    for pin, label in labels(device(name)).items():
        if pin != "cap":
            assert pin in texts
            assert label in texts


def test_svg_escapes_what_the_user_wrote():
    svg = socket_svg(base("B7G"), {"1": "<script>&", "2": "µ"})
    assert "&lt;script&gt;&amp;" in svg
    assert "&#181;" in svg
    assert "<script>" not in svg


def test_svg_pins_run_clockwise_from_the_mark_at_the_bottom():
    root = ET.fromstring(socket_svg(base("octal"), {}))
    circles = [each for each in root.iter() if each.get("r") == "11"]
    first, third = circles[0], circles[2]
    assert float(first.get("cy")) > 130  # pin 1 below the middle
    assert float(first.get("cx")) < 280  # and on the left
    assert float(third.get("cy")) < 130


def test_a_type_with_leads_has_no_socket():
    assert device_svg(device("1N4007")) == ""
