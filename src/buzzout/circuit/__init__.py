"""The nouns of the trade: quantity, part, point, node, circuit. Imports nothing of ours."""

from buzzout.circuit.circuit import Circuit, Link, Mains, Node, Reading, Tone, joined, pieces
from buzzout.circuit.edits import (
    CannotApply,
    Change,
    Cut,
    Edit,
    Fit,
    Join,
    Move,
    Remove,
    Rewire,
    apply,
    as_step,
)
from buzzout.circuit.parts import CHASSIS, KINDS, NOWHERE, Element, Kind, Part, Point, Span
from buzzout.circuit.quantity import (
    NotAQuantity,
    Quantity,
    frequency,
    last_digit,
    parse,
    printed,
)
from buzzout.circuit.words import article, listed

__all__ = [
    "CHASSIS",
    "KINDS",
    "NOWHERE",
    "CannotApply",
    "Change",
    "Circuit",
    "Cut",
    "Edit",
    "Element",
    "Fit",
    "Join",
    "Kind",
    "Link",
    "Mains",
    "Move",
    "Node",
    "NotAQuantity",
    "Part",
    "Point",
    "Quantity",
    "Reading",
    "Remove",
    "Rewire",
    "Span",
    "Tone",
    "apply",
    "article",
    "as_step",
    "frequency",
    "joined",
    "last_digit",
    "listed",
    "parse",
    "pieces",
    "printed",
]
