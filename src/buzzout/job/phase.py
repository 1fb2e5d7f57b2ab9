"""Windings of which nobody marked the phase, where feedback hangs on them.

Turned end for end such a winding is as good as before; but where a loop leads through it and back
to an earlier stage, which way round it is wired decides between negative and positive feedback. No
drawing without a mark tells, so it has to be found out at the bench. In the coil of an oscillator
it decides whether that starts; what it does to the tuning of other coils is not computed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import permutations

from buzzout.catalogue import device
from buzzout.circuit import CHASSIS, Circuit, Element, Part
from buzzout.compare import Comparison, Finding
from buzzout.electrics.alternating import inductive
from buzzout.electrics.common import feeding
from buzzout.job.passages import Passage, Ways
from buzzout.job.told import through

_GREAT = 4e-6  # from here on a capacitor to the chassis is a short for the signal [F]
_RADIO_GREAT = 4e-9  # and for radio frequency, common practice [F]
_MIXES = {"mixer-grid", "oscillator-grid", "oscillator-anode"}
_DRIVEN = ("anode", "oscillator-anode", "screen", "cathode")
_PASSES = ("resistor", "capacitor", "winding", "track", "contact")

_TEXT = (
    "{}. Nobody marked the phase of this winding, and feedback hangs on it{}: which way round it is"
    " decides between negative and positive feedback, and neither drawing nor chassis tells."
)
_OSCILLATOR = (
    "{}. Nobody marked the phase of this winding, and the oscillator hangs on it: one way round it"
    " does not start, and neither drawing nor chassis tells which."
)
_COIL = (
    "{}. A coil works either way round, but its tuning and selectivity may be others; that is not"
    " computed."
)
_LEAVE = "Leave the ends as they are, unless the set does not tune as it should."
_ACTION = "Leave the ends as they are until the phase was tried, then write the phase mark down."
_TRY = "Leave the ends as they are until the set was tried, then write the phase mark down."
# Common practice: the grid current through its leak makes the bias of an oscillator.
GRID = (
    "Behind the lamp limiter, with one hand, clip a meter of 10 megohms from the grid of the"
    " oscillator to its cathode before you switch on: some volts negative, it oscillates; next to"
    " none, it does not. Then switch off, unplug, discharge each reservoir and measure it, exchange"
    " the two ends and try again (common practice)."
)
# Common practice for every amplifier whose output transformer was out or was rewound.
TRIAL = (
    "Connect the feedback last: lift it, insulate the end, and with a dummy load for the speaker,"
    " reduced signal and the lamp limiter note the output. Switch off, unplug, discharge each"
    " reservoir and measure it, then connect the feedback and try again. If the"
    " output rises or it howls, switch off at once; the two ends want exchanging (common practice)."
)


def unmarked(finding: Finding) -> bool:
    """Whether a finding is a winding turned round that decides the sign of a feedback."""
    return _turned(finding) and finding.action == _ACTION


def oscillates(finding: Finding) -> bool:
    """Whether a finding is a winding turned round on which hangs whether an oscillator starts."""
    return _turned(finding) and finding.action == _TRY


def coil(finding: Finding) -> bool:
    """Whether a finding is another winding for radio frequency turned round."""
    return _turned(finding) and finding.action == _LEAVE


def _turned(finding: Finding) -> bool:
    return finding.kind == "turned" and not finding.harmless


def phased(comparison: Comparison) -> Comparison:
    """The same comparison; no winding on which feedback hangs is called harmlessly turned."""
    if not any(f.kind == "turned" and f.harmless for f in comparison.findings):
        return comparison
    loops = Loops(comparison.reference)
    return replace(comparison, findings=tuple(_told(f, loops) for f in comparison.findings))


def _told(finding: Finding, loops: Loops) -> Finding:
    part = loops.circuit.parts.get(finding.parts[0]) if finding.parts else None
    if finding.kind != "turned" or not finding.harmless or part is None:
        return finding
    pins = {point.pin for point in finding.points}
    element = next((e for e in part.elements if pins <= set(e.terminals)), None)
    if element is None or part.kind != "transformer":
        return finding
    said = finding.text.partition(";")[0]
    if loops.coil(part):
        if loops.feeds_back(part):
            return replace(finding, text=_OSCILLATOR.format(said), action=_TRY, harmless=False)
        return replace(finding, text=_COIL.format(said), action=_LEAVE, harmless=False)
    if not loops.hang(part, element):
        return finding
    by = loops.by(part)
    text = _TEXT.format(said, f" by {by}" if by else "")
    return replace(finding, text=text, action=_ACTION, harmless=False)


@dataclass(frozen=True)
class Loops:
    """A drawing seen by the signal: valves lead one way, parts both, cores from coil to coil."""

    circuit: Circuit

    def hang(self, part: Part, winding: Element) -> bool:
        """Whether a loop leads through this winding, another one of its core, and a valve."""
        if part.kind != "transformer" or part.name in feeding(self.circuit):
            return False
        here = self._live(part, winding)
        others = [self._live(part, e) for e in _windings(part) if e is not winding]
        return any(
            self._amplified(there, part) & here or self._amplified(here, part) & there
            for there in others
        )

    def coil(self, part: Part) -> bool:
        """Whether it is a coil for radio or intermediate frequency, no transformer for sound.

        Such a one has volts, a load or a speaker. What has nothing of the kind is a coil where its
        inductance says so, or in a set with a frequency changer.
        """
        wound = _windings(part)
        speakers = (p for p in self.circuit.parts.values() if p.kind == "speaker")
        heard = self._ways.nodes(p for speaker in speakers for p in speaker.points)
        ends = frozenset[int]().union(*(self._live(part, e) for e in wound))
        if part.name in feeding(self.circuit) or any(e.load for e in wound) or ends & heard:
            return False
        told = [e for e in wound if e.value is not None]
        return any(map(inductive, wound)) or (not told and self._changes)

    @cached_property
    def _changes(self) -> bool:
        """Whether a frequency changer is in the set."""
        sections = (s for part in self.circuit.parts.values() for s in _sections(part))
        return any(_MIXES & set(pins) for pins in sections)

    def feeds_back(self, coil: Part) -> bool:
        """Whether one winding leads to a grid and another to what that section drives."""
        short = self._held(_RADIO_GREAT)
        way = self._way(coil)
        live = [self._ways.nodes(map(coil.point, e.terminals)) - short for e in _windings(coil)]
        reached = [self._ways.reached(ends, way, short) for ends in live]
        for part in self.circuit.parts.values():
            for pins in _sections(part):
                at = {role: self._ways.node(part.point(pin)) for role, pin in pins.items()}
                grids = {node for role, node in at.items() if role.endswith("grid")}
                driven = {at[role] for role in _DRIVEN if role in at}
                pairs = permutations(reached, 2)
                if any(grids & one and driven & other for one, other in pairs):
                    return True
        return False

    def by(self, part: Part) -> str:
        """The parts that lead from a coil without an anode back to a valve; "" if unknown."""
        anodes = {a for _, a in self._valves}
        inputs = frozenset(i for i, _ in self._valves) - self._still
        for element in _windings(part):
            start = self._live(part, element)
            if start and not start & anodes:
                path = self._ways.path(start, inputs, self._way(part), self._still)
                if path:
                    return through(path)
        return ""

    def _live(self, part: Part, winding: Element) -> frozenset[int]:
        """Nodes of the ends of a winding that stand still for no signal."""
        return self._ways.nodes(map(part.point, winding.terminals)) - self._still

    def _amplified(self, start: frozenset[int], without: Part) -> frozenset[int]:
        """Nodes that a signal reaches through a valve and whatever else, but not through a part."""
        seen, fed = frozenset(start), frozenset[int]()
        while True:
            seen = self._spread(seen, without)
            fed = self._spread(fed, without)
            more = frozenset(a for i, a in self._valves if i in seen | fed) - self._still
            if more <= fed:
                return fed
            fed |= more

    def _spread(self, nodes: frozenset[int], without: Part) -> frozenset[int]:
        """Through parts both ways, and from coil to coil of the other cores."""
        while True:
            reached = self._ways.reached(nodes, self._way(without), self._still)
            for part in self._cores:
                coils = [self._live(part, e) for e in _windings(part)]
                if part is not without and any(coil & reached for coil in coils):
                    reached = reached.union(*coils)
            if reached <= nodes:
                return nodes
            nodes = reached

    def _way(self, without: Part) -> Callable[[Passage], bool]:
        return lambda p: p.how in _PASSES and p.part.name != without.name

    @cached_property
    def _ways(self) -> Ways:
        return Ways(self.circuit)

    @cached_property
    def _cores(self) -> tuple[Part, ...]:
        mains = feeding(self.circuit)
        parts = self.circuit.parts.values()
        return tuple(p for p in parts if p.kind == "transformer" and p.name not in mains)

    @cached_property
    def _still(self) -> frozenset[int]:
        return self._held(_GREAT)

    def _held(self, farads: float) -> frozenset[int]:
        """The chassis, and what a capacitor of so much holds to it. [F]."""
        ground = self._ways.node(CHASSIS)
        held = (far for passage, far in self._ways.at.get(ground, ()) if _farads(passage) >= farads)
        return frozenset((ground, *held))

    @cached_property
    def _valves(self) -> tuple[tuple[int, int], ...]:
        """Nodes of input and output of every section: to the anode, and to the cathode."""
        return tuple(
            (self._ways.node(part.point(pins[a])), self._ways.node(part.point(pins[b])))
            for part in self.circuit.parts.values()
            for pins in _sections(part)
            for a, b in _LEADS
            if a in pins and b in pins
        )


_LEADS = (("grid", "anode"), ("cathode", "anode"), ("grid", "cathode"))


def _windings(part: Part) -> tuple[Element, ...]:
    return tuple(e for e in part.elements if e.kind == "winding")


def _sections(part: Part) -> Iterator[dict[str, str]]:
    """Electrode to pin of each section of a valve, as far as the socket has the pin."""
    known = device(part.type) if part.kind == "socket" and part.type else None
    for section in known.sections if known else ():
        yield {role: pin for role, pin in section.pins.items() if pin in part.terminals}


def _farads(passage: Passage) -> float:
    if passage.how != "capacitor":
        return 0.0
    value = passage.element.value if passage.element is not None else passage.part.value
    return value.value if value is not None else 0.0
