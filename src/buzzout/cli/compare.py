"""`buzzout compare`: the main job."""

from __future__ import annotations

import os
import sys
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buzzout.cli.common import (
    DISCREPANCIES,
    IN_ORDER,
    departed,
    loaded_or_fail,
    use_own_devices,
    width,
    write,
)
from buzzout.cli.progress import shown

if TYPE_CHECKING:
    from buzzout.compare import Comparison
    from buzzout.job import PunchList
    from buzzout.report.charts import Charts

_PER_VOLT = 20e3  # ohms; the meter of most service sheets, common practice

_ANY = click.Path(path_type=Path)
_FILE = click.Path(path_type=Path, dir_okay=False)


@click.command()
@click.argument("reference", type=_ANY)
@click.argument("found", type=_ANY)
@click.option("--with", "departures", multiple=True, type=_ANY, metavar="DEPARTURES",
              help="A file of wanted changes; may be given again.")  # fmt: skip
@click.option("--format", "form", type=click.Choice(["text", "json", "csv"]), default="text",
              show_default=True, help="What goes to standard output.")  # fmt: skip
@click.option("--html", type=_FILE, metavar="FILE.html", help="Write a page to look at and print.")
@click.option("--drawing", type=_FILE, metavar="FILE.svg|.png", help="Write the picture.")
@click.option("--only-findings", is_flag=True, help="Draw the surroundings of the findings only.")
@click.option("--hide-notes", is_flag=True, help="Leave harmless differences out of the list.")
@click.option("--brief", is_flag=True, help="One line for each finding.")
@click.option(
    "--under-power/--without-power",
    default=True,
    help="Compute what each finding would do under power; without is quicker.",
)
@click.option("--effort", type=click.IntRange(1), default=None,
              help="How long to search, in steps; the same on every machine.")  # fmt: skip
def compare(
    reference: Path,
    found: Path,
    departures: tuple[Path, ...],
    form: str,
    html: Path | None,
    drawing: Path | None,
    only_findings: bool,
    hide_notes: bool,
    brief: bool,
    under_power: bool,
    effort: int | None,
) -> None:
    """Compare the FOUND chassis with the REFERENCE drawing, most dangerous first.

    Status 0: no discrepancy; 1: discrepancies found; 2: the input is wrong.
    """
    from buzzout.compare import DEFAULT_EFFORT
    from buzzout.compare import compare as compared
    from buzzout.job import punch_list
    from buzzout.language.coverage import coverage

    use_own_devices(reference, found)
    drawn = loaded_or_fail(reference, wanted="reference").circuit
    steps = departed(drawn, departures)
    wanted = steps[-1].circuit if steps else drawn
    chassis = loaded_or_fail(found, wanted, wanted="found")
    with shown() as tell:
        comparison = compared(wanted, chassis.circuit, effort or DEFAULT_EFFORT, tell)
    made = [departure for step in steps for departure in step.departures]
    listed = punch_list(
        comparison, coverage(chassis), made, notes=not hide_notes, consequences=under_power
    )
    _print(listed, form, [reference, found, *departures], brief=brief)
    if drawing is not None:
        _draw(listed, drawing, only_findings)
    if html is not None:
        from buzzout.report.page import page

        inputs = _provenance([reference, found, *departures])
        write(html, page(listed, inputs, _charts(comparison)))
    sys.exit(DISCREPANCIES if listed.open else IN_ORDER)


def _print(listed: PunchList, form: str, files: list[Path], *, brief: bool) -> None:
    if form == "text":
        from buzzout.report import terminal

        click.echo(terminal.as_text(listed, width(120), colour=_colour(), brief=brief))
        return
    from buzzout.report import plain

    if form == "json":
        click.echo(plain.as_json(listed, _provenance(files)))
    else:
        click.echo(plain.as_csv(listed), nl=False)


def _draw(listed: PunchList, path: Path, only_findings: bool) -> None:
    from buzzout.cli.draw import picture

    comparison = listed.comparison
    write(path, picture(path, comparison.reference, listed, only_findings))


def _charts(comparison: Comparison) -> Charts:
    """Resistances and voltages for the page, drawing beside chassis."""
    from buzzout.electrics import Meter, Power, side_by_side, three_charts
    from buzzout.report.charts import Charts

    drawing, chassis = comparison.reference, comparison.found
    meter = Meter(per_volt=_PER_VOLT)
    remarks = ["power off, capacitors discharged and measured, valves out, to chassis"]
    if drawing.mains is None:
        return Charts(side_by_side(drawing, chassis), (), remarks=remarks)
    volts = three_charts(drawing, chassis, Power(), meter)
    remarks.append(f"volts at {drawing.mains.voltage}, no signal, meter of 20 kilohms per volt")
    return Charts(side_by_side(drawing, chassis), volts, remarks=remarks)


def _provenance(files: list[Path]) -> dict[str, str]:
    """Name and SHA-256 of each input file, so that a report says what it speaks of."""
    return {path.as_posix(): sha256(path.read_bytes()).hexdigest() for path in files}


def _colour() -> bool:
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR")
