"""Several mistakes at once, on one socket or one part: each is told, and nothing else.

The drawing is `overlaps.reference.buzz`; the chassis is the same, its small parts without names
(`@R4` is R4). Slips are done one after the other, as a hand would: a lead moved first and the
socket mirrored afterwards ends up on the mirrored pin.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from buzzout.catalogue import base
from buzzout.circuit import (
    Change,
    Circuit,
    Cut,
    Fit,
    Join,
    Link,
    Move,
    Part,
    Point,
    Remove,
    Rewire,
)
from buzzout.circuit import apply as applied
from buzzout.circuit import parse as quantity
from buzzout.compare import compare
from buzzout.language import read

Slip = Callable[[Circuit], Circuit]


@cache
def drawing() -> Circuit:
    return read(Path(__file__).with_name("overlaps.reference.buzz"))


@cache
def chassis() -> Circuit:
    """The drawing wired up, with no names on its small parts."""
    drawn = drawing()
    called = {n: n if p.furniture else f"@{n}" for n, p in drawn.parts.items()}
    parts = {called[n]: replace(p, name=called[n]) for n, p in drawn.parts.items()}
    return replace(drawn.but(parts, _renamed(drawn.links, called)), kind="found")


def _renamed(links: tuple[Link, ...], called: dict[str, str]) -> list[Link]:
    new = lambda p: Point(called.get(p.owner, p.owner), p.pin)  # noqa: E731
    return [replace(x, a=new(x.a), b=new(x.b)) for x in links]


def point(text: str) -> Point:
    """`V1.3`, `R4.1` (a lead of the found R4) or `chassis`."""
    owner, _, pin = text.partition(".")
    part = drawing().parts.get(owner)
    return Point(owner if part is None or part.furniture else f"@{owner}", pin)


# ---- slips of the hand


def gone(name: str) -> Slip:
    return lambda c: applied(c, [Remove(f"@{name}")])


def more(name: str, a: str, b: str) -> Slip:
    """A second part like that one, where none belongs."""

    def slip(c: Circuit) -> Circuit:
        part = replace(c.parts[f"@{name}"], name="@more")
        return applied(
            c, [Fit(part, tuple(zip(part.terminals, (point(a), point(b)), strict=True)))]
        )

    return slip  # fmt: skip


def made(name: str, value: str) -> Slip:
    def slip(c: Circuit) -> Circuit:
        part = c.parts[f"@{name}"]
        unit = "ohm" if part.kind == "resistor" else "F"
        return applied(c, [Change(part.name, replace(part, value=quantity(value, unit)))])

    return slip  # fmt: skip


def other_kind(name: str, value: str) -> Slip:
    """A capacitor where a resistor belongs."""

    def slip(c: Circuit) -> Circuit:
        part = c.parts[f"@{name}"]
        ends = tuple((t, c.landing(part.point(t))) for t in part.terminals)
        there = Part(part.name, "capacitor", part.terminals, value=quantity(value, "F"))
        return applied(c, [Remove(part.name), Fit(there, ends)])

    return slip  # fmt: skip


def reads(name: str, value: str) -> Slip:
    def slip(c: Circuit) -> Circuit:
        part = c.parts[f"@{name}"]
        return applied(c, [Change(part.name, replace(part, measured=quantity(value, "ohm")))])

    return slip  # fmt: skip


def rated(name: str, volts: str) -> Slip:
    def slip(c: Circuit) -> Circuit:
        part = c.parts[f"@{name}"]
        return applied(c, [Change(part.name, replace(part, voltage=quantity(volts, "V")))])

    return slip  # fmt: skip


def each_other(a: str, b: str) -> Slip:
    """Two parts fitted in each other's place."""

    def slip(c: Circuit) -> Circuit:
        one, two = c.parts[f"@{a}"], c.parts[f"@{b}"]
        return applied(c, [Change(one.name, two), Change(two.name, one)])

    return slip  # fmt: skip


def turned(name: str, a: str = "+", b: str = "-") -> Slip:
    return lambda c: applied(c, [Rewire(name if name in c.parts else f"@{name}", ((a, b), (b, a)))])


def lead(text: str, to: str) -> Slip:
    return lambda c: applied(c, [Move(point(text), c.landing(point(text)), point(to))])


def wire(fixed: str, old: str, new: str) -> Slip:
    return lambda c: applied(c, [Move(point(fixed), point(old), point(new))])


def no_wire(a: str, b: str) -> Slip:
    return lambda c: applied(c, [Cut(point(a), point(b))])


def bridge(a: str, b: str) -> Slip:
    return lambda c: applied(c, [Join(point(a), point(b), "bare")])


def mirror(name: str) -> Slip:
    return lambda c: applied(c, [Rewire(name, tuple(base("B9A").mirrored().items()))])


