"""What the meter should read, cold and under power. Knows the circuit and the catalogue only.

Power off: `resistance` (charts with exact tolerance bounds), `reads` (readings judged), `checks`
(the reading that decides a finding). Under power: `operating` (voltages and currents everywhere),
`ranges` (what tolerances make of them, by `samples` and `line`), `charts` and `bringup`, `ratings`
(what every part has to stand), `output` (the output stage from readings), `proposals` (what to
change in it), `signal`, `way`, `loops` (`around`: what they lead through), `gains` (their ranges)
and `stability`. Below them: what lies inside a part (`inside`, `windings`, `controls`, `sockets`),
`network`, `linear`, `system`, `balance`, `newton`, `alternating`, `mains`, `paths`, `rectifier`,
`charging`, `strike`, `valves` (`laws` for many states at once), `models`.

Cheap to import: each of them is imported when a name of it is asked for. A function with the name
of its module is not among them: `from buzzout.electrics.stability import stability`.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from buzzout.electrics.bringup import Step, bring_up
    from buzzout.electrics.charts import (
        Current,
        Meter,
        Row,
        Verdict,
        VoltageChart,
        VoltageLine,
        currents,
        judge_voltages,
        three_charts,
        voltage_chart,
    )
    from buzzout.electrics.checks import Advice, Check, fewest_checks, meter_check
    from buzzout.electrics.conditions import Conditions
    from buzzout.electrics.draft import COLD, STARTING, WARM, Power, Supply
    from buzzout.electrics.gains import Gains, LoopRange, loop_range
    from buzzout.electrics.loops import cut, oscillations
    from buzzout.electrics.mains import Lamp
    from buzzout.electrics.operating import Operating, operate
    from buzzout.electrics.output import OutputStage, Readings, output_stage
    from buzzout.electrics.proposals import Proposal, predict, propose
    from buzzout.electrics.ranges import ASSUMED, Spread, spread
    from buzzout.electrics.ratings import audit
    from buzzout.electrics.reads import Judgement, judge
    from buzzout.electrics.resistance import Chart, Pair, Range, chart, resistances, side_by_side
    from buzzout.electrics.signal import Drive, Signals, signals
    from buzzout.electrics.stability import Stability
    from buzzout.electrics.stress import Stress
    from buzzout.electrics.way import along

__all__ = [
    "ASSUMED",
    "COLD",
    "STARTING",
    "WARM",
    "Advice",
    "Chart",
    "Check",
    "Conditions",
    "Current",
    "Drive",
    "Gains",
    "Judgement",
    "Lamp",
    "LoopRange",
    "Meter",
    "Operating",
    "OutputStage",
    "Pair",
    "Power",
    "Proposal",
    "Range",
    "Readings",
    "Row",
    "Signals",
    "Spread",
    "Stability",
    "Step",
    "Stress",
    "Supply",
    "Verdict",
    "VoltageChart",
    "VoltageLine",
    "along",
    "audit",
    "bring_up",
    "chart",
    "currents",
    "cut",
    "fewest_checks",
    "judge",
    "judge_voltages",
    "loop_range",
    "meter_check",
    "operate",
    "oscillations",
    "output_stage",
    "predict",
    "propose",
    "resistances",
    "side_by_side",
    "signals",
    "spread",
    "three_charts",
    "voltage_chart",
]

# What is to be had from where.
_ROOMS = {
    "bringup": "Step bring_up",
    "charts": "Current Meter Row Verdict VoltageChart VoltageLine currents judge_voltages"
    " three_charts voltage_chart",
    "checks": "Advice Check fewest_checks meter_check",
    "conditions": "Conditions",
    "draft": "COLD STARTING WARM Power Supply",
    "gains": "Gains LoopRange loop_range",
    "loops": "cut oscillations",
    "mains": "Lamp",
    "operating": "Operating operate",
    "output": "OutputStage Readings output_stage",
    "proposals": "Proposal predict propose",
    "ranges": "ASSUMED Spread spread",
    "ratings": "audit",
    "reads": "Judgement judge",
    "resistance": "Chart Pair Range chart resistances side_by_side",
    "signal": "Drive Signals signals",
    "stability": "Stability",
    "stress": "Stress",
    "way": "along",
}


def __getattr__(name: str) -> Any:
    for room, names in _ROOMS.items():
        if name in names.split():
            return getattr(import_module(f"{__name__}.{room}"), name)
    raise AttributeError(name)
