"""The small examples: the comparison names what their head says, and proves it."""

from __future__ import annotations

from pathlib import Path

import pytest

from buzzout.compare import compare
from buzzout.language import load

EXAMPLES = Path(__file__).parents[2] / "examples"
CASES = [
    (
        "valve-stage/with-three-mistakes",
        {("value-wrong", ("R3",)), ("reversed", ("C1",)), ("wrong-point", ("C2",))},
    ),
    ("power-supply/live-chassis", {("leads-exchanged", ("M1",))}),
]


@pytest.mark.parametrize(("name", "wanted"), CASES, ids=[name for name, _ in CASES])
def test_names_each_mistake_once(name: str, wanted: set[tuple[str, tuple[str, ...]]]) -> None:
    loaded = load(EXAMPLES / f"{name}.found.buzz")
    assert loaded.drawing is not None
    told = compare(loaded.drawing, loaded.circuit)
    assert {(finding.kind, finding.parts) for finding in told.findings} == wanted
    assert len(told.findings) == len(wanted)
    assert not any(finding.harmless for finding in told.findings)
    assert told.proof.sufficient
    assert told.proof.minimal
