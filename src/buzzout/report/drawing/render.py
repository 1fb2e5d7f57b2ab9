"""DOT source to SVG or PNG, by the renderer that travels with the package or the system's own."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path

CARRIED, SYSTEM = "graphviz-pure", "dot"


class NoRenderer(RuntimeError):
    """Neither `graphviz-pure` nor `dot` can be run, or it failed. The message says which."""


def rendered(source: str, form: str) -> bytes:
    """A picture of DOT source; `form` is "svg" or "png".

    The places in the source are taken as they are (`-n2`). The carried renderer writes the same
    bytes everywhere and goes first; `dot` stands in for it.

    Raises
    ------
    NoRenderer
        If no renderer is there, or the one there gave up.
    """
    done = subprocess.run(  # noqa: S603 - a fixed program, the source comes by standard input
        [renderer(), "-Kneato", "-n2", f"-T{form}"],
        input=source.encode(),
        capture_output=True,
        check=False,
    )
    if done.returncode != 0:
        complaint = done.stderr.decode(errors="replace").strip()
        raise NoRenderer(f"the picture could not be drawn: {complaint}")
    return done.stdout


@cache
def renderer() -> str:
    """The program to run: beside this interpreter, else on the path.

    Raises
    ------
    NoRenderer
        If there is none.
    """
    beside = os.pathsep.join(
        str(folder) for folder in (Path(sys.executable).parent, Path(sys.prefix) / "Scripts")
    )
    for name, where in ((CARRIED, beside), (CARRIED, None), (SYSTEM, None)):
        found = shutil.which(name, path=where)
        if found:
            return found
    raise NoRenderer(f"neither {CARRIED} nor {SYSTEM} is installed; pip install {CARRIED}")
