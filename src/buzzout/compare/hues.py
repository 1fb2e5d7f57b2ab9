"""Colours of bounded radius as in `colours.py`, many times faster, for guesses alone.

A colour is a number of 64 bits that is mixed from those around; that two different surroundings
get the same one is as good as impossible, but not proven to be. Mixing is the finaliser of
SplitMix64 (Steele, Lea, Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014).
What lies around is summed up, so that its order does not matter.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping

import numpy as np
import numpy.typing as npt

from buzzout.compare.colours import FARTHEST, Half

Hues = npt.NDArray[np.uint64]
Ints = npt.NDArray[np.int64]
ODD = np.uint64(0x9E3779B97F4A7C15)  # the golden ratio in 64 bits, as in SplitMix64


def mixed(number: Hues) -> Hues:
    """Numbers of 64 bits, each spread over all its bits."""
    z = number + ODD
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return z ^ (z >> np.uint64(31))


class Hued:
    """One side, ready to be coloured."""

    def __init__(self, half: Half, numbers: dict[Hashable, int]) -> None:
        """`numbers` are those of looks and anchors, the same for both sides."""

        def number(what: Hashable) -> int:
            return numbers.setdefault(what, len(numbers))

        leads = [
            (part, node, s + 1 if polar else 0)
            for part, (_, ends, polar) in enumerate(half.parts)
            for s, node in enumerate(ends)
        ]
        self._part, self._node, side = np.array(leads, dtype=np.int64).reshape(-1, 3).T
        self._side = mixed(side.astype(np.uint64))
        self._looks = mixed(np.array([number(look) for look, _, _ in half.parts], dtype=np.uint64))
        self._bare = mixed(np.array([number(pins) for pins in half.anchors], dtype=np.uint64))

    def colours(self, named: Mapping[int, int]) -> Iterator[Hues]:
        """The colours of the nodes at each radius; `named` ones have that of their name."""
        rows = np.array([*named], dtype=np.int64)
        names = mixed(mixed(np.array([*named.values()], dtype=np.uint64)))
        hues = self._around(self._bare, self._looks)
        for _ in range(FARTHEST + 1):
            hues[rows] = names
            yield hues
            far = mixed(hues[self._node] + self._side)
            hues = self._around(hues, mixed(_summed(self._looks, self._part, far)))

    def _around(self, hues: Hues, parts: Hues) -> Hues:
        """Colours of nodes from what they were and from those of the parts on them."""
        return mixed(_summed(hues * ODD, self._node, mixed(parts[self._part] + self._side)))


def _summed(start: Hues, at: Ints, more: Hues) -> Hues:
    total = start.copy()
    np.add.at(total, at, more)
    return total


def alike(ours: Hues, theirs: Hues) -> int:
    """How many of one side have their like, each its own, on the other."""
    (one, here), (two, there) = (np.unique(hues, return_counts=True) for hues in (ours, theirs))
    _, a, b = np.intersect1d(one, two, assume_unique=True, return_indices=True)
    return int(np.minimum(here[a], there[b]).sum())
