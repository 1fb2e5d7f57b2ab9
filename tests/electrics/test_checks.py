import itertools
import random
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from boards import point

from buzzout.circuit import CHASSIS, Change, Join, Move, Remove, apply, parse
from buzzout.electrics.checks import _cover, fewest_checks, gap_of, meter_check
from buzzout.electrics.resistance import resistances
from buzzout.language.load import read

AMP = Path(__file__).parent / "cases" / "small_amp.buzz"


@pytest.fixture(scope="module")
def amp():
    return read(AMP)


def with_value(circuit, name, text):
    part = circuit.parts[name]
    changed = replace(part, value=parse(text, part.value.unit).within(0.1))
    return apply(circuit, [Change(name, changed)])


MISTAKES = {
    "lead on the wrong pin": [Move(point("R3.1"), point("V2.3"), point("V2.4"))],
    "bridge": [Join(point("V2.7"), point("V2.6"))],
    "part missing": [Remove("R8")],
    "lead open": [Move(point("R10.1"), point("K"), point("V4.1"))],
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_the_reading_tells_found_from_repaired(amp, mistake):
    found = apply(amp, MISTAKES[mistake])
    check = meter_check(found, amp).check
    assert check is not None
    assert check.found.apart(check.repaired)
    assert gap_of(check) > 1.5
    for circuit, said in ((found, check.found), (amp, check.repaired)):
        assert resistances(circuit).between(check.at, check.to) == said


def test_nothing_is_promised_where_a_lead_goes_that_nobody_followed(amp):
    """It may join whatever it lands on to anything: the reading is taken elsewhere."""
    found = apply(amp, MISTAKES["bridge"])
    there = meter_check(found, amp).check
    at = {found.node_of[there.at], found.node_of[there.to]}
    lands = [p for p in found.parts.values() if at & {found.node_of[q] for q in p.points}]
    name = next(p.name for p in lands if not p.furniture)
    loose = replace(found.parts[name], unseen=frozenset(found.parts[name].terminals[:1]))
    blind = found.but({**found.parts, name: loose})
    unsure = {blind.node_of[p] for p in loose.points} - {blind.node(CHASSIS)}
    check = meter_check(blind, amp).check
    assert check is not None
    assert unsure
    assert {blind.node_of[check.at], blind.node_of[check.to]}.isdisjoint(unsure)
    assert check != there


def test_value_wrong_by_a_factor_is_read_to_chassis(amp):
    check = meter_check(with_value(amp, "R3", "15k"), amp).check
    assert str(check.to) == "chassis"
    assert check.at.owner == "V2"
    assert check.found.nominal == pytest.approx(15e3, rel=0.02)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("C2", "220n"), "capacitance meter"),
        (("C40", "2.5u"), "polarity mark"),
    ],
)
def test_capacitors_need_something_else(amp, change, words):
    advice = meter_check(with_value(amp, *change), amp)
    assert advice.check is None
    assert words in advice.instead


def test_equal_circuits_have_no_check(amp):
    assert meter_check(amp, amp).check is None


def test_fewest_readings_for_several_findings(amp):
    found = amp
    for edits in MISTAKES.values():
        found = apply(found, edits)
    repairs = []
    for skipped in MISTAKES:
        one = amp
        for name, edits in MISTAKES.items():
            if name != skipped:
                one = apply(one, edits)
        repairs.append(one)
    repairs.append(with_value(found, "C2", "220n"))
    checks, undecided = fewest_checks(found, repairs)
    assert undecided == (4,)
    assert 1 <= len(checks) <= 4
    ours = resistances(found)
    for number, repaired in enumerate(repairs[:4]):
        theirs = resistances(repaired)
        told = [c for c in checks if number in c.decides]
        assert told
        for check in told:
            reading = check.readings[check.decides.index(number)]
            exact = theirs.between(check.at, check.to)
            assert reading.nominal == pytest.approx(exact.nominal, rel=1e-6)
            assert reading.apart(ours.between(check.at, check.to))


@pytest.mark.parametrize("seed", range(30))
def test_cover_is_the_smallest(seed):
    """Against brute force over all subsets of columns."""
    rng = random.Random(seed)
    rows, columns = rng.randrange(1, 6), rng.randrange(1, 9)
    decides = np.array([[rng.random() < 0.4 for _ in range(columns)] for _ in range(rows)])
    able = {r for r in range(rows) if decides[r].any()}
    got = _cover(decides, np.ones(columns))
    assert able == {r for r in able if any(decides[r, c] for c in got)}
    smallest = next(
        size
        for size in range(columns + 1)
        if any(
            all(any(decides[r, c] for c in pick) for r in able)
            for pick in itertools.combinations(range(columns), size)
        )
    )
    assert len(got) == smallest
