"""What is wrong with a file, told to a person: place, line, expectation, likely fix."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from buzzout.circuit import NOWHERE, Span


@dataclass(frozen=True, slots=True)
class Problem:
    """One mistake or doubt.

    `message` has no capital and no full stop at its end; `hint` is the likely fix; `related` are
    other lines that have to do with it, each with a caption. `level` is "error" or "warning".
    """

    message: str
    span: Span = NOWHERE
    hint: str = ""
    related: tuple[tuple[Span, str], ...] = ()
    level: str = "error"


class Unreadable(Exception):
    """A file cannot be turned into a circuit; `problems` says why, all in one go."""

    def __init__(self, problems: Iterable[Problem], sources: Mapping[str, tuple[str, ...]]) -> None:
        """Keep the problems and the text they speak of."""
        self.problems = tuple(problems)
        self.sources = sources
        super().__init__(render(self.problems, sources))


@dataclass
class ProblemList:
    """Problems as they come up, in one place for a whole load."""

    items: list[Problem] = field(default_factory=list)

    def error(self, span: Span, message: str, hint: str = "", *related: tuple[Span, str]) -> None:
        """Note something that must be mended before the file means anything."""
        self.items.append(Problem(message, span, hint, related))

    def warn(self, span: Span, message: str, hint: str = "", *related: tuple[Span, str]) -> None:
        """Note something that the person should look at."""
        self.items.append(Problem(message, span, hint, related, "warning"))

    @property
    def fatal(self) -> bool:
        """Whether one of them is an error."""
        return any(problem.level == "error" for problem in self.items)

    def sorted(self) -> tuple[Problem, ...]:
        """In order of file and line, each once."""
        unique = dict.fromkeys(self.items)
        return tuple(sorted(unique, key=lambda p: (p.span.file, p.span.line, p.span.column)))


def render(problems: Iterable[Problem], sources: Mapping[str, tuple[str, ...]]) -> str:
    """All problems as text: `file:line:column: error: …`, the line, a marker, the hint."""
    return "\n".join(_one(problem, sources) for problem in problems)


def _one(problem: Problem, sources: Mapping[str, tuple[str, ...]]) -> str:
    head = f"{problem.level}: {problem.message}"
    place = problem.span
    rows = [f"{place}: {head}" if place.line else f"{place.file}: {head}" if place.file else head]
    rows += excerpt(place, sources)
    for span, caption in problem.related:
        rows.append(f"  {span}: {caption}")
        rows += excerpt(span, sources)
    if problem.hint:
        rows.append(f"  hint: {problem.hint}")
    return "\n".join(rows)


def excerpt(span: Span, sources: Mapping[str, tuple[str, ...]]) -> list[str]:
    """The line a span points at and a marker line below it that keeps the line's tabs."""
    lines = sources.get(span.file, ())
    if not 1 <= span.line <= len(lines):
        return []
    text = lines[span.line - 1]
    lead = "".join(c if c == "\t" else " " for c in text[: span.column - 1])
    lead += " " * (span.column - 1 - len(lead))
    number = f"{span.line:>5}"
    return [f"{number} | {text}", f"      | {lead}{'^' * max(1, span.end - span.column)}"]
