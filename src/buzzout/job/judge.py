"""All rules on one circuit."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from buzzout.circuit import Circuit, listed
from buzzout.job import fuses, mains_chassis, mains_lead, mains_order, supply_rules
from buzzout.job.rails import Rails
from buzzout.job.rulebook import Judgement, Unjudged, Violation, regions
from buzzout.job.selector import tap_volts
from buzzout.job.supplyline import SupplyLine

_Mains = Callable[[SupplyLine], Iterator[Violation]]
_Supply = Callable[[Rails], Iterator[Violation]]

MAINS: Mapping[_Mains, tuple[str, ...]] = {
    mains_chassis.line_to_chassis: ("line-to-chassis",),
    mains_chassis.live_chassis: ("live-chassis",),
    mains_chassis.live_outside: ("live-outside",),
    mains_chassis.earth_on_mains: ("earth-on-mains",),
    mains_chassis.earth_bonded: ("earth-bonded",),
    mains_chassis.earth_straight: ("earth-straight",),
    mains_chassis.path_to_chassis: ("path-to-chassis",),
    mains_chassis.across_mains: ("across-mains",),
    mains_chassis.path_to_outside: ("path-to-outside",),
    mains_order.shorted_mains: ("shorted-mains",),
    mains_order.mains_on_winding: ("mains-on-winding",),
    mains_order.fuse_in_neutral: ("fuse-in-neutral",),
    mains_order.switch_in_neutral: ("switch-in-neutral",),
    mains_order.fuse_in_line: ("fuse-in-line",),
    mains_order.switch_in_line: ("switch-in-line",),
    mains_order.fuse_before_switch: ("fuse-before-switch",),
    mains_order.neutral_straight: ("neutral-straight",),
    mains_chassis.no_earth: ("no-earth",),
    mains_lead.primary_tap: ("primary-tap",),
    fuses.fuse_value: (
        "fuse-too-large",
        "fuse-too-small",
        "fuse-stays",
        "fuse-inrush",
        "fuse-unknown",
    ),
    mains_lead.colours: ("colour-earth", "colour-unusual"),
}
SUPPLY: Mapping[_Supply, tuple[str, ...]] = {
    supply_rules.ht_on_grid: ("ht-on-grid",),
    supply_rules.ht_on_heater: ("ht-on-heater",),
    supply_rules.ht_outside: ("ht-outside",),
    supply_rules.shell_live: ("shell-live",),
    supply_rules.grid_leak: ("grid-leak",),
    supply_rules.grid_high: ("grid-high",),
    supply_rules.grid_floats: ("grid-floats",),
    supply_rules.no_bias: ("no-bias",),
    supply_rules.ht_reversed: ("ht-reversed",),
    supply_rules.bias_reversed: ("bias-reversed",),
    supply_rules.heaters: ("heater-high", "heater-low"),
    supply_rules.winding_shorted: ("winding-shorted",),
    supply_rules.no_discharge: ("no-discharge",),
    supply_rules.reservoir_large: ("reservoir-large",),
}

_VALVES = (
    "ht-on-grid",
    "ht-on-heater",
    "grid-leak",
    "grid-high",
    "grid-floats",
    "no-bias",
    "heater-high",
    "heater-low",
)


def judged(
    circuit: Circuit,
    only: frozenset[str] | None = None,
    like: Judgement | None = None,
    *,
    lent: bool = False,
) -> Judgement:
    """What the rules say of a circuit; with `only`, just these, and nothing on what they need.

    `like` is the judgement of a circuit that differs little: computations start from there.
    `lent`: figures of its windings are those of the drawing.
    """
    near = like.side if like else None
    side = SupplyLine(circuit, near, lent or (near is not None and near.lent))
    rails = Rails(circuit, like.rails if like else None, side.ways)
    broken: list[Violation] = []
    for mains_rule, ids in MAINS.items():
        if side.cord is not None and (only is None or only & set(ids)):
            broken += mains_rule(side)
    for supply_rule, ids in SUPPLY.items():
        if only is None or only & set(ids):
            broken += supply_rule(rails)
    first = {(v.key, "" if v.kind.startswith("path") else v.text): v for v in reversed(broken)}
    wanted = [v for v in broken if v in first.values() and (only is None or v.kind in only)]
    return Judgement(
        tuple(wanted),
        tuple(_unjudged(side, rails)) if only is None else (),
        features(side, rails),
        side,
        rails,
    )


def _unjudged(side: SupplyLine, rails: Rails) -> Iterator[Unjudged]:
    if side.cord is None:
        ids = tuple(name for names in MAINS.values() for name in names)
        yield Unjudged(ids, "everything on the mains side", "the file has no mains lead (cord)")
    else:
        yield from mains_order.unjudged(side)
        yield from _lead(side)
    unknown = [
        part.name
        for part in side.circuit.parts.values()
        if part.kind == "socket" and (part.type or "type" in part.unread)
        and part.name not in {known.name for known, _ in rails.sockets}
    ]  # fmt: skip
    if unknown:
        reason = f"the catalogue does not know what is in {listed(unknown)}"
        yield Unjudged(_VALVES, "grids and heaters", reason)
    if not rails.raw and not side.transformerless:
        reason = "the file has no HT winding"
        yield Unjudged(("no-discharge",), "discharge of the reservoirs", reason)


def _lead(side: SupplyLine) -> Iterator[Unjudged]:
    """What the lead and the transformer do not tell."""
    if side.volts <= 0:
        yield Unjudged(("primary-tap",), "the primary tap", "the file states no mains voltage")
    elif side.isolated and side.load and tap_volts(side) is None:
        reason = "no winding with marked voltages lies between line and neutral"
        yield Unjudged(("primary-tap",), "the primary tap", reason)
    if any(p.kind == "fuse" for p in side.circuit.parts.values()) and side.draws.most[0] == 0:
        reason = "neither the windings nor a computation tell the mains current"
        yield Unjudged(("fuse-too-large", "fuse-too-small"), "the value of the fuse", reason)


def features(side: SupplyLine, rails: Rails) -> frozenset[str]:
    """What the set has, for the questions that go with it."""
    found = {"reservoir"} if rails.plus else set()
    if side.cord is not None:
        found |= {"cord", "three-core" if "E" in side.cord.terminals else "two-core"}
        if any(p.kind == "fuse" for p in side.circuit.parts.values()):
            found.add("fuse")
        if side.transformerless:
            found.add("live-chassis")
        region = side.circuit.mains.region.upper() if side.circuit.mains else ""
        if region in regions() and regions()[region].reversible:
            found.add("reversible")
    return frozenset(found)
