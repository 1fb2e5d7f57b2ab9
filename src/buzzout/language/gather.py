"""From files to one flat list of statements: includes spliced in, repeated pieces written out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from lark import Tree

from buzzout.catalogue import nearest
from buzzout.circuit import Span
from buzzout.language.grammar import Line, Node, parse_lines
from buzzout.language.problems import ProblemList
from buzzout.language.slips import FIRST_WORDS, PART_KINDS, QUOTES
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
        return self.line.span()


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
    reader = _Reader(gathered, problems)
    lines = reader.read(path, None)
    if lines:
        _head(lines, gathered, problems)
        reader.splice(lines, (path,))
    return gathered


def _head(lines: list[Line], gathered: Gathered, problems: ProblemList) -> None:
    """Read the first statement, which says what kind of file this is."""
    said = [line for line in lines if line.text.strip() and line.text.strip()[0] != "#"]
    first = said[0] if said else lines[0]
    if first.tree is not None and first.tree.data == "header":
        gathered.kind = str(first.tree.children[0]).lower()
        gathered.title = str(first.tree.children[1]).strip(QUOTES)
        return
    word = first.text.split()[0] if said else ""
    if word and first.tree is None and nearest(word, FILE_KINDS, 1):
        return  # a heading with a slip in it, which is told already
    if first.tree is None and _meant_as_heading(first.text):
        place = (first.file, first.number)
        problems.items = [p for p in problems.items if p.span[:2] != place]
    problems.error(
        first.span(),
        "the first line must say what this file is",
        'reference "…" for a drawing, found "…" for a chassis, departures "…" for wanted changes',
    )


def _meant_as_heading(text: str) -> bool:
    """Whether a line that cannot be read is a heading by another word: one mistake, told once."""
    word, _, rest = text.strip().partition(" ")
    if rest.lstrip().startswith(tuple(QUOTES)):
        return True
    known = (*FIRST_WORDS, *PART_KINDS)
    return word.lower() not in known and not any(sign.isdigit() for sign in word)


@dataclass
class _Reader:
    """Splices files and blocks into one list; `opened` is the block that is being written down."""

    gathered: Gathered
    problems: ProblemList
    blocks: dict[str, tuple[Line, list[Statement]]] = field(default_factory=dict)
    opened: Line | None = None

    def read(self, path: Path, asked: Span | None) -> list[Line]:
        shown = path.as_posix()
        text = read_lines(path, self.problems, asked)
        self.gathered.sources[shown] = text
        return parse_lines(shown, text, self.problems)

    def splice(self, lines: list[Line], trail: tuple[Path, ...]) -> None:
        for line in lines:
            if line.tree is None:
                continue
            rule = line.tree.data
            if rule == "block":
                self._open(line, line.tree)
            elif rule == "end":
                self._close(line)
            elif self.opened is not None and self.opened.tree is not None:
                name = designation(self.opened.tree.children[0])
                self.blocks[name][1].append(Statement(line.tree, line))
            elif rule == "use":
                self._use(line, line.tree)
            elif rule == "include":
                self._include(line, line.tree, trail)
            else:
                self.gathered.statements.append(Statement(line.tree, line))
        if self.opened is not None:
            self.problems.error(self.opened.span(), "this block is never closed", "add a line: end")
            self.opened = None

    def _open(self, line: Line, tree: Node) -> None:
        if self.opened is not None:
            self.problems.error(
                line.span(), "a block cannot stand inside a block", "close the one above with end"
            )
        self.opened = line
        self.blocks[designation(tree.children[0])] = (line, [])

    def _close(self, line: Line) -> None:
        if self.opened is None:
            self.problems.error(line.span(), "end without a block above it")
        self.opened = None

    def _use(self, line: Line, tree: Node) -> None:
        name, prefix = designation(tree.children[0]), designation(tree.children[1])
        if name not in self.blocks:
            known = ", ".join(self.blocks) or "none so far"
            message = f"there is no block {name!r} above"
            self.problems.error(line.span(), message, f"known: {known}")
            return
        head, body = self.blocks[name]
        wanted = [designation(c) for c in head.tree.children[1:]] if head.tree else []
        ports = [c for c in tree.children[2:] if isinstance(c, Tree)]
        given = {designation(port.children[0]): designation(port.children[1]) for port in ports}
        if missing := [port for port in wanted if port not in given]:
            self.problems.error(
                line.span(),
                f"no point given for {', '.join(missing)} of block {name}",
                f"as in: use {name} as {prefix} " + " ".join(f"{p} V1.3" for p in wanted),
                (head.span(), "the block begins here"),
            )
            return
        for port in given:
            if port not in wanted:
                message = f"block {name} has no port {port!r}"
                self.problems.error(line.span(), message, ", ".join(wanted))
        local = frozenset(_declared(statement.tree) for statement in body) - {""}
        scope = Scope(f"{prefix}-", local - set(wanted), given)
        self.gathered.statements += [Statement(s.tree, s.line, scope) for s in body]

    def _include(self, line: Line, tree: Node, trail: tuple[Path, ...]) -> None:
        path = trail[-1].parent / str(tree.children[0]).strip(QUOTES)
        if path.resolve() in [p.resolve() for p in trail]:
            circle = " -> ".join(p.name for p in (*trail, path))
            self.problems.error(line.span(), f"this file includes itself in the end: {circle}")
            return
        lines = self.read(path, line.span())
        header = next((x for x in lines if x.tree is not None), None)
        if header is not None and header.tree is not None and header.tree.data == "header":
            lines.remove(header)
        self.splice(lines, (*trail, path))


def _declared(tree: Node) -> str:
    """Find the name that a statement declares, if it does."""
    first = next((c for c in tree.children if isinstance(c, Tree)), None)
    if first is None:
        return ""
    declares = first.data == "name" or (tree.data == "node" and "." not in designation(first))
    return designation(first) if declares else ""
