"""Laws of the list, on the small set with wires planted anywhere and no engine in between."""

from hypothesis import given, settings
from hypothesis import strategies as st
from test_judge_laws import LIVE, point, the_set

from buzzout.circuit import CHASSIS, Cut, Join, apply
from buzzout.compare import Comparison, Finding, Matching, Proof
from buzzout.job import punch_list
from buzzout.job.rulebook import SEVERITIES

DRAWING = the_set()
ENDS = st.sampled_from([p for p in DRAWING.points if p.pin])
WIRES = st.lists(st.tuples(ENDS, ENDS).filter(lambda w: w[0] != w[1]), min_size=1, max_size=3)


def planted(wires):
    """The set with wires added, and one finding for each, as an engine would tell it."""
    board = apply(DRAWING, [Join(a, b) for a, b in wires])
    findings = tuple(
        Finding(f"f{n}", "bridge", f"{a} and {b} are joined", points=(a, b), remedy=(Cut(a, b),))
        for n, (a, b) in enumerate(wires)
    )
    proof = Proof(True, True, len(wires), len(wires))
    same = Matching(parts={name: (name,) for name in DRAWING.parts})
    return Comparison(DRAWING, board, findings, proof, same, DRAWING)


@given(WIRES)
@settings(deadline=None, max_examples=25)
def test_any_wires_give_a_list_that_is_whole_and_in_order(wires):
    punch = punch_list(planted(wires), consequences=True)
    assert sorted(i.finding.id for i in punch.items) == sorted(f"f{n}" for n in range(len(wires)))
    ranks = [SEVERITIES.index(i.severity) for i in punch.everything]
    assert ranks == sorted(ranks)
    assert all(i.why for i in punch.everything)
    assert punch.gate.verdict == punch.verdict
    assert (punch.gate.state == "do not power") == punch.dangerous


@given(st.sampled_from(LIVE), WIRES)
@settings(deadline=None, max_examples=25)
def test_a_live_chassis_stands_first_whatever_else_is_wrong(start, others):
    wires = [*others, (point(start), CHASSIS)]
    punch = punch_list(planted(wires))
    worst = next(i for i in punch.items if i.finding.id == f"f{len(others)}")
    assert worst.severity == "danger"
    assert all(i.severity == "danger" for i in punch.everything[: worst.number])


@given(WIRES)
@settings(deadline=None, max_examples=15)
def test_the_order_of_findings_changes_no_verdict(wires):
    """Law: severity and reason belong to the finding, not to where it stands in the comparison."""
    one = {i.finding.text: (i.severity, i.why) for i in punch_list(planted(wires)).items}
    other = {i.finding.text: (i.severity, i.why) for i in punch_list(planted(wires[::-1])).items}
    assert one == other
