"""Capacitors made for the mains, classes X and Y (IEC 60384-14), against what is found for them."""

from __future__ import annotations

import pytest

from buzzout.circuit import Part, parse
from buzzout.compare.values import judge


def part(words: str) -> Part:
    """`275V X2`, or less."""
    volts = next((w for w in words.split() if w.endswith("V")), "")
    style = tuple(w for w in words.split() if not w.endswith("V"))
    rated = parse(volts, "V") if volts else None
    return Part("C1", "capacitor", ("1", "2"), value=parse("100n", "F"), voltage=rated, style=style)


@pytest.mark.parametrize(
    ("drawn", "found", "told"),
    [
        ("275V X2", "275V X2", []),
        ("275V X2", "275V X1", ["better-rating"]),
        ("275V X2", "275V Y2", ["better-rating"]),
        ("275V Y2", "275V X1", ["under-rated"]),
        ("275V X1", "275V X2", ["under-rated"]),
        ("275V X2", "250V X2", ["under-rated"]),
        ("275V X2", "400V paper", ["under-rated"]),
        ("275V X2", "1000V polyester", ["under-rated"]),
        ("250V Y1", "630V paper", ["under-rated"]),
        ("275V X2", "400V", ["not-verified"]),
        ("275V X2", "", ["not-verified"]),
        ("350V paper", "275V X2", ["better-rating"]),
        ("400V paper", "275V X2", ["not-verified"]),
        ("paper", "275V X2", []),
        ("250V paper", "275V X2", ["better-rating"]),
    ],
)
def test_what_stands_for_a_mains_capacitor(drawn: str, found: str, told: list[str]) -> None:
    remarks = judge(part(drawn), part(found)).remarks
    assert [r.kind for r in remarks] == told
    assert all(r.harmless == (r.kind == "better-rating") for r in remarks)
