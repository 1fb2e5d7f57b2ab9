"""A circuit, or a comparison with its findings marked, as a picture."""

from __future__ import annotations

import re
from collections.abc import Mapping

from buzzout.circuit import Circuit
from buzzout.compare.findings import Comparison
from buzzout.report.drawing.picture import dot_source
from buzzout.report.drawing.render import NoRenderer, rendered

_TITLES = re.compile(r"<title>[^<]*</title>\n?")  # names of strokes would pop up under the mouse

__all__ = ["NoRenderer", "dot_source", "png", "svg"]


def svg(
    circuit: Circuit,
    comparison: Comparison | None = None,
    only_findings: bool = False,
    numbers: Mapping[str, int] | None = None,
    legend: bool = True,
) -> str:
    """The picture as SVG; see `dot_source` for the arguments and `rendered` for what is raised."""
    source = dot_source(circuit, comparison, only_findings, numbers, legend)
    return _TITLES.sub("", rendered(source, "svg").decode())


def png(
    circuit: Circuit,
    comparison: Comparison | None = None,
    only_findings: bool = False,
    numbers: Mapping[str, int] | None = None,
) -> bytes:
    """The picture as PNG; see `dot_source` for the arguments and `rendered` for what is raised."""
    return rendered(dot_source(circuit, comparison, only_findings, numbers), "png")
