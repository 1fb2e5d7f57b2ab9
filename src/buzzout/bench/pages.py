"""Pages to look at and to print: templates filled in, everything escaped, plain ASCII."""

from __future__ import annotations

from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from buzzout.bench.meter import ohms
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
    made.filters["ohms"] = ohms
    return made


def rendered(template: str, **told: Any) -> str:
    """One page from a template of this room. It stands alone: nothing is fetched from anywhere."""
    text = _templates().get_template(template).render(caution=CAUTION, **told)
    return text.encode("ascii", "xmlcharrefreplace").decode("ascii")
