"""Rules of the conductors: line to fuse to switch to primary, neutral straight, nothing joined."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from buzzout.circuit import Part, Point, listed
from buzzout.job.passages import Passage
from buzzout.job.rulebook import Unjudged, Violation, violation
from buzzout.job.supplyline import SupplyLine, series
from buzzout.job.told import spot, through


def conductor(side: SupplyLine, start: int) -> tuple[Passage, ...] | None:
    """Fuses and contacts that every current from a conductor to the load passes, in order."""
    return side.ways.path([start], side.load, series, side.bare) if start >= 0 else None


def _needed(side: SupplyLine, start: int, wanted: Callable[[Passage], bool]) -> tuple[Part, ...]:
    """Fuses, or switches, without which the conductor does not reach the load."""
    path = conductor(side, start) or ()
    rest = side.ways.reached([start], lambda p: series(p) and not wanted(p), side.bare)
    if rest & side.load:
        return ()
    return tuple({p.part.name: p.part for p in path if wanted(p)}.values())


def _fuse(passage: Passage) -> bool:
    return passage.how == "fuse"


def fuse_in_line(side: SupplyLine) -> Iterator[Violation]:
    """No fuse on the way of the line, and none in the neutral either."""
    if conductor(side, side.line) is None or _needed(side, side.line, _fuse):
        return
    if not _needed(side, side.neutral, _fuse):
        text = f"the line reaches {_end(side, side.line)} without a fuse"
        yield _tell(side, "fuse-in-line", text, "L")


def _end(side: SupplyLine, start: int) -> Point:
    """Where a conductor reaches the load: a terminal of the primary, else any point there."""
    nodes = side.ways.reached([start], series, side.bare) & side.load
    wound = (part.point(t) for part, element in side.primaries for t in element.terminals)
    ends = [p for p in wound if side.ways.node(p) in nodes]
    return ends[0] if ends else spot(side.circuit, min(nodes))


def fuse_in_neutral(side: SupplyLine) -> Iterator[Violation]:
    """A fuse on the way of the neutral."""
    found = _needed(side, side.neutral, _fuse)
    if found:
        alone = "" if _needed(side, side.line, _fuse) else ", and the line has none"
        text = f"{listed([p.name for p in found])} stands in the neutral{alone}"
        yield _tell(side, "fuse-in-neutral", text, "N", found)


def switch_in_line(side: SupplyLine) -> Iterator[Violation]:
    """No contact on the way of the line, and none in the neutral either."""
    if conductor(side, side.line) is None or _needed(side, side.line, side.breaks):
        return
    if not _needed(side, side.neutral, side.breaks):
        text = f"the line reaches {_end(side, side.line)} without a switch"
        yield _tell(side, "switch-in-line", text, "L")


def switch_in_neutral(side: SupplyLine) -> Iterator[Violation]:
    """A contact on the way of the neutral that has no partner in the line: one pole, wrong side."""
    line = {part.name for part in _needed(side, side.line, side.breaks)}
    found = tuple(p for p in _needed(side, side.neutral, side.breaks) if p.name not in line)
    if found:
        alone = "" if line else ", and nothing switches the line"
        text = f"{listed([p.name for p in found])} switches the neutral{alone}"
        yield _tell(side, "switch-in-neutral", text, "N", found)


def fuse_before_switch(side: SupplyLine) -> Iterator[Violation]:
    """On the line, a contact comes before the first fuse."""
    path = conductor(side, side.line) or ()
    order = ["switch" if side.breaks(step) else step.how for step in path]
    if "fuse" in order and "switch" in order[: order.index("fuse")]:
        both = tuple(p.part for p in (path[order.index("switch")], path[order.index("fuse")]))
        text = f"from the line, {both[0].name} comes before {both[1].name}"
        yield _tell(side, "fuse-before-switch", text, "L", both)


def neutral_straight(side: SupplyLine) -> Iterator[Violation]:
    """The neutral reaches the primary, but only through something else than fuse and switch."""
    start = side.neutral
    if start < 0 or start in side.bare or conductor(side, start) is not None:
        return
    goal = side.load - side.line_side
    path = side.ways.path([start], goal, lambda _: True, side.bare | side.line_side)
    if path:
        text = (
            f"the neutral reaches {spot(side.circuit, _last(side, path))} through {through(path)}"
        )
        yield _tell(side, "neutral-straight", text, "N", tuple(p.part for p in path))


def _last(side: SupplyLine, path: tuple[Passage, ...]) -> int:
    """The node of the load that a way ends on."""
    ends = side.ways.nodes((path[-1].a, path[-1].b))
    return min(ends & side.load, default=side.neutral)


def shorted_mains(side: SupplyLine) -> Iterator[Violation]:
    """Line and neutral meet through wires, fuses and contacts alone."""
    if side.line >= 0 and side.line_side & side.neutral_side:
        path = side.ways.path([side.line], frozenset([side.neutral]), series, side.bare) or ()
        text = f"line and neutral are joined through {through(path)}"
        yield _tell(side, "shorted-mains", text, "L", tuple(p.part for p in path))


def mains_on_winding(side: SupplyLine) -> Iterator[Violation]:
    """A conductor of the mains lands on a winding with another name than primary."""
    for part, element in side.primaries:
        if not element.label.lower().startswith(("primary", "prim", "mains", "pri")):
            text = f"the mains comes to the winding {element.label} of {part.name}"
            yield _tell(side, "mains-on-winding", text, "L", (part,))


def _tell(
    side: SupplyLine, rule: str, text: str, pin: str, parts: tuple[Part, ...] = ()
) -> Violation:
    point = side.conductor(pin)
    cord = (side.cord.name,) if side.cord is not None else ()
    told = dict.fromkeys((*(p.name for p in parts), *cord))
    return violation(rule, text, tuple(told), (point,) if point else ())


def unjudged(side: SupplyLine) -> Iterator[Unjudged]:
    """Rules of a conductor that ends nowhere."""
    for start, name, rules in (
        (side.line, "line", ("fuse-in-line", "switch-in-line", "fuse-before-switch")),
        (side.neutral, "neutral", ("fuse-in-neutral", "switch-in-neutral")),
    ):
        if start >= 0 and start not in side.bare and conductor(side, start) is None:
            reason = f"the {name} conductor reaches no primary as written down"
            yield Unjudged(rules, f"fuse and switch in the {name}", reason)
