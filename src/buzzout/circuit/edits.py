"""Changes to a circuit: remedies of findings and departures from a drawing are lists of these."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
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
    for edit in edits:
        circuit = _apply(edit, circuit)
    return circuit


@singledispatch
def _apply(edit: Edit, _circuit: Circuit) -> Circuit:
    raise TypeError(edit)


@_apply.register
def _(edit: Remove, circuit: Circuit) -> Circuit:
    _known(circuit, edit.part)
    parts = {name: part for name, part in circuit.parts.items() if name != edit.part}
    kept = (x for x in circuit.links if edit.part not in (x.a.owner, x.b.owner))
    return circuit.but(parts, kept)


@_apply.register
def _(edit: Fit, circuit: Circuit) -> Circuit:
    if edit.part.name in circuit.parts:
        raise CannotApply(f"there is a part called {edit.part.name} already")
    leads = [Link(edit.part.point(t), at, "lead") for t, at in edit.ends]
    return circuit.but({**circuit.parts, edit.part.name: edit.part}, [*circuit.links, *leads])


@_apply.register
def _(edit: Change, circuit: Circuit) -> Circuit:
    _known(circuit, edit.part)
    return circuit.but({**circuit.parts, edit.part: replace(edit.to, name=edit.part)})


@_apply.register
def _(edit: Join, circuit: Circuit) -> Circuit:
    return circuit.but(links=[*circuit.links, Link(edit.a, edit.b, "wire", edit.colour)])


@_apply.register
def _(edit: Cut, circuit: Circuit) -> Circuit:
    at = _find(circuit, edit.a, edit.b)
    return circuit.but(links=circuit.links[:at] + circuit.links[at + 1 :])


@_apply.register
def _(edit: Move, circuit: Circuit) -> Circuit:
    at = _find(circuit, edit.fixed, edit.old)
    link = circuit.links[at]
    a, b = (edit.new if p == edit.old and p != edit.fixed else p for p in (link.a, link.b))
    return circuit.but(
        links=[*circuit.links[:at], replace(link, a=a, b=b), *circuit.links[at + 1 :]]
    )


@_apply.register
def _(edit: Rewire, circuit: Circuit) -> Circuit:
    _known(circuit, edit.part)
    table = {Point(edit.part, old): Point(edit.part, new) for old, new in edit.pins}
    moved = (
        replace(x, a=table.get(x.a, x.a), b=table.get(x.b, x.b))
        if edit.part in (x.a.owner, x.b.owner)
        else x
        for x in circuit.links
    )
    return circuit.but(links=moved)


def _known(circuit: Circuit, name: str) -> None:
    if name not in circuit.parts:
        raise CannotApply(f"there is no part called {name}")


def _find(circuit: Circuit, a: Point, b: Point) -> int:
    for index, link in enumerate(circuit.links):
        if (link.a == a and link.b == b) or (link.a == b and link.b == a):
            return index
    raise CannotApply(f"nothing joins {a} and {b} directly")


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
