"""Everything a job folder says at this moment: read, compared, decided."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from buzzout.bench.decisions import Decision, Settled, read_decisions, settle
from buzzout.bench.folder import Folder, Refused
from buzzout.circuit import Circuit
from buzzout.compare import DEFAULT_EFFORT, compare
from buzzout.job import Listing, PunchList
from buzzout.job.gate import decided as gate_of
from buzzout.language import Loaded, Problem, Unreadable, load
from buzzout.language.coverage import coverage
from buzzout.language.departures import Departure, depart
from buzzout.language.gather import gather
from buzzout.language.problems import ProblemList
from buzzout.language.slips import QUOTES, without_comment
from buzzout.language.source import read_lines

_CURLED = frozenset("\u201c\u201d")
Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Read:
    """The files of a job before anything is compared.

    `drawn` is the drawing as it was drawn, `drawing` with the departures made. `said` is all that
    the files say, comments and empty lines left out: where it is the same, so is every comparison.
    """

    drawn: Loaded
    drawing: Circuit
    departures: tuple[Departure, ...]
    chassis: Loaded
    said: tuple[tuple[str, int, str], ...] = ()


@dataclass(frozen=True)
class State:
    """One reading of the folder.

    `problems` are those of the decisions file, `typed` its lines; files in our language are sound,
    or there is no state. `whole` is False while what the findings would do under power is still to
    be computed.
    """

    folder: Folder
    read: Read
    punch: PunchList
    decisions: tuple[Decision, ...] = ()
    settled: Settled = field(default_factory=Settled)
    problems: tuple[Problem, ...] = ()
    typed: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    whole: bool = True

    @property
    def drawn(self) -> Loaded:
        """The drawing as it was drawn."""
        return self.read.drawn

    @property
    def drawing(self) -> Circuit:
        """The drawing with the departures made."""
        return self.read.drawing

    @property
    def departures(self) -> tuple[Departure, ...]:
        """The departures."""
        return self.read.departures

    @property
    def chassis(self) -> Loaded:
        """The chassis."""
        return self.read.chassis


def read_job(folder: Folder, chassis: Path | None = None, before: Read | None = None) -> Read:
    """Read drawing, departures and chassis; a drawing that is as it was `before` is not read anew.

    Raises
    ------
    Refused
        If the folder is no job folder.
    Unreadable
        With every problem of a file in our language.
    """
    path = chassis or folder.chassis
    if not path.is_file():
        raise Refused(f"there is no {path}; {_lacks(folder)}")
    drawn = _drawn(_drawing_of(path), before)
    drawing, made = drawn.circuit, list[Departure]()
    for departures in folder.departures:
        departed = depart(drawing, departures)
        drawing = departed.circuit
        made += departed.departures
    found = load(path, drawing, wanted="found").sound()
    lines = {**drawn.sources, **found.sources}
    lines |= {p.as_posix(): read_lines(p, ProblemList()) for p in folder.departures}
    said = [
        (file, number, code)
        for file, text in lines.items()
        for number, line in enumerate(text, 1)
        if (code := _code(line))
    ]
    return Read(drawn, drawing, tuple(made), found, tuple(said))


def _code(line: str) -> str:
    """A line without its comment; whole where other quotation marks may hold a # of their own."""
    return line if _CURLED & set(line) else without_comment(line).rstrip()


def _lacks(folder: Folder) -> str:
    """What to do where there is no chassis file."""
    if not folder.drawings:
        return "begin a job: buzzout job new REFERENCE FOLDER"
    again = f"buzzout job new {folder.drawings[0]} {folder.path}"
    return f"give the chassis file that name again, or lay out a new one: {again}"


def _drawn(path: Path, before: Read | None) -> Loaded:
    """The drawing, with all that it includes."""
    if before is not None and next(iter(before.drawn.sources)) == path.as_posix():
        sources = before.drawn.sources.items()
        if all(read_lines(Path(name), ProblemList()) == text for name, text in sources):
            return before.drawn
    return load(path, wanted="reference").sound()


def _drawing_of(path: Path) -> Path:
    """The drawing that a found file names, wherever it lies."""
    lines = [s for s in gather(path, ProblemList()).statements if s.rule == "of"]
    if not lines:
        load(path, wanted="found").sound()
        raise Refused(f'{path} does not say which drawing it is of: add a line  of "…"')
    named: str = str(lines[0].tree.children[0]).strip(QUOTES)
    return Path(lines[0].line.file).parent / named


def state(
    folder: Folder,
    chassis: Path | None = None,
    effort: int = DEFAULT_EFFORT,
    progress: Progress | None = None,
) -> State:
    """Read a job and compare it; see `read_job` for what it raises."""
    return compared(folder, read_job(folder, chassis), progress, effort)


def compared(
    folder: Folder, got: Read, progress: Progress | None = None, effort: int = DEFAULT_EFFORT
) -> State:
    """Compare a job that was read, and compute what each finding would do under power."""
    comparison = compare(got.drawing, got.chassis.circuit, effort, progress)
    listing = Listing(comparison, coverage(got.chassis), got.departures)
    return decided(State(folder, got, listing.whole(progress)))


def steps(
    folder: Folder, got: Read, progress: Progress | None = None, last: State | None = None
) -> Iterator[State]:
    """The same step by step: the differences, then the list by rules as well, then the whole.

    `last` is the state before: where the files say the same, nothing is compared again; else what
    it says of an unchanged finding stands until that is asked anew. `progress` may raise to stop.
    """
    same = last is not None and last.read.said == got.said
    if last is not None and same and last.whole:
        yield decided(replace(last, read=got))
        return
    if last is not None and same:
        comparison = last.punch.comparison
    else:
        comparison = compare(got.drawing, got.chassis.circuit, progress=progress)
    listing = Listing(
        comparison,
        coverage(got.chassis),
        got.departures,
        before=last.punch if last is not None else None,
    )
    for made in (listing.early,) if same else (listing.first, listing.early):
        yield decided(State(folder, got, made(), whole=False))
    yield decided(State(folder, got, listing.whole(progress)))


def decided(plain: State) -> State:
    """The state with the decisions of its folder; a folder without such a file has none.

    What was accepted with a name counts at the gate as far as the gate lets it.
    """
    path = plain.folder.decisions
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        return replace(plain, settled=settle((), plain.punch.everything))
    except UnicodeDecodeError as error:
        problem = Problem(f"{path} is not UTF-8 (byte {error.start})", hint="save it as UTF-8")
        raise Unreadable((problem,), {}) from None
    decisions, problems = read_decisions(text, path.as_posix())
    settled = settle(decisions, plain.punch.everything, plain.chassis.circuit)
    accepted = {
        name: f"{decision.reason} ({decision.by})"
        for name, decision in settled.of.items()
        if decision.word == "accept"
    }
    punch = plain.punch
    if punch.gate is not None:
        gate = gate_of(punch.gate, punch.everything, accepted)
        punch = replace(punch, gate=gate, verdict=gate.verdict)
    typed = {path.as_posix(): tuple(text.splitlines())}
    return replace(
        plain, punch=punch, decisions=decisions, settled=settled, problems=problems, typed=typed
    )
