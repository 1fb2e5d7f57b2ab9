"""`buzzout stress`: what every part has to stand against what it may."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from buzzout.cli.common import DISCREPANCIES, IN_ORDER, fail
from buzzout.cli.standing import (
    ANY,
    conditions,
    fed,
    read_files,
    shared,
    show,
    supplies,
    titles,
    unsettled,
)

_AGE = "A rating that is kept says nothing of a part's age or condition."


@click.command()
@click.argument("file", type=ANY)
@click.option("--mains", type=click.FloatRange(min=0, min_open=True), metavar="VOLTS",
              help="Mains voltage; else that of the file.")  # fmt: skip
@click.option("--all", "everything", is_flag=True, help="Also what is within its margin.")
@fed
@shared
def stress(
    file: Path,
    mains: float | None,
    everything: bool,
    supplied: tuple[str, ...],
    form: str,
    contacts: tuple[str, ...],
    turned: tuple[str, ...],
    departures: tuple[Path, ...],
) -> None:
    """Audit every part of FILE against its rating, worst first, with what to order instead.

    Running, and before the heaters are warm with the mains 10 % high. Status 1: something is over
    its limit.
    """
    from buzzout.electrics import Power, audit, operate
    from buzzout.electrics.stress import OVER
    from buzzout.report.stresses import counted, little, stress_tables
    from buzzout.report.tables import Sheet

    files = read_files(file, None, departures)
    circuit = files.circuit
    power = Power(volts=mains, supplies=supplies(circuit, supplied))
    stands = conditions(circuit, turned, contacts, "warm")
    state = operate(circuit, power, stands)
    if not state.settled:
        fail("; ".join(unsettled(state)))
    told = audit(circuit, power, stands)
    head = (
        *titles(files),
        (
            "states",
            "running without signal; and the surge before the heaters are warm, mains +10 %",
        ),
        ("result", counted(told)),
    )
    idle = sum(little(s) for s in told)
    small = [f"{idle} resistors without a rating carry little: any size does, see --all"]
    remarks = (*(small if idle and not everything else []), *state.remarks, _AGE)
    tables = tuple(stress_tables(told, circuit, everything=everything or form != "text"))
    show(Sheet("RATINGS", head, tables, remarks), form, files.paths)
    sys.exit(DISCREPANCIES if any(s.verdict == OVER for s in told) else IN_ORDER)
