"""`buzzout stage`: the output stage from its readings, and another cathode resistor predicted."""

from __future__ import annotations

import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buzzout.cli.common import DISCREPANCIES, IN_ORDER, fail
from buzzout.cli.standing import ANY, quantity, read_files, share, show, titles

if TYPE_CHECKING:
    from buzzout.circuit import Circuit
    from buzzout.electrics.taken import Given, Taken
    from buzzout.report.tables import Sheet


_SHARED = (
    "valves on one resistor share its current equally only if they are alike: the drop along each"
    " anode winding, over its resistance, tells"
)
_LOADED = (
    "the grid is taken as the meter showed it, and the meter pulls it down: behind 220k a meter of"
    " 10 Mohm shows 2% less than is there without it, behind 470k 5%"
)


@click.command()
@click.argument("file", type=ANY, required=False)
@click.argument("valves", nargs=-1)
@click.option("--type", "type_", metavar="EL84", help="Valve type, where no FILE is given.")
@click.option("--count", type=click.IntRange(1), default=1, show_default=True,
              help="Valves on the resistor, where no FILE is given.")  # fmt: skip
@click.option("--drop", metavar="10.2V", help="Read across the cathode resistor.")
@click.option("--ohms", metavar="148R", help="That resistor as measured, power off.")
@click.option("--anode", metavar="275V", help="Anode to chassis.")
@click.option("--screen", metavar="276V", help="Screen to chassis.")
@click.option("--grid", metavar="-32V",
              help="Grid to chassis, where a bias supply holds it.")  # fmt: skip
@click.option("--accuracy", default="1%", show_default=True, help="Of the meter, of each reading.")
@click.option(
    "--aim",
    metavar="70%",
    help="Share of the anode limit at rest; 70% for several valves (class AB), 100% for"
    " one (class A).",
)
@click.option(
    "--with",
    "departures",
    multiple=True,
    type=ANY,
    metavar="DEPARTURES",
    help="A file of wanted changes to the drawing; may be given again.",
)
@click.option("--format", "form", type=click.Choice(["text", "json", "csv"]), default="text",
              show_default=True, help="What goes to standard output.")  # fmt: skip
def stage(
    file: Path | None,
    valves: tuple[str, ...],
    type_: str | None,
    count: int,
    drop: str | None,
    ohms: str | None,
    anode: str | None,
    screen: str | None,
    grid: str | None,
    accuracy: str,
    aim: str | None,
    departures: tuple[Path, ...],
    form: str,
) -> None:
    """Current and dissipation of the output VALVES of FILE that share a cathode resistor.

    Readings come from the options, else from the `reads` lines of a chassis file, else they are
    computed, which is said. Without FILE give --type, --drop, --ohms and --anode, and --grid where
    a bias supply holds the grid.
    Status 1: a limit of the valve is passed, or may be within the meter's accuracy.

    \b
    buzzout stage set.found.buzz V4 V5
    buzzout stage --type EL84 --drop 10.2V --ohms 148R --anode 275V --screen 276V --count 2
    """  # noqa: D301
    from buzzout.electrics.output import CLASS_A, CLASS_AB
    from buzzout.electrics.taken import Given

    told = Given(
        _volts(drop, "--drop"),
        math.nan if ohms is None else quantity(ohms, "ohm", "--ohms"),
        _volts(anode, "--anode"),
        _volts(screen, "--screen"),
        share(accuracy, "--accuracy"),
        _grid_volts(grid),
    )
    if told.ohms <= 0:
        fail("--ohms: a resistance above zero, please")
    files: tuple[tuple[str, str], ...]
    paths: tuple[Path, ...]
    if file is None:
        files, taken, paths = (), _alone(type_, count, told), ()
    else:
        made = read_files(file, None, departures)
        files, paths = titles(made), made.paths
        taken = _from_file(made.circuit, valves, told, file)
    several = taken.readings.valves > 1 or taken.readings.held
    usual = CLASS_AB if several else CLASS_A
    sheet, over = _sheet(
        taken, share(aim, "--aim") if aim else usual, (*files, ("valves", _named(valves, taken)))
    )
    show(sheet, form, paths)
    sys.exit(DISCREPANCIES if over else IN_ORDER)


