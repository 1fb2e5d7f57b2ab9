"""Comparing a found board with its drawing: the fewest physical errors, proven."""

from __future__ import annotations

from buzzout.compare.engine import DEFAULT_EFFORT, compare
from buzzout.compare.findings import KINDS, Comparison, Finding, Matching, Proof

__all__ = ["DEFAULT_EFFORT", "KINDS", "Comparison", "Finding", "Matching", "Proof", "compare"]
