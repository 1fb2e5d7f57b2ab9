"""Laws of the rules: what is planted is told, whatever it is made of and wherever it lies."""

import itertools
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st
from small_set import SET

from buzzout.circuit import CHASSIS, Fit, Join, Part, Point, apply, parse
from buzzout.job.judge import judged
from buzzout.job.punch import Item
from buzzout.language import load

LIVE = ("M1.L", "M1.N", "F1.1", "F1.2", "S1.a", "S1.a1", "T1.0", "T1.210", "T1.230")
KINDS = {
    "resistor": ("ohm", "1M"), "capacitor": ("F", "10n"), "lamp": ("V", "110V"),
    "thermistor": ("ohm", "1k"), "inductor": ("H", "10m"), "electrolytic": ("F", "8u"),
}  # fmt: skip


@cache
def the_set():
    with TemporaryDirectory() as folder:
        path = Path(folder) / "it.buzz"
        path.write_text(SET, encoding="utf-8")
        return load(path).sound().circuit


def point(text):
    return Point(*text.split("."))


def part(number, kind):
    unit, value = KINDS[kind]
    terminals = ("+", "-") if kind == "electrolytic" else ("1", "2")
    return Part(f"X{number}", kind, terminals, value=parse(value, unit))


def chain(kinds, start, end):
    """Parts in series from one point to another: the joints are terminals of the parts."""
    parts = [part(n, kind) for n, kind in enumerate(kinds)]
    places = [start, *(p.points[0] for p in parts[1:]), end]
    for each, (a, b) in zip(parts, itertools.pairwise(places), strict=True):
        yield Fit(each, tuple((t, p) for t, p in zip(each.terminals, (a, b), strict=True)
                              if p != each.point(t)))  # fmt: skip


@given(st.lists(st.sampled_from(sorted(KINDS)), min_size=1, max_size=3), st.sampled_from(LIVE))
@settings(deadline=None, max_examples=60)
def test_any_chain_from_the_mains_to_the_chassis_is_told(kinds, start):
    circuit = apply(the_set(), chain(kinds, point(start), CHASSIS))
    told = [v for v in judged(circuit).violations if v.kind.startswith(("path", "line"))]
    assert [v.level for v in told] == ["danger"] * len(told)
    names = {f"X{n}" for n in range(len(kinds))}
    assert any(names & set(v.parts) for v in told)
    assert told


@given(st.sampled_from(LIVE), st.sampled_from(["chassis", "J1.tip", "LS1.1", "V2.3", "T1.h6"]))
@settings(deadline=None, max_examples=40)
def test_a_wire_from_the_mains_to_anything_of_the_set_is_a_danger(start, end):
    far = CHASSIS if end == "chassis" else point(end)
    told = judged(apply(the_set(), [Join(point(start), far)])).violations
    assert any(v.level == "danger" and v.rule.reaches for v in told)


POINTS = st.sampled_from([p for p in the_set().points if p.pin])


@given(st.lists(st.tuples(POINTS, POINTS), min_size=1, max_size=5))
@settings(deadline=None, max_examples=60)
def test_the_rules_never_fail_on_a_wild_circuit(pairs):
    """Law: an answer, the same one twice; every violation tells parts and a rule of the book."""
    circuit = apply(the_set(), [Join(a, b) for a, b in pairs])
    told = judged(circuit)
    assert told == judged(circuit)
    for each in told.violations:
        assert each.title
        assert each.text
        assert set(each.parts) <= set(circuit.parts)
        assert all(p in circuit.node_of for p in each.points)


def test_an_item_keeps_its_first_five_fields():
    """Other rooms build and read it by place: number, finding, severity, why, confirm."""
    assert list(Item.__dataclass_fields__)[:5] == [
        "number", "finding", "severity", "why", "confirm",
    ]  # fmt: skip
