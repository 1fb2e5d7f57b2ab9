"""What goes wrong in such sets, one fault at a time, as changes to the equations.

How likely each kind is (its weight) is common practice, and so are the sizes: resistors of carbon
composition drift up or go open, paper capacitors leak, valves lose emission, joints go dry. Only
ratios of weights count.
"""

from __future__ import annotations

import math
from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from buzzout.bench.behind import taken
from buzzout.bench.board import Board, Change
from buzzout.circuit import CHASSIS, Circuit, Link, Point, joined, printed
from buzzout.electrics.branch import ELECTRODE, Branch
from buzzout.electrics.common import feeding
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.inside import contents
from buzzout.electrics.network import Network
from buzzout.electrics.sockets import Valve, socket
from buzzout.electrics.unmodelled import unmodelled

_SHORT = 1.0  # a short of this resistance [ohm]
_DRIFTS = (0.25, 0.5, 0.7, 1.35, 1.7, 2.2, 3.0, 4.5, 8.0)
_LEAKS = (3e7, 1.7e7, 1e7, 5.5e6, 3e6, 1e6, 3e5, 1e5, 3e4, 1e4, 3e3)
_EMISSIONS = (0.75, 0.55, 0.4, 0.25, 0.12)
_GAS = (1e-6, 2e-6, 4e-6, 7e-6, 1.2e-5, 2e-5, 3.5e-5)  # current out of a gassy valve's grid [A]
_HEATER = (1e6, 1e5, 1e4)  # insulation from cathode to heater gone to this [ohm]
_BACKWARDS = (1e5, 3e4, 1e4, 3e3)  # resistance of a rectifier path the wrong way [ohm]
_TIRED = (100.0, 300.0, 1000.0, 3000.0)  # ohms that a worn rectifier adds in each path

WEIGHTS = {
    "nothing": 3.0,
    "resistor open": 0.8,
    "resistor drifted up": 1.2,
    "resistor drifted down": 0.2,
    "resistor shorted": 0.05,
    "track open": 0.3,
    "winding open": 0.3,
    "capacitor leaky": 1.5,
    "electrolytic leaky": 1.0,
    "capacitor shorted": 0.3,
    "valve weak": 3.0,
    "valve missing": 0.5,
    "section dead": 0.2,
    "electrode open": 0.1,
    "valve gassy": 0.6,
    "heater to cathode": 0.15,
    "grid to cathode": 0.1,
    "joint dry": 0.25,
    "rectifier worn": 0.7,
    "half a rectifier": 0.3,
    "rectifier leaky": 0.2,
    "no supply": 0.3,
    "fuse open": 0.6,
    "mains side open": 0.15,
    "wrong tap": 0.15,
    "finding not there": 0.7,
    "control elsewhere": 20.0,  # no fault: a bias pot of which nobody says how it stands
    "control moved": 3.0,  # and one that was turned since somebody wrote it down
    "capacitor open": 0.6,
    "electrolytic dry": 2.0,
}


@dataclass(frozen=True)
class Fault:
    """One fault of one size.

    `kind` is one of `WEIGHTS`; `thing` what it is about, as a name in the circuit; `words` the
    fault in words without its size, `size` the size in words. `step` is by how much the next size
    differs, as a natural logarithm: the size is known to half of it. `of` tells the branch or the
    section whose figure is the size. `odds` is how likely this size is beside the others. `look`
    says what eyes would tell of it without any meter.
    """

    kind: str
    thing: str
    words: str
    change: Change = field(default_factory=Change)
    size: str = ""
    step: float = 0.0
    of: str = ""
    odds: float = 1.0
    look: str = ""

    @property
    def key(self) -> tuple[str, str]:
        """Faults that differ in size alone have the same."""
        return self.kind, self.words

    @property
    def name(self) -> tuple[str, str, str]:
        """Kind, words and size: what tells it from every other."""
        return self.kind, self.words, self.size


NOTHING = Fault("nothing", "", "nothing is wrong")


