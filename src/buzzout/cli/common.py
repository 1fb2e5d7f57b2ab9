"""What several commands share: exit status, messages, writing files."""

from __future__ import annotations

import shutil
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
_NARROWEST = 40  # columns; narrower and nothing is read with ease
_BEGINS = 5  # bytes that tell a page and a picture from what a person typed


def fail(message: str) -> NoReturn:
    """Tell what is wrong with the input on standard error and leave with status 2."""
    click.echo(message, err=True)
    sys.exit(WRONG_INPUT)


def width(most: int, usual: int = 100) -> int:
    """How many columns prose may take: as the terminal or COLUMNS has it, else `usual`."""
    return min(max(shutil.get_terminal_size((usual, 40)).columns, _NARROWEST), most)


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


def write(path: Path, content: str | bytes, was: bytes | None = None) -> None:
    """Write a file whole or not at all; `-` is standard output.

    What is there already is replaced if it is of the same kind: a page by a page, a picture by a
    picture. What a person typed is not, unless the command was asked to lay it out anew: `was` is
    then what it read.
    """
    data = content.encode() if isinstance(content, str) else content
    if str(path) == "-":
        sys.stdout.buffer.write(data)
        return
    try:
        if was is None and _another_kind(path, data):
            fail(f"{path} is there and is something else: nothing was written over; name another")
        write_over(path, data, was)
    except OSError as error:
        fail(f"cannot write {path}: {error.strerror}")


def _another_kind(path: Path, data: bytes) -> bool:
    """Whether a file is there that begins otherwise than what is to be written."""
    if not path.is_file():
        return False
    with path.open("rb") as file:
        there = file.read(_BEGINS)
    return bool(there) and there.lower() != data[:_BEGINS].lower()
