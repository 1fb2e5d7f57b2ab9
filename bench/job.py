"""Timings of rules, list, readings and consequences, printed as a table.

python bench/job.py
"""

from __future__ import annotations

import time
from pathlib import Path

from buzzout.compare import compare
from buzzout.job import punch_list
from buzzout.job.judge import judged
from buzzout.job.suggest import suggested
from buzzout.language.load import load

EXAMPLES = Path(__file__).parents[1] / "examples"
PAIRS = {
    "hall-amplifier": "as-received",
    "power-supply": "live-chassis",
    "valve-stage": "with-three-mistakes",
}


def once(work):
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def best(work, times=3):
    return f"{min(once(work) for _ in range(times)) * 1e3:8.0f} ms"


def main():
    columns = ("compare", "rules", "list", "consequences", "suggestion")
    print(f"{'':16}{'findings':>9}" + "".join(f"{name:>14}" for name in columns))
    for folder, found in PAIRS.items():
        drawing = load(EXAMPLES / folder / f"{folder}.reference.buzz").circuit
        board = load(EXAMPLES / folder / f"{found}.found.buzz", drawing).circuit
        done = compare(drawing, board)
        figures = (
            best(lambda d=drawing, b=board: compare(d, b), 1),
            best(lambda b=board: judged(b)),
            best(lambda c=done: punch_list(c)),
            best(lambda c=done: punch_list(c, consequences=True), 1),
            best(lambda d=drawing: suggested(d)),
        )
        print(f"{folder:16}{len(done.findings):9}" + "".join(f"{f:>14}" for f in figures))


if __name__ == "__main__":
    main()
