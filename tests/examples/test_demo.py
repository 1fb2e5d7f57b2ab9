"""The main job on the demo: each planted mistake is named once, and nothing else is."""

from collections import Counter
from pathlib import Path

import pytest
import yaml

import buzzout
from buzzout.circuit import Point, apply
from buzzout.language import load

DEMO = Path(__file__).parents[2] / "examples" / "hall-amplifier"
PLANTED = yaml.safe_load((DEMO / "planted.yaml").read_text(encoding="utf-8"))["planted"]


@pytest.fixture(scope="module")
def compared():
    drawing = load(DEMO / "hall-amplifier.reference.buzz").circuit
    chassis = load(DEMO / "as-received.found.buzz", drawing).circuit
    return buzzout.compare(drawing, chassis)


def test_each_planted_mistake_is_named_once_and_nothing_else(compared):
    named = Counter((f.kind, tuple(sorted(f.parts)), f.harmless) for f in compared.findings)
    planted = Counter(
        (p["kind"], tuple(sorted(p["parts"])), p["harmless"])
        for p in PLANTED
        if p["kind"] not in ("connection-missing", "bridge")
    )
    nodes = Counter(f.kind for f in compared.findings if f.kind in ("connection-missing", "bridge"))
    assert {k: n for k, n in named.items() if k[0] not in nodes} == planted
    assert nodes == Counter(p["kind"] for p in PLANTED if p["kind"] in nodes)


@pytest.mark.parametrize("plant", PLANTED, ids=lambda plant: plant["id"])
def test_it_is_told_where_it_is(compared, plant):
    """Some finding of the kind touches the very nodes of the chassis that were tampered with."""
    found = compared.found
    wanted = {found.node_of[_point(text)] for text in plant["points"]}
    touched = [
        {found.node_of[p] for p in f.points if p in found.node_of}
        | {found.node_of[found.landing(t)] for n in f.found for t in found.parts[n].points}
        for f in compared.findings
        if f.kind == plant["kind"]
    ]
    assert any(wanted & nodes or not wanted for nodes in touched)


def _point(text):
    owner, _, pin = text.partition(".")
    return Point(owner, pin)


def test_the_list_is_proved_sufficient_and_minimal(compared):
    assert compared.proof.sufficient
    assert compared.proof.minimal
    assert compared.proof.cost == sum(
        not p["harmless"] and p["kind"] != "not-verified" for p in PLANTED
    )


def test_applied_by_hand_the_list_leaves_nothing_to_do(compared):
    """Not the engine's own word for it: its remedies, applied here, compared afresh."""
    edits = [edit for finding in compared.findings for edit in finding.remedy]
    again = buzzout.compare(compared.reference, apply(compared.found, edits))
    assert [f for f in again.findings if not f.harmless and f.kind != "not-verified"] == []


def test_the_chassis_as_drawn_gives_nothing(compared):
    right = load(DEMO / "as-drawn.found.buzz", compared.reference).circuit
    assert buzzout.compare(compared.reference, right).findings == ()
