"""`buzzout job …`: a job from the first look to the record, in a folder of plain text files."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buzzout.cli.common import DISCREPANCIES, IN_ORDER, fail, loaded_or_fail, width, write

if TYPE_CHECKING:
    from buzzout.bench.folder import Folder
    from buzzout.bench.state import State

_FOLDER = click.Path(path_type=Path, file_okay=False)
_ANY = click.Path(path_type=Path)
_WIDTH = 100
_TO_COPY = ("restore ", "accept ", "departure ", "id ")  # lines that are copied into a file
_FILE = click.Path(path_type=Path, dir_okay=False)


class _InOrder(click.Group):
    """Commands in the order in which a job needs them."""

    def list_commands(self, _ctx: click.Context) -> list[str]:
        """Their names."""
        return list(self.commands)


@click.group(cls=_InOrder)
def job() -> None:
    """A job: folder, what to look at next, decisions, work, order, bring-up, diagnosis, record."""


@job.command(short_help="Begin a job from a drawing.")
@click.argument("reference", type=_ANY)
@click.argument("folder", type=_FOLDER)
def new(reference: Path, folder: Path) -> None:
    """Begin a job in FOLDER from the drawing REFERENCE.

    Nothing that is there is written over; run again, it adds what is missing.
    """
    from buzzout.bench.folder import Refused, begin

    drawing = loaded_or_fail(reference, wanted="reference")
    try:
        begun = begin(drawing, folder)
    except Refused as refused:
        fail(str(refused))
    except OSError as error:
        fail(f"cannot write into {folder}: {error.strerror}")
    for path in begun.written:
        click.echo(f"written {path.as_posix()}")
    for path in begun.kept:
        click.echo(f"there already, left as it is: {path.as_posix()}")
    click.echo(
        f"Next: fill in {begun.folder.chassis.as_posix()}; buzzout job next {_typed(folder)}"
    )


@job.command(short_help="Keep the chassis file as it is now.")
@click.argument("folder", type=_FOLDER)
@click.argument("name")
def keep(folder: Path, name: str) -> None:
    """Keep the chassis file as it is now under NAME (as-received), to compare with later."""
    from buzzout.bench.folder import Refused, keep_state

    place = job_folder(folder)
    try:
        kept = keep_state(place, name)
    except Refused as refused:
        fail(str(refused))
    except OSError as error:
        fail(f"cannot keep {place.chassis} as {place.kept(name).name}: {error.strerror}")
    click.echo(f"kept as {kept.as_posix()}")


@job.command("next", short_help="What to look at next.")
@click.argument("folder", type=_FOLDER)
@click.option("--all", "everything", is_flag=True, help="Every place, however many.")
@click.option(
    "--quick", is_flag=True, help="Do not compare: only what the chassis file itself says."
)
@click.option("--sheet", type=_FILE, metavar="FILE.html",
              help="Write sheets to fill in on paper, one for each socket and strip.")  # fmt: skip
def next_(folder: Path, everything: bool, quick: bool, sheet: Path | None) -> None:
    """Tell what to look at next, the place where one look settles most first."""
    from buzzout.bench.guide import glance, looks, told
    from buzzout.cli.progress import shown

    place = job_folder(folder)
    if sheet is not None:
        _write_sheet(place, sheet)
        return
    read = _read(place)
    if quick:
        found = looks(read.chassis)
    else:
        with shown() as tell:
            more = "; --quick compares nothing"
            punch = glance(read.drawing, read.chassis, lambda what, n: tell(what + more, n))
        found = looks(read.chassis, punch)
    _say(told(found, None if everything else 8))
    if not found:
        click.echo(f"Next: buzzout job plan {_typed(folder)}")
    sys.exit(DISCREPANCIES if found else IN_ORDER)


@job.command(short_help="The work, by place.")
@click.argument("folder", type=_FOLDER)
@click.option("--html", type=_FILE, metavar="FILE.html", help="Write a page to print and tick.")
def plan(folder: Path, html: Path | None) -> None:
    """The work, by place and kind, dangerous first, with the check before and the test after."""
    from buzzout.bench import decisions
    from buzzout.bench.plan import plan as planned
    from buzzout.bench.plan import told

    now = _state(job_folder(folder))
    plan_ = planned(now.punch, now.settled)
    if html is not None:
        _page(html, "plan.html", title=now.chassis.circuit.title, plan=plan_)
    click.echo(_caution())
    _say(told(plan_))
    _say(["", "Decisions", *decisions.told(now.settled, now.punch)])
    sys.exit(DISCREPANCIES if plan_.places else IN_ORDER)


@job.command(short_help="Add a decision to decisions.txt.")
@click.argument("folder", type=_FOLDER)
@click.argument("word", type=click.Choice(["restore", "accept", "departure"]))
@click.argument("finding")
@click.option("--because", default="", help="The reason; accept needs one.")
@click.option("--by", default="", help="Who decides; accept needs a name.")
def decide(folder: Path, word: str, finding: str, because: str, by: str) -> None:
    """Write a decision on FINDING (its id, how it begins, or its part) into decisions.txt."""
    from buzzout.bench.decisions import contrary, new_line, warning
    from buzzout.bench.keep import add_line, write_new
    from buzzout.language import render

    place = job_folder(folder)
    now = _state(place)
    try:
        line = new_line((word, finding), because, by, now.punch)
        said = next((d.span.line for d in now.decisions if str(d) == line), 0)
        if not said:
            if against := contrary(line, now.decisions):
                fail(render((against,), now.typed))
            write_new(place.decisions, b"")
            add_line(place.decisions, line)
    except ValueError as wrong:
        fail(str(wrong))
    except OSError as error:
        fail(f"cannot write {place.decisions}: {error.strerror}")
    click.echo(line)
    if said:
        click.echo(f"line {said} says so already: nothing was added", err=True)
    if told := warning(line, now.punch):
        _say([told])


@job.command("as-left", short_help="What is closed, still open, new.")
@click.argument("folder", type=_FOLDER)
@click.option("--before", type=_ANY, required=True, metavar="NAME|FILE",
              help="The earlier state: a name given to keep, or a found file.")  # fmt: skip
def as_left(folder: Path, before: Path) -> None:
    """What is closed since an earlier state, what is still open, what is new."""
    from buzzout.bench.as_left import as_left as compared
    from buzzout.bench.as_left import told

    place = job_folder(folder)
    earlier = before if before.is_file() else place.kept(str(before))
    if not earlier.is_file():
        names = ", ".join(place.states) or "none"
        fail(f"no state of {folder} is kept under the name {before}; kept so far: {names}")
    made = compared(_state(place, earlier).punch, _state(place).punch)
    _say(told(made))
    sys.exit(DISCREPANCIES if made.still or made.new else IN_ORDER)


@job.command(short_help="What to buy.")
@click.argument("folder", type=_FOLDER)
@click.option("--csv", "as_table", is_flag=True, help="A table for a spreadsheet.")
@click.option("--html", type=_FILE, metavar="FILE.html", help="Write a page to print and tick.")
def order(folder: Path, as_table: bool, html: Path | None) -> None:
    """What to buy for what is open, with the ratings that this circuit needs, and why."""
    from buzzout.bench import order as orders

    now = _state(job_folder(folder))
    made = orders.order(now.punch, now.settled)
    if html is not None:
        _page(html, "order.html", title=now.drawn.circuit.title, order=made)
    if as_table:
        click.echo(orders.as_csv(made), nl=False)
    else:
        _say(orders.told(made))


@job.command("bring-up", short_help="The bring-up plan of this set.")
@click.argument("folder", type=_FOLDER)
@click.option("--html", type=_FILE, metavar="FILE.html", help="Write a page to print and fill in.")
def bring_up(folder: Path, html: Path | None) -> None:
    """The bring-up plan of this set: what to meter at each step, what to expect, where to stop.

    Status 1: refused, because something that can hurt or destroy is open.
    """
    from buzzout.bench.bring_up import bring_up as planned
    from buzzout.bench.bring_up import told

    now = _state(job_folder(folder))
    made = planned(now.chassis.circuit, now.punch.gate)
    if html is not None:
        _page(html, "bring_up.html", title=now.chassis.circuit.title, plan=made)
    click.echo(_caution())
    _say(told(made))
    sys.exit(DISCREPANCIES if made.refused else IN_ORDER)


@job.command(short_help="What explains the readings.")
@click.argument("folder", type=_FOLDER)
@click.option("--step", type=click.IntRange(0), default=None,
              help="Only the readings of this step of the bring-up plan.")  # fmt: skip
def diagnose(folder: Path, step: int | None) -> None:
    """Compare the typed readings with what this chassis should show, and explain what is off.

    Status 1: a reading is off.
    """
    from buzzout.bench.readings import report
    from buzzout.bench.reported import told
    from buzzout.bench.sittings import sittings

    place = job_folder(folder)
    typed = loaded_or_fail(place.readings, wanted="found")
    chosen = [s for s in sittings(typed.circuit) if step is None or s.step == step]
    if not chosen:
        fail(f"no readings in {place.readings}: write lines such as  reads V1.1 168 V mains 229 V")
    now = _state(place)
    click.echo(_caution())
    made = report(chosen, now.punch.comparison)
    _say(told(made))
    sys.exit(IN_ORDER if made.in_order else DISCREPANCIES)


@job.command("output-stage", short_help="Current and dissipation of the output valves.")
@click.argument("folder", type=_FOLDER)
def output_stage(folder: Path) -> None:
    """Current and dissipation of the output valves from the typed readings, and a proposal."""
    from buzzout.bench.output_stage import NO_STAGE, stages, told
    from buzzout.bench.sittings import sittings

    place = job_folder(folder)
    typed = loaded_or_fail(place.readings, wanted="found")
    now = _state(place)
    click.echo(_caution())
    found = stages(sittings(typed.circuit), now.punch.comparison)
    for bias in found:
        _say(told(bias))
    if not found:
        _say([NO_STAGE])


@job.command(short_help="The paper for owner and technician.")
@click.argument("folder", type=_FOLDER)
@click.option("--for", "reader", type=click.Choice(["owner", "technician"]), default="owner",
              show_default=True, help="Whom it is for.")  # fmt: skip
@click.option("--html", type=_FILE, metavar="FILE.html",
              help="Write the page to print; without it, text on standard output.")  # fmt: skip
def record(folder: Path, reader: str, html: Path | None) -> None:
    """The record: as found, decided, changed, as left, readings, what was not checked."""
    from buzzout.bench.record import as_page, as_text
    from buzzout.bench.record import record as made_of

    made = made_of(_state(job_folder(folder)))
    if html is None:
        _say(as_text(made, reader).splitlines())
    else:
        write(html, as_page(made, reader))


@job.command(short_help="A page that follows while you type.")
@click.argument("folder", type=_FOLDER)
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="0 takes a free one.")
@click.option("--open/--no-open", "opened", default=True, help="Open the page in a browser.")
def watch(folder: Path, port: int, opened: bool) -> None:
    """Keep a page of the job up to date while you type. Ctrl-C ends it.

    The page is for this machine alone, behind a random address; it reads the files and never
    writes them.
    """
    import webbrowser

    from buzzout.bench.serve import serve

    place = job_folder(folder)
    if not place.path.is_dir():
        fail(f"there is no folder {folder}")

    def tell(address: str) -> None:
        click.echo(address)
        click.echo("The page follows what you save, until Ctrl-C.", err=True)
        if opened:
            webbrowser.open(address)

    try:
        serve(place, tell, port)
    except OSError as error:
        fail(f"cannot listen on port {port}: {error.strerror}")


def job_folder(path: Path) -> Folder:
    """The job folder at a path; the person's own devices that lie in it are known from here on."""
    from buzzout.bench.folder import Folder
    from buzzout.cli.common import use_own_devices

    use_own_devices(path)
    return Folder(path)


