"""Rules of the mains lead: colours by region, primary tap."""

from __future__ import annotations

from collections.abc import Iterator

from buzzout.catalogue.colours import MAINS, colour_of
from buzzout.circuit import Element, Part, Point
from buzzout.job.passages import Passage
from buzzout.job.rulebook import Violation, figure, regions, violation
from buzzout.job.supplyline import SupplyLine, as_set, series

_MEANS = {"L": "line", "N": "neutral", "E": "protective earth"}


def colour_tables(region: str) -> tuple[str, ...]:
    """Tables of conductor colours that hold in a region; all of them where it is not known."""
    known = regions().get(region.upper())
    return known.colours if known else tuple(MAINS)


def meant(colour: str, tables: tuple[str, ...]) -> frozenset[str]:
    """Conductors ("L", "N", "E") that a colour stands for in any of these tables."""
    wanted = colour_of(colour)
    told = (each.meaning for name in tables for each in MAINS[name] if each.colour == wanted)
    return frozenset(pin for m in told for pin, word in _MEANS.items() if m.startswith(word[:4]))


def colours(side: SupplyLine) -> Iterator[Violation]:
    """Conductors whose colour says something else, by the tables of the region, old and new."""
    region = side.circuit.mains.region if side.circuit.mains else ""
    tables = colour_tables(region)
    for cord in side.cords:
        odd: dict[str, list[tuple[str, Point]]] = {}
        for element in cord.elements:
            if element.kind == "conductor" and element.label:
                for rule, text in _colour(cord, element, tables, region):
                    odd.setdefault(rule, []).append((text, cord.point(element.terminals[0])))
        for rule, told in odd.items():
            text = "; ".join(words for words, _ in told)
            yield violation(rule, text, (cord.name,), tuple(point for _, point in told))


def _colour(
    cord: Part, element: Element, tables: tuple[str, ...], region: str
) -> Iterator[tuple[str, str]]:
    """The rule that the colour of one conductor breaks, with a sentence."""
    pin = element.terminals[0]
    says = meant(element.label, tables)
    if pin in says:
        return
    earth = "E" in meant(element.label, tuple(MAINS)) and "green" in element.label
    if earth and pin != "E":
        rule, text = (
            "colour-earth",
            f"{cord.name}.{pin} is {element.label}, the colour of the earth",
        )
    elif says:
        rule, other = "colour-unusual", " or ".join(_MEANS[p] for p in sorted(says))
        text = f"{cord.name}.{pin}, the {_MEANS[pin]}, is {element.label}, the colour of {other}"
    else:
        where = f" in region {region}" if region else ""
        rule = "colour-unusual"
        text = f"{cord.name}.{pin}, the {_MEANS[pin]}, is {element.label}: no usual colour{where}"
    yield rule, text


def primary_tap(side: SupplyLine) -> Iterator[Violation]:
    """The winding between line and neutral is made for another voltage than the mains."""
    tap = tap_volts(side)
    if tap is None or side.volts <= 0:
        return
    volts, parts = tap
    over = side.volts / volts - 1
    if -figure("tap-low") <= over <= figure("tap-high"):
        return
    way = "over" if over > 0 else "under"
    text = (
        f"{side.volts:g} V mains come to a primary of {volts:g} V: everything in the set is"
        f" {abs(over):.0%} {way} its voltage"
    )
    about = "danger" if over > figure("tap-burns") else "" if over > 0 else "fault"
    points = tuple(p for pin in "LN" if (p := side.conductor(pin)) is not None)
    yield violation("primary-tap", text, parts, points, about=about)


def tap_volts(side: SupplyLine) -> tuple[float, tuple[str, ...]] | None:
    """Voltage of the winding that lies between line and neutral [V], and its transformer.

    Several windings in series count as aiding.
    """
    path = side.ways.path([side.line], frozenset([side.neutral]), _fed, side.bare)
    if not path:
        return None
    volts = 0.0
    wound = [step for step in path if step.how == "winding" and not series(step)]
    for step in wound:
        element = step.element
        if element is None or len(element.taps) != len(element.terminals):
            return None
        table = dict(zip(element.terminals, element.taps, strict=True))
        volts += abs(table[step.a.pin] - table[step.b.pin])
    return (volts, tuple(dict.fromkeys(s.part.name for s in wound))) if volts > 0 else None


def _fed(passage: Passage) -> bool:
    """The way of the mains through the primary, switches as they are set."""
    return as_set(passage) or (passage.how == "winding" and passage.part.kind == "transformer")
