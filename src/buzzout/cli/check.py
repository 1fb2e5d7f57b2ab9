"""`buzzout check`: is the file in order, and how far has the transcription got."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buzzout.cli.common import DISCREPANCIES, IN_ORDER, WRONG_INPUT, use_own_devices

if TYPE_CHECKING:
    from buzzout.circuit import Circuit
    from buzzout.language import Loaded, Problem


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--all", "everything", is_flag=True, help="List every point and lead, however many.")
def check(files: tuple[Path, ...], everything: bool) -> None:
    """Tell what is wrong with FILES and how far a transcription has got.

    Status 1: two lines of a found file contradict each other. Status 2: a file has mistakes.
    """
    from buzzout.language import load, render
    from buzzout.language.coverage import coverage, told

    use_own_devices(*files)
    status = IN_ORDER
    for path in files:
        loaded = load(path)
        if loaded.ok and loaded.circuit.kind == "departures" and loaded.drawing is not None:
            loaded = replace(loaded, problems=_departing(path, loaded.drawing))
        if loaded.problems:
            click.echo(render(loaded.problems, loaded.sources))
        if not loaded.ok:
            errors = sum(p.level == "error" for p in loaded.problems)
            click.echo(f"{path.as_posix()}: {errors} to mend")
            status = WRONG_INPUT
        elif loaded.circuit.kind == "found":
            covered = coverage(loaded)
            lines = told(covered, loaded.sources, None if everything else 12)
            click.echo(f"{path.as_posix()}: {lines[0]}")
            click.echo("".join(f"  {line}\n" for line in lines[1:]), nl=False)
            if covered.contradictions and status == IN_ORDER:
                status = DISCREPANCIES
        else:
            click.echo(f"{path.as_posix()}: {_summary(loaded.circuit.kind, loaded)}")
    sys.exit(status)


def _departing(path: Path, drawing: Circuit) -> tuple[Problem, ...]:
    """Make the departures, to see whether the drawing has what they speak of."""
    from buzzout.language import Unreadable
    from buzzout.language.departures import depart

    try:
        depart(drawing, path)
    except Unreadable as error:
        return error.problems
    return ()


def _summary(kind: str, loaded: Loaded) -> str:
    if kind == "departures":
        return f"in order, {len(loaded.statements) - 1} statements"
    circuit = loaded.circuit
    parts = sum(not part.furniture for part in circuit.parts.values())
    nodes = sum(len(node.points) > 1 for node in circuit.nodes)
    furniture = len(circuit.parts) - parts
    return f"in order: {furniture} pieces of furniture, {parts} small parts, {nodes} nodes"
