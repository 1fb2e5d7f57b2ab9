"""Colours of leads and wires: transformers, chassis wiring, mains leads; marks on capacitor cans.

Makers often went their own way and colours fade: a colour is a hint, a meter decides. Sources are
keys of `SOURCES`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

SOURCES: Mapping[str, str] = {
    "rma": "RMA and EIA lead colours, as printed by RF Cafe (transformer lead color code)",
    "lovell": "L. Lovell, Antique Radio Repair: a short course, 1989, RMA colour codes",
    "wiring": "Illustrator Draftsman, NAVEDTRA 14040, figure 6-15, chassis wiring colours",
    "wikipedia": "Wikipedia, Electronic color code, transformer wiring colours",
    "taps": "Fun with Tubes (angelfire.com), Transformer lead colors",
    "emmerson": "A. Emmerson, Safety or heresy: mains cords, rec.antiques.radio+phono, 17.10.1995",
    "zip": "ControlBooth wiki, Zip cord",
    "practice": "common practice",
}


class Colour(NamedTuple):
    """What one colour means in one place; `sources` are keys of `SOURCES`."""

    colour: str
    meaning: str
    sources: tuple[str, ...]


_RMA = ("rma", "lovell")
TRANSFORMERS: Mapping[str, tuple[Colour, ...]] = {
    "power": (
        Colour("black", "primary; common end where it is tapped", _RMA),
        Colour("black/yellow", "primary tap", _RMA),
        Colour("black/red", "primary, finish where it is tapped", _RMA),
        Colour("red", "HT winding, both ends", _RMA),
        Colour("red/yellow", "HT winding, centre tap", _RMA),
        Colour("yellow", "rectifier filament winding", _RMA),
        Colour("yellow/blue", "rectifier filament winding, centre tap", _RMA),
        Colour("green", "heater winding 1", _RMA),
        Colour("green/yellow", "heater winding 1, centre tap (no earth conductor!)", _RMA),
        Colour("brown", "heater winding 2", _RMA),
        Colour("brown/yellow", "heater winding 2, centre tap", _RMA),
        Colour("grey", "heater winding 3", _RMA),
        Colour("grey/yellow", "heater winding 3, centre tap", _RMA),
    ),
    "output": (
        Colour("blue", "anode", _RMA),
        Colour("red", "HT, also the centre tap of a push-pull primary", _RMA),
        Colour("brown", "second anode of a push-pull primary", ("rma",)),
        Colour("blue/yellow", "screen tap on the side of the first anode", ("practice",)),
        Colour("brown/yellow", "screen tap on the side of the second anode", ("taps",)),
        Colour("green", "secondary, live end to the speaker", ("wikipedia",)),
        Colour("yellow", "secondary, tap", ("wikipedia",)),
        Colour("black", "secondary, return", ("wikipedia", "rma")),
    ),
    "interstage": (
        Colour("blue", "anode", _RMA),
        Colour("red", "HT", _RMA),
        Colour("brown", "second anode of a push-pull primary", ("rma",)),
        Colour("green", "grid", _RMA),
        Colour("black", "grid return, also a centre tap", _RMA),
        Colour("yellow", "second grid of a push-pull secondary", ("rma",)),
    ),
    "if": (
        Colour("blue", "anode", _RMA),
        Colour("red", "HT", _RMA),
        Colour("green", "grid or diode", _RMA),
        Colour("black", "grid return, AVC or chassis", _RMA),
    ),
    "field": (
        Colour("black/red", "field coil, start", ("lovell",)),
        Colour("yellow/red", "field coil, finish", ("lovell",)),
        Colour("grey/red", "field coil, tap", ("lovell",)),
    ),
}
_W = ("wiring",)
CHASSIS_WIRES = (
    Colour("black", "chassis and returns", _W),
    Colour("brown", "heaters and filaments", _W),
    Colour("red", "HT", _W),
    Colour("orange", "screen grids", _W),
    Colour("yellow", "cathodes", _W),
    Colour("green", "control grids", _W),
    Colour("blue", "anodes", _W),
    Colour("violet", "HT minus", _W),
    Colour("grey", "mains", _W),
    Colour("white", "bias, AVC and others", _W),
)
_P = ("practice",)
_E = ("emmerson",)
# Leads, not the wiring in walls. A plug that goes in both ways makes line and neutral one.
MAINS: Mapping[str, tuple[Colour, ...]] = {
    "europe": (
        Colour("brown", "line (live)", _E),
        Colour("blue", "neutral", _E),
        Colour("green/yellow", "protective earth", _E),
    ),
    "britain old": (
        Colour("red", "line (live)", _E),
        Colour("black", "neutral", _E),
        Colour("green", "protective earth", _E),
    ),
    "germany old": (
        Colour("black", "line (live); neutral in many leads", ("practice", "emmerson")),
        Colour("grey", "neutral; line (live) in many leads", ("practice", "emmerson")),
        Colour("red", "protective earth (red is live elsewhere!)", _E),
    ),
    "belgium old": (
        Colour("red", "line (live)", _E),
        Colour("yellow", "line (live)", _E),
        Colour("blue", "line (live)", _E),
        Colour("grey", "neutral", _E),
        Colour("black", "protective earth (black is live elsewhere!)", _E),
    ),
    "netherlands old": (
        Colour("red", "neutral", _E),
        Colour("grey", "protective earth", _E),
    ),
    "russia old": (
        Colour("red", "line (live)", _E),
        Colour("grey", "neutral", _E),
        Colour("black", "protective earth (black is live elsewhere!)", _E),
    ),
    "switzerland old": (
        Colour("red", "line (live)", _E),
        Colour("grey", "neutral", _E),
        Colour("yellow", "protective earth", _E),
        Colour("yellow/red", "protective earth", _E),
    ),
    "america": (
        Colour("black", "line (hot)", _E),
        Colour("white", "neutral", _E),
        Colour("green", "protective earth", _E),
    ),
    "america cord": (
        Colour("smooth", "line (hot), the conductor without ribs", ("zip",)),
        Colour("ribbed", "neutral", ("zip",)),
    ),
    "australia old": (
        Colour("red", "line (active)", _P),
        Colour("black", "neutral", _P),
        Colour("green", "protective earth", _P),
    ),
    "japan": (
        Colour("black", "line (live)", _P),
        Colour("white", "neutral", _P),
        Colour("green", "protective earth", _P),
    ),
}
MAINS_CAUTION = (
    "Old leads were often replaced or joined without regard to colour: unplug, then prove each "
    "conductor with a meter from the plug's pin to the end in the set."
)
# Punched beside the lugs of a can; the legend on its side says which mark has what value.
CAN_MARKS = (
    Colour("half moon", "as a rule the largest section or the first filter", _P),
    Colour("square", "as a rule the second section", _P),
    Colour("triangle", "as a rule the third section, often of low voltage", _P),
    Colour("plain", "no mark: as a rule the last section", _P),
)
CAN_CAUTION = (
    "The legend printed on the can decides; the can and its twisted lugs are the common minus."
)
_STRIPES = {"gray": "grey", "slate": "grey", "purple": "violet", "light blue": "blue"}


def colour_of(text: str) -> str:
    """A lead colour as these tables write it: `Green-Yellow` is `green/yellow`."""
    words = text.lower().replace(" and ", "/").replace("-", "/").replace(" / ", "/").strip()
    return "/".join(_STRIPES.get(each.strip(), each.strip()) for each in words.split("/"))


def meaning(table: tuple[Colour, ...], text: str) -> str:
    """What a colour means in a table, "" if the table does not have it.

    >>> meaning(TRANSFORMERS["power"], "red and yellow")
    'HT winding, centre tap'
    """
    wanted = colour_of(text)
    return next((each.meaning for each in table if each.colour == wanted), "")
