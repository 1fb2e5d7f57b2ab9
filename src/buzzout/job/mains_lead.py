"""Rules of the mains lead: colours by region, primary tap."""

from __future__ import annotations

from collections.abc import Iterator

from buzzout.catalogue.colours import MAINS, colour_of
from buzzout.circuit import Element, Part, Point
from buzzout.job.rulebook import Violation, figure, regions, violation
from buzzout.job.selector import belongs, fits, tap_volts
from buzzout.job.supplyline import SupplyLine

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
    if tap is None or side.volts <= 0 or fits(side, tap[0]):
        return
    volts, parts = tap
    over = side.volts / volts - 1
    better, stands, action = belongs(side), "", ""
    if better is not None:
        name = better.selector.name
        stands = f" with {name} at {better.selector.setting}"
        action = f"Unplugged, set {name} to {better.position}: no wire is to be moved."
        parts = (*parts, name)
    way = "over" if over > 0 else "under"
    text = (
        f"{side.volts:g} V mains come to a primary of {volts:g} V{stands}: everything in the set is"
        f" {abs(over):.0%} {way} its voltage"
    )
    about = "danger" if over > figure("tap-burns") else "" if over > 0 else "fault"
    points = tuple(p for pin in "LN" if (p := side.conductor(pin)) is not None)
    yield violation("primary-tap", text, parts, points, about=about, action=action)
