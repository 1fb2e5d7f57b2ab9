"""`buzzout ohms`: what the ohmmeter should read, power off."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buzzout.cli.common import DISCREPANCIES, IN_ORDER, fail
from buzzout.cli.standing import ANY, conditions, point, read_files, shared, show, titles

if TYPE_CHECKING:
    from buzzout.circuit import Point
    from buzzout.cli.standing import Files
    from buzzout.electrics import Conditions
    from buzzout.report.tables import Sheet

_SETTLING = (
    "A reading as transcribed confirms the transcription of every finding beside it. One that fits"
    " 'if a slip of the pen' says that the chassis is as drawn there: look again, and correct the"
    " chassis file. One that fits neither speaks of a part that drifted or of what nobody has seen."
)


@click.command()
@click.argument("file", type=ANY)
@click.argument("found", type=ANY, required=False)
@click.option("--to", default="chassis", show_default=True, metavar="POINT",
              help="Where the other probe is.")  # fmt: skip
@click.option("--valves", type=click.Choice(["out", "in"]), default="out", show_default=True,
              help="Valves drawn, or in their sockets and cold.")  # fmt: skip
@click.option("--findings", is_flag=True,
              help="Compare, and list the fewest readings that settle all findings.")  # fmt: skip
@shared
def ohms(
    file: Path,
    found: Path | None,
    to: str,
    valves: str,
    findings: bool,
    form: str,
    contacts: tuple[str, ...],
    turned: tuple[str, ...],
    departures: tuple[Path, ...],
) -> None:
    """Chart of resistances of FILE, power off; FOUND beside it with the points that differ.

    Readings of the chassis file are judged: transcription right, doubtful here, or part drifted.
    Status 1: points differ beyond tolerance, or a reading does not fit.

    \b
    buzzout ohms set.reference.buzz set.found.buzz
    buzzout ohms set.reference.buzz set.found.buzz --findings
    """  # noqa: D301
    files = read_files(file, found, departures)
    other = point(to, files.circuit, "--to")
    stands = conditions(files.circuit, turned, contacts, "cold" if valves == "in" else "out")
    if findings:
        sheet, differs = _settling(files, stands)
    else:
        sheet, differs = _sheet(files, other, stands, beside=found is not None)
    show(sheet, form, files.paths)
    sys.exit(DISCREPANCIES if differs else IN_ORDER)


def _sheet(files: Files, to: Point, stands: Conditions, *, beside: bool) -> tuple[Sheet, bool]:
    from buzzout.electrics import chart, judge, side_by_side
    from buzzout.electrics.reads import RIGHT
    from buzzout.report.ohms import chart_tables, judged_table, pair_tables
    from buzzout.report.tables import Sheet

    judged = judge(files.found, files.drawn, stands) if files.found else ()
    told = chart(files.circuit, to, conditions=stands)
    differs = any(j.verdict != RIGHT for j in judged)
    if beside and files.drawn is not None and files.found is not None:
        pairs = side_by_side(files.drawn, files.found, to, stands)
        differs = differs or any(pair.differs for pair in pairs)
        tables = pair_tables(pairs, files.drawn)
    else:
        tables = chart_tables(told, files.circuit)
    head = (
        *titles(files),
        ("meter", f"from each point to {to}, power off, capacitors discharged and measured"),
        ("valves", "in their sockets, cold" if stands.valves == "cold" else "out"),
        ("range", "what the tolerances of all parts allow, exactly"),
    )
    judgements = judged_table(judged, files.circuit)
    return Sheet("RESISTANCE CHART", head, (*judgements, *tables), told.remarks), differs


def _settling(files: Files, stands: Conditions) -> tuple[Sheet, bool]:
    """The fewest readings that settle every finding, and what would tell where none does."""
    from buzzout.bench.meter import alone
    from buzzout.compare import compare
    from buzzout.electrics import fewest_checks
    from buzzout.electrics.checks import instead
    from buzzout.report.ohms import settled_tables
    from buzzout.report.tables import Sheet

    drawn, chassis = files.drawn, files.found
    if drawn is None or chassis is None:
        fail("--findings: give the drawing and the chassis")
    compared = compare(drawn, chassis)
    asked = [f for f in compared.findings if f.remedy and not f.harmless]
    repairs = [alone(finding, compared) for finding in asked]
    checks, left = fewest_checks(chassis, repairs, stands)
    other = {n: instead(chassis, repairs[n]) for n in left}
    head = (
        *titles(files),
        ("meter", "power off, capacitors discharged and measured"),
        ("valves", "in their sockets, cold" if stands.valves == "cold" else "out"),
        ("findings", f"{len(asked)}; {len(checks)} readings settle {len(asked) - len(left)}"),
    )
    tables = settled_tables(checks, other, asked, chassis)
    title = "THE FEWEST READINGS THAT SETTLE THE FINDINGS"
    return Sheet(title, head, tables, (_SETTLING,)), bool(asked)
