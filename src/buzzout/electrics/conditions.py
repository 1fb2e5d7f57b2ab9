"""What is assumed about the set while it is computed: controls, switches, valves, meter, supply."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

# Where nobody states a rotation, controls stand fully clockwise, as service sheets measure.
FULLY_CLOCKWISE = 1.0

# What a hand-held meter adds to a resistance reading: share of the reading, and ohms of the leads.
# Common practice: 1 % and two or three digits, leads not zeroed.
METER_SHARE = 0.01
METER_OHMS = 0.5


def no_device(_type: str) -> Any:
    """A catalogue that knows nothing."""
    return None


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
    device : callable
        Type designation to a device of the catalogue or None.
    leaks : mapping
        Name of a capacitor (or `C20.section`) to its leakage resistance. [ohm]
    """

    rotations: Mapping[str, float] = field(default_factory=dict)
    contacts: Mapping[str, bool] = field(default_factory=dict)
    valves: str = "out"
    device: Callable[[str], Any] = no_device
    leaks: Mapping[str, float] = field(default_factory=dict)

    def closed(self, part: str, label: str, as_set: bool) -> bool:
        """Tell whether a contact is closed."""
        return self.contacts.get(f"{part}.{label}", self.contacts.get(part, as_set))
