"""Timings of rules, list, readings and consequences, and of the live page, printed as tables.

python bench/job.py         all of it
python bench/job.py live    from a save in the demo's job folder to the page, by the command itself
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.request
from contextlib import contextmanager
from pathlib import Path

from buzzout.bench.folder import Folder
from buzzout.bench.live import FILES, LIST, WHOLE
from buzzout.compare import compare
from buzzout.job import Listing
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


def page(address, number):
    """The page's next state after a number."""
    with urllib.request.urlopen(f"{address}now?after={number}", timeout=60) as answer:
        return json.loads(answer.read())


def until(address, number, stage, since):
    """Read the page until it shows a stage; its number then, and when each stage first came. [s].

    "rules" is the list once more, with what the rules add to it.
    """
    came = {}
    while stage not in came:
        news = page(address, number)
        number = news["number"]
        name = news["stage"] if news["stage"] not in came else "rules"
        came[name] = time.perf_counter() - since
    return number, came


def saved(folder, text):
    """Save as an editor does; the moment of it."""
    now = time.perf_counter()
    folder.chassis.write_text(text, encoding="utf-8")
    return now


@contextmanager
def watched(folder):
    """The command of the live page, as a person starts it; the address that it tells."""
    call = [sys.executable, "-m", "buzzout", "job", "watch", "--no-open", str(folder.path)]
    with subprocess.Popen(call, stdout=subprocess.PIPE, text=True) as command:
        try:
            told = (re.search(r"http://\S+/", line) for line in command.stdout)
            yield next(filter(None, told)).group()
        finally:
            command.terminate()


def live(times=5):
    """Save the demo's chassis again and again and read the page as a browser does."""
    stages = FILES, LIST, "rules", WHOLE
    with tempfile.TemporaryDirectory() as path:
        folder = Folder(Path(path))
        shutil.copy(EXAMPLES / "hall-amplifier/hall-amplifier.reference.buzz", path)
        text = (EXAMPLES / "hall-amplifier/as-received.found.buzz").read_text(encoding="utf-8")
        folder.chassis.write_text(text, encoding="utf-8")

        def row(name, came):
            told = (f"{came[s] * 1e3:11.0f} ms" if s in came else "" for s in stages)
            print(f"{name:22}" + "".join(f"{each:>14}" for each in told))

        with watched(folder) as address:
            number, _ = until(address, 0, WHOLE, time.perf_counter())
            print(f"{'':22}" + "".join(f"{n:>14}" for n in ("files", "list", "rules", "all of it")))
            for turn in range(times):
                changed = text.replace("reads 35k", f"reads {36 + turn}k")
                number, came = until(address, number, WHOLE, saved(folder, changed))
                row(f"a reading, {turn + 1}", came)
                moved = changed.replace("at P3.cw\n", "\n\nat P3.cw\n")
                number, came = until(address, number, FILES, saved(folder, moved))
                moved += "date 2026-11-30\n"
                number, came = until(address, number, WHOLE, saved(folder, moved))
                row("  lines, while busy", came)
                moved += "# a remark\n"
                number, came = until(address, number, WHOLE, saved(folder, moved))
                row("  a remark", came)


def main():
    if sys.argv[1:] == ["live"]:
        live()
        return
    columns = ("read", "compare", "rules", "first list", "readings", "consequences", "suggestion")
    print(f"{'':16}{'findings':>9}" + "".join(f"{name:>14}" for name in columns))
    for folder, found in PAIRS.items():
        path = EXAMPLES / folder / f"{found}.found.buzz"
        drawing = load(EXAMPLES / folder / f"{folder}.reference.buzz").circuit
        board = load(path, drawing).circuit
        compare(drawing, board)  # libraries are loaded
        done = compare(drawing, board)
        listing = Listing(done)
        figures = (
            best(lambda d=drawing, p=path: load(p, d)),
            best(lambda d=drawing, b=board: compare(d, b)),
            best(lambda b=board: judged(b)),
            best(lambda c=done: Listing(c).early()),
            best(listing.plain, 1),  # the first asks the ohmmeter, the others know
            best(listing.whole, 1),
            best(lambda d=drawing: suggested(d)),
        )
        print(f"{folder:16}{len(done.findings):9}" + "".join(f"{f:>14}" for f in figures))
    live()


if __name__ == "__main__":
    main()
