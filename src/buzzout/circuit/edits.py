"""Changes to a circuit: remedies of findings and departures from a drawing are lists of these."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, replace
from functools import singledispatch
from typing import Any

from buzzout.circuit.circuit import Circuit, Link
from buzzout.circuit.parts import Part, Point


class CannotApply(ValueError):
    """The circuit has no such part, point or link. The message names it."""


@dataclass(frozen=True, slots=True)
class Remove:
    """Take a part out, its leads with it."""

    part: str


@dataclass(frozen=True, slots=True)
class Fit:
    """Put a part in; `ends` gives the point that each terminal lands on."""

    part: Part
    ends: tuple[tuple[str, Point], ...]


@dataclass(frozen=True, slots=True)
class Change:
    """Replace a part by one like it with other properties (value, type, ratings), in place."""

    part: str
    to: Part


@dataclass(frozen=True, slots=True)
class Join:
    """Add a wire between two points."""

    a: Point
    b: Point
    colour: str = ""


@dataclass(frozen=True, slots=True)
class Cut:
    """Take away one wire or joint between two points."""

    a: Point
    b: Point


@dataclass(frozen=True, slots=True)
class Move:
    """Lift the end of a link from `old` and land it on `new`; `fixed` is its other end."""

    fixed: Point
    old: Point
    new: Point


@dataclass(frozen=True, slots=True)
class Rewire:
    """Move every link on the pins of one part at once: pin to pin.

    Turning a part round is `(("+", "-"), ("-", "+"))`, a socket wired mirror-wise a whole table.
    """

    part: str
    pins: tuple[tuple[str, str], ...]


Edit = Remove | Fit | Change | Join | Cut | Move | Rewire


def apply(circuit: Circuit, edits: Iterable[Edit]) -> Circuit:
    """The circuit after the edits, in their order.

    Raises
    ------
    CannotApply
        If an edit names what is not there.
    """
    steps = list(edits)
    if not steps:
        return circuit
    work = _Workpiece(circuit, steps)
    for edit in steps:
        _do(edit, work)
    return circuit.but(work.parts, work.links.values())


class _Workpiece:
    """A circuit while edits are made to it.

    Links are kept by number, in order; `on` has those of each part that some edit names, so that
    an edit costs what it touches and not what the whole circuit has.
    """

    def __init__(self, circuit: Circuit, edits: Iterable[Edit]) -> None:
        self.parts = dict(circuit.parts)
        self.links = dict(enumerate(circuit.links))
        self.on: dict[str, set[int]] = {name: set() for edit in edits for name in _named(edit)}
        for number, link in self.links.items():
            for owner in (link.a.owner, link.b.owner):
                if owner in self.on:
                    self.on[owner].add(number)

    def add(self, link: Link) -> None:
        """A link more, the last one."""
        self.change(next(reversed(self.links), -1) + 1, link)

    def change(self, number: int, link: Link | None) -> None:
        """Another link in place of one, or none."""
        old = self.links.get(number)
        for owner in (old.a.owner, old.b.owner) if old else ():
            self.on.get(owner, set()).discard(number)
        if link is None:
            del self.links[number]
            return
        self.links[number] = link
        for owner in (link.a.owner, link.b.owner):
            self.on.get(owner, set()).add(number)

    def know(self, name: str) -> None:
        """Nothing can be done to a part that is not there."""
        if name not in self.parts:
            raise CannotApply(f"there is no part called {name}")

    def between(self, a: Point, b: Point) -> int:
        """The first link that joins two points."""
        near = min(self.on[a.owner], self.on[b.owner], key=len)
        hits = [n for n in near if {self.links[n].a, self.links[n].b} == {a, b}]
        if not hits:
            raise CannotApply(f"nothing joins {a} and {b} directly")
        return min(hits)


def _named(edit: Edit) -> Iterator[str]:
    """The parts whose links an edit may touch."""
    for spec in fields(edit):
        value = getattr(edit, spec.name)
        if isinstance(value, Point):
            yield value.owner
        elif isinstance(value, Part):
            yield value.name
        elif spec.name == "part":
            yield value


@singledispatch
def _do(edit: Edit, _work: _Workpiece) -> None:
    raise TypeError(edit)


@_do.register
def _(edit: Remove, work: _Workpiece) -> None:
    work.know(edit.part)
    del work.parts[edit.part]
    for number in tuple(work.on[edit.part]):
        work.change(number, None)


@_do.register
def _(edit: Fit, work: _Workpiece) -> None:
    if edit.part.name in work.parts:
        raise CannotApply(f"there is a part called {edit.part.name} already")
    work.parts[edit.part.name] = edit.part
    for terminal, at in edit.ends:
        work.add(Link(edit.part.point(terminal), at, "lead"))


@_do.register
def _(edit: Change, work: _Workpiece) -> None:
    work.know(edit.part)
    work.parts[edit.part] = replace(edit.to, name=edit.part)


@_do.register
def _(edit: Join, work: _Workpiece) -> None:
    work.add(Link(edit.a, edit.b, "wire", edit.colour))


@_do.register
def _(edit: Cut, work: _Workpiece) -> None:
    work.change(work.between(edit.a, edit.b), None)


@_do.register
def _(edit: Move, work: _Workpiece) -> None:
    number = work.between(edit.fixed, edit.old)
    link = work.links[number]
    a, b = (edit.new if p == edit.old and p != edit.fixed else p for p in (link.a, link.b))
    work.change(number, replace(link, a=a, b=b))


@_do.register
def _(edit: Rewire, work: _Workpiece) -> None:
    work.know(edit.part)
    table = {Point(edit.part, old): Point(edit.part, new) for old, new in edit.pins}
    for number in work.on[edit.part]:
        link = work.links[number]
        work.links[number] = replace(link, a=table.get(link.a, link.a), b=table.get(link.b, link.b))


def as_step(edit: Edit) -> dict[str, Any]:
    """An edit as a plain mapping for JSON: `{"do": "move", "fixed": "R5.1", …}`."""
    step: dict[str, Any] = {"do": type(edit).__name__.lower()}
    for spec in fields(edit):
        step[spec.name] = _plain(getattr(edit, spec.name))
    return step


def _plain(value: Any) -> Any:
    if isinstance(value, Point):
        return str(value)
    if isinstance(value, Part):
        return _plain_part(value)
    if isinstance(value, tuple):
        return {key: _plain(item) for key, item in value}
    return value


def _plain_part(part: Part) -> Mapping[str, Any]:
    told: dict[str, Any] = {"name": part.name, "kind": part.kind}
    for key in ("value", "voltage", "power", "current", "type", "base"):
        if getattr(part, key):
            told[key] = str(getattr(part, key))
    return told
