"""What a comparison says: findings, their proof, and which thing is which."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from buzzout.circuit import Circuit, Edit, Point, Span

DEFAULT_EFFORT = 100_000  # steps of the search: pivots of the solver

# Every kind of finding, with its title. Harmless ones are notes.
KINDS = {
    "part-missing": "part missing",
    "part-extra": "part too many",
    "value-wrong": "wrong value",
    "values-exchanged": "two parts in each other's place",
    "value-drifted": "value drifted",
    "under-rated": "rating too low",
    "wrong-type": "wrong type",
    "wrong-valve": "wrong valve",
    "reversed": "reversed",
    "wrong-point": "lead on the wrong point",
    "leads-exchanged": "two leads exchanged",
    "connection-missing": "connection missing",
    "bridge": "joined what should be apart",
    "socket-mirrored": "socket wired mirror-wise",
    "socket-shifted": "socket wiring shifted",
    "strip-reversed": "strip read from the wrong end",
    "pins-exchanged": "two pins exchanged",
    "sections-exchanged": "sections exchanged",
    "sockets-exchanged": "two sockets exchanged",
    "wiring-exchanged": "wired in each other's place",
    "names-exchanged": "called by each other's names",
    "pot-ends-exchanged": "ends of a control exchanged",
    "winding-reversed": "winding reversed",
    "wrong-tap": "wrong tap",
    "not-verified": "not verified",
    "equivalent-type": "equivalent type",
    "combined-parts": "parts that make the value together",
    "series-order": "series parts in another order",
    "better-rating": "better rating",
    "turned": "ends turned round",
}


@dataclass(frozen=True)
class Finding:
    """One difference between the drawing and the board.

    `parts` are names on the drawing, `found` names in the found file. `text` is one sentence,
    `action` what to do. `remedy` are edits of the found circuit; the remedies of all findings, in
    their order, make it equal to the drawing. `joined` are the ids of findings told as this one.
    `severity` is filled in by whoever knows what the difference would do under power.
    """

    id: str
    kind: str
    text: str
    action: str = ""
    severity: str = ""
    harmless: bool = False
    parts: tuple[str, ...] = ()
    found: tuple[str, ...] = ()
    points: tuple[Point, ...] = ()
    remedy: tuple[Edit, ...] = ()
    spans: tuple[Span, ...] = ()
    reference_spans: tuple[Span, ...] = ()
    joined: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """The kind in two or three words."""
        return KINDS[self.kind]


@dataclass(frozen=True)
class Proof:
    """What is certain about a list of findings.

    `sufficient`: all remedies applied, the board equals the drawing. `minimal`: no explanation with
    fewer physical errors exists, because at least `bound` are certain and `cost` were found.
    `steps` counts the search; `why` says in words what is missing where something is.
    """

    sufficient: bool
    minimal: bool
    cost: int
    bound: int
    steps: int = 0
    why: tuple[str, ...] = ()


@dataclass(frozen=True)
class Matching:
    """Which thing is which.

    `parts`: name on the drawing to names in the found file (several where they combine).
    `nodes`: index of the drawing's node to indices of found nodes. `pins`: for furniture whose pins
    were taken otherwise, pin meant to pin used.
    """

    parts: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    nodes: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    pins: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


@dataclass(frozen=True)
class Comparison:
    """Everything a comparison found. `repaired` is the found circuit after all remedies."""

    reference: Circuit
    found: Circuit
    findings: tuple[Finding, ...]
    proof: Proof
    matching: Matching
    repaired: Circuit

    @property
    def equal(self) -> bool:
        """Nothing but harmless differences."""
        return all(finding.harmless for finding in self.findings)
