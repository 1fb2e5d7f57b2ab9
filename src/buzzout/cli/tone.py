"""`buzzout tone`: a test tone followed stage by stage; an oscillator's frequency and margin."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buzzout.cli.common import DISCREPANCIES, IN_ORDER, fail
from buzzout.cli.standing import (
    ANY,
    conditions,
    fed,
    point,
    quantity,
    read_files,
    shared,
    show,
    supplies,
    titles,
    unsettled,
)

if TYPE_CHECKING:
    from buzzout.circuit import Circuit, Point
    from buzzout.electrics import Operating
    from buzzout.electrics.loops import Oscillation
    from buzzout.report.tables import Table


@click.command()
@click.argument("file", type=ANY)
@click.argument("found", type=ANY, required=False)
@click.option("--in", "into", metavar="POINT", help="Where the tone goes in, against chassis.")
@click.option("--hz", default="1000", show_default=True, metavar="1k", help="Its frequency.")
@click.option("--level", default="10mV", show_default=True, help="Its level, r.m.s.")
@click.option("--source", default="0", metavar="OHMS", help="Resistance of the generator.")
@click.option("--open", "opened", metavar="LEAD",
              help="Lift this lead for the signal only, such as that of the feedback.")  # fmt: skip
@click.option("--loop", metavar="LEAD", help="Open an oscillator here: does it start, and where.")
@fed
@shared
def tone(
    file: Path,
    found: Path | None,
    into: str | None,
    hz: str,
    level: str,
    source: str,
    opened: str | None,
    loop: str | None,
    supplied: tuple[str, ...],
    form: str,
    contacts: tuple[str, ...],
    turned: tuple[str, ...],
    departures: tuple[Path, ...],
) -> None:
    """Follow a tone through FILE, gain and level at each point; through FOUND beside it.

    Status 1: a set does not settle, or an oscillator that was asked for does not start.

    \b
    buzzout tone set.reference.buzz --in J1.tip --level 5mV --turn P1=50%
    buzzout tone set.reference.buzz --in V2.7 --open R19.2
    buzzout tone set.reference.buzz set.found.buzz --loop V3.7
    """  # noqa: D301
    from buzzout.electrics import Power, operate
    from buzzout.report.tables import Sheet

    if into is None and loop is None:
        fail("give --in POINT where the tone goes in, or --loop LEAD of an oscillator")
    files = read_files(file, found, departures)
    circuits = [
        c for c in (files.drawn if found or files.found is None else None, files.found) if c
    ]
    names = ["drawn", "found"] if len(circuits) > 1 else ["computed"]
    stands = conditions(files.circuit, turned, contacts, "warm")
    boards = [
        Board(name, circuit, operate(circuit, Power(supplies=supplies(circuit, supplied)), stands))
        for name, circuit in zip(names, circuits, strict=True)
    ]
    asked = Asked(into, quantity(hz, "Hz", "--hz"), quantity(level, "V", "--level"),
                  quantity(source, "ohm", "--source"), opened)  # fmt: skip
    if asked.hertz <= 0 or asked.level <= 0:
        fail("--hz and --level: above zero, please")
    failed = [words for b in boards for words in unsettled(b.state, b.name)]
    settled = [b for b in boards if b.state.settled]
    tables, remarks = _followed(settled, asked) if into and settled else ((), ())
    looped, off, more = _looped(settled, loop) if loop and settled else ((), False, ())
    head = (*titles(files), *_about(asked), ("controls", ", ".join(turned) or "fully clockwise"))
    every = (*failed, *remarks, *more, *boards[0].state.remarks)
    show(Sheet("TONE", head, (*looped, *tables), every), form, files.paths)
    sys.exit(DISCREPANCIES if off or failed else IN_ORDER)


@dataclass(frozen=True)
class Board:
    """One set at its operating point."""

    name: str
    circuit: Circuit
    state: Operating


@dataclass(frozen=True)
class Asked:
    """The tone. [Hz], [V], [ohm]."""

    into: str | None
    hertz: float
    level: float
    ohms: float
    opened: str | None


def _about(asked: Asked) -> tuple[tuple[str, str], ...]:
    from buzzout.report.tables import amount

    if not asked.into:
        return ()
    opened = (("opened", f"{asked.opened}, for the signal only"),) if asked.opened else ()
    tone = f"{amount(asked.hertz, 'Hz')}, {amount(asked.level, 'V')} r.m.s. at {asked.into}"
    return (("tone", tone), *opened)


def _followed(boards: list[Board], asked: Asked) -> tuple[tuple[Table, ...], tuple[str, ...]]:
    from buzzout.electrics import Drive, signals
    from buzzout.report.tones import Followed, overloads, tone_tables

    answers: list[Followed] = []
    remarks: list[str] = []
    for board in boards:
        at = point(asked.into or "", board.circuit, "--in")
        drive = Drive(at, ohms=asked.ohms)
        got = signals(board.state, drive, asked.hertz)
        remarks += got.remarks
        remarks += [f"{board.name}: {words}" for words in overloads(board.state, got, asked.level)]
        if not asked.opened:
            answers.append(Followed(board.name, got))
            continue
        lead = point(asked.opened, board.circuit, "--open")
        opened = signals(board.state, drive, asked.hertz, open_at=lead)
        name = f"{board.name} " if len(boards) > 1 else ""
        answers += [Followed(f"{name}closed", got), Followed(f"{name}open", opened)]
    remarks.append("points with less than a thousandth of the input are left out")
    return tone_tables(answers, boards[0].circuit, asked.level), tuple(remarks)


def _looped(boards: list[Board], loop: str) -> tuple[tuple[Table, ...], bool, tuple[str, ...]]:
    from buzzout.electrics import cut, oscillations, stability
    from buzzout.report.tones import growth_said, loop_table

    told: list[tuple[str, tuple[Oscillation, ...]]] = []
    said: list[str] = []
    lead: Point | None = None
    for board in boards:
        lead = point(loop, board.circuit, "--loop")
        opened = cut(board.state, lead)
        if opened is None:
            fail(f"--loop {loop}: nothing is joined to it")
        told.append((board.name, oscillations(opened)))
        said.append(growth_said(board.name, stability(board.state)))
    if lead is None:
        raise AssertionError("no board")
    off = any(not found or not found[0].starts for _, found in told)
    nothing = [f"{name}: no frequency without phase shift round this loop"
               for name, found in told if not found]  # fmt: skip
    return (loop_table(lead, told),), off, (*nothing, *said)
