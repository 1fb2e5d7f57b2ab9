"""How rules, places and computations become one verdict."""

import pytest

from buzzout.circuit import Circuit
from buzzout.compare import Comparison, Finding, Matching, Proof
from buzzout.job import verdicts as room
from buzzout.job.consequence import Consequence
from buzzout.job.rulebook import Judgement, Verdict, violation
from buzzout.job.verdicts import verdicts
from buzzout.job.weigh import Weighed

EMPTY = Circuit()
FEARED = Verdict("damage", "it is on the HT", fallback=True)
KNOWN = Verdict("damage", "by a rule")
DANGER = Verdict("danger", "by a rule", reaches=True)
FAULT = Verdict("fault", "will not work", fallback=True)
NOTE = Verdict("note", "harmless")

OVER = Consequence("With this alone R1 has to stand 2 W of its 1 W.", "damage", 2.0)
BURNS = Consequence("With this alone R1 has to stand 9 W of its 1 W.", "danger", 9.0)
CLEAN = Consequence("With this alone nothing goes over its limit.", "fault")
BLIND = Consequence("… (computed without V9).", "fault", eases=False)
UNKNOWN = Consequence("With this alone the computation does not settle (V5): unknown")


def told(placed, computed, broken=(), monkeypatch=None):
    finding = Finding("f1", "value-wrong", "text", parts=("R1",), found=("R1",))
    comparison = Comparison(EMPTY, EMPTY, (finding,), Proof(True, True, 1, 1), Matching(), EMPTY)
    weighed = Weighed((tuple(broken),), (), Judgement())
    monkeypatch.setattr(room, "judge", lambda _: [placed])
    return next(verdicts(comparison, weighed, (computed,)))


@pytest.mark.parametrize(
    ("placed", "computed", "severity", "why"),
    [
        (FEARED, None, "damage", "it is on the HT"),
        (FEARED, CLEAN, "fault", "computed, no limit is passed"),
        (FEARED, BLIND, "damage", "it is on the HT"),
        (KNOWN, CLEAN, "damage", "by a rule"),
        (FAULT, OVER, "damage", "computed: it drives a part past its limit"),
        (FAULT, BURNS, "danger", "computed: it drives a part past its limit"),
        (KNOWN, BURNS, "danger", "computed: it drives a part past its limit"),
        (FAULT, UNKNOWN, "damage", "could not be computed, so it ranks high"),
        (DANGER, UNKNOWN, "danger", "by a rule"),
        (DANGER, CLEAN, "danger", "by a rule"),
        (NOTE, None, "note", "harmless"),
    ],
)
def test_a_computation_raises_and_eases(placed, computed, severity, why, monkeypatch):
    verdict, _ = told(placed, computed, monkeypatch=monkeypatch)
    assert verdict.severity == severity
    assert why in verdict.why


def test_a_rule_that_is_broken_gives_its_reason(monkeypatch):
    broken = violation("fuse-in-neutral", "F1 stands in the neutral", ("F1",))
    verdict, _ = told(FAULT, None, [broken], monkeypatch)
    assert verdict.severity == "danger"
    assert verdict.reaches
    assert verdict.why == (
        "F1 stands in the neutral: when it blows the set is dead and its whole primary still live"
    )


def test_a_mild_rule_does_not_soften_a_grave_place(monkeypatch):
    broken = violation("fuse-before-switch", "S1 comes before F1", ("F1",))
    verdict, _ = told(DANGER, None, [broken], monkeypatch)
    assert verdict.severity == "danger"
    assert verdict.why.startswith("S1 comes before F1: ")
    assert verdict.why.endswith("by a rule")


def test_the_worst_of_several_rules_decides(monkeypatch):
    several = [
        violation("fuse-before-switch", "one", ("F1",)),
        violation("line-to-chassis", "two", ("M1",)),
    ]
    verdict, _ = told(FAULT, None, several, monkeypatch)
    assert verdict.why.startswith("two: ")
    assert "one: " in verdict.why


def test_what_is_told_of_power(monkeypatch):
    assert told(FEARED, CLEAN, monkeypatch=monkeypatch)[1] == CLEAN.text
    assert told(DANGER, CLEAN, monkeypatch=monkeypatch)[1] == ""
    assert told(DANGER, OVER, monkeypatch=monkeypatch)[1] == OVER.text


def test_order_of_verdicts():
    ranked = sorted(
        [NOTE, FAULT, FEARED, KNOWN, DANGER, Verdict("danger", "inside", times=9.0)],
        key=lambda v: v.urgency,
    )
    assert [v.why for v in ranked] == [
        "by a rule", "inside", "by a rule", "it is on the HT", "will not work", "harmless",
    ]  # fmt: skip
