"""What is assumed about the set while it is computed: controls, switches, valves, meter, supply."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from buzzout.catalogue import device

# Where nobody states a rotation, controls stand fully clockwise, as service sheets measure.
FULLY_CLOCKWISE = 1.0

# What a hand-held meter adds to a resistance reading: share of the reading, and ohms of the leads.
# Common practice: 1 % and two or three digits, leads not zeroed.
METER_SHARE = 0.01
METER_OHMS = 0.5


@dataclass(frozen=True)
class Conditions:
    """How the set stands on the bench.

    Parameters
    ----------
    rotations : mapping
        Part name of a control to its rotation, 0 (anticlockwise) to 1 (clockwise). [1]
    contacts : mapping
        `"S1"` or `"S1.label"` to open (False) or closed (True), over what the file says.
    valves : str
        "out" (sockets empty), "cold" (fitted, heaters cold) or "warm".
    empty : frozenset of str
        Sockets without their valve, whatever `valves` says.
    power : bool
        Under power: on-off switches whose position nobody wrote down count as on, else as off.
    filament : float
        Share of their rated voltage on heaters and lamps, under power. [1]
    device : callable
        Type designation to a device of the catalogue or None.
    leaks : mapping
        Name of a capacitor (or `C20.section`) to its leakage resistance. [ohm]
    """

    rotations: Mapping[str, float] = field(default_factory=dict)
    contacts: Mapping[str, bool] = field(default_factory=dict)
    valves: str = "out"
    empty: frozenset[str] = frozenset()
    power: bool = False
    filament: float = 1.0
    device: Callable[[str], Any] = device
    leaks: Mapping[str, float] = field(default_factory=dict)

    def glow(self, cold: float) -> float:
        """Resistance of a filament over that at its rated voltage. [1].

        `cold` is the ratio hot to cold. Glowing, it goes with the 0.45th power of the voltage
        (lamps near their rating, see `mains`; for heaters common practice).
        """
        if not self.power or self.valves == "cold":
            return 1 / cold
        return max(math.pow(max(self.filament, 0.0), 0.45), 1 / cold)

    def apart(self, other: Conditions) -> frozenset[str] | None:
        """Names of parts that are not the same inside under the other; None where any may be."""
        whole = ("valves", "empty", "power", "filament", "device")
        if any(getattr(self, name) != getattr(other, name) for name in whole):
            return None
        pairs = ((self.rotations, other.rotations), (self.contacts, other.contacts))
        keys = (k for one, two in pairs for k in {*one, *two} if one.get(k) != two.get(k))
        return frozenset(key.partition(".")[0] for key in keys)

    def closed(self, part: str, label: str, as_set: bool) -> bool:
        """Tell whether a contact is closed."""
        return self.contacts.get(f"{part}.{label}", self.contacts.get(part, as_set))
