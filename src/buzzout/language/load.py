"""From a path to a circuit: the one door of this room."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from lark import Tree

from buzzout.circuit import Circuit, Span
from buzzout.language.builder import built
from buzzout.language.gather import Gathered, Statement, gather
from buzzout.language.problems import Problem, ProblemList, Unreadable
from buzzout.language.sightings import Entered
from buzzout.language.slips import QUOTES

_ARTICLE = {"reference": "a reference (a drawing)", "found": "a found file (a chassis)",
            "departures": "a departures file"}  # fmt: skip
EDITS = ("add", "remove", "change", "move", "lift", "join", "cut")
NOTHING = Entered((), (), (), ())


@dataclass(frozen=True)
class Loaded:
    """What came of one file: the circuit as far as it goes, and everything that is wrong.

    `drawing` is the reference a found file is of; `fresh` are the statements that declared a
    name in this file itself; `statements` all that it says.
    """

    circuit: Circuit
    problems: tuple[Problem, ...]
    sources: Mapping[str, tuple[str, ...]]
    entered: Entered = NOTHING
    drawing: Circuit | None = None
    fresh: Mapping[str, Statement] = field(default_factory=dict)
    statements: tuple[Statement, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether there is no error; warnings do not count."""
        return not any(problem.level == "error" for problem in self.problems)

    def sound(self) -> Loaded:
        """Itself, when there is no error.

        Raises
        ------
        Unreadable
            With every problem of the file.
        """
        if not self.ok:
            raise Unreadable(self.problems, self.sources)
        return self


def load(path: Path | str, drawing: Circuit | None = None, wanted: str = "") -> Loaded:
    """Read one file as far as it can be read.

    `drawing` gives the furniture to a found file; without it, the file's own `of` line is
    followed. `wanted` is the kind of file that the caller needs, "" for any.
    """
    problems = ProblemList()
    gathered = gather(Path(path), problems)
    if wanted and gathered.kind and gathered.kind != wanted:
        _wrong_kind(gathered, wanted, problems)
    sources = dict(gathered.sources)
    if gathered.kind in ("found", "departures"):
        drawing = _drawing(Path(path), gathered, drawing, problems, sources)
    _misplaced(gathered, problems)
    if not gathered.statements:
        return Loaded(Circuit(kind=gathered.kind), problems.sorted(), sources)
    if not gathered.kind:  # without knowing what it is, all else would be guesswork
        return Loaded(Circuit(kind=""), problems.sorted(), sources)
    furniture = drawing if gathered.kind == "found" else None
    if gathered.kind == "departures":
        empty = Circuit(kind="departures", title=gathered.title)
        return Loaded(
            empty,
            problems.sorted(),
            sources,
            drawing=drawing,
            statements=tuple(gathered.statements),
        )
    circuit, entered, fresh = built(gathered, problems, furniture)
    return Loaded(
        circuit, problems.sorted(), sources, entered, drawing, fresh, tuple(gathered.statements)
    )


def read(path: Path | str) -> Circuit:
    """The circuit that a reference or found file describes.

    Raises
    ------
    Unreadable
        With every problem of the file, each with its place and likely fix.
    """
    return load(path).sound().circuit


def _wrong_kind(gathered: Gathered, wanted: str, problems: ProblemList) -> None:
    file = next(iter(gathered.sources))
    problems.error(
        Span(file, 1, 1, 2),
        f"this is {_ARTICLE[gathered.kind]}, expected {_ARTICLE[wanted]}",
        "are the two files given in the wrong order? First the drawing, then the chassis",
    )


def _drawing(
    path: Path,
    gathered: Gathered,
    given: Circuit | None,
    problems: ProblemList,
    sources: dict[str, tuple[str, ...]],
) -> Circuit | None:
    """Find the drawing that a file is of: the one given, else the one that it names."""
    lines = [s for s in gathered.statements if s.rule == "of"]
    if given is None and not lines and gathered.kind == "departures":
        message = "of which drawing are these departures?"
        hint = 'add a line: of "hall-amplifier.reference.buzz"'
        problems.error(Span(path.as_posix(), 1), message, hint)
    if given is not None and lines and given.file:
        _other_drawing(lines[0], Path(given.file), problems)
    if given is not None or not lines:
        return given
    named = path.parent / str(lines[0].tree.children[0]).strip(QUOTES)
    if not named.is_file():
        from buzzout.language.source import read_lines  # noqa: PLC0415

        read_lines(named, problems, lines[0].span)
        return None
    drawn = load(named, wanted="reference")
    sources.update(drawn.sources)
    problems.items += [p for p in drawn.problems if p.level == "error"]
    return drawn.circuit


def _other_drawing(line: Statement, given: Path, problems: ProblemList) -> None:
    """Point out a chassis that is compared with another drawing than its own."""
    named = str(line.tree.children[0]).strip(QUOTES)
    if Path(named).name != given.name:
        message = f"this file is of {named}, but it is compared with {given.name}"
        problems.warn(line.span, message, "is it the right pair?")


def _misplaced(gathered: Gathered, problems: ProblemList) -> None:
    """Complain of statements that belong in another kind of file."""
    for statement in gathered.statements:
        rule = statement.rule
        if gathered.kind != "departures" and rule not in EDITS:
            _reasons(statement, problems)
        if rule == "header" and isinstance(statement.tree, Tree):
            if statement.line.file != next(iter(gathered.sources)) or _second(statement, gathered):
                problems.error(statement.span, "a second heading", "one file says one thing")
        elif rule in EDITS and gathered.kind != "departures":
            problems.error(
                statement.span, f"{rule} belongs in a departures file",
                "in a found file, write what is there; in a drawing, what should be",
            )  # fmt: skip
        elif gathered.kind == "departures" and rule not in (*EDITS, "of", "date", "remark"):
            problems.error(
                statement.span, f"{rule} does not belong in a departures file",
                "it holds: of, add, remove, change, move, lift, join, cut",
            )  # fmt: skip
        elif rule in ("of", "fitted") and gathered.kind == "reference":
            problems.error(statement.span, f"{rule} belongs in a found file")


def _reasons(statement: Statement, problems: ProblemList) -> None:
    """Complain of a reason where nothing is departed from: it would not be kept."""
    if "because" not in statement.line.text.lower():
        return
    for reason in statement.tree.find_data("because"):
        message = "because belongs in a departures file"
        problems.error(statement.line.span(reason), message, 'here a remark is a note: note "…"')


def _second(statement: Statement, gathered: Gathered) -> bool:
    first = next(s for s in gathered.statements if s.rule == "header")
    return first is not statement
