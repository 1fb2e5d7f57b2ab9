"""Pages to look at and to print: templates filled in, everything escaped, plain ASCII."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from buzzout.bench.meter import ohms
from buzzout.bench.output_stage import LEGEND, sheet
from buzzout.bench.reported import between, what, where
from buzzout.job.confirm import CAUTION


@cache
def _templates() -> Environment:
    made = Environment(
        loader=PackageLoader("buzzout.bench"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    for one in (ohms, between, where, what, sheet, some, paint):
        made.filters[one.__name__] = one
    return made


def some(things: Sequence[Any], most: int) -> list[Any]:
    """The first of many things; the last line says how many more there are."""
    if len(things) <= most:
        return list(things)
    return [*things[: most - 1], f"and {len(things) - most + 1} more, in the technician's record"]


# Colour bands on a screen; everything else is called as in CSS.
_PAINT = {"gold": "#c9a227", "silver": "#c8c8c8", "violet": "#7a3fa0", "grey": "#808080"}


def paint(band: str) -> str:
    """A band's colour as a page knows it."""
    return _PAINT.get(band, band if band.isalpha() else "white")


def rendered(template: str, **told: Any) -> str:
    """One page from a template of this room. It stands alone: nothing is fetched from anywhere."""
    told |= {"caution": CAUTION, "legend": LEGEND}
    text = _templates().get_template(template).render(**told)
    return text.encode("ascii", "xmlcharrefreplace").decode("ascii")