def faults(board: Board, names: Mapping[str, str] | None = None) -> tuple[Fault, ...]:
    """Every single fault of the kinds that happen, the undisturbed set first.

    `names` gives the name on the drawing for a part that the found file does not name. Breaks on
    the mains side are in `swing`.
    """
    called = {} if names is None else names
    circuit = board.state.net.circuit
    mains = feeding(circuit) if board.state.side is not None else frozenset()
    return (
        NOTHING,
        *(f for b in board.branches if b.part not in mains for f in _ohmic(b, called)),
        *(f for branch in board.state.net.branches for f in _capacitor(board, branch, called)),
        *(f for valve in board.state.net.valves for f in _valve(board, valve)),
        *(f for valve in unmodelled(board.state.net) for f in _dead(board, valve)),
        *_missing(board),
        *_rectifiers(board),
        *_joints(board, circuit),
    )


def primary(label: str) -> bool:
    """Whether a winding is the one that the mains feeds."""
    return label.lower().startswith(("primary", "mains"))


def call(branch: Branch, called: Mapping[str, str]) -> str:
    """The name that a person knows: on the drawing, else by kind and line."""
    name = called.get(branch.part, branch.part)
    if branch.name != branch.part:
        name = branch.name.replace(branch.part, name, 1)
    return f"the {branch.role} of line {name[1:]}" if name.startswith("@") else name


def _ohmic(branch: Branch, called: Mapping[str, str]) -> Iterator[Fault]:
    """Resistors open, shorted, drifted; tracks and windings open."""
    name, siemens = call(branch, called), 1 / max(branch.value, 1e-3)
    ends = (branch.a, branch.b)
    if branch.role in ("track", "winding", "choke"):
        kind = "track open" if branch.role == "track" else "winding open"
        yield Fault(kind, branch.part, f"{name} open", _across(ends, -siemens))
    if branch.role != "resistor":
        return
    yield Fault("resistor open", branch.part, f"{name} open", _across(ends, -siemens))
    yield Fault("resistor shorted", branch.part, f"{name} shorted", _across(ends, 1 / _SHORT))
    for factor, step in _with_steps(_DRIFTS):
        kind = "resistor drifted up" if factor > 1 else "resistor drifted down"
        size = (
            f"{factor:g} times its value, {printed(float(f'{factor * branch.value:.2g}'), 'ohm')}"
        )
        change = _across(ends, siemens * (1 / factor - 1))
        odds = min(factor, 1 / factor)  # the further, the rarer
        yield Fault(kind, branch.part, f"{name} {kind[9:]}", change, size, step, branch.name, odds)


def _with_steps(sizes: tuple[float, ...]) -> Iterator[tuple[float, float]]:
    """Each size with the mean distance to its neighbours, as a logarithm."""
    logs = [math.log(size) for size in sizes]
    for i, size in enumerate(sizes):
        near = [abs(logs[j] - logs[i]) for j in (i - 1, i + 1) if 0 <= j < len(logs)]
        yield size, min(sum(near) / len(near), 1.2)


def _across(ends: tuple[Point, Point], siemens: float) -> Change:
    return Change(siemens=((*ends, siemens),))


def _capacitor(board: Board, branch: Branch, called: Mapping[str, str]) -> Iterator[Fault]:
    """Leaky and shorted capacitors, where a direct voltage can show it."""
    if branch.kind != "capacitor":
        return
    ends = (branch.a, branch.b)
    if board.row(branch.a) == board.row(branch.b):
        return
    name = call(branch, called)
    kind = "electrolytic leaky" if branch.role == "electrolytic" else "capacitor leaky"
    yield Fault("capacitor shorted", branch.part, f"{name} shorted", _across(ends, 1 / _SHORT))
    for ohms, step in _with_steps(_LEAKS):
        size = f"as if {printed(ohms, 'ohm')} lay across it"
        change = _across(ends, 1 / ohms)
        yield Fault(kind, branch.part, f"{name} leaky", change, size, step, "+")


