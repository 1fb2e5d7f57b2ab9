"""The fewest errors on one socket against a judge that tries every numbering of its pins.

A part of its own lies between some pins and the chassis. The judge knows nothing of programmes: it
tries the socket as drawn, mirrored, shifted and both, on top of that every way to exchange up to
three pairs of pins or one ring of three, and every way to take the found parts for the drawn ones.
Costs: a numbering 1, mirrored and shifted 2, a pair 1, a ring 2, a lead off 1, a part of another
value or kind 1, the two resistors in each other's place 1. Pins that the valve joins inside (EF86:
2 and 7; EF80: 1 and 3, its cathode) are one pin; the ends of the heater, 4 and 5, may be exchanged
for nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache
from itertools import combinations, permutations
from random import Random

import numpy as np
import numpy.typing as npt
import pytest

from buzzout.circuit import CHASSIS, Circuit, Fit, Part, apply, parse
from buzzout.compare import compare

PARTS = (
    Part("R1", "resistor", ("1", "2"), value=parse("10k", "ohm")),
    Part("R2", "resistor", ("1", "2"), value=parse("15k", "ohm")),
    Part("C1", "capacitor", ("1", "2"), value=parse("1n", "F")),
    Part("L1", "inductor", ("1", "2"), value=parse("10m", "H")),
    Part("D1", "diode", ("a", "k"), type="1N4148"),
)
INSIDE = {"EF86": (2, 7), "EF80": (1, 3), "EL84": ()}
PINS = tuple(range(1, 10))
Ints = npt.NDArray[np.int64]


def circuit(kind: str, valve: str, at: Sequence[int]) -> Circuit:
    socket = Part("V1", "socket", tuple(map(str, PINS)), type=valve, base="B9A")
    fits = []
    for n, (part, pin) in enumerate(zip(PARTS, at, strict=True), 1):
        one = part if kind == "reference" else replace(part, name=f"@{n}")
        ends = zip(part.terminals, (socket.point(str(pin)), CHASSIS), strict=True)
        fits.append(Fit(one, tuple(ends)))
    return apply(Circuit(kind, parts={"V1": socket}), fits)


def numberings() -> Iterator[tuple[int, tuple[int, ...]]]:
    """Cost, and the found pin that serves for each drawn one."""
    for steps in range(9):
        shifted = tuple((p - 1 + steps) % 9 + 1 for p in PINS)
        yield bool(steps), shifted
        yield 1 + bool(steps), tuple(10 - p for p in shifted)


def exchanges() -> Iterator[tuple[int, dict[int, int]]]:
    """Up to three pairs without a common pin, or a ring of three; those of the heater are free."""
    pairs = list(combinations(PINS, 2))
    for count in range(4):
        for some in combinations(pairs, count):
            if len({p for pair in some for p in pair}) == 2 * count:
                table = {a: b for pair in some for a, b in (pair, pair[::-1])}
                yield count, table
    for a, b, c in permutations(PINS, 3):
        if a == min(a, b, c):
            yield 2, {a: b, b: c, c: a}


@cache
def ways() -> tuple[Ints, Ints]:
    """All numberings with all exchanges: costs, and drawn pin by found pin (0 unused)."""
    costs, rows = [], []
    for first, used in numberings():
        meant = {found: drawn for drawn, found in zip(PINS, used, strict=True)}
        for more, table in exchanges():
            free = table.get(used[3]) == used[4]  # the heater is turned round
            costs.append(first + more - free)
            rows.append([0, *(meant[table.get(pin, pin)] for pin in PINS)])
    return np.array(costs), np.array(rows)


def fewest(valve: str, drawn: Sequence[int], found: Sequence[int]) -> int:
    """The judge's count."""
    cost, meant = ways()
    one = np.arange(10)
    for pin in INSIDE[valve]:
        one[pin] = INSIDE[valve][0]
    wanted = one[np.array(drawn)]
    there = one[meant[:, np.array(found)]]
    off = there[:, None, :] != wanted[None, :, None]  # way, drawn resistor, found resistor
    each = np.arange(len(drawn))
    return min(
        int((cost + off[:, each, order].sum(axis=1)).min()) + _others(order)
        for order in permutations(range(len(PARTS)))
    )


def _others(order: Sequence[int]) -> int:
    """Parts that are others when drawn part n is found part `order[n]`."""
    others = sum(n != other for n, other in enumerate(order))
    return others - 1 if tuple(order[:2]) == (1, 0) else others


def slip(random: Random, at: Sequence[int]) -> list[int]:
    """A whole numbering, a pair of pins, or a lead on another pin."""
    what = random.choice(("numbering", "pair", "pair", "lead", "lead"))
    if what == "numbering":
        _, used = random.choice(list(numberings()))
        return [used[pin - 1] for pin in at]
    if what == "pair":
        a, b = random.sample(PINS, 2)
        return [{a: b, b: a}.get(pin, pin) for pin in at]
    moved = random.randrange(len(at))
    return [random.choice(PINS) if n == moved else pin for n, pin in enumerate(at)]


@pytest.mark.parametrize("valve", sorted(INSIDE))
@pytest.mark.parametrize("start", range(0, 60, 10))
def test_no_numbering_explains_a_socket_with_fewer_errors(valve: str, start: int) -> None:
    for seed in range(start, start + 10):
        random = Random(f"{valve} {seed}")
        drawn = random.sample(PINS, len(PARTS))
        found = drawn
        for _ in range(random.randint(1, 3)):
            found = slip(random, found)
        result = compare(circuit("reference", valve, drawn), circuit("found", valve, found))
        assert result.proof.sufficient, (seed, result.proof.why)
        assert result.proof.minimal, (seed, drawn, found)
        assert result.proof.cost == fewest(valve, drawn, found), (seed, drawn, found)
