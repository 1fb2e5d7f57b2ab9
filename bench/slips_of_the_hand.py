"""Planting errors on a chassis, one slip of the hand at a time: every kind that there is."""

from __future__ import annotations

import slips_at_furniture
import slips_with_parts
from planting import HARMFUL, HARMLESS, STRIP, Planted, plant

KINDS_IN = (slips_with_parts, slips_at_furniture)  # to have imported them fills the books

__all__ = ["HARMFUL", "HARMLESS", "KINDS_IN", "STRIP", "Planted", "plant"]
