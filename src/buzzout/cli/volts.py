"""`buzzout volts`: what the voltmeter should read, as drawn, as found and as measured."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buzzout.cli import standing
from buzzout.cli.common import DISCREPANCIES, IN_ORDER, fail
from buzzout.cli.standing import ANY, fed, read_files, share, shared, show, titles

if TYPE_CHECKING:
    from buzzout.circuit import Point
    from buzzout.cli.standing import Files
    from buzzout.electrics import Conditions, Meter, Power, Row, Verdict, VoltageChart
    from buzzout.report.tables import Sheet, Table


_STOP = (
    "Stop also at: smoke, smell, hum that grows, a glowing anode, a capacitor that gets warm,"
    " a lamp that stays bright, any reading that is not understood. Meter the mains itself: a"
    " dial is no measurement."
)
_NO_LEAVE = (
    "This is a computation of the circuit as typed in. It does not say that the set may be"
    " switched on: that is for the punch list and its gate."
)


@click.command()
@click.argument("file", type=ANY)
@click.argument("found", type=ANY, required=False)
@click.option("--meter", "meter_", metavar="20k/V|10M", default="10M", show_default=True,
              help="The voltmeter: ohms per volt of full scale, or its input.")  # fmt: skip
@click.option(
    "--to",
    default="chassis",
    show_default=True,
    metavar="POINT",
    help="Where its common lead is; HT minus in a set with a live chassis.",
)
@click.option("--mains", type=click.FloatRange(min=0, min_open=True), metavar="VOLTS",
              help="Mains voltage at full supply; else that of the file.")  # fmt: skip
@click.option("--fraction", default="1", metavar="50%", help="Setting of a variable transformer.")
@click.option("--lamp", type=click.FloatRange(min=0, min_open=True), metavar="WATTS",
              help="A limiter lamp of the mains voltage in series.")  # fmt: skip
@click.option("--cold", is_flag=True,
              help="The moment when rectifiers conduct and no other valve does yet.")  # fmt: skip
@click.option("--steps", is_flag=True, help="Bringing up: 25, 50, 75, 100 % and when to stop.")
@fed
@shared
def volts(
    file: Path,
    found: Path | None,
    meter_: str,
    to: str,
    mains: float | None,
    fraction: str,
    lamp: float | None,
    cold: bool,
    steps: bool,
    supplied: tuple[str, ...],
    form: str,
    contacts: tuple[str, ...],
    turned: tuple[str, ...],
    departures: tuple[Path, ...],
) -> None:
    """Chart of voltages of FILE by socket pin with the range of tolerances; FOUND beside it.

    `expect` lines of the drawing and voltage readings of the chassis are compared, each with its
    own meter and mains. Status 1: points read differently, or a reading does not fit.
    """
    files = read_files(file, found, departures)
    stands = standing.conditions(files.circuit, turned, contacts, "warm")
    power = _power(files, mains, share(fraction, "--fraction"), lamp)
    power = replace(power, supplies=standing.supplies(files.circuit, supplied))
    if power.supplies and (steps or lamp):
        fail("--supply: the mains stays off, so neither --steps nor --lamp")
    if power.fraction == 0:
        fail("--fraction 0: the set is off; see `buzzout ohms`")
    used = replace(standing.meter(meter_), to=standing.point(to, files.circuit, "--to"))
    job = Asked(files, power, used, stands, cold)
    sheet, off = (_steps if steps else _chart)(job)
    show(sheet, form, files.paths)
    sys.exit(DISCREPANCIES if off else IN_ORDER)


@dataclass(frozen=True)
class Asked:
    """What was asked for."""

    files: Files
    power: Power
    meter: Meter
    stands: Conditions
    cold: bool


def _power(files: Files, mains: float | None, fraction: float, lamp: float | None) -> Power:
    from buzzout.electrics import Lamp, Power

    told = files.circuit.mains or (files.drawn.mains if files.drawn else None)
    rated = mains or (told.voltage.value if told else None)
    if lamp is not None and rated is None:
        fail("the file has no mains line: give the voltage of the lamp with --mains")
    return Power(volts=mains, fraction=fraction, limiter=Lamp(lamp, rated or 0.0) if lamp else None)


def _chart(job: Asked) -> tuple[Sheet, bool]:
    from buzzout.electrics import ASSUMED, STARTING, currents, voltage_chart
    from buzzout.report.tables import Sheet
    from buzzout.report.volts import current_table, floating

    files = job.files
    power = replace(job.power, heat=STARTING) if job.cold else job.power
    chart = voltage_chart(files.circuit, power, job.meter, conditions=job.stands)
    state = chart.state
    judged, misfit = _judged(job) if state.settled else ((), False)
    tables, moved = _tables(job, chart) if state.settled else ((), False)
    hanging = floating(_live(state.floating, files))
    remarks = (*standing.unsettled(state), *chart.remarks, *hanging, ASSUMED)
    amps = (current_table(currents(chart.ranges)),) if state.settled else ()
    head = (*titles(files), *_about(job))
    sheet = Sheet("VOLTAGE CHART", head, (*judged, *tables, *amps), remarks)
    return sheet, misfit or moved or not state.settled


def _tables(job: Asked, chart: VoltageChart) -> tuple[tuple[Table, ...], bool]:
    """The chart, beside that of the drawing where there are both; whether any point moved."""
    from buzzout.electrics import three_charts
    from buzzout.report.volts import chart_tables, pin_cells, read_cells, row_tables, sheet_table

    drawn, found = job.files.drawn, job.files.found
    circuit = drawn or job.files.circuit
    rows: tuple[Row, ...] = ()
    if drawn is not None and found is not None:
        rows = three_charts(drawn, found, chart.state.power, job.meter, job.stands)
        tables = row_tables(rows, drawn)
        sets = {
            "drawn": pin_cells(drawn, (row.reference for row in rows)),
            "found": pin_cells(found, (row.found for row in rows)),
        }
    else:
        tables, sets = chart_tables(chart, circuit), {"computed": pin_cells(circuit, chart.lines)}
    if not job.cold:
        sets["maker"] = read_cells(drawn.expected if drawn is not None else ())
        sets["read"] = read_cells(found.readings if found is not None else ())
    moved = any(row.moved for row in rows)
    return (sheet_table(circuit, sets), *tables), moved


def _live(points: tuple[Point, ...], files: Files) -> list[Point]:
    """Points with something on them that float, socket pins only."""
    sockets = {p.name for p in files.circuit.parts.values() if p.kind == "socket"}
    linked = {p for link in files.circuit.links for p in (link.a, link.b)}
    return [p for p in points if p in linked and p.owner in sockets]


def _judged(job: Asked) -> tuple[tuple[Table, ...], bool]:
    """What the maker printed against the drawing, what was read against the chassis."""
    from buzzout.bench.sittings import Sitting
    from buzzout.electrics import judge_voltages
    from buzzout.electrics.charts import BENCH_SHARE
    from buzzout.report.volts import verdict_table

    files, whole = job.files, replace(job.power, fraction=1.0, limiter=None)
    printed: tuple[Verdict, ...] = ()
    read: tuple[Verdict, ...] = ()
    if files.drawn is not None and not job.cold:
        told = files.drawn.expected
        printed = judge_voltages(files.drawn, told, whole, conditions=job.stands)
    if files.found is not None and not job.cold:
        for _, same in groupby(files.found.readings, lambda reading: reading.turned):
            own = tuple(same)  # of pots that stood alike
            stood = Sitting(0, own).stood(files.found)
            read += judge_voltages(stood, own, whole, BENCH_SHARE, job.stands)
    tables = (
        *verdict_table("THE MAKER'S CHART AGAINST THE DRAWING AS COMPUTED", printed),
        *verdict_table("READINGS AGAINST THE CHASSIS AS TYPED IN", read),
    )
    return tables, any(not v.agrees for v in (*printed, *read))


def _about(job: Asked) -> tuple[tuple[str, str], ...]:
    from buzzout.electrics.ranges import RANGE

    power, meter = job.power, job.meter
    mains = power.volts or (job.files.circuit.mains and job.files.circuit.mains.voltage.value)
    lamp = f", behind a {power.limiter.watts:g} W lamp" if power.limiter else ""
    input_ = f"{meter.per_volt / 1e3:g} kohm/V" if meter.per_volt else f"{meter.ohms / 1e6:g} Mohm"
    heat = "rectifiers conduct, no other valve does yet" if job.cold else "warm, no signal"
    if power.supplies:
        mains = None
    fed_from = ", ".join(f"{s.a} at {s.volts:g} V" for s in power.supplies)
    supply = f"{mains:g} V, {power.fraction:.0%} of it{lamp}" if mains else f"off; {fed_from}"
    supply = supply if mains or fed_from else "none in the file"
    return (
        ("mains", f"{supply}; meter the mains itself"),
        ("state", f"{heat}; controls clockwise unless told otherwise"),
        ("meter", f"to {meter.to}, {input_}"),
        ("range", RANGE),
    )


def _steps(job: Asked) -> tuple[Sheet, bool]:
    from buzzout.electrics import ASSUMED, bring_up
    from buzzout.report.tables import Sheet
    from buzzout.report.volts import step_tables

    files = job.files
    made = bring_up(files.circuit, job.power.limiter, conditions=job.stands, volts=job.power.volts)
    remarks = (_STOP, _NO_LEAVE, ASSUMED)
    about = _about(job)
    head = (*titles(files), about[0], about[-1])
    sheet = Sheet("BRINGING UP", head, step_tables(made, files.circuit), remarks)
    return sheet, any(not step.settled for step in made)
