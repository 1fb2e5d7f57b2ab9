"""The output stage as a sheet: both dissipations, which is which, and another resistor."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from buzzout.circuit import printed
from buzzout.report.tables import Column, Table, amount, figure, volts

if TYPE_CHECKING:
    from buzzout.electrics import OutputStage, Proposal
    from buzzout.electrics.taken import Taken

_TAKEN = (
    Column("what", "taken"),
    Column("said", "", right=True),
    Column("origin", "from"),
    Column("value", only_data=True),
)
_RESULT = (
    Column("what", "result"),
    Column("said", "", right=True),
    Column("off", "give or take", right=True),
    Column("limit", "limit", right=True),
    Column("how", "how"),
    Column("value", only_data=True),
    Column("uncertainty", only_data=True),
)
_PREDICTED = (
    Column("which", "cathode resistor"),
    Column("ohm", "", lambda r: printed(float(f"{r:.4g}"), "ohm"), right=True),
    Column("drop_v", "drop", volts, right=True),
    Column("cathode_a", "each", lambda a: amount(a, "A"), right=True),
    Column("anode_v", "anode", volts, right=True),
    Column("anode_w", "dissipation", lambda w: f"{w:.2f} W", right=True),
    Column("share", "of limit", lambda s: f"{s:.0%}", right=True),
    Column("burnt_w", "burns", lambda w: amount(w, "W"), right=True),
    Column("order_w", "order", lambda w: f"{w:g} W", right=True),
)
_CALLED = {"cathode": "drop across the cathode resistor", "ohms": "that resistor",
           "anode": "anode to chassis", "screen": "screen to chassis",
           "grid": "grid to chassis"}  # fmt: skip


def taken_table(taken: Taken) -> Table:
    """What the figures rest on."""
    r = taken.readings
    values = {"cathode": r.drop, "ohms": r.ohms, "anode": r.anode, "screen": r.screen}
    values |= {"grid": r.grid} if r.held else {}
    rows = tuple(
        (
            f"{_CALLED[key]} {taken.points.get(key, '')}".rstrip(),
            printed(float(f"{value:.4g}"), "ohm") if key == "ohms" else f"{value:.4g} V",
            taken.origin.get(key, ""), value,
        )
        for key, value in values.items()
        if not math.isnan(value)
    )  # fmt: skip
    return Table("", _TAKEN, rows)


def result_table(stage: OutputStage) -> Table:
    """Currents and dissipations of one valve, and which rule each comes from."""
    s, many = stage, stage.readings.valves > 1
    rows: list[tuple[Any, ...]] = []

    def row(what: str, got: Any, unit: str, limit: float, how: str) -> None:
        bound = None if math.isnan(limit) else amount(limit, unit)
        rows.append((what, amount(got.value, unit), amount(got.off, unit), bound, how,
                     got.value, got.off))  # fmt: skip

    if many:
        row("current in the resistor", s.total, "A", math.nan, "drop over resistance")
    each = "each valve its share, taken as equal" if many else "drop over resistance"
    row("cathode current", s.cathode, "A", s.cathode_limit, each)
    row("QUICK RULE", s.quick, "W", s.anode_limit, "anode to CHASSIS times CATHODE current")
    if many:
        row("  all valves", s.quick_total, "W", math.nan, "the same with the whole current")
    split = f"anode to CATHODE, without the screen's {s.share:.0%} (from {s.share_from})"
    row("EXACT, anode", s.anode, "W", s.anode_limit, split)
    row("EXACT, screen", s.screen, "W", s.screen_limit, "screen to cathode times screen current")
    title = f"EACH {stage.readings.type}: exact anode dissipation {stage.verdict}"
    return Table(title, _RESULT, tuple(rows))


def predicted_table(told: Iterable[tuple[str, Proposal]], limit: float) -> Table:
    """What other cathode resistors would do, by the model set to this very valve."""
    rows = tuple(
        (
            which, p.ohms, p.drop, p.cathode, p.anode_volts, p.anode,
            None if math.isnan(limit) else p.anode / limit, p.watts, p.order,
        )
        for which, p in told
    )  # fmt: skip
    return Table("PREDICTED, each valve; measure again afterwards", _PREDICTED, rows)


def resistor_said(stage: OutputStage) -> str:
    """What the cathode resistor burns now."""
    return f"{figure(stage.resistor_watts)} W in the cathode resistor now"
