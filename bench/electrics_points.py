"""How far valve models are off at published points that they were not fitted to: the error tables.

First every figure, then currents and slopes in short, then the gains of published stage tables by
kind of circuit, with what the makers themselves are apart.

python bench/electrics_points.py
"""

from __future__ import annotations

import statistics
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "outside"))

from blind import apart, held, like_circuits, single

WAYS = (("shipped models, points kept back", held), ("models from a single point", single))


def figures(told):
    for b in told:
        print(
            f"{b.way:5} {b.type:12} by {b.by:22} {b.what:42} {b.printed:9.3f} {b.modelled:9.3f}"
            f" {100 * b.error:+7.1f} %"
        )


def short(title, told):
    print(f"\n{title}\nfigure   types  number  median  within 10 %  worst")
    for figure in ("ia", "ik", "is", "gm"):
        off = [(abs(b.error), b) for b in told if b.what.split()[0] == figure]
        if off:
            worst = max(off, key=lambda pair: pair[0])
            print(
                f"{figure:8} {len({b.type for _, b in off}):5} {len(off):7}"
                f" {100 * statistics.median(e for e, _ in off):6.1f} %"
                f" {sum(e <= 0.1 for e, _ in off) / len(off):10.0%}"
                f"  {worst[1].type} {worst[1].what} {100 * worst[1].error:+.1f} %"
            )


def stages():
    print("\nstage gains, model over print; * not fitted")
    print("type         circuit                    outside all  each maker")
    for (name, like), told in like_circuits().items():
        words = "  ".join(
            f"{g.maker} {g.printed:g} {100 * g.error:+.0f} %{'*' * (g.use == 'held')}"
            for g in sorted(told, key=lambda g: g.maker)
        )
        print(f"{name:12} {like:26} {100 * apart(told):+8.0f} %  {words}")


def main():
    both = [(title, list(way())) for title, way in WAYS]
    for _, told in both:
        figures(told)
    for title, told in both:
        short(title, told)
    stages()


if __name__ == "__main__":
    main()
