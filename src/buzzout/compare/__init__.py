"""Comparing a found board with its drawing: the fewest physical errors, proven.

This file stays light: the engine and its numeric libraries are imported at the first comparison.
It is imported with the package itself, so that `buzzout.compare` is the function wherever the
room has been imported before.
"""

from __future__ import annotations

from collections.abc import Callable

from buzzout.circuit import Circuit
from buzzout.compare.findings import DEFAULT_EFFORT, KINDS, Comparison, Finding, Matching, Proof

__all__ = ["DEFAULT_EFFORT", "KINDS", "Comparison", "Finding", "Matching", "Proof", "compare"]


def compare(
    reference: Circuit,
    found: Circuit,
    effort: int = DEFAULT_EFFORT,
    progress: Callable[[str, float], None] | None = None,
) -> Comparison:
    """What differs between a drawing and a chassis; see `buzzout.compare.engine.compare`."""
    from buzzout.compare.engine import compare as compared  # noqa: PLC0415

    return compared(reference, found, effort, progress)
