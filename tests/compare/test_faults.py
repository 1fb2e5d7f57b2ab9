"""One mistake at a time: what is said about it, word for word."""

# ruff: noqa: ISC004 - long sentences in a table
from __future__ import annotations

import pytest
from compare_stage import changed, chassis, drawing, found_name, part, point

from buzzout.circuit import Change, Cut, Edit, Fit, Join, Move, Remove, Rewire, parse
from buzzout.compare import KINDS, Comparison, compare

MIRROR = tuple((str(n), str(10 - n)) for n in range(1, 10) if n != 5)
SHIFT = tuple((str(n), str(n % 9 + 1)) for n in range(1, 10))


def changes(name: str, **what: object) -> Change:
    return Change(found_name(name), changed(name, **what))


def turn(name: str, *pins: str) -> Rewire:
    a, b = pins
    return Rewire(name, ((a, b), (b, a)))


CASES: dict[str, tuple[list[Edit], str, str]] = {
    "resistor gone": (
        [Remove(found_name("R4"))],
        "part-missing",
        "R4 (1k5 resistor) is missing between V1.3 and chassis.",
    ),
    "capacitor too many": (
        [Fit(part("@99", "capacitor", "10n"), (("1", point("V1.2")), ("2", point("J1.sleeve"))))],
        "part-extra",
        "The 10n capacitor between V1.2 and J1.sleeve is not on the drawing.",
    ),
    "one band": (
        [changes("R3", value=parse("10k", "ohm"))],
        "value-wrong",
        "R3 (10k resistor between V1.1 and C9.square): it is 10k instead of 100k "
        "(orange read for yellow?).",
    ),
    "drifted": (
        [changes("R7", measured=parse("680k", "ohm"))],
        "value-drifted",
        "R7 (470k resistor between V2.2 and chassis): it is marked 470k and reads 680k: +45 % off "
        "its marking.",
    ),
    "low voltage": (
        [changes("C3", voltage=parse("160V", "V"))],
        "under-rated",
        "C3 (100n capacitor between V1.6 and V2.2): it is rated 160V where 400V is drawn.",
    ),
    "other diode": (
        [changes("D1", type="1N4148")],
        "wrong-type",
        "D1 (1N4148 diode between C9.triangle and V2.8): 1N4148 is fitted instead of 1N4007",
    ),
    "electrolytic turned": (
        [turn(found_name("C1"), "+", "-")],
        "reversed",
        "C1 (25u electrolytic between chassis and V1.3) is reversed: its + is on chassis and "
        "belongs on V1.3.",
    ),
    "diode turned": (
        [turn(found_name("D1"), "a", "k")],
        "reversed",
        "D1 (1N4007 diode between V2.8 and C9.triangle) is reversed: its anode is on V2.8 and "
        "belongs on C9.triangle.",
    ),
    "lead one pin off": (
        [Move(point(found_name("C2") + ".1"), point("V1.1"), point("V1.9"))],
        "wrong-point",
        "One lead of C2 (22n capacitor between V1.9 and P1.cw) lands on V1.9; it belongs on V1.1.",
    ),
    "wire one pin off": (
        [Move(point("P1.wiper"), point("V1.7"), point("V1.8"))],
        "wrong-point",
        "The green wire from P1.wiper lands on V1.8; it belongs on V1.7.",
    ),
    "wire gone": (
        [Cut(point("C9.can"), point("chassis"))],
        "connection-missing",
        "C9.can and chassis are not joined; the drawing joins them.",
    ),
    "whisker": (
        [Join(point("V1.2"), point("V1.3"), "bare")],
        "bridge",
        "The bare wire from V1.2 to V1.3 joins what should be apart.",
    ),
    "two values": (
        [changes("R4", value=parse("470k", "ohm")), changes("R7", value=parse("1k5", "ohm"))],
        "values-exchanged",
        "R4 and R7 are in each other's place: the 470k resistor sits between V1.3 and chassis, the "
        "1k5 resistor between V2.2 and chassis.",
    ),
    "anode and grid": (
        [turn("V1", "1", "2")],
        "pins-exchanged",
        "V1.1 and V1.2 are exchanged: what is wired to one belongs on the other.",
    ),
    "mirror": (
        [Rewire("V1", MIRROR)],
        "socket-mirrored",
        "V1 is wired mirror-wise: its pins were counted the wrong way round (pins count clockwise "
        "seen from below).",
    ),
    "shift": (
        [Rewire("V1", SHIFT)],
        "socket-shifted",
        "The wiring of V1 is shifted by 1 pin clockwise, seen from below.",
    ),
    "control the wrong way": (
        [turn("P1", "ccw", "cw")],
        "pot-ends-exchanged",
        "The ends of P1 are exchanged: what is on P1.ccw belongs on P1.cw",
    ),
    "can sections": (
        [turn("C9", "square", "triangle")],
        "sections-exchanged",
        "The sections square and triangle of C9 are exchanged.",
    ),
    "other valve": (
        [Change("V2", chassis().parts["V2"].__class__("V2", "socket", tuple("123456789"),
                                                      type="ECC81", base="B9A"))],
        "wrong-valve",
        "V2: ECC81 is fitted instead of ECC83",
    ),
    "two leads": (
        [
            Move(point(found_name("R2") + ".2"), point("V1.2"), point("V1.6")),
            Move(point(found_name("C3") + ".1"), point("V1.6"), point("V1.2")),
        ],
        "leads-exchanged",
        "One lead of R2 (68k resistor between J1.tip and V1.6) on V1.6 and one lead of C3 (100n "
        "capacitor between V1.2 and V2.2) on V1.2 are exchanged.",
    ),
    "a part elsewhere": (
        [
            Move(point(found_name("C2") + ".1"), point("V1.1"), point("V2.6")),
            Move(point(found_name("C2") + ".2"), point("P1.cw"), point("V2.7")),
        ],
        "wrong-point",
        "Both leads of C2 (22n capacitor) are on the wrong points: it sits between V2.6 and V2.7 "
        "and belongs between V1.1 and P1.cw.",
    ),
    "another kind of part": (
        [
            Remove("@6"),
            Fit(part("@6", "resistor", "22k"), (("1", point("V1.1")), ("2", point("P1.cw")))),
        ],
        "wrong-type",
        "A 22k resistor is fitted between V1.1 and P1.cw where the drawing has C2 (22n capacitor).",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_one_mistake_is_one_finding_in_these_words(case: str) -> None:
    edits, kind, text = CASES[case]
    result = compare(drawing(), chassis(*edits))
    harmful = [f for f in result.findings if not f.harmless]
    assert [f.kind for f in harmful] == [kind]
    assert harmful[0].text.startswith(text)
    assert_proven(result)


def assert_proven(result: Comparison) -> None:
    assert result.proof.sufficient, result.proof.why
    assert result.proof.minimal
    assert compare(result.reference, result.repaired).equal


HARMLESS: dict[str, tuple[list[Edit], str]] = {
    "halves exchanged": (
        [Rewire("V1", tuple(zip("123678", "678123", strict=True)))],
        "sections-exchanged",
    ),
    "better rating": ([changes("C3", voltage=parse("630V", "V"))], "better-rating"),
    "two make one": (
        [
            Remove("@5"),
            Fit(part("@5", "electrolytic", "12u"), (("+", point("V1.3")), ("-", point("chassis")))),
            Fit(
                part("@50", "electrolytic", "13u"), (("+", point("V1.3")), ("-", point("chassis")))
            ),
        ],
        "combined-parts",
    ),
    "two in series make one": (
        [
            Remove("@7"),
            Fit(part("@7", "resistor", "120k"), (("1", point("V1.6")), ("2", point("TS1.1")))),
            Fit(
                part("@70", "resistor", "100k"), (("1", point("TS1.1")), ("2", point("C9.square")))
            ),
        ],
        "combined-parts",
    ),
}


@pytest.mark.parametrize("case", HARMLESS)
def test_harmless_differences_are_notes(case: str) -> None:
    edits, kind = HARMLESS[case]
    result = compare(drawing(), chassis(*edits))
    assert [(f.kind, f.harmless) for f in result.findings] == [(kind, True)]
    assert result.equal
    assert_proven(result)


def test_nothing_to_say_about_a_board_as_drawn() -> None:
    result = compare(drawing(), chassis(turn("@1", "1", "2"), turn("L1", "1", "2")))
    assert [f for f in result.findings if not f.harmless] == []
    assert_proven(result)


def test_what_was_not_read_is_not_called_right() -> None:
    unread = changes("C2", value=None, unread=frozenset({"value"}))
    result = compare(drawing(), chassis(unread))
    assert [(f.kind, f.parts) for f in result.findings] == [("not-verified", ("C2",))]
    assert result.findings[0].text == (
        "C2 (capacitor between V1.1 and P1.cw) was taken for right, but its value was not read."
    )


def test_an_end_that_nobody_saw_is_not_called_right() -> None:
    hidden = changes("C2", unseen=frozenset({"2"}))
    board = chassis(hidden)
    board = board.but(links=[x for x in board.links if x.a != point("@6.2")])
    result = compare(drawing(), board)
    assert [f.kind for f in result.findings] == ["not-verified"]
    assert "goes to P1.cw" in result.findings[0].text
    assert result.proof.sufficient


def test_furniture_that_nobody_read_is_one_note() -> None:
    unread = [Change(n, _unread(n)) for n in ("V1", "V2", "P1")]
    result = compare(drawing(), chassis(*unread))
    assert [(f.kind, f.parts) for f in result.findings] == [("not-verified", ("V1", "V2", "P1"))]


def _unread(name: str) -> object:
    from dataclasses import replace

    return replace(chassis().parts[name], type="", value=None, unread=frozenset({"type", "value"}))


def test_two_errors_on_one_socket() -> None:
    edits = [Rewire("V1", MIRROR), turn("V1", "2", "3")]
    result = compare(drawing(), chassis(*edits))
    assert sorted(f.kind for f in result.findings) == ["pins-exchanged", "socket-mirrored"]
    assert result.proof.cost == 2
    assert_proven(result)


def test_every_kind_that_is_reported_has_a_title() -> None:
    reported = {kind for _, kind, _ in CASES.values()} | {kind for _, kind in HARMLESS.values()}
    assert reported <= set(KINDS)
