"""The output stage of a job: as read, what another resistor would do, and as read afterwards."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from buzzout.bench.readings import names
from buzzout.bench.sittings import Sitting
from buzzout.circuit import CHASSIS, Circuit, Point, Reading, printed
from buzzout.compare import Comparison
from buzzout.electrics.common import common
from buzzout.electrics.output import (
    CLASS_A,
    CLASS_AB,
    Figure,
    OutputStage,
    output_model,
    output_stage,
    unfit,
)
from buzzout.electrics.proposals import Proposal, bias_for, propose
from buzzout.electrics.taken import READ, NoStage, Taken, electrodes, output_valves, take


@dataclass(frozen=True)
class Read:
    """The stage as one sitting has it."""

    sitting: Sitting
    taken: Taken
    stage: OutputStage

    @property
    def measured(self) -> bool:
        """Whether the resistor itself was measured; its marking is no measurement."""
        return self.taken.origin["ohms"] == READ


@dataclass(frozen=True)
class Bias:
    """Output valves that share a cathode resistor.

    `missing` says in words which readings are wanted still; `before` is the first sitting that has
    them all and `after` the last one, where there are two. `proposal` is computed from `before`,
    `further` from `after` where that is still above `aim`, the share of the anode limit at rest;
    neither for a
    valve far from a new one.
    """

    valves: tuple[str, ...]
    resistors: tuple[str, ...]
    aim: float
    missing: tuple[str, ...] = ()
    before: Read | None = None
    proposal: Proposal | None = None
    after: Read | None = None
    further: Proposal | None = None


def stages(read: Sequence[Sitting], comparison: Comparison) -> tuple[Bias, ...]:
    """Every output stage with a cathode resistor, in the order of the chassis."""
    circuit, called = comparison.found, names(comparison)
    return tuple(_bias(read, circuit, valves, called) for valves in output_valves(circuit))


def _bias(
    read: Sequence[Sitting], circuit: Circuit, valves: tuple[str, ...], called: Mapping[str, str]
) -> Bias:
    aim = CLASS_AB if len(valves) > 1 else CLASS_A
    try:
        pins = electrodes(circuit, valves)
    except NoStage as why:
        return Bias(valves, (), aim, (str(why),))
    ends = {circuit.node_of[pins[0]["cathode"]], circuit.node_of[common(circuit)]}
    between = [
        p.name for p in circuit.parts.values()
        if p.kind == "resistor" and {circuit.node_of[q] for q in p.points} == ends
    ]  # fmt: skip
    plain = Bias(valves, tuple(called.get(name, name) for name in between), aim)
    found: list[Read] = []
    missing: tuple[str, ...] = ()
    ohms: list[Reading] = []
    for sitting in read or [Sitting(0, ())]:
        ohms += [r for r in sitting.readings if r.value.unit == "ohm"]
        missing = tuple(_missing(sitting, circuit, pins))
        if not missing:
            try:
                stood = sitting.stood(circuit)
                taken = take(stood, valves, read=[*ohms, *sitting.readings])
            except NoStage as why:
                return replace(plain, missing=(str(why),))
            found.append(Read(sitting, taken, output_stage(taken.readings)))
    if not found:
        return replace(plain, missing=missing)
    before, after = found[0], found[-1] if len(found) > 1 else None
    if before.taken.readings.held:
        aim, plain = CLASS_AB, replace(plain, aim=CLASS_AB)
    made = replace(plain, before=before, proposal=_propose(before, aim), after=after)
    if after is not None and after.stage.anode.value > aim * after.stage.anode_limit:
        made = replace(made, further=_propose(after, aim))
    return made


def _propose(read: Read, aim: float) -> Proposal | None:
    readings, supply_ohms = read.taken.readings, read.taken.supply_ohms
    if readings.held:
        return bias_for(readings, aim, supply_ohms)
    return propose(readings, aim, supply_ohms=supply_ohms)


def _missing(
    sitting: Sitting, circuit: Circuit, pins: Sequence[Mapping[str, Point]]
) -> Iterator[str]:
    """Readings that this sitting has not."""
    minus = {circuit.node_of[CHASSIS], circuit.node_of[common(circuit)]}
    volts = {
        circuit.node_of.get(r.at) for r in sitting.readings
        if r.value.unit == "V" and not r.alternating and circuit.node_of.get(r.to) in minus
    }  # fmt: skip
    if circuit.node_of[pins[0]["cathode"]] not in volts:
        yield f"reads {pins[0]['cathode']} … V: the drop across the cathode resistor"
    for at in pins:
        if circuit.node_of[at["anode"]] not in volts:
            yield f"reads {at['anode']} … V: the anode to chassis"


@dataclass(frozen=True)
class Sheet:
    """Figures side by side: one column as read, one as predicted, one as read again."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    remarks: tuple[str, ...]


def sheet(bias: Bias) -> Sheet:
    """The stage side by side; cells that nobody has read yet are left to be filled in."""
    before, proposal, after = bias.before, bias.proposal, bias.after
    assert before is not None
    columns = ["", f"before ({_step(before)})"]
    columns.append(f"with {_told(proposal)}" if proposal else "no prediction")
    columns.append(f"after ({_step(after)})" if after else "after")
    first, last = _read_column(before), _read_column(after) if after else [_FREE] * len(_ROWS)
    rows = zip(_ROWS, first, _proposed_column(proposal, before), last, strict=True)
    return Sheet(tuple(columns), tuple(rows), tuple(_remarks(bias)))


