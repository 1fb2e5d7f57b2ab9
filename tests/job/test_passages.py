"""What a current can pass: ways through parts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_set import SET

from buzzout.circuit import Circuit, Link, Part, Point
from buzzout.job.passages import Ways


def resistor(number, a, b):
    part = Part(f"R{number}", "resistor", ("1", "2"))
    return part, [Link(part.point(t), Point(f"n{n}"), "lead") for t, n in (("1", a), ("2", b))]


def net(edges):
    made = [resistor(i, a, b) for i, (a, b) in enumerate(edges)]
    parts = {part.name: part for part, _ in made}
    names = tuple(f"n{i}" for i in range(9))
    return Circuit(parts=parts, links=tuple(x for _, ends in made for x in ends), names=names)


EDGES = st.lists(st.tuples(st.integers(0, 8), st.integers(0, 8)), max_size=14)


def always(_):
    return True


@given(EDGES, st.integers(0, 8), st.integers(0, 8))
def test_a_way_exists_where_the_goal_is_reached_and_is_connected(edges, a, b):
    """Law: `path` and `reached` agree, and the steps of a path hang together."""
    ways = Ways(net(edges))
    start, goal = ways.node(Point(f"n{a}")), ways.node(Point(f"n{b}"))
    path = ways.path([start], frozenset([goal]), always)
    assert (path is not None) == (goal in ways.reached([start], always))
    here = start
    for step in path or ():
        ends = {ways.node(step.a), ways.node(step.b)}
        assert here in ends
        [here] = ends - {here}
    assert path is None or here == goal


@given(EDGES, st.integers(0, 8), st.integers(0, 8))
def test_a_way_is_the_shortest(edges, a, b):
    """Law: the length agrees with plain breadth-first levels, done another way."""
    ways = Ways(net(edges))
    start, goal = ways.node(Point(f"n{a}")), ways.node(Point(f"n{b}"))
    level, seen = {start}, {start}
    steps = 0
    while level and goal not in level:
        level = {f for n in level for _, f in ways.at.get(n, ())} - seen
        seen |= level
        steps += 1
    path = ways.path([start], frozenset([goal]), always)
    assert (len(path) if path is not None else None) == (steps if goal in level else None)


@pytest.mark.parametrize(
    ("a", "b", "how"),
    [
        ("T1.0", "T1.230", ["winding", "winding"]),
        ("S1.a", "S1.a1", ["contact"]),
        ("PL1.1", "PL1.2", ["lamp"]),
        ("F1.1", "F1.2", ["fuse"]),
        ("C30.square", "C30.can", ["capacitor"]),
    ],
)
def test_ways_of_the_set(circuit, a, b, how):
    made = circuit(SET)
    ways = Ways(made)
    ends = [ways.node(Point(*p.split("."))) for p in (a, b)]
    owner = a.split(".", maxsplit=1)[0]
    path = ways.path([ends[0]], frozenset([ends[1]]), lambda p: p.part.name == owner)
    assert [step.how for step in path] == how


def test_no_way_leads_through_the_core_of_a_transformer(circuit):
    ways = Ways(circuit(SET))
    reached = ways.reached([ways.node(Point("T1", "0"))], lambda p: p.part.name == "T1")
    assert ways.node(Point("T1", "red1")) not in reached
