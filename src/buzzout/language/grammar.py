"""One line of the notebook to one tree, or to one problem in words of the trade."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache

from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedInput
from platformdirs import user_cache_path

from buzzout.catalogue.files import data_folder
from buzzout.circuit import Span
from buzzout.language.problems import ProblemList
from buzzout.language.slips import explained, without_comment

Node = Tree[Token]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a file: its number, its text and, where it says something, its tree."""

    file: str
    number: int
    text: str
    tree: Node | None

    def span(self, item: Node | Token | None = None) -> Span:
        """Where a token or a subtree stands; the whole line where none is given."""
        tokens = (
            [item] if isinstance(item, Token) else list(item.scan_values(_is_token)) if item else []
        )
        if not tokens:
            code = without_comment(self.text).rstrip()
            start = len(code) - len(code.lstrip()) + 1
            return Span(self.file, self.number, start, len(code) + 1)
        first, last = tokens[0], tokens[-1]
        end = last.end_column or (last.column or 1) + len(last)
        return Span(self.file, self.number, first.column or 1, end)


def _is_token(item: object) -> bool:
    return isinstance(item, Token)


@cache
def parser() -> Lark:
    """The LALR parser of `grammars/buzz.lark`.

    Its tables are kept in the user's cache folder, where there is one: to build them takes longer
    than to read a chassis.
    """
    text = (data_folder("grammars") / "buzz.lark").read_text(encoding="utf-8")
    folder = user_cache_path("buzzout")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        tables = str(folder / "grammar.tables")
        return Lark(text, start="line", parser="lalr", cache=tables)
    except OSError:
        return Lark(text, start="line", parser="lalr")


@lru_cache(maxsize=20_000)
def _parsed(text: str) -> Node:
    """The tree of a line; a file that is read again has few lines that are new."""
    return parser().parse(text)


def parse_lines(file: str, lines: tuple[str, ...], problems: ProblemList) -> list[Line]:
    """Every line with its tree. A line that cannot be read is noted and has none."""
    return [_line(file, number, text, problems) for number, text in enumerate(lines, 1)]


def _line(file: str, number: int, text: str, problems: ProblemList) -> Line:
    if not text.strip() or text.lstrip().startswith("#"):
        return Line(file, number, text, None)
    try:
        tree = _parsed(text)
    except UnexpectedInput as error:
        problems.items.append(explained(file, number, text, error))
        return Line(file, number, text, None)
    statement = tree.children[0] if tree.children else None
    return Line(file, number, text, statement if isinstance(statement, Tree) else None)
