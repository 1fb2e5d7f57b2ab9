"""What a part has to stand against what it may: the record, the margins, the two states judged.

Margins, each used where the part states a rating, else to say what to order:

* resistors: half the rated power (the load at which failure rates of composition resistors hold,
  MIL-R-39008; for old parts common practice);
* capacitors: 80 % of the rated voltage when running (derating table of the System Reliability
  Center, benign use), the full rating at the surge with the mains 10 % high (IEC 60384-4 would
  allow an electrolytic a tenth more for short times: not used, from memory);
* capacitors of a mains class: in alternating volts, the full rating when running, and a tenth more
  with the mains 10 % high: rated ones may see 110 % of their voltage, the variation of the mains
  with it (application guidelines of a maker of film capacitors, studylib.net document 18067514,
  1 (6); IEC 60384-14 itself was not at hand);
* valves: the published limit itself, taken with the middle valve of the sheet;
* windings and chokes: 90 % of the stated current (common practice); heaters and lamps count with
  what their sheets say, summed;
* fuse: from 1.3 to 4 times the computed mains current (common practice for a slow fuse and a
  transformer's inrush).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from buzzout.circuit import Point
from buzzout.electrics.branch import Branch
from buzzout.electrics.operating import Operating

OVER, NEAR, FINE, ORDER = "over", "near", "within", "order"
HIGH_MAINS = 1.1
SURGE = "before the heaters are warm, mains 10 % high"
POWER_SHARE, VOLTAGE_SHARE, CURRENT_SHARE = 0.5, 0.8, 0.9
# Sizes that shops have. [W], [V]; common practice.
WATTS = (0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 25.0, 50.0)
VOLTS = (
    16.0,
    25.0,
    35.0,
    50.0,
    63.0,
    100.0,
    160.0,
    250.0,
    350.0,
    400.0,
    450.0,
    500.0,
    630.0,
    1000.0,
)
MAINS_VOLTS = (125.0, 250.0, 275.0, 310.0)  # the same of capacitors for the mains, r.m.s.
MAINS_SHARE = 1.1  # of its rating that such a one may see with the mains high [1]
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Stress:
    """One thing that a part has to stand.

    `value` and `limit` in `unit`; `limit` is NaN where the part states none, then `order` is what
    to order. `when` is the state in which it is highest. `verdict`: over the limit, near it (past
    the margin), within, or order.
    """

    part: str
    what: str
    value: float
    unit: str
    limit: float
    verdict: str
    when: str
    order: float = math.nan
    margin: str = ""


@dataclass(frozen=True)
class States:
    """The states that ratings are judged in, highest mains for the surge."""

    warm: Operating
    surge: Operating

    def both(self) -> Iterator[tuple[str, Operating]]:
        """Name and state."""
        yield "running", self.warm
        yield SURGE, self.surge


def shop_volts(volts: float, *, mains: bool = False) -> float:
    """The rating to buy for so many volts: the next that shops have. [V].

    `mains`: of a capacitor made for the mains, r.m.s.
    """
    least = volts * (1 - _ROUNDING)
    sizes = MAINS_VOLTS if mains else VOLTS
    return next((v for v in sizes if v >= least), 100.0 * math.ceil(least / 100))


def judge(value: float, limit: float, share: float) -> str:
    """Verdict on a value against a limit with a margin."""
    if value > limit:
        return OVER
    return NEAR if value > share * limit else FINE


def across(state: Operating, branch: Branch) -> float:
    """Direct voltage across a branch. [V]; NaN where it floats."""
    return state.volts(branch.a, branch.b)


def alternating_across(state: Operating, branch: Branch) -> float:
    """Alternating voltage at mains frequency across a branch. [V]."""
    if not state.swings:
        return 0.0
    a, b = state.net.ends(branch)
    return abs(state.swings[a] - state.swings[b]) / math.sqrt(2)


def alternating_at(state: Operating, point: Point) -> float:
    """Alternating voltage at mains frequency of a point against the chassis. [V]."""
    return abs(state.swings[state.net.of[point]]) / math.sqrt(2) if state.swings else 0.0


def device_in(state: Operating, name: str) -> Any:
    """The device of the catalogue that is fitted in a socket, or None."""
    part = state.net.circuit.parts.get(name)
    return state.net.conditions.device(part.type) if part and part.type else None