NO_STAGE = (
    "No output stage to tell of: the chassis file has no output valve, or its cathode sits on the"
    " chassis, where no resistor tells its current."
)
_FREE = "______"
_ROWS = (
    "cathode resistor",
    "drop across it",
    "anode to chassis",
    "screen to chassis",
    "grid to chassis",
    "cathode current",
    "quick rule, to chassis",
    "EXACT, to cathode",
    "screen",
    "limit of the anode",
    "of that limit",
    "the resistor burns",
)


# What the rows mean, for those who read them for the first time.
LEGEND = (
    "each valve its share; quick rule: anode to chassis times cathode current; exact: anode to"
    " cathode, without the screen's share of the current"
)


def _step(read: Read) -> str:
    return read.sitting.name


def _told(proposal: Proposal) -> str:
    return f"{_volts(proposal.grid)} on the grid" if proposal.grid else _ordered(proposal)


def _ordered(proposal: Proposal) -> str:
    return f"{printed(proposal.ohms, 'ohm')} {proposal.order:g} W"


def _read_column(read: Read) -> list[str]:
    r, s = read.taken.readings, read.stage
    measured = "" if read.measured else ", NOT MEASURED"
    return [
        f"{printed(float(f'{r.ohms:.4g}'), 'ohm')}{measured}",
        _volts(r.drop),
        _volts(r.anode),
        _volts(r.screen),
        _volts(r.grid) if r.held else "-",
        f"{s.cathode.value * 1e3:.1f} mA +-{s.cathode.off * 1e3:.1f}",
        _watts(s.quick),
        _watts(s.anode),
        _watts(s.screen),
        f"{s.anode_limit:g} W",
        f"{s.anode.value / s.anode_limit:.0%}, {s.verdict}",
        f"{s.resistor_watts:.2g} W",
    ]


def _proposed_column(proposal: Proposal | None, before: Read) -> list[str]:
    if proposal is None:
        return ["-"] * len(_ROWS)
    p, limit = proposal, before.stage.anode_limit
    return [
        printed(p.ohms, "ohm"),
        _volts(p.drop),
        _volts(p.anode_volts),
        _volts(p.screen_volts),
        _volts(p.grid) if p.grid else "-",
        f"{p.cathode * 1e3:.1f} mA",
        f"{p.anode_volts * p.cathode:.2f} W",
        f"{p.anode:.2f} W",
        f"{p.screen:.2f} W",
        f"{limit:g} W",
        f"{p.anode / limit:.0%}",
        f"{p.watts:.2g} W",
    ]


def _volts(volts: float) -> str:
    return "not read" if math.isnan(volts) else f"{volts:.4g} V"


def _watts(figure: Figure) -> str:
    return f"{figure.value:.2f} W +-{figure.off:.2f}"


def _remarks(bias: Bias) -> Iterator[str]:
    last = bias.after or bias.before
    assert last is not None
    yield from last.stage.remarks
    if last.stage.over:
        yield f"OVER THE LIMIT, or may be: {', '.join(last.stage.over)}"
    if not last.measured:
        yield "the resistor was not measured: its marking is taken, with its tolerance"
    limit = f"{bias.aim:.0%} of the limit at rest (common practice)"
    best = bias.further or (bias.proposal if bias.after is None else None)
    if best is not None and best.grid:
        volts = f"{_volts(best.grid)} on the grid"
        yield f"the bias sets the current: {volts} brings the anode to {limit}"
        yield "set it by the drop across the cathode resistor; measure again afterwards"
    elif best is not None:
        yield f"{_ordered(best)} is the smallest that keeps the anode within {limit}"
        yield "its size is twice what it burns; measure again afterwards"
    elif output_model(last.taken.readings.type) is None:
        yield "no proposal: no model of this valve"
    elif math.isnan(last.stage.anode_limit):
        yield "no proposal: no limit of this valve is known"
    elif unfit(last.taken.readings) or math.isnan(last.taken.readings.grid):
        pass  # the stage itself says so
    elif bias.after is not None and last.stage.anode.value <= bias.aim * last.stage.anode_limit:
        yield f"the anode is within {limit}"
    else:
        yield f"no preferred resistor keeps the anode within {limit}"
    if bias.after is not None and bias.proposal is not None:
        yield _kept(bias.after, bias.proposal)


def _kept(after: Read, proposal: Proposal) -> str:
    """Whether the prediction came true."""
    if abs(after.taken.readings.ohms / proposal.ohms - 1) > _OTHER:
        return "another resistor than the proposed one is fitted: the prediction is not of it"
    held = after.taken.readings.grid
    if proposal.grid and not abs(held / proposal.grid - 1) < _SET:
        return "another bias than the proposed one is set: the prediction is not of it"
    apart = after.stage.anode.value - proposal.anode
    if abs(apart) <= after.stage.anode.off + _MODEL * proposal.anode:
        return "as predicted, within the meter and the model"
    return f"{abs(apart):.2g} W {'more' if apart > 0 else 'less'} than predicted: read once more"


_SET = 0.03  # how near a bias pot is set; common practice
# Tolerance of the resistor that was bought; how far the valve's model may be off. Common practice.
_OTHER, _MODEL = 0.12, 0.1


def told(bias: Bias) -> list[str]:
    """One output stage as lines of text."""
    head = f"{' and '.join(bias.valves)}, cathode resistor {' and '.join(bias.resistors) or '?'}"
    if bias.before is None:
        return [head, "  still to be read:", *(f"    {words}" for words in bias.missing)]
    made = sheet(bias)
    table = [made.columns, *made.rows]
    wide = [max(len(row[i]) for row in table) for i in range(len(made.columns))]
    lines = ["  " + "  ".join(c.ljust(w) for c, w in zip(r, wide, strict=True)) for r in table]
    return [head, *(line.rstrip() for line in lines), f"  ({LEGEND})",
            *(f"  - {r}" for r in made.remarks)]  # fmt: skip
