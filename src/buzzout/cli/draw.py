"""`buzzout draw`: a picture of one file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buzzout.cli.common import departed, fail, loaded_or_fail, use_own_devices, write

if TYPE_CHECKING:
    from buzzout.circuit import Circuit
    from buzzout.job import PunchList


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.argument("out", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--with", "departures", multiple=True, type=click.Path(path_type=Path),
              metavar="DEPARTURES", help="A file of wanted changes to draw in.")  # fmt: skip
def draw(file: Path, out: Path, departures: tuple[Path, ...]) -> None:
    """Draw FILE, a drawing or a found chassis, into OUT (.svg or .png)."""
    use_own_devices(file)
    circuit = loaded_or_fail(file).circuit
    steps = departed(circuit, departures)
    write(out, picture(out, steps[-1].circuit if steps else circuit, None, False))


def picture(
    path: Path, circuit: Circuit, listed: PunchList | None, only_findings: bool
) -> str | bytes:
    """Render in the form that the file name asks for."""
    from buzzout.report import drawing

    comparison = numbers = None
    if listed is not None:
        numbers = {item.finding.id: item.number for item in listed.everything}
        ruled = [item.finding for item in listed.rules]
        comparison = replace(listed.comparison, findings=(*listed.comparison.findings, *ruled))
    if path.suffix.lower() == ".svg":
        return drawing.svg(circuit, comparison, only_findings, numbers)
    if path.suffix.lower() == ".png":
        return drawing.png(circuit, comparison, only_findings, numbers)
    return fail(f"{path}: a drawing is .svg or .png")
