"""Remarks behind a statement that makes no part of its own: a wire, a winding, a heading."""

from __future__ import annotations

from dataclasses import dataclass

from lark import Tree

from buzzout.language.grammar import Line, Node
from buzzout.language.problems import ProblemList
from buzzout.language.slips import QUOTES


@dataclass(frozen=True, slots=True)
class Remarks:
    """What somebody remarked, "" for nothing; `unsure` and `unread` are words of the note."""

    note: str = ""
    photo: str = ""

    @property
    def text(self) -> str:
        """All of it in one."""
        return joined(self.note, f"photo {self.photo}" if self.photo else "")


def remarks(line: Line, tree: Node, problems: ProblemList) -> Remarks:
    """The remarks among the children of a statement; complain of what says nothing there."""
    notes: list[str] = []
    photos: list[str] = []
    for item in tree.children:
        wrapped = isinstance(item, Tree) and item.data == "circumstance"
        child = item.children[0] if wrapped and isinstance(item, Tree) else item
        if not isinstance(child, Tree):
            continue
        if child.data in ("note", "photo", "unsure", "unread"):
            text = str(child.children[0]).strip(QUOTES)
            (photos if child.data == "photo" else notes).append(text)
        elif child.data in ("type", "optional"):
            message = f"{child.data} says nothing here"
            problems.error(line.span(child) if child.children else line.span(), message, _HINT)
    return Remarks(joined(*notes), joined(*photos))


def joined(*texts: str) -> str:
    """Remarks one behind the other."""
    return "; ".join(text for text in texts if text)


_HINT = 'a remark goes in quotes: note "…"'
