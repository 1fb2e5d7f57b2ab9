"""A chassis that is still being written down: most of its sockets are bare, much is missing."""

from __future__ import annotations

from pathlib import Path

import pytest

from buzzout.compare import compare
from buzzout.compare.model import build
from buzzout.compare.task import task
from buzzout.language import load

HALL = Path("examples/hall-amplifier")


@pytest.mark.parametrize("lines", [60, 130, 180])
def test_it_is_proven_in_few_steps(tmp_path: Path, lines: int) -> None:
    """The relaxation is sharp: a free pin lets no node sit where a drawn one has to."""
    drawing = load(HALL / "hall-amplifier.reference.buzz").circuit
    text = (HALL / "as-received.found.buzz").read_text(encoding="utf-8")
    half = tmp_path / "half.found.buzz"
    half.write_text("\n".join(text.splitlines()[:lines]) + "\n", encoding="utf-8")
    proof = compare(drawing, load(half, drawing).circuit).proof
    assert proof.sufficient
    assert proof.minimal
    assert proof.steps < 8000


def test_a_bare_socket_has_no_other_numbering_and_no_exchanges(tmp_path: Path) -> None:
    """V1 is wired, V2 and P1 are bare: V2's wiring may be on V1, but no two bare pins change."""
    drawing = load(HALL / "hall-amplifier.reference.buzz").circuit
    found = tmp_path / "one.found.buzz"
    found.write_text('found "One"\nat V1.1\n  wire red to V1.6\n', encoding="utf-8")
    pieces = task(build(drawing, load(found, drawing).circuit)).pieces
    assert {frame.target for frame in pieces["V2"].frames} >= {"V1", "V2"}
    assert [frame.turn.kind for frame in pieces["V2"].frames if frame.target == "V2"] == [""]
    assert pieces["P1"].swaps == ()
    busy = {pin for pin in range(9) if pieces["V1"].places[pin] in _busy(pieces["V1"].places)}
    assert all(busy.intersection(swap.moved) for swap in pieces["V1"].swaps)


def _busy(places: tuple[int, ...]) -> set[int]:
    """The places of V1.1 and V1.6."""
    return {places[0], places[5]}
