"""Type names compared as people write them, and near misses."""

from __future__ import annotations

import re
from collections.abc import Iterable

_DROPPED = re.compile(r"[\s\-./_]+")
LIKENESS = 0.6  # below this a name is no near miss; 6V6 against 6L6 has 0.67
SWAPPED = 0.95  # the same characters in another order: ECC38 is meant for ECC83


def plain(name: str) -> str:
    """A type name without what people leave out: `6l6-gc` and `6L6 GC` are both `6L6GC`.

    >>> plain("6l6-gc"), plain("ECC 83")
    ('6L6GC', 'ECC83')
    """
    return _DROPPED.sub("", name).upper()


def nearest(name: str, among: Iterable[str], most: int = 3) -> tuple[str, ...]:
    """Names like the one given, the likest first, then by name; none below `LIKENESS`.

    >>> nearest("EC83", ["ECC83", "ECC82", "EL84"])
    ('ECC83', 'ECC82')
    """
    from difflib import SequenceMatcher  # noqa: PLC0415 - only wanted when something was misspelt

    wanted = plain(name)
    match = SequenceMatcher(autojunk=False)
    match.set_seq2(wanted)
    scored = []
    for candidate in sorted(set(among)):
        near = plain(candidate)
        match.set_seq1(near)
        if match.real_quick_ratio() < LIKENESS:
            continue
        ratio = match.ratio()
        if near != wanted and sorted(near) == sorted(wanted):
            ratio = max(ratio, SWAPPED)
        if ratio >= LIKENESS:
            scored.append((-round(ratio, 6), candidate))
    return tuple(candidate for _, candidate in sorted(scored)[:most])
