"""How good and how fast the comparison is: tables and ratios, see README.md beside this file."""

from __future__ import annotations

import argparse
import statistics
import time
from collections import Counter
from itertools import pairwise
from math import log
from random import Random

from made import chassis, drawing
from slips_of_the_hand import plant

from buzzout.compare import compare
from buzzout.compare.colours import halves
from buzzout.compare.model import build, found_nodes
from buzzout.compare.refine import same


def errors(parts: int, boards: int, most: int) -> None:
    """Boards with 1 to `most` slips each."""
    count: Counter[str] = Counter()
    times = []
    for seed in range(boards):
        random = Random(seed)
        drawn = drawing(random, parts)
        board = chassis(random, drawn)
        board, planted = plant(random, board, drawn, random.randint(1, most))
        start = time.perf_counter()
        result = compare(drawn, board)
        times.append(time.perf_counter() - start)
        cost = sum(p.cost for p in planted)
        told = Counter(f.kind for f in result.findings if not f.harmless)
        count["cost at most as planted"] += result.proof.cost <= cost
        count["cheaper than planted"] += result.proof.cost < cost
        count["proven minimal"] += result.proof.minimal
        count["sufficient"] += result.proof.sufficient
        count["slips planted"] += len(planted)
        wanted = Counter(p.kind for p in planted)
        count["slips named by their kind"] += sum((wanted & told).values())
        count["boards named exactly"] += wanted == told
        count["as many findings as slips"] += sum(told.values()) == len(planted)
    print(f"{boards} boards of {parts} parts, 1 to {most} slips")
    for what in ("cost at most as planted", "cheaper than planted", "proven minimal",
                 "sufficient", "boards named exactly", "as many findings as slips"):  # fmt: skip
        print(f"  {what:28} {count[what]:5} of {boards}  {100 * count[what] / boards:6.1f} %")
    named, all_ = count["slips named by their kind"], count["slips planted"]
    print(f"  {'slips named by their kind':28} {named:5} of {all_}  {100 * named / all_:6.1f} %")
    ordered = sorted(times)
    late = ordered[int(0.95 * len(ordered))]
    print(f"  seconds: median {statistics.median(times):.2f}, 95 % below {late:.2f}, "
          f"longest {ordered[-1]:.2f}")  # fmt: skip


def size(sizes: list[int], slips: int) -> None:
    """Equal boards and boards with some slips, larger and larger."""
    print("   parts   equal s   slips  s  planted  cost  sufficient  minimal")
    before: list[tuple[int, float]] = []
    for parts in sizes:
        random = Random(parts)
        drawn = drawing(random, parts)
        board = chassis(random, drawn)
        start = time.perf_counter()
        equal = compare(drawn, board)
        seconds = time.perf_counter() - start
        assert equal.proof.cost == 0, "an equal board was not found equal"
        before.append((parts, seconds))
        line = f"{parts:8} {seconds:9.2f}"
        if slips:
            damaged, planted = plant(random, board, drawn, slips)
            start = time.perf_counter()
            result = compare(drawn, damaged)
            line += (f" {slips:7} {time.perf_counter() - start:5.1f} "
                     f"{sum(p.cost for p in planted):7} {result.proof.cost:5} "
                     f"{result.proof.sufficient!s:>11} {result.proof.minimal!s:>8}")  # fmt: skip
        print(line, flush=True)
    for (a, s), (b, t) in pairwise(before):
        print(f"  growth from {a} to {b} parts: exponent {log(t / s) / log(b / a):.2f}")


def equality(sizes: list[int]) -> None:
    """The exact decision against other deciders on the same graphs."""
    print("   parts  vertices   own s   igraph s  own/igraph   pynauty s  own/pynauty")
    for parts in sizes:
        random = Random(parts)
        drawn = drawing(random, parts)
        pair = build(drawn, chassis(random, drawn))
        start = time.perf_counter()
        assert same(pair), "an equal board was not found equal"
        own = time.perf_counter() - start
        one, two = (_graph(half) for half in halves(pair, found_nodes(pair.board)))
        line = f"{parts:8} {len(one[0]):9} {own:7.3f}"
        for judge in (_igraph, _pynauty):
            seconds = judge(one, two)
            line += (
                f" {seconds:10.3f} {own / seconds:11.1f}" if seconds else "        none           -"
            )
        print(line, flush=True)


def _graph(half: object) -> tuple[list[int], list[tuple[int, int]]]:
    """Colours and edges: a vertex for each node, part and lead of a polarised part."""
    nodes = len(half.anchors)  # type: ignore[attr-defined]
    colours = [hash(("node", tuple(sorted(a)))) for a in half.anchors]  # type: ignore[attr-defined]
    edges = []
    for look, ends, polar in half.parts:  # type: ignore[attr-defined]
        part = len(colours)
        colours.append(hash(("part", look)))
        for s, n in enumerate(ends):
            lead = len(colours)
            colours.append(hash(("lead", s if polar else 0)))
            edges += [(part, lead), (lead, n)]
    assert nodes <= len(colours)
    return colours, edges


def _dense(one: list[int], two: list[int]) -> tuple[list[int], list[int]]:
    number = {c: n for n, c in enumerate(sorted({*one, *two}))}
    return [number[c] for c in one], [number[c] for c in two]


def _igraph(one: tuple, two: tuple) -> float | None:
    try:
        import igraph  # noqa: PLC0415 - may be absent
    except ImportError:
        return None
    a, b = (igraph.Graph(len(c), e) for c, e in (one, two))
    mine, theirs = _dense(one[0], two[0])
    start = time.perf_counter()
    if a.vcount() != b.vcount() or sorted(mine) != sorted(theirs):
        return None
    assert a.isomorphic_bliss(b, color1=mine, color2=theirs, sh1="fsm", sh2="fsm")
    return time.perf_counter() - start


def _pynauty(one: tuple, two: tuple) -> float | None:
    try:
        import pynauty  # noqa: PLC0415 - may be absent
    except ImportError:
        return None
    if len(one[0]) > 5000:
        return None
    start = time.perf_counter()
    forms = []
    for colours, edges in (one, two):
        near: dict[int, list[int]] = {n: [] for n in range(len(colours))}
        for x, y in edges:
            near[x].append(y)
        cells: dict[int, set[int]] = {}
        for n, c in enumerate(colours):
            cells.setdefault(c, set()).add(n)
        order = [cells[c] for c in sorted(cells)]
        forms.append(pynauty.certificate(pynauty.Graph(
            len(colours), adjacency_dict=near, vertex_coloring=order)))  # fmt: skip
    assert forms[0] == forms[1]
    return time.perf_counter() - start


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=("errors", "size", "equality"))
    parser.add_argument("--parts", type=int, default=100)
    parser.add_argument("--boards", type=int, default=100)
    parser.add_argument("--most", type=int, default=6)
    parser.add_argument("--sizes", type=int, nargs="*", default=[100, 1000, 10000])
    parser.add_argument("--slips", type=int, default=0)
    given = parser.parse_args()
    if given.what == "errors":
        errors(given.parts, given.boards, given.most)
    elif given.what == "size":
        size(given.sizes, given.slips)
    else:
        equality(given.sizes)


if __name__ == "__main__":
    main()
