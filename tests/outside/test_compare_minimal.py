"""The fewest errors, against two judges on nets small enough for it: see `small_nets.py`.

Source of the second judge: the exact graph edit distance of networkx (Abu-Aisheh, Raveaux, Ramel
and Martineau, "An exact graph edit distance algorithm for solving pattern recognition problems",
ICPRAM 2015, as networkx cites it).
"""

from __future__ import annotations

from random import Random

import pytest
from small_nets import board, circuit, drawing, edit_distance, fewest

from buzzout.compare import compare

TOGETHER = ("combined-parts", "series-order")  # harmless to us; the judges know nothing of them


@pytest.mark.parametrize("start", range(0, 160, 20))
def test_no_explanation_has_fewer_errors(start: int) -> None:
    for seed in range(start, start + 20):
        random = Random(seed)
        drawn = drawing(random, random.choice((2, 3, 3, 4)), random.choice((3, 4)))
        found = board(random, drawn, random.choice((1, 2, 3)))
        if random.random() < 0.3:
            found = drawing(random, random.choice((2, 3)), random.choice((3, 4)))
        truth = fewest(drawn, found)
        assert edit_distance(drawn, found, truth) == truth, "the judges do not agree"
        result = compare(circuit(drawn, "reference"), circuit(found, "found"))
        assert result.proof.sufficient, result.proof.why
        assert result.proof.minimal
        if any(f.kind in TOGETHER for f in result.findings):
            assert result.proof.cost <= truth
        else:
            assert result.proof.cost == truth, f"seed {seed}: {drawn} {found}"
