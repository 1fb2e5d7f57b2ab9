"""`buzzout suggest`: the usual departures from a drawing, as a file to read and change."""

from __future__ import annotations

from pathlib import Path

import click

from buzzout.cli.common import fail, loaded_or_fail, use_own_devices, write

_ANY = click.Path(path_type=Path)


@click.command()
@click.argument("reference", type=_ANY)
@click.argument(
    "out", type=click.Path(path_type=Path, dir_okay=False, allow_dash=True), default="-"
)
def suggest(reference: Path, out: Path) -> None:
    """Write departures that later practice asks for: three-core lead, no line capacitor, ratings.

    It goes to standard output, or to OUT if there is no such file yet. Read it and strike out what
    you do not want: a departure is a decision, and yours.
    """
    from buzzout.job.suggest import suggested

    use_own_devices(reference)
    if str(out) != "-" and out.exists():
        fail(f"{out.as_posix()} is there already; nothing was written")
    text = suggested(loaded_or_fail(reference, wanted="reference").circuit)
    write(out, text)
