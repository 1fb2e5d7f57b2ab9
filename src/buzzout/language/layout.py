"""One canonical layout for any file: columns lined up, nothing lost, comments kept."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from lark import Token

from buzzout.language.grammar import Line, parse_lines, parser
from buzzout.language.problems import ProblemList
from buzzout.language.slips import without_comment

_UNDER_AT = ("part", "wire", "nothing")
_LINED_UP = ("part", "wire")
_COLUMNS = ("name", "kind", "facts", "near", "far", "remarks")
_REMARKS = ("NOTE", "PHOTO", "BECAUSE", "UNSURE", "OPTIONAL")
_SPOTS = ("POINT", "NAME", "UNSEEN")


@dataclass(frozen=True)
class _Row:
    """One line cut into columns; a row of no shape is kept as its only cell has it."""

    cells: dict[str, str]
    comment: str = ""
    indent: str = ""
    shape: str = ""


def formatted(text: str) -> str:
    """The same file in canonical layout; formatting again changes nothing.

    Lines that cannot be read are left exactly as they are.
    """
    raw = tuple(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"))
    rows = list(_rows(parse_lines("", raw, ProblemList())))
    # headings stand alone; other neighbours of one shape share their columns
    runs = groupby(
        rows, key=lambda row: (row.shape, row.indent, row.cells if row.shape == "at" else "")
    )
    return _squeezed(line for _, run in runs for line in _aligned(list(run)))


def _rows(lines: Iterable[Line]) -> Iterator[_Row]:
    under = ""  # "at" or "block" while their lines last
    for line in lines:
        if line.tree is None:
            yield _kept(line, under)
            continue
        rule = str(line.tree.data)
        if rule == "end" or (under != "block" and rule not in _UNDER_AT):
            under = ""
        indent = "  " if under else ""
        if rule in ("at", "block"):
            under = rule
        yield _row(line, rule, indent)


def _kept(line: Line, under: str) -> _Row:
    """A comment line, an empty one, or one that cannot be read."""
    bare = line.text.strip()
    if bare and not bare.startswith("#"):
        return _Row({"": line.text.rstrip()})
    indented = under and line.text[:1].isspace()
    return _Row({"": bare}, indent="  " if indented else "")


def _row(line: Line, rule: str, indent: str) -> _Row:
    code = without_comment(line.text)
    comment = line.text[len(code) :].lstrip("#").strip()
    tokens = list(parser().parse_interactive(code).exhaust_lexer())
    cells = _lined_up(tokens) if rule in _LINED_UP else _plain(tokens)
    return _Row(
        cells, f"# {comment}" if comment else "", indent, "=" if rule in _LINED_UP else rule
    )


def _plain(tokens: list[Token]) -> dict[str, str]:
    """The word, the name, the rest."""
    words = [str(token) for token in tokens]
    return {"name": words[0], "kind": " ".join(words[1:2]), "facts": " ".join(words[2:])}


def _lined_up(tokens: list[Token]) -> dict[str, str]:
    """Columns of a part or wire: name, kind, facts, near end, far end, remarks."""
    cells: dict[str, list[str]] = {}
    column = "name"
    for token, following in zip(tokens, [*tokens[1:], None], strict=True):
        column = _column(token, following, column, cells)
        cells.setdefault(column, []).append(str(token))
    return {name: " ".join(words) for name, words in cells.items()}


def _column(token: Token, following: Token | None, column: str, cells: dict[str, list[str]]) -> str:
    """The column a token falls into, from the one before it."""
    kind = token.type
    if kind in ("PART_KIND", "WIRE"):
        return "kind"
    if column == "name":
        return "name"
    if kind in _REMARKS or column == "remarks":
        return "remarks"
    if kind == "TO" or (kind == "SIGN" and following is not None and following.type == "TO"):
        return "far"
    if kind == "FROM":
        return "near"
    if kind in _SPOTS and column not in ("near", "far"):
        return "facts" if _after_word(cells) else "near"
    if kind in _SPOTS and column == "near":
        return "near" if cells["near"][-1].lower() in ("from", "through") else "far"
    if column == "kind" or (column in ("near", "far") and kind not in ("SIGN", "THROUGH", *_SPOTS)):
        return "facts" if column == "kind" else "remarks"
    return column


def _after_word(cells: dict[str, list[str]]) -> bool:
    """Whether the word before takes a name of its own, as `or 7025`, `type OA81`."""
    before = cells.get("facts", [""])[-1].lower()
    return before in ("or", "type", "marked")


def _aligned(run: list[_Row]) -> list[str]:
    if not run[0].shape:
        return [row.indent + row.cells[""] for row in run]
    used = [name for name in _COLUMNS if any(row.cells.get(name) for row in run)]
    widths = {name: max(len(row.cells.get(name, "")) for row in run) for name in used}
    gap = "  " if run[0].shape == "=" else " "
    texts = [
        row.indent + gap.join(row.cells.get(name, "").ljust(widths[name]) for name in used).rstrip()
        for row in run
    ]
    width = max((len(t) for t, row in zip(texts, run, strict=True) if row.comment), default=0)
    return [
        f"{text.ljust(width)}  {row.comment}" if row.comment else text
        for text, row in zip(texts, run, strict=True)
    ]


def _squeezed(lines: Iterable[str]) -> str:
    """At most one empty line in a row, none at the ends, one line end at the end."""
    out: list[str] = []
    for line in lines:
        if line or (out and out[-1]):
            out.append(line)
    while out and not out[-1]:
        out.pop()
    return "\n".join(out) + "\n"
