"""Valves that join pins inside: the join goes with the pins, however the socket was wired."""

from __future__ import annotations

from itertools import combinations

import pytest

from buzzout.catalogue import device
from buzzout.circuit import CHASSIS, Circuit, Fit, Link, Part, Point, Remove, Rewire, apply, parse
from buzzout.compare import Comparison, compare

PINS = tuple("123456789")
SCREENED = Part("V1", "socket", PINS, type="EF86", base="B9A")
PLUG = Part("X1", "connector", tuple("123456"))


def resistor(n: int) -> Part:
    return Part(f"R{n}", "resistor", ("1", "2"), value=parse(f"{n}k", "ohm"))


def drawn(kind: str = "reference") -> Circuit:
    """A resistor of its own on each pin of an EF86 but for the shields, 2 and 7, and the heater."""
    circuit = Circuit(kind, parts={"V1": SCREENED, "X1": PLUG})
    ends = zip("13689", PLUG.terminals, strict=False)
    fits = [
        Fit(resistor(n), (("1", SCREENED.point(pin)), ("2", PLUG.point(end))))
        for n, (pin, end) in enumerate(ends, 1)
    ]
    return apply(circuit, fits)


def board(*pins: tuple[str, str]) -> Circuit:
    """The chassis with what belongs on one pin on another."""
    return apply(drawn("found"), [Rewire("V1", pins)])


def told(result: Comparison) -> list[str]:
    assert result.proof.sufficient, result.proof.why
    assert result.proof.minimal
    return [f.kind for f in result.findings if not f.harmless]


def test_the_shields_are_joined_inside() -> None:
    """EF86: pins 2 and 7 are the internal screen, joined (published base diagram)."""
    known = device("EF86")
    assert known is not None
    assert known.internal == (frozenset("27"),)


@pytest.mark.parametrize("steps", range(1, 9))
def test_a_socket_counted_from_the_wrong_pin_is_one_error(steps: int) -> None:
    around = tuple((p, PINS[(n + steps) % 9]) for n, p in enumerate(PINS))
    assert told(compare(drawn(), board(*around))) == ["socket-shifted"]


def test_a_socket_wired_mirror_wise_is_one_error() -> None:
    assert told(compare(drawn(), board(*zip(PINS, PINS[::-1], strict=True)))) == ["socket-mirrored"]


@pytest.mark.parametrize("pins", list(combinations("12367", 2)))
def test_two_pins_exchanged_are_one_error_unless_both_are_shields(pins: tuple[str, str]) -> None:
    a, b = pins
    assert len(told(compare(drawn(), board((a, b), (b, a))))) == (set(pins) != {"2", "7"})


def test_what_lands_on_one_shield_may_land_on_the_other() -> None:
    earth = resistor(9)
    on = [
        apply(circuit, [Fit(earth, (("1", SCREENED.point(pin)), ("2", CHASSIS)))])
        for circuit, pin in ((drawn(), "2"), (drawn("found"), "7"))
    ]
    assert told(compare(*on)) == []


def test_a_wire_beside_the_join_makes_up_for_nothing_else() -> None:
    """A wire from shield to shield holds nothing together that the valve does not."""
    tag = Point("TAG")
    circuits = []
    for kind, far in (("reference", SCREENED.point("2")), ("found", tag)):
        parts = [
            Fit(resistor(8), (("1", SCREENED.point("7")), ("2", CHASSIS))),
            Fit(resistor(9), (("1", far), ("2", PLUG.point("6")))),
            Fit(resistor(7), (("1", far), ("2", PLUG.point("5")))),
        ]
        circuits.append(apply(drawn(kind), parts))
    reference, found = circuits
    beside = found.but(links=(*found.links, Link(SCREENED.point("2"), SCREENED.point("7"), "wire")))
    assert told(compare(reference, beside)) == ["connection-missing"]
    assert told(compare(reference, found)) == ["connection-missing"]


def test_an_electrolytic_and_a_capacitor_in_each_others_place() -> None:
    """Their terminals have other names; one error, and the proof stands."""
    small = Part("C1", "capacitor", ("1", "2"), value=parse("2n2", "F"))
    large = Part("C2", "electrolytic", ("+", "-"), value=parse("100u", "F"))
    places = ((PLUG.point("1"), CHASSIS), (PLUG.point("2"), CHASSIS))
    circuits = []
    for kind, order in (("reference", (small, large)), ("found", (large, small))):
        fits = [
            Fit(part, tuple(zip(part.terminals, at, strict=True)))
            for part, at in zip(order, places, strict=True)
        ]
        circuits.append(apply(drawn(kind), fits))
    assert told(compare(*circuits)) == ["values-exchanged"]
    assert Remove("C1") in compare(*circuits).findings[0].remedy
