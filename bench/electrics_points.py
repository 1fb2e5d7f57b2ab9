"""How far valve models are off at published points that they were not fitted to: the error table.

python bench/electrics_points.py
"""

from __future__ import annotations

import statistics
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "outside"))

from blind import everything


def main():
    told = list(everything())
    for b in told:
        print(
            f"{b.way:5} {b.type:8} by {b.by:24} {b.what:40} {b.printed:9.3f} {b.modelled:9.3f}"
            f" {100 * b.error:+7.1f} %"
        )
    print("\nfigure   types  number  median  within 10 %  worst")
    for figure in ("ia", "ik", "is", "gm"):
        off = [(abs(b.error), b) for b in told if b.what.split()[0] == figure]
        if off:
            worst = max(off, key=lambda pair: pair[0])
            print(
                f"{figure:8} {len({b.type for _, b in off}):5} {len(off):7}"
                f" {100 * statistics.median(e for e, _ in off):6.1f} %"
                f" {sum(e <= 0.1 for e, _ in off) / len(off):10.0%}"
                f"  {worst[1].type} {100 * worst[1].error:+.1f} %"
            )


if __name__ == "__main__":
    main()