def _volts(text: str | None, option: str) -> float:
    return math.nan if text is None else quantity(text, "V", option)


def _grid_volts(text: str | None) -> float:
    if text is None:
        return math.nan
    volts = quantity(text.lstrip("-\u2212"), "V", "--grid")
    if text[:1] not in "-\u2212" and volts > 0:
        fail(
            f"--grid {text}: a bias supply holds the grid below the chassis, as in --grid -32V; one"
            " that reads positive speaks of a leaky coupling capacitor or gas"
        )
    return -volts


def _named(valves: tuple[str, ...], taken: Taken) -> str:
    names = " and ".join(valves) or str(taken.readings.valves)
    return f"{names}, {taken.readings.type}"


def _alone(type_: str | None, count: int, told: Given) -> Taken:
    from buzzout.catalogue import device
    from buzzout.electrics.output import Readings
    from buzzout.electrics.taken import TOLD, Taken, held

    if type_ is None or any(math.isnan(v) for v in (told.drop, told.ohms, told.anode)):
        fail("give a FILE and its valves, or --type, --drop, --ohms and --anode")
    if device(type_) is None:
        fail(f"--type {type_}: the catalogue does not know it")
    readings = Readings(
        type_, told.drop, told.ohms, told.anode, told.screen, count, told.accuracy,
        grid=0.0 if math.isnan(told.grid) else held(told.grid),
    )  # fmt: skip
    origin = dict.fromkeys(("cathode", "ohms", "anode", "screen", "grid"), TOLD)
    return Taken(readings, origin, {}, 0.0)


def _from_file(circuit: Circuit, valves: tuple[str, ...], told: Given, file: Path) -> Taken:
    from buzzout.electrics.taken import NoStage, take

    if not valves:
        fail(f"which valves of {file.as_posix()}? Name those that share the resistor: V4 V5")
    try:
        return take(circuit, valves, told)
    except NoStage as why:
        fail(str(why))


def _sheet(taken: Taken, aim: float, head: tuple[tuple[str, str], ...]) -> tuple[Sheet, bool]:
    from buzzout.electrics import output_stage, predict, propose
    from buzzout.electrics.output import unfit
    from buzzout.electrics.proposals import bias_for, step_up
    from buzzout.electrics.taken import TOLD
    from buzzout.report import stages
    from buzzout.report.tables import Sheet

    readings = taken.readings
    got = output_stage(readings)
    chosen = [("as it is", readings.ohms)]
    chosen += [] if readings.held else [("next preferred value", step_up(readings.ohms))]
    outcome = [(w, p) for w, r in chosen if (p := predict(readings, r, taken.supply_ohms))]
    best = propose(readings, aim, supply_ohms=taken.supply_ohms)
    if best is not None:
        outcome.append((f"smallest for {aim:.0%} of the limit", best))
    bias = bias_for(readings, aim, taken.supply_ohms) if not unfit(readings) else None
    if bias is not None:
        outcome.append((f"{bias.grid:.4g} V on the grid, for {aim:.0%} of the limit", bias))
    tables = [stages.taken_table(taken), stages.result_table(got)]
    if outcome:
        tables.append(stages.predicted_table(outcome, got.anode_limit))
    stiff = (
        f"taken to rise by {taken.supply_ohms:.0f} V for each ampere less"
        if taken.supply_ohms
        else "taken as constant"
    )
    passed = [f"OVER THE LIMIT, or may be: {', '.join(got.over)}"] if got.over else []
    remarks = (
        *passed,
        *got.remarks,
        stages.resistor_said(got),
        f"supply {stiff}; the ordered resistor has twice the power that it burns",
        *([_SHARED] if readings.valves > 1 else []),
        *([_LOADED] if taken.origin.get("grid") == TOLD and readings.held else []),
    )
    return Sheet("OUTPUT STAGE", head, tuple(tables), remarks), bool(got.over)
