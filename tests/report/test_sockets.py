"""Sockets from below: geometry, electrode names, wrong pins."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest

from buzzout.catalogue import base, base_names
from buzzout.circuit import Part
from buzzout.compare import Comparison
from buzzout.report.sockets import ACROSS, DOWN, Wrong, socket_svg, socket_views

SVG = "{http://www.w3.org/2000/svg}"


def socket(type_: str, base_: str) -> Part:
    known = base(base_)
    assert known is not None
    return Part("V9", "socket", known.pins, type=type_, base=base_)


def pins_of(svg: str) -> dict[str, tuple[float, float]]:
    """Where each pin number stands."""
    found = {}
    for group in ET.fromstring(svg).iter(f"{SVG}g"):
        text = group.find(f"{SVG}text")
        assert text is not None
        found[text.text or ""] = (float(text.get("x", "0")), float(text.get("y", "0")))
    return found


@pytest.mark.parametrize("name", base_names())
def test_pins_go_clockwise_from_the_mark_at_the_bottom(name: str) -> None:
    known = base(name)
    assert known is not None
    spots = pins_of(socket_svg(socket("", name), known, {}))
    assert list(spots) == list(known.pins)
    walk = [spots[pin] for pin in known.pins]
    middle = (ACROSS, DOWN + 4.5)  # numbers are set a little lower than the ring
    turns = [
        (a[0] - middle[0]) * (b[1] - middle[1]) - (a[1] - middle[1]) * (b[0] - middle[0])
        for a, b in pairwise(walk)
    ]
    assert all(turn > 0 for turn in turns)  # y grows downwards: positive is clockwise
    assert walk[0][0] < ACROSS < walk[-1][0], "the first pin is left of the mark, the last right"
    assert walk[0][1] > DOWN < walk[-1][1], "both are at the bottom"


def test_electrodes_are_named_and_halves_have_the_letters_of_the_drawing() -> None:
    known = base("B9A")
    assert known is not None
    svg = socket_svg(socket("ECC83", "B9A"), known, {})
    assert {"anode a", "grid b", "heater-tap"} <= set(re.findall(r">([^<]+)</text>", svg))


def test_wrong_pins_are_marked_and_told_in_words(
    comparison: Comparison, numbers: dict[str, int]
) -> None:
    (view,) = socket_views(comparison, numbers)
    exchanged = numbers["pins-exchanged:V1.6:V1.8"]
    assert view.wrong["6"] == Wrong((exchanged,), "8")
    assert exchanged in view.wrong["8"].numbers
    assert f"Pin 6 (anode a), finding {exchanged}: what is on it belongs on 8." in view.words
    assert view.svg.count(f'class="finding f{exchanged}"') == 1
    assert "2" not in view.wrong


def test_names_cannot_become_markup() -> None:
    known = base("octal")
    assert known is not None
    part = Part('V<1>"&', "socket", known.pins, type="<script>", base="octal")
    texts = [e.text for e in ET.fromstring(socket_svg(part, known, {})).iter(f"{SVG}text")]
    assert {'V<1>"&', "<script>"} <= set(texts)