def shift(name: str, pins: int) -> Slip:
    return lambda c: applied(c, [Rewire(name, tuple(base("B9A").shifted(pins).items()))])


def halves(name: str) -> Slip:
    return lambda c: applied(c, [Rewire(name, tuple(zip("123678", "678123", strict=True)))])


def backwards(name: str) -> Slip:
    return lambda c: applied(c, [Rewire(name, tuple(zip("12345678", "87654321", strict=True)))])


def sockets(*names: str) -> Slip:
    """The wiring of each socket is on the next one, that of the last on the first."""
    to = dict(zip(names, (*names[1:], names[0]), strict=True))
    return lambda c: c.but(links=_renamed(c.links, to))


def valve(name: str, kind: str) -> Slip:
    return lambda c: applied(c, [Change(name, replace(c.parts[name], type=kind))])


# what was done, one slip after the other; kind of each finding and what it is about
CASES: dict[str, tuple[list[Slip], list[str]]] = {
    "mirrored, and a pair of pins besides": (
        [turned("V1", "1", "2"), mirror("V1")],
        ["pins-exchanged V1", "socket-mirrored V1"],
    ),
    "shifted, and a lead one pin further": (
        [lead("C1.+", "V1.9"), shift("V1", 1)],
        ["socket-shifted V1", "wrong-point C1"],
    ),
    "mirrored, and a part of it gone": (
        [gone("R3"), mirror("V1")],
        ["part-missing R3", "socket-mirrored V1"],
    ),
    "mirrored, and wrong by ten": (
        [made("R4", "15k"), mirror("V1")],
        ["socket-mirrored V1", "value-wrong R4"],
    ),
    "mirrored, and reversed": (
        [turned("C1"), mirror("V1")],
        ["reversed C1", "socket-mirrored V1"],
    ),
    "shifted, and bridged": (
        [bridge("V1.2", "V1.3"), shift("V1", -1)],
        ["bridge", "socket-shifted V1"],
    ),
    "two pairs of pins": (
        [turned("V1", "1", "2"), turned("V1", "7", "8")],
        ["pins-exchanged V1", "pins-exchanged V1"],
    ),
    "pins exchanged, and a lead elsewhere": (
        [lead("R5.1", "V1.9"), turned("V1", "1", "2")],
        ["pins-exchanged V1", "wrong-point R5"],
    ),
    "pins exchanged, and one band": (
        [made("R6", "22k"), turned("V1", "2", "3")],
        ["pins-exchanged V1", "value-wrong R6"],
    ),
    "mirrored, and another valve in it": (
        [mirror("V2"), valve("V2", "ECC82")],
        ["socket-mirrored V2", "wrong-valve V2"],
    ),
    "mirrored, and its neighbour shifted": (
        [mirror("V1"), shift("V2", 1)],
        ["socket-mirrored V1", "socket-shifted V2"],
    ),
    "mirrored, and the heater wires as they came to hand": (
        [turned("V3", "4", "5"), mirror("V3")],
        ["socket-mirrored V3", "turned V3"],
    ),
    "shifted, and the heater wires as they came to hand": (
        [turned("V3", "4", "5"), shift("V3", 1)],
        ["socket-shifted V3", "turned V3"],
    ),
    "shifted, and pins that only unshifted are the heater": (
        [shift("V3", 1), turned("V3", "4", "5")],
        ["pins-exchanged V3", "socket-shifted V3"],
    ),
    "another kind of part, and a lead of its neighbour elsewhere": (
        [other_kind("R3", "10n"), lead("R5.1", "V1.9")],
        ["wrong-point R5", "wrong-type R3"],
    ),
    "two mirrored": (
        [mirror("V1"), mirror("V3")],
        ["socket-mirrored V1", "socket-mirrored V3"],
    ),
    "halves exchanged, and a pair of pins": (
        [halves("V1"), turned("V1", "2", "3")],
        ["pins-exchanged V1", "sections-exchanged V1"],
    ),
    "like sockets for each other, and a part gone": (
        [gone("R9"), sockets("V1", "V2")],
        ["part-missing R9", "sockets-exchanged V1 V2"],
    ),
    "like sockets for each other, and a pair of pins": (
        [turned("V1", "7", "8"), sockets("V1", "V2")],
        ["pins-exchanged V2", "sockets-exchanged V1 V2"],
    ),
    "like sockets for each other, and one of them mirrored": (
        [mirror("V1"), sockets("V1", "V2")],
        ["socket-mirrored V2", "sockets-exchanged V1 V2"],
    ),
    "the halves of a valve exchanged, and its socket mirrored": (
        [halves("V1"), mirror("V1")],
        ["socket-mirrored V1"],
    ),
    "the halves of a valve exchanged, and its socket shifted": (
        [halves("V1"), shift("V1", 2)],
        ["socket-shifted V1"],
    ),
    "three sockets in a ring": (
        [sockets("V1", "V2", "V3")],
        ["sockets-exchanged V1 V2 V3"],
    ),
    "unlike sockets for each other": (
        [sockets("V2", "V3")],
        ["sockets-exchanged V2 V3"],
    ),
    "unlike sockets for each other, and one band": (
        [made("R13", "3k9"), sockets("V2", "V3")],
        ["sockets-exchanged V2 V3", "value-wrong R13"],
    ),
    "strip backwards, and a part gone": (
        [gone("R10"), backwards("TS1")],
        ["part-missing R10", "strip-reversed TS1"],
    ),
    "strip backwards, and a lead one tag off": (
        [lead("C6.2", "TS1.8"), backwards("TS1")],
        ["strip-reversed TS1", "wrong-point C6"],
    ),
    "strip backwards, and the socket wired to it mirrored": (
        [mirror("V2"), backwards("TS1")],
        ["socket-mirrored V2", "strip-reversed TS1"],
    ),
    "values exchanged, and a lead of a third off": (
        [each_other("R3", "R4"), lead("R5.1", "V1.2")],
        ["values-exchanged R3 R4", "wrong-point R5"],
    ),
    "values exchanged, on a socket with a pair of pins": (
        [each_other("R3", "R4"), turned("V1", "6", "7")],
        ["pins-exchanged V1", "values-exchanged R3 R4"],
    ),
    "values exchanged, and a lead of one of the two off": (
        [each_other("R3", "R4"), lead("R4.1", "V1.9")],
        ["values-exchanged R3 R4", "wrong-point R4"],
    ),
    "three values in a ring": (
        [each_other("R3", "R4"), each_other("R4", "R6")],
        ["values-exchanged R3 R4 R6"],
    ),
    "wires in a ring, and one gone that is not of it": (
        [bridge("J1.sleeve", "P1.ccw"), no_wire("X1.3", "V1.4"), bridge("V1.5", "V2.5")],
        ["connection-missing"],
    ),
    "two bridges on one socket": (
        [bridge("V1.1", "V1.2"), bridge("V1.2", "V1.3")],
        ["bridge", "bridge"],
    ),
    "a bridge, and the wire gone that it may once have been": (
        [bridge("V2.2", "V2.3"), no_wire("TS1.2", "V2.2")],
        ["wrong-point"],
    ),
    "bridge, and a wire gone beside it": (
        [bridge("V2.3", "V2.8"), no_wire("TS1.2", "V2.2")],
        ["bridge", "connection-missing"],
    ),
    "wire off, and the control the wrong way round": (
        [no_wire("P1.wiper", "V1.2"), turned("P1", "ccw", "cw")],
        ["connection-missing", "pot-ends-exchanged P1"],
    ),
    "wire one pin off, and its part gone": (
        [wire("TS1.7", "V3.2", "V3.1"), gone("R16")],
        ["part-missing R16", "wrong-point"],
    ),
    "drifted, and its neighbour gone": (
        [reads("R8", "270k"), gone("C4")],
        ["part-missing C4", "value-drifted R8"],
    ),
    "reversed, and rated too low": (
        [rated("C7", "10V"), turned("C7")],
        ["reversed C7", "under-rated C7"],
    ),
    "two leads of one pin for those of another, and a part too many": (
        [lead("R3.1", "V1.8"), lead("R4.1", "V1.6"), more("C5", "V1.3", "V1.7")],
        ["leads-exchanged R3 R4", "part-extra"],
    ),
    "a part gone, and one like it elsewhere": (
        [gone("C2"), more("C4", "V3.9", "chassis")],
        ["part-extra", "part-missing C2"],
    ),
    "two parts one pin off, each on the other's pin's neighbour": (
        [lead("R8.1", "V2.7"), lead("R9.1", "V2.9")],
        ["wrong-point R8", "wrong-point R9"],
    ),
    "two pins exchanged, and bridged": (
        [bridge("V1.6", "V1.8"), turned("V1", "6", "7")],
        ["bridge", "pins-exchanged V1"],
    ),
    "three pins in a ring": (
        [turned("V1", "1", "2"), turned("V1", "2", "3")],
        ["pins-exchanged V1"],
    ),
    "open, at a node that a lead has left as well": (
        [no_wire("V2.9", "V3.5"), lead("R16.2", "V3.5")],
        ["connection-missing", "wrong-point R16"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_each_mistake_is_one_finding(case: str) -> None:
    slips, wanted = CASES[case]
    board = chassis()
    for slip in slips:
        board = slip(board)
    result = compare(drawing(), board)
    told = sorted(f"{f.kind} {' '.join(f.parts)}".strip() for f in result.findings)
    assert told == wanted
    assert result.proof.sufficient, result.proof.why
    assert result.proof.minimal
