"""What several commands share: exit status, messages, writing files."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import NoReturn

import click

from buzzout.bench.keep import write_over
from buzzout.circuit import Circuit
from buzzout.language import Loaded, Unreadable, load, render
from buzzout.language.departures import Departed, depart

IN_ORDER = 0
DISCREPANCIES = 1
WRONG_INPUT = 2


def fail(message: str) -> NoReturn:
    """Tell what is wrong with the input on standard error and leave with status 2."""
    click.echo(message, err=True)
    sys.exit(WRONG_INPUT)


def use_own_devices(*paths: Path) -> None:
    """Let the restorer's own device files stand before the shipped ones while the command runs.

    They lie beside the circuits in question or in the configuration folder.
    """
    from buzzout.catalogue.own import NotADeviceFile, own_files, with_own

    files = dict.fromkeys(file for path in paths for file in own_files(path))
    try:
        click.get_current_context().with_resource(with_own(tuple(files)))
    except NotADeviceFile as error:
        fail(str(error))
    except (OSError, UnicodeDecodeError) as error:
        fail(f"cannot read the devices file: {error}")


def loaded_or_fail(path: Path, drawing: Circuit | None = None, wanted: str = "") -> Loaded:
    """Load a file; warnings go to standard error, errors end the command."""
    loaded = load(path, drawing, wanted)
    if loaded.problems:
        click.echo(render(loaded.problems, loaded.sources), err=True)
    if not loaded.ok:
        sys.exit(WRONG_INPUT)
    return loaded


def departed(drawing: Circuit, paths: Iterable[Path]) -> list[Departed]:
    """Make the departures of several files, one after the other."""
    made: list[Departed] = []
    for path in paths:
        try:
            made.append(depart(made[-1].circuit if made else drawing, path))
        except Unreadable as error:
            fail(str(error))
    return made


def write(path: Path, content: str | bytes) -> None:
    """Write a file whole or not at all; `-` is standard output."""
    data = content.encode() if isinstance(content, str) else content
    if str(path) == "-":
        sys.stdout.buffer.write(data)
        return
    try:
        write_over(path, data)
    except OSError as error:
        fail(f"cannot write {path}: {error.strerror}")
