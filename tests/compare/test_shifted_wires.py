"""Wires that were landed one tag too early: each is told, and no pins of a right socket."""

from __future__ import annotations

from pathlib import Path

import pytest

from buzzout.compare import Finding, compare
from buzzout.language import read

PARTS = """
socket V1 B9A ECC83
pot P1 500k log
jack J1 tip sleeve
strip TS1 6 tags
R68k resistor 68k TS1.1 TS1.2
R47k resistor 47k TS1.2 TS1.3
R33k resistor 33k TS1.3 TS1.4
R22k resistor 22k TS1.4 TS1.5
R10k resistor 10k TS1.5 TS1.6
R1M resistor 1M TS1.6 chassis
R100k resistor 100k P1.cw P1.wiper
"""


def circuit(folder: Path, kind: str, *wires: str) -> Path:
    text = "\n".join((f'{kind} "Five tags"', PARTS, *(f"wire {each}" for each in wires), ""))
    path = folder / f"{kind}.buzz"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def told(tmp_path: Path) -> list[Finding]:
    """What is told of four wires that all landed one tag too early."""
    ends = ("P1.ccw", "V1.1", "V1.3", "J1.tip")
    drawn = [f"{end} TS1.{tag}" for tag, end in enumerate(ends, 2)]
    found = [f"{end} TS1.{tag}" for tag, end in enumerate(ends, 1)]
    result = compare(
        read(circuit(tmp_path, "reference", *drawn)), read(circuit(tmp_path, "found", *found))
    )
    assert result.proof.sufficient
    assert result.proof.minimal
    return [f for f in result.findings if not f.harmless]


def test_each_wire_is_one_tag_off(told: list[Finding]) -> None:
    assert [f.kind for f in told] == ["wrong-point"] * 4
    assert {str(p) for f in told for p in f.points} == {f"TS1.{tag}" for tag in range(1, 6)}
