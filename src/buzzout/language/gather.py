"""From files to one flat list of statements: includes spliced in, repeated pieces written out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from lark import Tree

from buzzout.circuit import Span
from buzzout.language.grammar import Line, Node, parse_lines
from buzzout.language.problems import ProblemList
from buzzout.language.source import read_lines
from buzzout.language.values import designation

FILE_KINDS = ("reference", "found", "departures")


@dataclass(frozen=True)
class Scope:
    """Names inside one use of a block: `local` ones get the prefix, `ports` lead outside."""

    prefix: str = ""
    local: frozenset[str] = frozenset()
    ports: Mapping[str, str] = field(default_factory=dict)


OUTSIDE = Scope()


@dataclass(frozen=True)
class Statement:
    """One tree with the line it stands on and the names that it sees."""

    tree: Node
    line: Line
    scope: Scope = OUTSIDE

    @property
    def rule(self) -> str:
        """Name of the grammar rule, as "socket"."""
        return str(self.tree.data)

    @property
    def span(self) -> Span:
        """The place of the whole statement."""
        return self.line.span(self.tree)


@dataclass
class Gathered:
    """Everything that was read before anything is understood."""

    kind: str = ""
    title: str = ""
    statements: list[Statement] = field(default_factory=list)
    sources: dict[str, tuple[str, ...]] = field(default_factory=dict)


def gather(path: Path, problems: ProblemList) -> Gathered:
    """All statements of a file and of those that it includes."""
    gathered = Gathered()
    lines = _read(path, gathered, problems, None)
    if not lines:
        return gathered
    _head(lines, gathered, problems)
    _splice(lines, (path.resolve(),), gathered, problems)
    return gathered


def _read(path: Path, gathered: Gathered, problems: ProblemList, asked: Span | None) -> list[Line]:
    shown = path.as_posix()
    text = read_lines(path, problems, asked)
    gathered.sources[shown] = text
    return parse_lines(shown, text, problems)


def _head(lines: list[Line], gathered: Gathered, problems: ProblemList) -> None:
    """Read the first statement, which says what kind of file this is."""
    first = next((line for line in lines if line.tree is not None), None)
    if first is not None and first.tree is not None and first.tree.data == "header":
        gathered.kind = str(first.tree.children[0]).lower()
        gathered.title = str(first.tree.children[1]).strip('"')
        return
    at = first or lines[0]
    problems.error(
        at.span(),
        "the first line must say what this file is",
        'reference "…" for a drawing, found "…" for a chassis, departures "…" for wanted changes',
    )


def _splice(
    lines: list[Line], trail: tuple[Path, ...], gathered: Gathered, problems: ProblemList
) -> None:
    blocks: dict[str, tuple[Line, list[Statement]]] = {}
    inside: list[Statement] | None = None
    opened: Line | None = None
    for line in lines:
        tree = line.tree
        if tree is None:
            continue
        if tree.data == "block":
            if opened is not None:
                problems.error(line.span(), "a block cannot stand inside a block",
                               "close the one above with end")  # fmt: skip
            opened, inside = line, []
            blocks[designation(tree.children[0])] = (line, inside)
        elif tree.data == "end":
            if opened is None:
                problems.error(line.span(), "end without a block above it")
            opened, inside = None, None
        elif inside is not None:
            inside.append(Statement(tree, line))
        elif tree.data == "use":
            _use(line, tree, blocks, gathered, problems)
        elif tree.data == "include":
            _include(line, tree, trail, gathered, problems)
        else:
            gathered.statements.append(Statement(tree, line))
    if opened is not None:
        problems.error(opened.span(), "this block is never closed", "add a line: end")


def _use(
    line: Line,
    tree: Node,
    blocks: Mapping[str, tuple[Line, list[Statement]]],
    gathered: Gathered,
    problems: ProblemList,
) -> None:
    name, prefix = designation(tree.children[0]), designation(tree.children[1])
    if name not in blocks:
        known = ", ".join(blocks) or "none so far"
        problems.error(line.span(), f"there is no block {name!r} above", f"known: {known}")
        return
    head, body = blocks[name]
    assert head.tree is not None
    wanted = [designation(child) for child in head.tree.children[1:]]
    given: dict[str, str] = {}
    for port in tree.children[2:]:
        if isinstance(port, Tree):
            given[designation(port.children[0])] = designation(port.children[1])
    if missing := [port for port in wanted if port not in given]:
        problems.error(
            line.span(), f"no point given for {', '.join(missing)} of block {name}",
            f"as in: use {name} as {prefix} " + " ".join(f"{p} V1.3" for p in wanted),
            (head.span(), "the block begins here"),
        )  # fmt: skip
    for port in given:
        if port not in wanted:
            problems.error(line.span(), f"block {name} has no port {port!r}", ", ".join(wanted))
    local = frozenset(_declared(statement.tree) for statement in body) - {""}
    scope = Scope(f"{prefix}-", local - set(wanted), given)
    gathered.statements += [Statement(s.tree, s.line, scope) for s in body]


def _declared(tree: Node) -> str:
    """Find the name that a statement declares, if it does."""
    first = tree.children[0] if tree.children else None
    if tree.data == "strip" and len(tree.children) > 1:
        first = tree.children[1]
    if isinstance(first, Tree) and first.data == "name":
        return designation(first)
    if isinstance(first, Tree) and tree.data == "node" and "." not in designation(first):
        return designation(first)
    return ""


def _include(
    line: Line, tree: Node, trail: tuple[Path, ...], gathered: Gathered, problems: ProblemList
) -> None:
    path = trail[-1].parent / str(tree.children[0]).strip('"')
    shown = Path(line.file).parent / str(tree.children[0]).strip('"')
    if path.resolve() in trail:
        circle = " -> ".join(p.name for p in (*trail, path))
        problems.error(line.span(), f"this file includes itself in the end: {circle}")
        return
    if not path.exists():
        read_lines(shown, problems, line.span())
        return
    lines = _read(shown, gathered, problems, line.span())
    header = next((x for x in lines if x.tree is not None), None)
    if header is not None and header.tree is not None and header.tree.data == "header":
        lines.remove(header)
    _splice(lines, (*trail, path.resolve()), gathered, problems)
