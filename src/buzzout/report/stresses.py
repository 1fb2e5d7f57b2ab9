"""The ratings audit as a sheet: worst first, and what to order instead."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from buzzout.circuit import Circuit
from buzzout.electrics.stress import WATTS
from buzzout.report.tables import Column, Table, amount, called

if TYPE_CHECKING:
    from buzzout.electrics import Stress

HEADINGS = {
    "over": "OVER THE LIMIT",
    "near": "WITHIN THE LIMIT, BUT PAST THE MARGIN",
    "order": "NO RATING STATED: WHAT TO ORDER",
    "within": "WITHIN THE MARGIN",
}


def _percent(share: float) -> str:
    return f"{share:.0%}"


_COLUMNS = (
    Column("part", "part"),
    Column("what", "what"),
    Column("carries", "carries", right=True),
    Column("limit", "limit", right=True),
    Column("share", "", _percent, right=True),
    Column("order", "order", right=True),
    Column("when", "when", lambda when: "running" if when == "running" else "surge"),
    Column("margin", "margin"),
    Column("value", only_data=True),
    Column("unit", only_data=True),
)


def stress_tables(told: Iterable[Stress], circuit: Circuit, *, everything: bool) -> list[Table]:
    """One table for each verdict, worst first; what is within its margin only on request."""
    found = [s for s in told if everything or not little(s)]
    tables = []
    for verdict, title in HEADINGS.items():
        rows = [_row(s, circuit) for s in found if s.verdict == verdict]
        if rows and (everything or verdict != "within"):
            tables.append(Table(title, _COLUMNS, tuple(rows)))
    return tables


def little(s: Stress) -> bool:
    """Whether a part without a rating carries so little that the smallest size does."""
    return s.verdict == "order" and s.unit == "W" and s.order <= WATTS[0]


def _row(s: Stress, circuit: Circuit) -> tuple[Any, ...]:
    known = not math.isnan(s.limit)
    better = s.verdict != "within" and math.isfinite(s.order)
    return (
        called(s.part, circuit), s.what, _said(s.value, s.unit),
        _said(s.limit, s.unit) if known else None, s.value / s.limit if known else None,
        _said(s.order, s.unit) if better else None, s.when, s.margin, s.value, s.unit,
    )  # fmt: skip


def _said(value: float, unit: str) -> str:
    """`8.35 W`, `390 V`, `31 mA`."""
    if unit == "W" and value < 1e-3:
        return "<1 mW"
    if unit == "mA":
        return amount(value / 1e3, "A")
    return amount(value, unit)


def counted(told: Sequence[Stress]) -> str:
    """How many stresses there are of each verdict."""
    words = {"over": "over the limit", "near": "past the margin",
             "order": "without a rating", "within": "within the margin"}  # fmt: skip
    counts = [(sum(s.verdict == key for s in told), text) for key, text in words.items()]
    return ", ".join(f"{count} {text}" for count, text in counts)
