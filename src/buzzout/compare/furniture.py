"""In what other ways the pins of a piece of furniture may have been taken, and what each costs.

A *frame* is a numbering of the whole piece: as drawn, seen from the wrong side, counted from the
wrong pin, the halves of a double triode exchanged. A *swap* is a small exchange inside a frame: two
pins, the ends of a heater or of a winding. Swaps on one piece share no pin. Frames and swaps that
change nothing electrically are harmless and cost next to nothing; the others are one error each.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations

from buzzout.catalogue import base, device
from buzzout.circuit import Element, Part
from buzzout.compare.costs import APART, ERROR, FRAME, HARMLESS, SWAP, TAP
from buzzout.compare.values import alike

MOST_FRAMES = 16  # symmetries of one piece beyond these are not tried
MOST_PRODUCTS = 80  # wrong numberings with a symmetry besides: beyond these they are not tried
RINGS_OF_THREE = 10  # up to so many pins also three pins exchanged in a ring are considered
TURNABLE = ("choke", "speaker", "fuse", "lamp")  # with two ends, either way round the same
LEADS = ("transformer", "cord", "can", "choke", "speaker")  # furniture with leads, not pins


@dataclass(frozen=True)
class Turn:
    """Pins taken for one another: `moved` maps the pin meant to the pin used, where they differ."""

    kind: str
    moved: Mapping[str, str]
    cost: int
    words: str = ""
    harmless: bool = False

    def __call__(self, pin: str) -> str:
        """The pin used for the one meant."""
        return self.moved.get(pin, pin)


AS_DRAWN = Turn("", {}, 0, harmless=True)


def frames(wanted: Part) -> tuple[Turn, ...]:
    """Ways to number the whole piece, the drawn one first."""
    own = [AS_DRAWN, *_symmetries(wanted)]
    if wanted.kind == "socket":
        wrong = list(_wrong_numbering(wanted))
        also = [_exchanged_too(turn, first) for turn in wrong for first in own[1:]]
        return (*own, *wrong, *also[:MOST_PRODUCTS])
    if wanted.kind == "strip":
        reverse = dict(zip(wanted.terminals, reversed(wanted.terminals), strict=True))
        return (*own, Turn("strip-reversed", _moves(reverse), FRAME, "read from the wrong end"))
    return tuple(own)


def _wrong_numbering(part: Part) -> Iterator[Turn]:
    known = device(part.type) if part.type else None
    on = base(part.base) or (base(known.base) if known else None)
    if on is None:
        return
    table = _within(part, on.mirrored())
    yield Turn("socket-mirrored", table, FRAME, "counted from the wrong side")
    for n in range(1, on.number):
        steps = min(n, on.number - n)
        table = _within(part, on.shifted(n))
        words = f"{n if steps == n else -steps}"
        yield Turn("socket-shifted", table, FRAME + steps, words)
        both = {pin: on.mirrored()[used] for pin, used in on.shifted(n).items()}
        yield Turn("socket-mirrored", _within(part, both), 2 * FRAME + steps, words)


def _exchanged_too(turn: Turn, first: Turn) -> Turn:
    """A wrong numbering of a piece of which like sections are exchanged besides."""
    pins = {*first.moved, *turn.moved}
    moved = _moves({p: turn(first(p)) for p in pins})
    return Turn(turn.kind, moved, turn.cost + HARMLESS, turn.words)


def _within(part: Part, table: Mapping[str, str]) -> dict[str, str]:
    known = set(part.terminals)
    return _moves({p: q for p, q in table.items() if {p, q} <= known})


def _moves(table: Mapping[str, str]) -> dict[str, str]:
    return {p: q for p, q in table.items() if p != q}


def _symmetries(wanted: Part) -> list[Turn]:
    """Harmless renumberings of more than two pins, closed under composition."""
    makers = [t for t in (*_sections(wanted), *_gangs(wanted)) if len(t.moved) > 2]
    group: list[Turn] = []
    queue = list(makers)
    while queue and len(group) < MOST_FRAMES:
        turn = queue.pop(0)
        if not turn.moved or any(turn.moved == known.moved for known in group):
            continue
        group.append(turn)
        queue += [_after(turn, maker) for maker in makers]
    return group


def _after(first: Turn, then: Turn) -> Turn:
    pins = {*first.moved, *then.moved}
    return Turn(first.kind, _moves({p: then(first(p)) for p in pins}), HARMLESS, "", harmless=True)


def _sections(part: Part) -> Iterator[Turn]:
    """What the valve itself allows: like sections, heater ends, anodes of one cathode."""
    known = device(part.type) if part.kind == "socket" and part.type else None
    for exchange in known.exchanges() if known else ():
        if set(exchange.pins) <= set(part.terminals):
            turned = "turned" in exchange.name
            kind = "turned" if turned else "sections-exchanged"
            yield Turn(kind, dict(exchange.pins), HARMLESS, exchange.name, harmless=True)


def _gangs(wanted: Part) -> Iterator[Turn]:
    """Gangs of a pot, poles of an on-off switch: exchangeable where they are alike."""
    kind = {"pot": "track", "switch": "contact"}.get(wanted.kind)
    for a, b in combinations([e for e in wanted.elements if e.kind == kind], 2):
        apart = not set(a.terminals) & set(b.terminals)
        if apart and len(a.terminals) == len(b.terminals) and _alike(wanted, a, b):
            moved = dict(zip(a.terminals, b.terminals, strict=True))
            moved |= {q: p for p, q in moved.items()}
            words = "gangs exchanged" if wanted.kind == "pot" else "poles exchanged"
            yield Turn("sections-exchanged", moved, HARMLESS, words, harmless=True)


def _alike(part: Part, a: Element, b: Element) -> bool:
    return a.closed == b.closed and alike(a, b, part.kind)


def swaps(wanted: Part) -> tuple[Turn, ...]:
    """Small exchanges inside a frame; for the same pins only the cheapest."""
    best: dict[tuple[tuple[str, str], ...], Turn] = {}
    for turn in (*_own_swaps(wanted), *_slips(wanted)):
        key = tuple(sorted(turn.moved.items()))
        if key and (key not in best or turn.cost < best[key].cost):
            best[key] = turn
    return tuple(best.values())


def _own_swaps(wanted: Part) -> Iterator[Turn]:
    yield from (t for t in _sections(wanted) if len(t.moved) == 2)
    if wanted.kind in TURNABLE and len(wanted.terminals) == 2:
        kind = "turned" if wanted.kind == "fuse" else ""  # the contacts of its holder differ
        yield _swap(kind, wanted.terminals, HARMLESS, "ends turned round", harmless=True)
    for element in wanted.elements:
        yield from _element_swaps(wanted, element)
    if wanted.kind == "can":
        yield from _can_sections(wanted)


def _element_swaps(part: Part, element: Element) -> Iterator[Turn]:
    if element.kind == "track" and len(element.terminals) >= 3:
        ends = (element.terminals[0], element.terminals[-1])
        yield _swap("pot-ends-exchanged", ends, ERROR, "the two ends of the track")
    mere = part.kind in ("switch", "pot")  # a jack's contacts are places: the plug knows them apart
    if mere and element.kind == "contact" and len(element.terminals) == 2 and _alone(part, element):
        yield _swap("", element.terminals, HARMLESS, "ends of a contact", harmless=True)
    if element.kind == "winding" and _reversible(element):
        turned = dict(zip(element.terminals, reversed(element.terminals), strict=True))
        words = f"the ends of the {element.label or 'winding'}"
        if element.dot:
            yield Turn("winding-reversed", _moves(turned), ERROR, words)
        else:
            yield Turn("turned", _moves(turned), HARMLESS, words, harmless=True)
    if element.kind == "winding":
        for a, b in combinations(element.terminals, 2):
            yield _swap("wrong-tap", (a, b), TAP, element.label)


def _alone(part: Part, element: Element) -> bool:
    """No other contact shares a terminal with this one: it just makes and breaks."""
    others = {t for e in part.elements if e is not element for t in e.terminals}
    return not others & set(element.terminals)


def _reversible(winding: Element) -> bool:
    """Turned end for end it is the same: there are no taps, or symmetrical ones."""
    if not winding.taps:
        return len(winding.terminals) in (2, 3)
    ends = winding.taps[0] + winding.taps[-1]
    turned = [ends - volts for volts in reversed(winding.taps)]
    return all(
        abs(a - b) <= 0.02 * max(map(abs, winding.taps), default=0)
        for a, b in zip(winding.taps, turned, strict=True)
    )


def _can_sections(part: Part) -> Iterator[Turn]:
    """Two sections of a can: they share the common end and differ in the other."""
    for a, b in combinations([e for e in part.elements if e.kind == "capacitor"], 2):
        ends = [t for t in a.terminals if t not in b.terminals]
        others = [t for t in b.terminals if t not in a.terminals]
        if len(ends) != len(others) or not ends:
            continue
        moved = dict(zip(ends, others, strict=True))
        moved |= {q: p for p, q in moved.items()}
        same = (a.value, a.voltage) == (b.value, b.voltage)  # 32u may be had for 16u, not be it
        words = f"{a.label or ends[0]} and {b.label or others[0]}"
        cost = HARMLESS if same else ERROR
        yield Turn("sections-exchanged", moved, cost, words, harmless=same)


def _slips(part: Part) -> Iterator[Turn]:
    """Two pins taken for one another, or three in a ring; neighbours are likelier."""
    kind = "leads-exchanged" if part.kind in LEADS else "pins-exchanged"
    place = {pin: i for i, pin in enumerate(part.terminals)}
    ring = len(part.terminals) if part.kind == "socket" else 0
    for a, b in combinations(part.terminals, 2):
        steps = abs(place[a] - place[b])
        steps = min(steps, ring - steps) if ring else steps
        yield _swap(kind, (a, b), SWAP + min(9, steps) + (APART if steps > 1 else 0))
    if len(part.terminals) <= RINGS_OF_THREE:
        for trio in combinations(part.terminals, 3):
            for a, b, c in (trio, trio[::-1]):
                yield Turn(kind, {a: b, b: c, c: a}, 2 * SWAP + 5, "three in a ring")


def heater_turned(one: str, two: str, tap: str) -> Turn:
    """A heater fed the other way round: its joined ends where the middle should be."""
    moved = {one: tap, two: tap, tap: one}
    return Turn("turned", moved, HARMLESS, "heater ends turned round", harmless=True)


def plain(turn: Turn) -> Turn:
    """The same pins exchanged where that is not harmless."""
    exchanged = {p: q for p, q in turn.moved.items() if turn.moved.get(q) == p}
    return Turn("pins-exchanged", exchanged, SWAP + 1)


def _swap(
    kind: str, pins: Iterable[str], cost: int, words: str = "", *, harmless: bool = False
) -> Turn:
    a, b = pins
    return Turn(kind, {a: b, b: a}, cost, words, harmless=harmless)
