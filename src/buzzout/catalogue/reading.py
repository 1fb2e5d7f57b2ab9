"""YAML read strictly: no repeated key, no number for a name, every value with its line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import yaml

_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_NUMBERS = ("tag:yaml.org,2002:int", "tag:yaml.org,2002:float")
_TEXT = "tag:yaml.org,2002:str"
Path_ = tuple[str, ...]


class Fault(NamedTuple):
    """One thing wrong in a data file: file, line from 1, path such as `ECC83.pins.3`, what."""

    file: str
    line: int
    path: str
    message: str

    def __str__(self) -> str:
        where = f"{self.path}: " if self.path else ""
        return f"{self.file}:{self.line}: {where}{self.message}"


@dataclass(slots=True)
class Sheet:
    """A data file as read: plain values, the line of each path, and the faults met on the way.

    `raw` is the spelling of whatever YAML read as a number.
    """

    file: str
    data: dict[str, Any] = field(default_factory=dict)
    lines: dict[Path_, int] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    raw: dict[Path_, str] = field(default_factory=dict)

    def line(self, path: Path_) -> int:
        """Line of a path, or of the nearest thing above it."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)

    def fault(self, path: Path_, message: str) -> Fault:
        """A fault at a path of this file."""
        return Fault(self.file, self.line(path), ".".join(path), message)


def read_plain(text: str) -> Any:
    """YAML that our own tools wrote: plain values, nothing checked."""
    return yaml.load(text, Loader=_Loader)  # noqa: S506 - one of the two safe ones


def read_sheet(text: str, file: str, first_line: int = 1) -> Sheet:
    """Read YAML text; faults are collected in the sheet, nothing is raised for what it says."""
    sheet = Sheet(file)
    try:
        root = yaml.compose(text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        line = error.problem_mark.line if error.problem_mark else 0
        sheet.faults.append(Fault(file, first_line + line, "", _words(error)))
        return sheet
    except yaml.YAMLError as error:
        sheet.faults.append(
            Fault(file, first_line, "", f"this is no text: {str(error).splitlines()[0]}")
        )
        return sheet
    if root is None:
        return sheet
    value = _Walk(sheet, first_line).value(root, ())
    if isinstance(value, dict):
        sheet.data = value
    else:
        sheet.faults.append(Fault(file, first_line, "", "expected names with a colon behind each"))
    return sheet


def _words(error: yaml.MarkedYAMLError) -> str:
    problem = (error.problem or "cannot be read").replace("found character '\\t'", "found a tab")
    return f"not readable as YAML: {problem} (blanks at the line's head? a quote left open?)"


class _Walk:
    """Turns nodes into values, noting lines and faults."""

    def __init__(self, sheet: Sheet, first_line: int) -> None:
        self.sheet, self.first, self.seen = sheet, first_line, set[int]()

    def value(self, node: yaml.Node, path: Path_) -> Any:
        self.sheet.lines.setdefault(path, node.start_mark.line + self.first)
        if id(node) in self.seen:
            self._fault(path, "is written with & and *; write it out instead")
            return None
        self.seen.add(id(node))
        if isinstance(node, yaml.MappingNode):
            return dict(self._pairs(node, path))
        if isinstance(node, yaml.SequenceNode):
            return [self.value(item, (*path, str(i + 1))) for i, item in enumerate(node.value)]
        return self._scalar(node, path)

    def _pairs(self, node: yaml.MappingNode, path: Path_) -> Iterator[tuple[str, Any]]:
        done: dict[str, int] = {}
        for key, item in node.value:
            name = str(key.value) if isinstance(key, yaml.ScalarNode) else "?"
            line = key.start_mark.line + self.first
            below = (*path, name)
            if name in done:
                self._at(line, below, f"is there twice (first in line {done[name]})")
                continue
            done[name] = line
            self.sheet.lines[below] = line
            if key.tag != _TEXT:
                self._at(line, below, f'write the name in quotes: "{name}"')
            yield name, self.value(item, below)

    def _scalar(self, node: yaml.Node, path: Path_) -> Any:
        if node.tag == _TEXT:
            return node.value
        value = _number(node)
        if value is not None:
            self.sheet.raw[path] = node.value
            return value
        if not node.value.strip() or node.value in ("~", "null"):
            self._fault(path, "is empty")
        else:
            self._fault(path, f'YAML takes {node.value} for something else; write "{node.value}"')
        return node.value

    def _fault(self, path: Path_, message: str) -> None:
        self._at(self.sheet.line(path), path, message)

    def _at(self, line: int, path: Path_, message: str) -> None:
        self.sheet.faults.append(Fault(self.sheet.file, line, ".".join(path), message))


def _number(node: yaml.Node) -> int | float | None:
    """The number that an unquoted scalar stands for; None for dates, yes and no, nothing."""
    if node.tag not in _NUMBERS:
        return None
    try:
        return float(node.value) if "." in node.value else int(node.value)
    except ValueError:
        return None
