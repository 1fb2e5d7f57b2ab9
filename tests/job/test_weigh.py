"""Rules and comparison together: nothing is lost and nothing is told twice."""

import pytest
from small_set import changed
from test_judge import PLANTED as MAINS
from test_judge_supply import PLANTED as SUPPLY

from buzzout.job.judge import judged

# The node that this case adds has no tag in a found file to be called by.
AWAY = "electrolytic reversed behind a resistor"
WITH_TAGS = [case for case in (*MAINS, *SUPPLY) if case[0] != AWAY]


@pytest.mark.parametrize("swaps", [c[1] for c in WITH_TAGS], ids=[c[0] for c in WITH_TAGS])
def test_each_broken_rule_is_told_once(swaps, punched):
    """What the chassis breaks is the reason of a finding or a line of its own, never both."""
    punch = punched(*swaps)
    board = {v.kind for v in judged(punch.comparison.found).violations}
    reasons = {rule for item in punch.items for rule in item.breaks}
    lines = {item.rule for item in punch.rules}
    assert reasons | lines == board
    assert not reasons & lines


@pytest.mark.parametrize("swaps", [c[1] for c in WITH_TAGS], ids=[c[0] for c in WITH_TAGS])
def test_what_the_drawing_breaks_itself_is_no_difference(swaps, punched):
    """The same set on both sides: every broken rule is a line, and says that the drawing has it."""
    punch = punched(*swaps, drawing=changed(*swaps))
    drawn = {v.kind for v in judged(punch.comparison.reference).violations}
    assert {item.rule for item in punch.rules} == drawn
    assert all(i.finding.text.startswith("The drawing itself has it") for i in punch.rules)
    assert punch.open == () or {i.finding.kind for i in punch.open} == {"not-verified"}
