"""Nodes follow from links; edits change links and parts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buzzout.circuit import (
    CHASSIS,
    CannotApply,
    Change,
    Circuit,
    Cut,
    Fit,
    Join,
    Link,
    Move,
    Part,
    Point,
    Remove,
    Rewire,
    apply,
    as_step,
    joined,
    pieces,
)

V1 = Part("V1", "socket", tuple("123456789"), base="B9A", type="ECC83")
TS1 = Part("TS1", "strip", tuple("1234"))
R1 = Part("R1", "resistor", ("1", "2"))
C1 = Part("C1", "electrolytic", ("+", "-"))


def board(*links):
    return Circuit(parts={p.name: p for p in (V1, TS1, R1, C1)}, links=links)


def lead(end, at):
    return Link(
        Point(*end.split(".")), at if isinstance(at, Point) else Point(*at.split(".")), "lead"
    )


def wire(a, b):
    return Link(Point(*a.split(".")), Point(*b.split(".")), "wire")


BOARD = board(
    lead("R1.1", "TS1.1"), lead("R1.2", CHASSIS), wire("TS1.1", "V1.3"),
    lead("C1.+", "V1.3"), lead("C1.-", CHASSIS),
)  # fmt: skip


def same(circuit, *points):
    return len({circuit.node(Point(*p.split("."))) for p in points}) == 1


def test_nodes_are_groups_of_points_that_touch():
    assert same(BOARD, "R1.1", "TS1.1", "V1.3", "C1.+")
    assert same(BOARD, "R1.2", "C1.-", "chassis")
    assert not same(BOARD, "R1.1", "R1.2")
    assert BOARD.node(Point("V1", "9")) not in (BOARD.node(CHASSIS), BOARD.node(Point("R1", "1")))


def test_landing_is_where_a_lead_sits():
    assert BOARD.landing(Point("R1", "1")) == Point("TS1", "1")
    assert BOARD.landing(Point("V1", "9")) == Point("V1", "9")


def test_remove_takes_the_leads_along():
    after = apply(BOARD, [Remove("R1")])
    assert "R1" not in after.parts
    assert all("R1" not in (x.a.owner, x.b.owner) for x in after.links)


def test_fit_lands_each_end():
    part = Part("R2", "resistor", ("1", "2"))
    after = apply(BOARD, [Fit(part, (("1", Point("TS1", "2")), ("2", CHASSIS)))])
    assert after.landing(Point("R2", "1")) == Point("TS1", "2")
    assert same(after, "R2.2", "chassis")


def test_move_lifts_one_end_only():
    after = apply(BOARD, [Move(Point("TS1", "1"), Point("V1", "3"), Point("V1", "4"))])
    assert same(after, "R1.1", "V1.4")
    assert not same(after, "R1.1", "V1.3")


def test_cut_and_join():
    cut = apply(BOARD, [Cut(Point("V1", "3"), Point("TS1", "1"))])
    assert not same(cut, "TS1.1", "V1.3")
    assert same(apply(cut, [Join(Point("TS1", "1"), Point("V1", "3"))]), "TS1.1", "V1.3")


def test_rewire_turns_a_part_round():
    after = apply(BOARD, [Rewire("C1", (("+", "-"), ("-", "+")))])
    assert same(after, "C1.-", "V1.3")
    assert same(after, "C1.+", "chassis")


def test_change_keeps_name_and_links():
    after = apply(BOARD, [Change("V1", Part("x", "socket", V1.terminals, type="ECC81"))])
    assert after.parts["V1"].type == "ECC81"
    assert after.links == BOARD.links


POINTS = st.sampled_from([CHASSIS, *V1.points[:4], *TS1.points, *R1.points, *C1.points])
NAMES = st.sampled_from(["V1", "TS1", "R1", "C1", "R2"])
EDITS = st.one_of(
    st.builds(Remove, NAMES),
    st.builds(Join, POINTS, POINTS),
    st.builds(Cut, POINTS, POINTS),
    st.builds(Move, POINTS, POINTS, POINTS),
    st.builds(
        lambda one, two: Fit(Part("R2", "resistor", ("1", "2")), (("1", one), ("2", two))),
        POINTS,
        POINTS,
    ),
    st.just(Rewire("V1", (("1", "2"), ("2", "3"), ("3", "1")))),
    st.just(Rewire("C1", (("+", "-"), ("-", "+")))),
    st.builds(Change, NAMES, st.just(R1)),
)


@given(st.lists(EDITS, max_size=12))
def test_all_edits_at_once_are_the_same_as_one_after_another(edits):
    """Also in the order of the links; an edit that cannot be made stops both."""
    done, told, after = [], "", BOARD
    for edit in edits:
        try:
            after = apply(after, [edit])
        except CannotApply as error:
            told = str(error)
            break
        done.append(edit)
    assert apply(BOARD, done) == after
    if told:
        with pytest.raises(CannotApply) as caught:
            apply(BOARD, edits)
        assert str(caught.value) == told


@pytest.mark.parametrize(
    ("edit", "told"),
    [
        (Remove("R9"), "there is no part called R9"),
        (Fit(R1, ()), "there is a part called R1 already"),
        (Cut(Point("V1", "1"), CHASSIS), "nothing joins V1.1 and chassis directly"),
        (
            Move(CHASSIS, Point("V1", "1"), Point("V1", "2")),
            "nothing joins chassis and V1.1 directly",
        ),
    ],
)
def test_edits_that_cannot_be_made_say_why(edit, told):
    with pytest.raises(CannotApply) as caught:
        apply(BOARD, [edit])
    assert str(caught.value) == told


def test_an_edit_as_a_step_of_json():
    step = as_step(Move(Point("R1", "1"), Point("V1", "3"), CHASSIS))
    assert step == {"do": "move", "fixed": "R1.1", "old": "V1.3", "new": "chassis"}


@given(st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), max_size=20))
def test_joined_agrees_with_a_walk_over_the_graph(pairs):
    points = [Point("P", str(i)) for i in range(13)]
    groups = joined(points, [(points[a], points[b]) for a, b in pairs])
    near = {i: {i} for i in range(13)}
    for _ in range(13):
        for a, b in pairs:
            near[a] = near[b] = near[a] | near[b]
    for group in groups:
        reach = {int(p.pin) for p in group}
        assert all(near[i] <= reach for i in reach)
    assert sorted(int(p.pin) for g in groups for p in g) == list(range(13))


@given(st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), max_size=20))
def test_pieces_are_numbered_in_order_of_their_first_nodes(pairs):
    numbers = pieces(13, pairs)
    assert list(dict.fromkeys(numbers)) == list(range(max(numbers) + 1))
    assert numbers == pieces(13, [(b, a) for a, b in reversed(pairs)])
    assert all(numbers[a] == numbers[b] for a, b in pairs)
