"""Everything a job folder says at this moment: read, compared, decided."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

from buzzout.bench.decisions import Decision, Settled, read_decisions, settle
from buzzout.bench.folder import Folder, Refused
from buzzout.circuit import Circuit
from buzzout.compare import DEFAULT_EFFORT, compare
from buzzout.job import PunchList, punch_list
from buzzout.job.gate import decided as gate_of
from buzzout.language import Loaded, Problem, Unreadable, load
from buzzout.language.coverage import coverage
from buzzout.language.departures import Departure, depart
from buzzout.language.gather import gather
from buzzout.language.problems import ProblemList
from buzzout.language.slips import QUOTES

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class State:
    """One reading of the folder.

    `drawing` is the drawing with the departures made, `drawn` as it was drawn. `problems` are
    those of the decisions file; files in our language are sound, or there is no state.
    """

    folder: Folder
    drawn: Loaded
    drawing: Circuit
    departures: tuple[Departure, ...]
    chassis: Loaded
    punch: PunchList
    decisions: tuple[Decision, ...] = ()
    settled: Settled = field(default_factory=Settled)
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True)
class Read:
    """The files of a job before anything is compared; `text` is what stands in all of them."""

    drawn: Loaded
    drawing: Circuit
    departures: tuple[Departure, ...]
    chassis: Loaded
    text: tuple[tuple[str, ...], ...] = ()


def read_job(folder: Folder, chassis: Path | None = None) -> Read:
    """Read drawing, departures and chassis.

    Raises
    ------
    Refused
        If the folder is no job folder.
    Unreadable
        With every problem of a file in our language.
    """
    path = chassis or folder.chassis
    if not path.is_file():
        raise Refused(f"there is no {path}; begin a job: buzzout job new REFERENCE FOLDER")
    drawn = load(_drawing_of(path), wanted="reference").sound()
    drawing, made = drawn.circuit, list[Departure]()
    for departures in folder.departures:
        departed = depart(drawing, departures)
        drawing = departed.circuit
        made += departed.departures
    found = load(path, drawing, wanted="found").sound()
    text = [*drawn.sources.values(), *found.sources.values()]
    text += [tuple(p.read_text(encoding="utf-8-sig").splitlines()) for p in folder.departures]
    return Read(drawn, drawing, tuple(made), found, tuple(text))


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
    """Compare a job that was read."""
    comparison = compare(got.drawing, got.chassis.circuit, effort, progress)
    punch = punch_list(comparison, coverage(got.chassis), got.departures, consequences=True)
    plain = State(folder, got.drawn, got.drawing, got.departures, got.chassis, punch)
    return decided(plain)


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
    return replace(plain, punch=punch, decisions=decisions, settled=settled, problems=problems)
