"""Equality decided before anything is explained: furniture as drawn, parts as they may be."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from compare_stage import changed, chassis, drawing, found_name, point
from hypothesis import given
from hypothesis import strategies as st

from buzzout.circuit import Change, Circuit, Edit, Join, Link, Part, Point, Remove, parse
from buzzout.compare import compare
from buzzout.compare.model import build
from buzzout.compare.prove import Claim, Witness, differences
from buzzout.compare.refine import same

sys.path.insert(0, str(Path(__file__).parents[2] / "bench"))
import made as boards


def test_a_chassis_wired_as_drawn_is_the_same() -> None:
    assert isinstance(same(build(drawing(), chassis())), tuple)


@pytest.mark.parametrize("seed", range(10))
def test_an_idle_pin_asks_for_nothing(seed: int) -> None:
    """Boards with valves that leave pins free, and tags that nothing is on."""
    random = Random(seed)
    drawn = boards.drawing(random, 60)
    assert isinstance(same(build(drawn, boards.chassis(random, drawn))), tuple)


@pytest.mark.parametrize(
    "edit",
    [
        Remove(found_name("R7")),
        Change(found_name("R7"), changed("R7", value=None)),
        Join(point("V1.1"), point("V1.2")),
    ],
    ids=["part gone", "value unread", "bridge"],
)
def test_what_differs_is_not_the_same(edit: Edit) -> None:
    assert same(build(drawing(), chassis(edit))) is False


def test_furniture_wired_otherwise_is_not_the_same() -> None:
    """With no small part at all."""
    jacks = {name: Part(name, "jack", ("tip", "sleeve")) for name in ("J1", "J2")}
    one = Circuit("reference", parts=jacks, links=(Link(point("J1.tip"), point("J2.tip")),))
    two = Circuit("found", parts=jacks, links=(Link(point("J1.tip"), point("J2.sleeve")),))
    assert same(build(one, two)) is False
    assert compare(one, two).proof.cost == 1


# ---- circuits from tables of parts


Row = tuple[Part, tuple[int, ...]]


def circuit(kind: str, rows: list[Row]) -> Circuit:
    """Parts with the node of each lead; `rows` name them in their order."""
    parts, links = {}, []
    for n, (part, nodes) in enumerate(rows, 1):
        it = replace(part, name=f"P{n}" if kind == "reference" else f"@{n}")
        parts[it.name] = it
        links += [Link(p, Point(f"n{k}"), "lead") for p, k in zip(it.points, nodes, strict=True)]
    return Circuit(kind, parts=parts, links=tuple(links))


def shuffled(rows: list[Row], seed: int) -> list[Row]:
    """Parts in another order, nodes under other names, what has no direction turned at random."""
    random = Random(seed)
    nodes = sorted({k for _, at in rows for k in at})
    name = dict(zip(nodes, random.sample(nodes, len(nodes)), strict=True))
    other = [(part, tuple(name[k] for k in at)) for part, at in random.sample(rows, len(rows))]
    turn = [random.random() < 0.5 and part.swap == "same" for part, _ in other]
    return [(p, at[::-1] if t else at) for (p, at), t in zip(other, turn, strict=True)]


def told(one: list[Row], two: list[Row]) -> bool | None:
    """The answer, checked by substitution where it is yes."""
    drawn, found = circuit("reference", one), circuit("found", two)
    pair = build(drawn, found)
    fits = same(pair)
    if not fits:
        return fits
    witnesses = []
    for fit in fits:
        wanted, fitted = pair.drawing.smalls[fit.i].part, pair.board.smalls[fit.j].part
        ends = zip(wanted.terminals, (fitted.terminals[t] for t in fit.ends), strict=True)
        witnesses.append(Witness(wanted.name, fitted.name, tuple(ends)))
    assert differences(drawn, found, Claim(tuple(witnesses), {})) == []
    return True


def resistor(value: str, tolerance: float | None = None) -> Part:
    return Part("", "resistor", ("1", "2"), value=parse(value, "ohm").within(tolerance))


def diode(kind: str) -> Part:
    return Part("", "diode", ("a", "k"), type=kind)


TRIODES = Part("", "socket", tuple("123456789"), type="ECC83", base="B9A")
POT = Part("", "pot", ("ccw", "wiper", "cw"), value=parse("500k", "ohm"))


# ---- tolerances


def test_of_two_values_in_one_place_the_strict_part_takes_the_one_that_it_allows() -> None:
    """10k5 is right for 10k at 20 % and not at 2 %; 10k is right for both."""
    drawn = [(resistor("10k", 0.2), (1, 2)), (resistor("10k", 0.02), (1, 2))]
    found = [(resistor("10k"), (1, 2)), (resistor("10k5"), (1, 2))]
    assert told(drawn, found) is True
    assert told(drawn, found[::-1]) is True
    assert told(drawn, [found[1], found[1]]) is False


@pytest.mark.parametrize("pieces", [2, 5, 40])
def test_values_within_a_tolerance_are_no_equivalence(pieces: int) -> None:
    """Pieces of two resistors, half of them strict; what a strict one allows must be left for it.

    Found in the order in which the first that fits is the wrong one.
    """
    wide, strict = resistor("10k", 0.2), resistor("10k", 0.02)
    drawn = [
        (part, (3 * n + k, 3 * n + k + 1))
        for n in range(pieces)
        for k, part in enumerate((wide, wide if n % 2 else strict))
    ]
    found = [
        (resistor("10k" if k and n >= pieces // 2 else "10k5"), (3 * n + k, 3 * n + k + 1))
        for n in range(pieces)
        for k in range(2)
    ]
    assert told(drawn, found) is True
    assert told(drawn, shuffled(found, pieces)) is True
    assert told(drawn, found[:-2] + [(resistor("10k5"), at) for _, at in found[-2:]]) is False


def test_types_decide_where_values_do_not() -> None:
    """Rings of diodes of two types, one of them turned by one: the same; the other way: not."""
    types = ["1N4007", "1N4148", "1N4148", "1N4007", "1N4148", "1N4007"]
    one = [(diode(t), (n, (n + 1) % 6)) for n, t in enumerate(types)]
    turned = [(diode(t), (n, (n + 1) % 6)) for n, t in enumerate(types[1:] + types[:1])]
    back = [(diode(t), ((n + 1) % 6, n)) for n, t in enumerate(types)]
    assert told(one, turned) is True
    assert told(one, back) is (types[::-1] in [types[n:] + types[:n] for n in range(6)])


def test_a_type_that_was_not_read_is_right_for_any() -> None:
    drawn = [(diode("1N4007"), (0, 1)), (diode("1N4148"), (2, 3)), (diode("OA81"), (4, 5))]
    found = [(diode(""), (0, 1)), (diode("OA81"), (2, 3)), (diode("1N4007"), (4, 5))]
    assert told(drawn, found) is True
    assert told(drawn, [*found[:2], (diode("OA81"), (4, 5))]) is False


def test_more_values_than_are_judged_beforehand() -> None:
    """A ring of resistors that were measured; no two read the same, and few are near another."""
    size = 80
    values = [9450 + 14 * n for n in Random(5).sample(range(size), size)]
    ends = [(n, (n + 1) % size) for n in range(size)]
    drawn = [(resistor(str(v), 0.002), at) for v, at in zip(values, ends, strict=True)]
    plain = [replace(resistor("10k"), measured=parse(str(v), "ohm")) for v in values]
    read = [*zip(plain, ends, strict=True)]
    assert told(drawn, shuffled(read, 1)) is True
    crossed = [*zip([plain[1], plain[0], *plain[2:]], ends, strict=True)]
    assert told(drawn, shuffled(crossed, 1)) is False


# ---- parts of more than two leads


Bits = list[bool]


def ring_of_triodes(exchanged: Bits, crossed: Bits) -> list[Row]:
    """Double triodes, either section driving one of the next valve, the last the first.

    The sections of a valve may be exchanged, and the two lines from it to the next may cross.
    """
    rows: list[Row] = []
    earth, heater, many = 0, 1, len(exchanged)
    grid = {(n, line): 2 + 4 * n + line for n in range(many) for line in (0, 1)}
    anode = {key: node + 2 for key, node in grid.items()}
    for n in range(many):
        a, b = (n, int(exchanged[n])), (n, int(not exchanged[n]))
        first, second = ((anode[x], grid[x], earth) for x in (a, b))
        rows.append((TRIODES, (*first, heater, heater, *second, earth)))
        for line in (0, 1):
            far = grid[(n + 1) % many, line ^ crossed[n]]
            rows.append((resistor("470k"), (anode[n, line], far)))
    return rows


def turned(bits: Bits) -> list[Bits]:
    """A ring of bits, begun anywhere."""
    return [bits[n:] + bits[:n] for n in range(len(bits))]


@pytest.mark.parametrize("seed", range(40))
def test_sections_of_double_triodes_exchanged_in_a_ring(seed: int) -> None:
    """It matters only whether like sections follow on one another: nothing here has a name."""
    random = Random(seed)
    many = random.randint(3, 7)
    one, two = (
        [[random.random() < 0.4 for _ in range(many)] for _ in ("exchanged", "crossed")]
        for _ in ("drawn", "found")
    )
    if seed % 2:  # equal: some valves with both their sections and their four lines exchanged
        flip = [random.random() < 0.5 for _ in range(many)]
        two = [
            [e ^ f for e, f in zip(one[0], flip, strict=True)],
            [c ^ flip[n] ^ flip[(n + 1) % many] for n, c in enumerate(one[1])],
        ]

    def follow(exchanged: Bits, crossed: Bits) -> Bits:
        return [exchanged[n] ^ exchanged[(n + 1) % many] ^ c for n, c in enumerate(crossed)]

    truth = follow(*two) in turned(follow(*one))
    assert truth or not seed % 2
    assert told(ring_of_triodes(*one), shuffled(ring_of_triodes(*two), seed)) is truth


def ring_of_pots(reversed_: Bits) -> list[Row]:
    """Controls end to end, their sliders to one node."""
    rows: list[Row] = []
    for n, back in enumerate(reversed_):
        ends = (1 + n, 1 + (n + 1) % len(reversed_))[:: -1 if back else 1]
        rows += [(POT, (ends[0], 100 + n, ends[1])), (resistor("1M"), (100 + n, 0))]
    return rows


@pytest.mark.parametrize("seed", range(40))
def test_controls_in_a_ring_some_of_them_reversed(seed: int) -> None:
    """The ring may be read backwards too; then each control is the other way round."""
    random = Random(seed)
    one, two = ([random.random() < 0.5 for _ in range(random.choice((5, 6)))] for _ in range(2))
    if seed % 2:
        two = [not back for back in random.choice(turned(one))[::-1]]
    truth = two in turned(one) or [not back for back in two[::-1]] in turned(one)
    assert told(ring_of_pots(one), shuffled(ring_of_pots(two), seed)) is truth


@pytest.mark.parametrize("pieces", [30, 300])
def test_equal_pieces_with_nothing_between_cost_no_more_than_their_number(pieces: int) -> None:
    """Half of them one way, half the other: mirror images that only the diode tells apart."""
    rows: list[Row] = []
    for n in range(pieces):
        a, b, c, d = range(4 * n, 4 * n + 4)
        ends = (a, b) if n % 2 else (b, a)
        rows += [(diode("OA81"), ends), (resistor("1k"), (b, c)), (resistor("1k"), (c, d))]
    assert told(rows, shuffled(rows, pieces)) is True
    one_more = [*rows[:-3], (rows[-3][0], rows[-3][1][::-1]), *rows[-2:]]
    assert told(rows, shuffled(one_more, pieces)) is False


# ---- any circuit


@st.composite
def circuits(draw: st.DrawFn) -> list[Row]:
    """A few parts of a few kinds anywhere between a few nodes."""
    parts = [resistor("10k"), resistor("10k5"), diode("1N4148"), diode("1N4007"), POT, TRIODES]
    node = st.integers(0, draw(st.integers(1, 6)))
    some = draw(st.lists(st.sampled_from(parts), min_size=1, max_size=8))
    return [(p, tuple(draw(node) for _ in p.terminals)) for p in some]


@given(circuits(), st.integers(0, 999))
def test_a_circuit_is_its_shuffled_copy(rows: list[Row], seed: int) -> None:
    assert told(rows, shuffled(rows, seed)) is True


@given(circuits(), st.integers(0, 999), st.data())
def test_with_two_leads_exchanged_the_answer_is_the_same_both_ways(
    rows: list[Row], seed: int, data: st.DataObject
) -> None:
    leads = [(n, k) for n, (_, at) in enumerate(rows) for k in range(len(at))]
    (m, i), (n, k) = data.draw(st.tuples(*2 * [st.sampled_from(leads)]))
    other = [(part, list(at)) for part, at in rows]
    other[m][1][i], other[n][1][k] = other[n][1][k], other[m][1][i]
    found = shuffled([(part, tuple(at)) for part, at in other], seed)
    assert told(rows, found) is told(found, rows)
