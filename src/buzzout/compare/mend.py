"""Take names back where they do not fit, and give them anew.

What percolation got wrong early, it built upon. The names around a place that does not fit, up to
some radius, are taken back, and the rest speaks for them once more (ruin and recreate: Schrimpf and
others, "Record breaking optimization results using the ruin and recreate principle", Journal of
Computational Physics 159, 2000). Now the names on all sides of the hole are heard at once, not
only those from where percolation came. Then the names of two groups are exchanged. What brings more
parts right is kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain, product

from buzzout.circuit import joined
from buzzout.compare.names import Names

FARTHEST = 8  # parts from what does not fit, at most, up to where names are taken back
MOST = 40  # groups that do not fit; of more no two are tried in each other's place


def mended(names: Names) -> Names:
    """The names after all changes that bring more parts right; each such change begins again."""
    better: Names | None = names
    while better:
        names, better = better, next(_better(better), None)
    return names


def _better(names: Names) -> Iterator[Names]:
    odd = names.odd()
    for changed, other in chain(_grown_anew(names, odd), _exchanged(names, odd)):
        touched = sorted(names.sides.around(changed).union(changed))
        if other.right(touched) > names.right(touched):
            yield other


def _grown_anew(names: Names, odd: list[int]) -> Iterator[tuple[Iterable[int], Names]]:
    """Groups around what is odd, wider and wider, named anew: what hangs together, then all."""
    reach = {n: {n} for n in odd}
    for _ in range(FARTHEST + 1):
        holes = joined((), ((n, m) for n, ball in reach.items() for m in sorted(ball)))
        if len(holes) > 1:
            holes.append([n for hole in holes for n in hole])
        yield from ((hole, names.anew(hole)) for hole in holes)
        reach = {n: ball | names.sides.around(ball) for n, ball in reach.items()}


def _exchanged(names: Names, odd: list[int]) -> Iterator[tuple[Iterable[int], Names]]:
    """Every two odd groups in each other's place, and each as a node that no group is yet."""
    if len(odd) > MOST:
        return
    given = names.given
    rows, _ = names.open()
    places = [(n, given[n]) for n in odd if n in given]
    places += [(-1, names.sides.nodes[m]) for m in rows[:MOST]]
    for n, (other, node) in product(odd, places):
        if n == other or (n > other >= 0 and n in given):
            continue
        changed = {k: v for k, v in given.items() if k not in (n, other)} | {n: node}
        if n in given and other >= 0:
            changed[other] = given[n]
        yield [k for k in (n, other) if k >= 0], Names(names.sides, changed)
