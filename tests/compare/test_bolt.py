"""A missing earth wire is told with the bolt that the drawing leads it to."""

from __future__ import annotations

from pathlib import Path

from buzzout.compare import compare
from buzzout.language import load

DRAWN = """reference "A lead and its bolt"
cord M1 L N E
bond PE1
fuse F1 1A slow
resistor R1 1k F1.2 M1.N
wire M1.L F1.1
wire M1.E PE1
"""
FOUND = """found "Without its earth"
of "one.reference.buzz"
at M1.L
  wire brown to F1.1
at F1.2
  resistor 1k to M1.N
at M1.E nothing
"""


def test_the_wire_is_to_go_to_the_bolt(tmp_path: Path) -> None:
    (tmp_path / "one.reference.buzz").write_text(DRAWN, encoding="utf-8")
    (tmp_path / "one.found.buzz").write_text(FOUND, encoding="utf-8")
    drawing = load(tmp_path / "one.reference.buzz").circuit
    result = compare(drawing, load(tmp_path / "one.found.buzz", drawing).circuit)
    (missing,) = (f for f in result.findings if f.kind == "connection-missing")
    assert "M1.E and PE1 are not joined" in missing.text
    assert result.proof.sufficient
