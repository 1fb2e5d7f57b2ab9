"""What to look at in a circuit that reads well: idle furniture, floating grids, forbidden pins."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from buzzout.catalogue import device
from buzzout.circuit import Circuit, Part, article, listed
from buzzout.language.gather import Statement
from buzzout.language.grids import floating
from buzzout.language.problems import ProblemList


def doubt(circuit: Circuit, fresh: Mapping[str, Statement], problems: ProblemList) -> None:
    """Note every doubt as a warning. `fresh` are the statements that declare each name."""
    if circuit.kind == "reference" and not problems.fatal:
        _idle(circuit, fresh, problems)
        _floating(circuit, problems)
    for part in circuit.parts.values():
        if part.kind == "socket" and part.type:
            _forbidden(circuit, part, problems)


def _idle(circuit: Circuit, fresh: Mapping[str, Statement], problems: ProblemList) -> None:
    """Furniture of a drawing that nothing is joined to."""
    touched = {end.owner for link in circuit.links for end in (link.a, link.b)}
    parts = (circuit.parts.get(name) for name in fresh if name not in touched)
    idle = [part.name for part in parts if part is not None and part.kind != "bond"]
    if idle:
        message = f"nothing is joined to {listed(idle)}"
        problems.warn(fresh[idle[0]].span, message)


def _floating(circuit: Circuit, problems: ProblemList) -> None:
    """A grid of a drawing that hangs in the air."""
    for part, _, grid in floating(circuit):
        problems.warn(
            circuit.links_at[grid][0].span if grid in circuit.links_at else part.span,
            f"nothing leads direct current to or from the grid {grid}: it hangs in the air",
            f"was its resistor left out? For instance: R1 resistor 1M {grid} chassis",
        )


def _forbidden(circuit: Circuit, part: Part, problems: ProblemList) -> None:
    """A lead on a pin that the valve uses inside or that must stay free."""
    valve = device(part.type)
    pins = valve.forbidden if valve is not None else frozenset()
    for pin in _used(circuit, part, pins):
        link = circuit.links_at[part.point(pin)][0]
        problems.warn(
            link.span,
            f"{part.name}.{pin} must stay free: {article(part.type)} has it joined inside",
            "a free tag is a tie point, such a pin is none",
        )


def _used(circuit: Circuit, part: Part, pins: Iterable[str]) -> list[str]:
    return [pin for pin in part.terminals if pin in pins and part.point(pin) in circuit.links_at]
