"""What lies outside a region: which settled places there are as good as one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence

Wires = Iterable[tuple[int, int]]


class Outside:
    """The board around any region: what is joined there, whichever places are inside.

    Cost: linear in the wires to lay out; then as much as is asked for.

    Parameters
    ----------
    cores : mapping
        Settled place to the first of those that settled wires join with it.
    same : iterable of sequences
        Cores that are taken for one besides.
    wires : iterable of pairs
        The ends of wires that hold, as long as neither end is inside.
    """

    def __init__(
        self, cores: Mapping[int, int], same: Iterable[Sequence[int]], wires: Wires
    ) -> None:
        """Lay out the wires from core to core."""
        self._cores = cores
        self._first = {k: each[0] for each in same for k in each}
        self._beside: dict[int, set[int]] = defaultdict(set)
        for a, b in wires:
            one, two = self._core(a), self._core(b)
            self._beside[one].add(two)
            self._beside[two].add(one)

    def stand_ins(self, inside: set[int]) -> Callable[[int], int]:
        """The place that stands for one that a wire or lead ends on; one inside is itself."""
        known: dict[int, int] = {}

        def stand_in(place: int) -> int:
            start = self._core(place)
            if start in inside:
                return start
            if start not in known:
                reached = self._reached(start, inside)
                settled = [k for k in reached if k in self._cores]
                known.update(dict.fromkeys(reached, min(settled or reached)))
            return known[start]

        return stand_in

    def _core(self, place: int) -> int:
        core = self._cores.get(place, place)
        return self._first.get(core, core)

    def _reached(self, start: int, inside: set[int]) -> set[int]:
        """All that wires join to a place without passing through the inside."""
        reached, ahead = {start}, [start]
        while ahead:
            more = self._beside.get(ahead.pop(), set()) - inside - reached
            reached |= more
            ahead += more
        return reached
