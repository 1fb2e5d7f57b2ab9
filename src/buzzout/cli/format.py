"""`buzzout format`: one canonical layout, comments kept."""

from __future__ import annotations

import sys
from contextlib import suppress
from pathlib import Path

import click

from buzzout.cli.common import DISCREPANCIES, IN_ORDER, WRONG_INPUT, write


@click.command("format")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path, allow_dash=True))
@click.option("--check", "only_check", is_flag=True, help="Change nothing; status 1 if it would.")
def format_(files: tuple[Path, ...], only_check: bool) -> None:
    """Line up the columns of FILES in place; - reads standard input and writes standard output.

    A file with mistakes is left as it is.
    """
    from buzzout.language.layout import formatted
    from buzzout.language.problems import ProblemList, render
    from buzzout.language.source import read_lines

    status = IN_ORDER
    for path in files:
        if str(path) == "-":
            click.echo(formatted(sys.stdin.read()), nl=False)
            continue
        problems = ProblemList()
        before = b""
        with suppress(OSError):  # told below
            before = path.read_bytes()
        lines = read_lines(path, problems)
        if problems.fatal:
            click.echo(render(problems.sorted(), {}), err=True)
            status = WRONG_INPUT
            continue
        after = formatted("\n".join(lines)).encode()
        if before == after:
            continue
        if only_check:
            click.echo(f"{path.as_posix()} would change")
            status = max(status, DISCREPANCIES)
        else:
            write(path, after, before)
            click.echo(f"{path.as_posix()} laid out", err=True)
    sys.exit(status)
