"""`buzzout tone`: a test tone followed stage by stage; an oscillator's frequency and margin."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buzzout.cli.common import DISCREPANCIES, IN_ORDER, fail
from buzzout.cli.places import Places
from buzzout.cli.standing import (
    ANY,
    conditions,
    fed,
    quantity,
    read_files,
    share,
    shared,
    show,
    supplies,
    titles,
    unsettled,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from buzzout.circuit import Circuit
    from buzzout.cli.standing import Files
    from buzzout.electrics import Conditions, Operating, Power, Spread
    from buzzout.report.tables import Table

_HEARD = (10.0, 100.0, 1e3, 10e3)  # where a signal that comes back is looked for [Hz]
_SILENT = 1e-9  # a loop gain below this is the noise of the computation


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
@click.option("--what-if", "changes", multiple=True, metavar="R33=12k|V3=70%",
              help="Also with another value, or a valve so good; may be given again.")  # fmt: skip
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
    changes: tuple[str, ...],
    supplied: tuple[str, ...],
    form: str,
    contacts: tuple[str, ...],
    turned: tuple[str, ...],
    departures: tuple[Path, ...],
) -> None:
    """Follow a tone through FILE, gain and level at each point; through FOUND beside it.

    Points and leads may have the names of the drawing on a chassis too: they are looked up by
    comparing the two. Status 1: a set does not settle, or an oscillator does not start or cannot be
    computed.

    \b
    buzzout tone set.reference.buzz --in J1.tip --level 5mV --turn P1=50%
    buzzout tone set.reference.buzz set.found.buzz --in V2.7 --open R19.2
    buzzout tone set.reference.buzz --loop V3.7 --what-if R33=12k --what-if V3=70%
    """  # noqa: D301
    from buzzout.electrics import Power
    from buzzout.report.tables import Sheet

    if into is None and loop is None:
        fail("give --in POINT where the tone goes in, or --loop LEAD of an oscillator")
    files = read_files(file, found, departures)
    places = Places(files)
    stands = conditions(files.circuit, turned, contacts, "warm")
    power = Power(supplies=supplies(files.circuit, supplied))
    both = _circuits(files, beside=found is not None)
    boards = [Board(name, circuit, power, stands, circuit) for name, circuit in both]
    boards += [_changed(boards[-1], words, places) for words in changes]
    asked = Asked(into, quantity(hz, "Hz", "--hz"), quantity(level, "V", "--level"),
                  quantity(source, "ohm", "--source"), opened)  # fmt: skip
    if asked.hertz <= 0 or asked.level <= 0:
        fail("--hz and --level: above zero, please")
    failed = [words for b in boards for words in unsettled(b.state, b.name)]
    settled = [b for b in boards if b.state.settled]
    tables, remarks = _followed(settled, asked, places) if into and settled else ((), ())
    looped, off, more = _looped(settled, loop, places) if loop and settled else ((), False, ())
    head = (*titles(files), *_about(asked), ("controls", ", ".join(turned) or "fully clockwise"))
    every = (*failed, *remarks, *more, *boards[0].state.remarks, _RANGES)
    show(Sheet("TONE", head, (*looped, *tables), every), form, files.paths)
    sys.exit(DISCREPANCIES if off or failed else IN_ORDER)


_RANGES = (
    "ranges hold 95 of 100 sets of good parts, drawn as for `buzzout volts`, capacitors too; levels"
    " are r.m.s. where nothing else is said"
)


def _circuits(files: Files, *, beside: bool) -> Iterator[tuple[str, Circuit]]:
    """The drawing, the chassis, or both, with what to call them."""
    if files.drawn is not None and (beside or files.found is None):
        yield ("drawn" if beside else "computed"), files.drawn
    if files.found is not None:
        yield ("found" if beside else "computed"), files.found


@dataclass(frozen=True)
class Board:
    """One set as it stands. `whole` is the circuit of the file that it varies."""

    name: str
    circuit: Circuit
    power: Power
    stands: Conditions
    whole: Circuit

    @cached_property
    def state(self) -> Operating:
        """Its operating point."""
        from buzzout.electrics import operate

        return operate(self.circuit, self.power, self.stands)

    @cached_property
    def ranges(self) -> Spread:
        """What tolerances make of it."""
        from buzzout.electrics import spread

        return spread(self.state)


def _changed(board: Board, words: str, places: Places) -> Board:
    """The set with one part at another value, or one valve with so much of its current."""
    from buzzout.electrics.loops import with_values

    name, equals, value = words.partition("=")
    if not equals or not value:
        fail(f"--what-if {words}: a part and a value with = between them, please")
    own = places.part(name, board.whole, f"--what-if {words}")
    part, called = board.circuit.parts[own], f"{board.name}, {words}"
    if part.kind == "socket":
        factor = share(value, f"--what-if {name}")
        power = replace(board.power, emission={**board.power.emission, own: factor})
        return replace(board, name=called, power=power)
    if part.value is None:
        fail(f"--what-if {words}: {name} has no value that could change")
    told = {own: quantity(value, part.value.unit, f"--what-if {name}")}
    return replace(board, name=called, circuit=with_values(board.circuit, told))


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


def _followed(
    boards: list[Board], asked: Asked, places: Places
) -> tuple[tuple[Table, ...], tuple[str, ...]]:
    from buzzout.electrics import Drive, along, signals
    from buzzout.electrics.gains import gains
    from buzzout.electrics.unsteady import unsteady
    from buzzout.report.tones import Followed, overloads, stage_table, tone_tables, unsteady_said

    answers: list[Followed] = []
    remarks: list[str] = []
    circuit = boards[0].circuit
    for board in boards:
        at = places.point(asked.into or "", board.whole, "--in")
        drive = Drive(at, ohms=asked.ohms)
        got = signals(board.state, drive, asked.hertz)
        remarks += got.remarks
        ways = [(board.name, got)]
        if asked.opened:
            lead = places.point(asked.opened, board.whole, "--open")
            prefix = f"{board.name} " if len(boards) > 1 else ""
            opened = signals(board.state, drive, asked.hertz, open_at=lead)
            ways = [(f"{prefix}closed", got), (f"{prefix}open", opened)]
        for index, (name, each) in enumerate(ways):
            told, none = unsteady(each)
            one = Followed(name, gains(each, board.ranges), none)
            answers.append(one)
            remarks += unsteady_said(one, told, circuit)
            if index == 0:  # with the lead lifted the level is another one
                over = overloads(board.state, one, asked.level)
                remarks += [f"{board.name}: {words}" for words in over]
    remarks.append("points with less than a thousandth of the input are left out")
    first = stage_table(answers, circuit, asked.level, along(answers[0].signals))
    return (first, *tone_tables(answers, circuit, asked.level)), tuple(remarks)


def _looped(
    boards: list[Board], loop: str, places: Places
) -> tuple[tuple[Table, ...], bool, tuple[str, ...]]:
    from buzzout.electrics import cut, loop_range
    from buzzout.electrics.stability import stability
    from buzzout.report.tones import Told, growth_said, loop_table, tuned_said

    told: list[Told] = []
    said: list[str] = []
    off = False
    for board in boards:
        opened = cut(board.state, places.point(loop, board.whole, "--loop"))
        if opened is None:
            fail(f"--loop {loop}: nothing is joined to it")
        off = off or opened.starts is not True
        if opened.missing:
            where = f"{board.name}, " if len(boards) > 1 else ""
            said.append(f"{where}not computed: {'; '.join(opened.missing)}")
            continue
        tuned = opened.around.tuned
        found = [o for o in opened.oscillations[: 1 if tuned else 3] if o.gain > 0.01]
        for o in found:
            span = None if tuned else loop_range(opened, o, board.ranges)
            told.append(Told(board.name, o, span, opened.starts if tuned else o.starts))
        if not found and all(abs(opened.at(hertz).gain) < _SILENT for hertz in _HEARD):
            said.append(
                f"{board.name}: no signal comes back to {loop}: as the set stands it is in no loop"
            )
        elif not found:
            said.append(f"{board.name}: no frequency without phase shift round this loop")
        if tuned:
            said += tuned_said(board.name, opened)
        else:
            said.append(growth_said(board.name, stability(board.state)))
    return ((loop_table(loop, told),) if told else ()), off, tuple(said)
