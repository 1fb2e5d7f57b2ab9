"""Codes on small parts: bands, letters, capacitor figures, mica dots, preferred numbers."""

from __future__ import annotations

from buzzout.catalogue.bands import COLOURS, bands, bands_for, colour
from buzzout.catalogue.letters import TOLERANCE_LETTERS, capacitor_code, rkm
from buzzout.catalogue.mica import Mica, mica
from buzzout.catalogue.preferred import SERIES, nearest_preferred, preferred, series_of
from buzzout.catalogue.slips import colour_slip

__all__ = [
    "COLOURS",
    "SERIES",
    "TOLERANCE_LETTERS",
    "Mica",
    "bands",
    "bands_for",
    "capacitor_code",
    "colour",
    "colour_slip",
    "mica",
    "nearest_preferred",
    "preferred",
    "rkm",
    "series_of",
]
