"""The answer on power: which items stand in its way, what a decision can lift and what not."""

from dataclasses import dataclass

import pytest

from buzzout.circuit import Circuit
from buzzout.compare import Comparison, Finding, Matching, Proof
from buzzout.job.gate import ISOLATING, LIMITED, LIMITER, NOTHING_FOUND, REFUSED, decided, gate
from buzzout.job.punch import Item, accepting
from buzzout.job.rulebook import Judgement
from buzzout.language.coverage import Coverage

EMPTY = Circuit()
WHOLE = Coverage(40, 0, (), (), (), (), (), ())


def comparison(*, sufficient=True, why=()):
    proof = Proof(sufficient, True, 0, 0, why=why)
    return Comparison(EMPTY, EMPTY, (), proof, Matching(), EMPTY)


def items(*severities):
    return [
        Item(n, Finding(f"f{n}", "value-wrong", "text"), severity, "why", "how")
        for n, severity in enumerate(severities, 1)
    ]


@dataclass(frozen=True)
class Case:
    severities: tuple[str, ...]
    accepted: tuple[str, ...]
    state: str
    because: tuple[int, ...]


CASES = [
    Case((), (), NOTHING_FOUND, ()),
    Case(("note",), (), NOTHING_FOUND, ()),
    Case(("fault", "note"), (), LIMITED, (1,)),
    Case(("fault", "note"), ("f1",), NOTHING_FOUND, ()),
    Case(("damage", "fault"), (), REFUSED, (1,)),
    Case(("damage", "fault"), ("f1",), LIMITED, (1, 2)),
    Case(("damage", "fault"), ("f1", "f2"), LIMITED, (1,)),
    Case(("danger", "damage"), (), REFUSED, (1, 2)),
    Case(("danger", "damage"), ("f1", "f2"), REFUSED, (1,)),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_states(case):
    listed = items(*case.severities)
    facts = gate(listed, Judgement(), WHOLE, comparison())
    told = decided(facts, listed, dict.fromkeys(case.accepted, 'because "x" by "B. Tester"'))
    assert (told.state, told.because) == (case.state, case.because)
    assert len(told.accepted) == len(case.accepted)
    assert (LIMITER in told.watch) == (told.state == LIMITED)


def test_a_set_without_a_transformer_can_be_accepted_behind_an_isolating_one():
    finding = Finding("live-chassis:M1", "value-wrong", "text")
    listed = [Item(1, finding, "danger", "why", "how", rule="live-chassis")]
    facts = gate(listed, Judgement(), WHOLE, comparison())
    assert facts.state == REFUSED
    told = decided(facts, listed, {"live-chassis:M1": 'because "made so" by "B. Tester"'})
    assert told.state == LIMITED
    assert told.watch[:2] == (LIMITER, ISOLATING)


def test_who_accepted_stands_in_it():
    listed = items("fault")
    facts = gate(listed, Judgement(), WHOLE, comparison())
    told = decided(facts, listed, {"f1": 'because "tone is not used" by "B. Tester"'})
    assert told.accepted == ('number 1, wrong value: because "tone is not used" by "B. Tester"',)


@pytest.mark.parametrize(
    ("coverage", "says"),
    [
        (None, "how much of the chassis was written down is not known"),
        (Coverage(40, 3, (), (), (), (), (), ()), "leads and wires seen from one end only: 3"),
        (Coverage(40, 0, ((),), (), (), (), (), ()), "contradict each other: 1"),
    ],
)
def test_a_gap_in_the_transcription_keeps_it_behind_the_limiter(coverage, says):
    told = gate([], Judgement(), coverage, comparison())
    assert told.state == LIMITED
    assert says in " ".join(told.unchecked)


def test_a_list_that_is_not_proven_is_told():
    told = gate([], Judgement(), WHOLE, comparison(sufficient=False, why=("R4 is left over",)))
    assert told.state == LIMITED
    assert "the list may be incomplete: R4 is left over" in told.unchecked


@pytest.mark.parametrize("state", [REFUSED, LIMITED, NOTHING_FOUND])
def test_no_answer_says_safe(state):
    from buzzout.job.gate import VERDICTS

    assert "safe" not in VERDICTS[state].lower()


def test_a_decision_changes_the_list_as_a_whole(punched):
    punch = punched(("R5 resistor 1k5 V1.3 chassis", "R5 resistor 15k V1.3 chassis"))
    [item] = punch.items
    told = accepting(punch, {item.finding.id: 'because "stage not used" by "B. Tester"'})
    assert punch.gate.because == (1,)
    assert told.gate.because == ()
    assert told.verdict == told.gate.verdict
    assert told.items == punch.items


@pytest.mark.parametrize(
    ("features", "told"),
    [
        ({"cord", "reservoir"}, "the rules of the mains side and the HT, on the drawing"),
        ({"reservoir"}, "the rules of the HT, on the drawing"),
        (set(), ""),
    ],
)
def test_only_rules_that_had_something_to_judge_count_as_checked(features, told):
    facts = gate([], Judgement(features=frozenset(features)), WHOLE, comparison())
    ruled = [line for line in facts.checked if line.startswith("the rules")]
    assert [line.startswith(told) for line in ruled] == [True] * bool(told)
