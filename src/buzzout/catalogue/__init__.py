"""The catalogue: valves, bases, codes and colours, each figure with its source.

Cheap to import: a device file is read when a device is asked for, and only the part of it that is
wanted.
"""

from __future__ import annotations

from buzzout.catalogue.bases import Base, base, base_names
from buzzout.catalogue.difference import difference
from buzzout.catalogue.names import nearest, plain
from buzzout.catalogue.records import (
    Device,
    Difference,
    Electrode,
    Exchange,
    Figures,
    Heater,
    Section,
)
from buzzout.catalogue.shelf import designations, device, device_names

__all__ = [
    "Base",
    "Device",
    "Difference",
    "Electrode",
    "Exchange",
    "Figures",
    "Heater",
    "Section",
    "base",
    "base_names",
    "designations",
    "device",
    "device_names",
    "difference",
    "nearest",
    "plain",
]
