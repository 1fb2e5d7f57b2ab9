"""Sockets from below: geometry, electrode names, wrong pins."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import combinations, pairwise

import pytest

from buzzout.catalogue import Device, base, base_names, device, device_names
from buzzout.circuit import Part
from buzzout.compare import Comparison
from buzzout.report.drawing.labels import wide
from buzzout.report.sockets import ACROSS, CAP, DOWN, HIGH, WIDE, Wrong, socket_svg, socket_views

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


def test_a_top_cap_is_shown_with_its_electrode_and_what_is_wrong_with_it() -> None:
    known = base("octal")
    assert known is not None
    part = Part("V9", "socket", (*known.pins, "cap"), type="6K8", base="octal")
    right, wrong = (
        socket_svg(part, known, found) for found in ({}, {"cap": Wrong((7,), "5")})
    )  # fmt: skip
    assert {"top cap: grid b"} <= set(re.findall(r">([^<]+)</text>", right))
    assert 'class="finding f7"' in wrong
    assert {"top cap: grid b, belongs on 5", "7"} <= set(re.findall(r">([^<]+)</text>", wrong))
    assert "top cap" not in socket_svg(socket("ECC83", "B9A"), known, {})


VALVES = [known for name in device_names() if (known := device(name)) and base(known.base)]


@pytest.mark.parametrize("known", VALVES, ids=lambda known: known.name)
def test_no_word_of_a_socket_lies_on_another_or_leaves_the_picture(known: Device) -> None:
    plan = base(known.base)
    assert plan is not None
    pins = (*plan.pins, *(("cap",) if known.cap else ()))
    part = Part("V12", "socket", pins, type=known.name, base=plan.name)
    svg = socket_svg(part, plan, {pin: Wrong((17,), "8") for pin in pins})
    boxes = [box_of(text) for text in ET.fromstring(svg).iter(f"{SVG}text")]
    for (one, a), (other, b) in combinations(boxes, 2):
        meet = a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
        assert not meet, f"{one} lies on {other}"
    high = HIGH + CAP * ("cap" in pins)
    for text, (left, top, right, bottom) in boxes:
        inside = min(left, top, WIDE - right, high - bottom) >= 0
        assert inside, f"{text} leaves the picture"


def box_of(text: ET.Element) -> tuple[str, tuple[float, float, float, float]]:
    """The words of a text and about the room that they take."""
    said, size = text.text or "", float(text.get("font-size", "0"))
    room = wide(said, size) * (1.08 if text.get("font-weight") else 1.0)
    x, y = float(text.get("x", "0")), float(text.get("y", "0"))
    left = x - {"start": 0.0, "end": room}.get(text.get("text-anchor", ""), room / 2)
    return said, (left, y - 0.75 * size, left + room, y + 0.2 * size)


def test_names_cannot_become_markup() -> None:
    known = base("octal")
    assert known is not None
    part = Part('V<1>"&', "socket", known.pins, type="<script>", base="octal")
    texts = [e.text for e in ET.fromstring(socket_svg(part, known, {})).iter(f"{SVG}text")]
    assert {'V<1>"&', "<script>"} <= set(texts)