def _valve(board: Board, valve: Valve) -> Iterator[Fault]:
    """One section: weak, gassy, or touching inside."""
    if valve.name not in board.sections:
        return
    oscillates = board.state.oscillators[board.sections.index(valve.name)]
    for share, step in () if oscillates else _with_steps(_EMISSIONS):  # its current is not computed
        size = f"{share:.0%} of the current of a good one"
        change = Change(emission={valve.name: share})
        yield Fault("valve weak", valve.part, f"{valve.name} weak", change, size, step, valve.name)
    at = valve.electrodes
    volts = board.state.volts(at["anode"], at["cathode"])
    if volts > 30:
        for amps, step in _with_steps(_GAS):
            size = f"{amps * 1e6:g} microamperes out of its grid"
            change = Change(gas=((valve.name, at["anode"], at["grid"], amps / volts),))
            yield Fault("valve gassy", valve.part, f"{valve.name} gassy", change, size, step, "+")
    words = f"{valve.name} dead: no emission in it, or no contact at its anode or cathode"
    yield Fault("section dead", valve.part, words, Change(emission={valve.name: 0.0}))
    for number, role in enumerate(("grid", "screen")):
        if role in at:
            words = f"no contact at the {role} of {valve.name} ({at[role]})"
            lifted = Change(lifted=((valve.name, number),))
            yield Fault("electrode open", valve.part, words, lifted)
    inside = replace(_across((at["grid"], at["cathode"]), 1e-2), inside=valve.part)
    yield Fault("grid to cathode", valve.part, f"{valve.name}: grid touches cathode", inside)
    yield from _heater(board, valve)


def _dead(board: Board, valve: Valve) -> Iterator[Fault]:
    """A section without a model that draws nothing."""
    own = without(board.state.net, {valve.part})
    at = set(valve.electrodes.values())
    change = replace(own, gas=tuple(each for each in own.gas if each[1] in at))
    words = f"{valve.name} dead: no emission in it, or no contact at its cathode"
    yield Fault("section dead", valve.part, words, change)


def without(net: Network, parts: Container[str]) -> Change:
    """What the electrodes of some valves draw gone, where they have no model."""
    drawn = (b for b in net.branches if b.role == ELECTRODE and b.part in parts)
    return Change(gas=tuple((b.part, b.a, b.b, -1 / b.value) for b in drawn))


def _heater(board: Board, valve: Valve) -> Iterator[Fault]:
    ends = [b for b in board.branches if b.role == "heater" and b.part == valve.part]
    cathode = valve.electrodes["cathode"]
    if not ends or board.row(cathode) == board.row(ends[0].a):
        return
    words = f"{valve.name} leaks from heater to cathode"
    for ohms, step in _with_steps(_HEATER):
        change = replace(_across((cathode, ends[0].a), 1 / ohms), inside=valve.part)
        size = f"as if {printed(ohms, 'ohm')} lay there"
        yield Fault("heater to cathode", valve.part, words, change, size, step, "+")


def _missing(board: Board) -> Iterator[Fault]:
    """A valve that is not there, or whose heater does not glow: all of its sections at once."""
    by_part: dict[str, list[str]] = {}
    if board.state.side is not None and not feeding(board.state.net.circuit):
        return  # a chain of heaters goes dark as a whole: see `swing`
    blind = {valve.name for valve in unmodelled(board.state.net)}
    for valve in board.state.net.valves:
        if valve.name in board.sections or valve.name in blind:
            own = by_part.setdefault(valve.part, [])
            own += [valve.name] if valve.name in board.sections else []
    for part, sections in by_part.items():
        heater = (b for b in board.state.net.branches if b.part == part and b.role == "heater")
        cold = Change(siemens=tuple((b.a, b.b, -1 / max(b.value, 1e-3)) for b in heater))
        change = replace(
            without(board.state.net, {part}),
            emission=dict.fromkeys(sections, 0.0), draws=taken(board, cold),
        )  # fmt: skip
        yield Fault("valve missing", part, f"{part} missing or its heater dark", change)


def _rectifiers(board: Board) -> Iterator[Fault]:
    """Rectifier paths worn or dead, and no supply at all."""
    paths = [path.name for path in board.state.system.paths]
    if not paths:
        return
    owner = paths[0].split("/", maxsplit=1)[0]
    for ohms, step in _with_steps(_TIRED):
        change = Change(series=dict.fromkeys(paths, ohms))
        size = f"as if {printed(ohms, 'ohm')} more were in each half"
        yield Fault("rectifier worn", owner, f"{owner} worn", change, size, step, "series")
    if len(paths) > 1:
        for path in paths:
            words = f"{path} dead, or its half of the winding open"
            yield Fault("half a rectifier", owner, words, Change(paths={path: 0.0}))
    yield from _backwards(board)
    words = f"no HT: {owner} dead or dark, or its winding open"
    yield Fault("no supply", owner, words, Change(paths=dict.fromkeys(paths, 0.0)))


