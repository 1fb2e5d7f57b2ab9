"""Looks of the drawing: each has a colour, a line and a word, so that none depends on colour.

The colours are the set for colour-blind readers of M. Okabe and K. Ito, "Color Universal Design:
how to make figures and presentations that are friendly to colorblind people" (2002, revised 2008).
"""

from __future__ import annotations

from dataclasses import dataclass

BLACK = "#000000"
GREY = "#595959"
PAPER = "#FFFFFF"
TINT = "#F4F2EC"  # ground of a stage; carries no meaning

VERMILION = "#D55E00"
BLUE = "#0072B2"
PURPLE = "#CC79A7"
ORANGE = "#E69F00"
GREEN = "#009E73"


@dataclass(frozen=True, slots=True)
class Look:
    """How one sort of finding is drawn. `line` is a DOT line style, `width` in points."""

    name: str
    colour: str
    line: str
    width: float
    legend: str


LOOKS = {
    look.name: look
    for look in (
        Look("there", VERMILION, "solid", 3.0, "thick line: is there and should not be"),
        Look("lacking", BLUE, "dashed", 2.2, "dashed line: should be there and is not"),
        Look("differs", PURPLE, "solid", 2.2, "double frame: is there, but not as drawn"),
        Look("unsure", ORANGE, "dotted", 2.6, "dotted line: not verified on the chassis"),
        Look("rule", BLACK, "solid", 3.4, "black frame: breaks a rule of the trade"),
        Look("harmless", GREEN, "solid", 1.4, "thin frame: differs, makes no difference"),
    )
}