def _read(folder: Folder):  # type: ignore[no-untyped-def]  # noqa: ANN202
    from buzzout.bench.folder import Refused
    from buzzout.bench.state import read_job
    from buzzout.language import Unreadable

    try:
        return read_job(folder)
    except (Refused, Unreadable) as wrong:
        fail(str(wrong))


def _state(folder: Folder, chassis: Path | None = None) -> State:
    """Read and compare a job; what is wrong with it ends the command."""
    from buzzout.bench.folder import Refused
    from buzzout.bench.state import state
    from buzzout.cli.progress import shown
    from buzzout.language import Unreadable, render

    try:
        with shown() as tell:
            now = state(folder, chassis, progress=tell)
    except (Refused, Unreadable) as wrong:
        fail(str(wrong))
    if now.problems:
        click.echo(render(now.problems, now.typed), err=True)
    return now


def _write_sheet(folder: Folder, path: Path) -> None:
    from buzzout.bench.sheet import sheets

    write(path, sheets(_read(folder).chassis.circuit))


def _page(path: Path, template: str, **told: object) -> None:
    from buzzout.bench.pages import rendered

    write(path, rendered(template, **told))


def _typed(folder: Path) -> str:
    """A folder as one types it after a command."""
    return f'"{folder}"' if " " in str(folder) else str(folder)


def _say(lines: Iterable[str]) -> None:
    """Lines of text, the long ones broken where their words begin.

    Names to copy stay whole, and so do rows of columns.
    """
    import re
    import textwrap

    wide = width(_WIDTH)
    for line in lines:
        start = re.match(r" *(?:\[ \] |- )?(?:[^ ]+  +)?", line)
        hang = " " * min(start.end() if start else 0, 24)
        row = len(line) <= _WIDTH and len(re.findall(r"\S {2,}(?=\S)", line)) > 1
        whole = len(line) <= wide or row or line.lstrip().startswith(_TO_COPY)
        click.echo(
            line
            if whole
            else textwrap.fill(
                line,
                wide,
                subsequent_indent=hang,
                break_long_words=False,
                break_on_hyphens=False,
                drop_whitespace=True,
            )
        )


def _caution() -> str:
    import textwrap

    from buzzout.job.confirm import CAUTION

    return textwrap.fill(CAUTION, width(96)) + "\n"