def _backwards(board: Board) -> Iterator[Fault]:
    """Rectifier paths that conduct both ways."""
    groups = board.state.net.groups
    for way in board.state.ways:
        own = [next((p for p in groups[n] if p.owner in way.parts), None) for n in (way.a, way.k)]
        if own[0] is None or own[1] is None:
            continue
        for ohms, step in _with_steps(_BACKWARDS):
            change = replace(_across((own[0], own[1]), 1 / ohms), inside=own[0].owner)
            words, size = f"{way.name} leaks backwards", f"as if {printed(ohms, 'ohm')} lay there"
            yield Fault("rectifier leaky", own[0].owner, words, change, size, step, "+")


# -- joints ----------------------------------------------------------------------------------------


def _joints(board: Board, circuit: Circuit) -> Iterator[Fault]:
    """Wires and contacts whose loss takes part of a node away; a part's lead is "open" already."""
    ways: list[tuple[Link | None, Point, Point]] = [(x, x.a, x.b) for x in circuit.links]
    inside = [(None, a, b) for a, b in _inside(board, circuit)]
    by_node: dict[int, list[tuple[Link | None, Point, Point]]] = {}
    for way in (*ways, *inside):
        by_node.setdefault(board.state.net.of[way[1]], []).append(way)
    seen: set[frozenset[Point]] = set()
    for own in by_node.values():
        for way in own:
            apart = _cut_off(way, own)
            if apart and apart not in seen and _matters(board, apart):
                seen.add(apart)
                yield Fault("joint dry", str(way[1]), _joint_words(way), Change(apart=apart))


def _inside(board: Board, circuit: Circuit) -> Iterator[tuple[Point, Point]]:
    """Joins inside parts: closed contacts, pins that are one, wipers at the end of their track."""
    conditions: Conditions = board.state.net.conditions
    for part in circuit.parts.values():
        yield from contents(part, conditions).joins
        yield from socket(part, conditions).contents.joins


def _cut_off(
    way: tuple[Link | None, Point, Point], own: Sequence[tuple[Link | None, Point, Point]]
) -> frozenset[Point]:
    """What hangs in the air without this way: the side without the chassis, else the smaller."""
    others = [(a, b) for other in own if other is not way for _, a, b in [other]]
    points = {p for _, a, b in own for p in (a, b)}
    groups = joined(sorted(points), others)
    mine = [g for g in groups if way[1] in g or way[2] in g]
    free = [g for g in mine if CHASSIS not in g]
    if len(mine) < 2 or not free:
        return frozenset()
    smallest: list[Point] = min(free, key=_size_and_name)
    return frozenset(smallest)


def _size_and_name(group: list[Point]) -> tuple[int, Point]:
    return len(group), group[0]


def _matters(board: Board, apart: frozenset[Point]) -> bool:
    """Whether a direct current notices: something sits there, and no rectifier or winding."""
    electrodes = {p for points in board.electrodes for p in points}
    if apart <= set(board.state.floating):
        return False
    touching = [b for b in board.branches if b.a in apart or b.b in apart]
    if not apart & electrodes and all(b.role in ("heater", "lamp") for b in touching):
        return False  # a dark heater: "valve missing" already
    fed = {row for path in board.state.system.paths for row in (path.a, path.k)}
    fed |= {row for source in board.state.system.sources for row in (source.a, source.b)}
    rows = {board.row(p) for p in apart}
    if rows & fed and _carries_feed(board, apart):
        return False
    if len(touching) == 1 and not apart & electrodes:
        return False  # the same as that part open
    return bool(touching) or bool(apart & electrodes)


def _carries_feed(board: Board, apart: frozenset[Point]) -> bool:
    """Whether rectifiers, windings of the mains transformer or given supplies sit on these."""
    of = board.state.net.circuit.parts
    kinds = {of[p.owner].kind for p in apart if p.owner in of}
    diodes = {v.part for v in board.state.net.valves if v.kind == "diode"}
    return bool(kinds & {"transformer", "diode", "bridge", "cord"}) or any(
        p.owner in diodes for p in apart
    )


def _joint_words(way: tuple[Link | None, Point, Point]) -> str:
    link, a, b = way
    if link is None:
        return f"no contact between {a} and {b}"
    colour = f"{link.colour} " if link.colour else ""
    return f"{colour}wire from {a} to {b} open or its joint dry"
