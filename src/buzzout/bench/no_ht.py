"""A dead set told as such: that there is no HT, and on which side it is likely lost."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from buzzout.bench.case import Case
from buzzout.bench.faults import Fault
from buzzout.bench.probe import DIRECT
from buzzout.electrics.laws import Bools, Floats

_SURE = 0.9  # share of the faults without HT from which it is told
_RAIL = 0.5  # points of more than this share of the highest voltage count as HT
_GONE = 0.1  # share of its voltage below which a point has none
_SMALL = 0.005  # share below which a side is not told

_MAINS = "if no heater glows, the mains side: lead, fuse, switch or a winding"
_RECTIFIER = "if the heaters glow, the rectifier, its heater or the winding that feeds it"
_SHORT = "a short across HT, whatever the heaters do"


def no_ht(asked: Case, share: Floats) -> str:
    """One sentence for readings that mean no HT, "" for others; `share` of each single fault.

    Heaters can be seen without a meter, so they come before the next reading.
    """
    if not any(fault.change.paths for fault in asked.faults):
        return ""  # HT comes from outside
    lost = _lost(asked)
    whole = float(np.sum(share[lost]))
    if whole < _SURE:
        return ""
    dark, short = _dark(asked.faults), _short(asked.faults)
    sides = [(_MAINS, dark), (_SHORT, short & ~dark), (_RECTIFIER, ~short & ~dark)]
    told = [(float(np.sum(share[lost & side])) / whole, words) for words, side in sides]
    told = sorted((one for one in told if one[0] > _SMALL), key=lambda one: -one[0])
    return f"no HT: {'; '.join(f'{words} ({part:.0%})' for part, words in told)}"


def _lost(asked: Case) -> Bools:
    """Which faults leave nothing at any point that HT should be at."""
    shown, minus = asked.predicted, [p.to for p in asked.volts if p.way == DIRECT][:1]
    to_minus = np.array([p.way == DIRECT and [p.to] == minus for p in asked.volts], dtype=bool)
    healthy = np.where(to_minus, shown.healthy, 0.0)
    rail = (healthy > _RAIL * np.max(healthy, initial=0.0)) & (healthy > 0)
    if not rail.any():
        return np.zeros(len(asked.faults), dtype=bool)
    return np.asarray(np.all(shown.mean[:, rail] < _GONE * healthy[rail], axis=1), dtype=bool)


def _dark(faults: Sequence[Fault]) -> Bools:
    """Which faults leave no valve its emission."""
    gone = [{name for name, left in f.change.emission.items() if not left} for f in faults]
    every = set().union(*gone)
    return np.array([bool(every) and own == every for own in gone], dtype=bool)


def _short(faults: Sequence[Fault]) -> Bools:
    """Which faults let a current through where none belongs."""
    return np.array([any(s > 0 for *_, s in f.change.siemens) for f in faults], dtype=bool)
