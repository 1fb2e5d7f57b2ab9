"""What the drawing tells of windings and the chassis file leaves out.

A winding, of a transformer or a choke, shows neither volts nor amperes, ohms nor henries. Where the
chassis file is silent about one of them the rules and what is computed take the drawing's figure
for the same winding; the list says so. A phase mark is never taken over: whether there is one is
seen on the chassis.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from buzzout.circuit import Circuit, Element, Part
from buzzout.compare import Comparison

_SILENT = {"taps": (), "current": None, "resistance": (), "load": None, "value": None}


def lent(comparison: Comparison) -> tuple[Comparison, tuple[str, ...]]:
    """The comparison with silent windings told, and the parts that this was done to."""
    found, names = told(comparison.found, comparison.reference)
    if not names:
        return comparison, ()
    repaired, _ = told(comparison.repaired, comparison.reference)
    return replace(comparison, found=found, repaired=repaired), names


def told(circuit: Circuit, drawing: Circuit) -> tuple[Circuit, tuple[str, ...]]:
    """A chassis with its silent windings told, and the parts that this was done to."""
    parts = {
        name: _filled(part, drawing.parts[name]) if name in drawing.parts else part
        for name, part in circuit.parts.items()
    }
    names = tuple(name for name, part in parts.items() if part != circuit.parts[name])
    return (replace(circuit, parts=parts) if names else circuit), names


def _filled(part: Part, drawn: Part) -> Part:
    known = {e.terminals: e for e in drawn.elements if e.kind == "winding"}
    elements = tuple(_element(e, known.get(e.terminals)) for e in part.elements)
    current = part.current if part.kind != "choke" or part.current else drawn.current
    return replace(part, elements=elements, current=current)


def _element(winding: Element, drawn: Element | None) -> Element:
    if drawn is None:
        return winding
    told: dict[str, Any] = {
        what: getattr(drawn, what)
        for what, nothing in _SILENT.items()
        if getattr(winding, what) == nothing
    }
    return replace(winding, **told)
