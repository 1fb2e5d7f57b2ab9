"""A line on the terminal while something takes more than a second."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import click

_PATIENCE = 1.0  # seconds before anything is shown
_WIDTH = 24


@contextmanager
def shown() -> Iterator[Callable[[str, float], None]]:
    """A callback `(what, share from 0 to 1)` that draws one line on standard error.

    Nothing is drawn where standard error is no terminal; the line is wiped at the end.
    """
    started = time.monotonic()
    drawn = False

    def tell(what: str, share: float) -> None:
        nonlocal drawn
        if not sys.stderr.isatty() or time.monotonic() - started < _PATIENCE:
            return
        done = round(min(max(share, 0.0), 1.0) * _WIDTH)
        bar = "#" * done + "-" * (_WIDTH - done)
        click.echo(f"\r\x1b[2K[{bar}] {what}", err=True, nl=False)
        drawn = True

    try:
        yield tell
    finally:
        if drawn:
            click.echo("\r\x1b[2K", err=True, nl=False)
