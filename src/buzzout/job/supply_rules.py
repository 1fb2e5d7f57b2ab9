"""Rules of HT and heaters: where a voltage must not come to, and what must have a way out."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from buzzout.catalogue import Device
from buzzout.catalogue.sources import citation
from buzzout.circuit import Element, Part, Point, listed, printed
from buzzout.electrics.common import common
from buzzout.electrics.gridleak import METER, GridCircuit, grid_circuits
from buzzout.job.discharge import discharges, ht_share
from buzzout.job.passages import called
from buzzout.job.rails import HT_RATING, Rails, ohmic
from buzzout.job.rulebook import Violation, figure, violation
from buzzout.job.told import names, spot
from buzzout.language.coverage import written
from buzzout.language.grids import floating

_HEATING = ("heater", "filament")
# Share of the HT at its minus end from which an electrolytic counts as reversed. [1]
_REVERSED = 0.1
_BIAS = {"grid_leak_fixed_mohm": "with fixed bias", "grid_leak_self_mohm": "with self bias"}


def ht_on_grid(rails: Rails) -> Iterator[Violation]:
    """A control grid that meets the HT through wires, windings and contacts alone."""
    for part, valve in rails.sockets:
        for pin, electrode in valve.pins.items():
            point = part.point(pin)
            if electrode.role != "grid" or rails.ways.node(point) not in rails.everywhere:
                continue
            text = f"{_where(rails, point)} is on {point}, a control grid of {part.name}"
            about = "" if pin in valve.output_pins else "damage"
            yield violation("ht-on-grid", text, (part.name,), (point,), about=about)


def _where(rails: Rails, point: Point) -> str:
    """The HT, with the nearest other name of its node."""
    kept = [p for p in rails.circuit.nodes[rails.ways.node(point)].points if p != point]
    return f"the HT (with {kept[0]})" if kept else "the HT"


def ht_on_heater(rails: Rails) -> Iterator[Violation]:
    """A heater line of amplifying valves that meets the HT."""
    hit: dict[str, list[Point]] = {}
    for part, valve in rails.sockets:
        if "rectifier" in valve.kind.lower():
            continue
        for pin, electrode in valve.pins.items():
            point = part.point(pin)
            if electrode.role in _HEATING and rails.ways.node(point) in rails.everywhere:
                hit.setdefault(part.name, []).append(point)
    if hit:
        first = next(iter(hit.values()))[0]
        text = f"{_where(rails, first)} is on the heater line of {', '.join(hit)}"
        yield violation("ht-on-heater", text, tuple(hit), (first,))


def ht_outside(rails: Rails) -> Iterator[Violation]:
    """A jack or speaker that stands at more than the touchable voltage through resistors."""
    limit = figure("touch-volts")
    for part in rails.circuit.parts.values():
        if part.kind not in ("jack", "speaker"):
            continue
        for point in part.points:
            node = rails.ways.node(point)
            if node in rails.chassis or point.pin.startswith("field"):
                continue
            path = rails.ways.path([node], rails.plus, ohmic, rails.chassis)
            if path is None:
                continue
            share = ht_share(rails, node)
            if share * (rails.peak or 300.0) > limit:
                text = f"{point} stands at {share:.0%} of the HT"
                yield violation("ht-outside", text, (part.name, *names(path)), (point,))


def shell_live(rails: Rails) -> Iterator[Violation]:
    """The shell of an HT can that is not on the chassis: it stands at the HT, or drifts there.

    What the electrolyte carries joins the shell to every section. Behind a resistor to the chassis,
    as in a set with its bias in the HT minus, it is left to the eye; so it is where nobody has
    looked at its tag.
    """
    looked = written(rails.circuit) if rails.circuit.kind == "found" else None
    hot = rails.plus | rails.raw
    for part in rails.circuit.parts.values():
        rated = [e.voltage.value for e in part.elements if e.voltage is not None]
        if part.kind != "can" or max(rated, default=0.0) < HT_RATING:
            continue
        shell = part.point("can")
        node = rails.ways.node(shell)
        if node in rails.chassis or (looked is not None and shell not in looked):
            continue
        if node in hot:
            yield violation(
                "shell-live", f"the shell of {part.name} is on the HT", (part.name,), (shell,)
            )
        elif rails.ways.path([node], rails.chassis, ohmic, hot) is None:
            text = (
                f"the shell of {part.name} is on nothing and drifts to the HT through its sections"
            )
            yield violation("shell-live", text, (part.name,), (shell,))


def grid_leak(rails: Rails) -> Iterator[Violation]:
    """An output valve's grid that no resistor, track or winding joins to the chassis."""
    for part, valve in rails.sockets:
        for point, nodes in _grids(rails, part, valve):
            reached = rails.ways.reached(nodes, ohmic, rails.plus | rails.chassis)
            if _to_chassis(rails, reached) or _bias(rails, reached):
                continue
            text = f"the grid {point} has no way to the chassis for direct current"
            told = _published(valve)
            yield violation("grid-leak", text, (part.name,), (point,), published=told)


def _grids(rails: Rails, part: Part, valve: Device) -> Iterator[tuple[Point, list[int]]]:
    """The output grids of a valve, each with its nodes: several pins may be joined inside.

    One on the HT is another rule's, and one that the chassis has no point for is not asked for.
    """
    pins: dict[int, list[Point]] = {}
    for pin, electrode in valve.output_pins.items():
        if electrode.role == "grid" and rails.ways.node(part.point(pin)) >= 0:
            pins.setdefault(electrode.section, []).append(part.point(pin))
    for points in pins.values():
        nodes = [rails.ways.node(point) for point in points]
        if rails.everywhere.isdisjoint(nodes):
            wired = (p for p, n in zip(points, nodes, strict=True) if rails.ways.at.get(n))
            yield next(wired, points[0]), nodes


def _published(valve: Device) -> str:
    """What the sheet of a valve says of its grid circuit, with the sheet; "" where nothing."""
    told = []
    for block in valve.limits:
        known = [(key, block.values[key]) for key in _BIAS if key in block.values]
        if known:
            sheets = "; ".join(citation(key) for key in block.sources)
            most = listed([f"{printed(1e6 * ohms, 'ohm')} {_BIAS[key]}" for key, ohms in known])
            told.append(f"{sheets}: {valve.name}, grid circuit of {most} at most")
    return "; ".join(told)


def grid_high(rails: Rails) -> Iterator[Violation]:
    """Output grids whose way to the chassis has more ohms than the sheet of the valve allows."""
    over: dict[str, list[GridCircuit]] = {}
    for each in grid_circuits(rails.cold.network):
        if each.over:
            ohms, most = (printed(float(f"{r:.2g}"), "ohm") for r in (each.ohms, each.limit))
            bias = "fixed" if each.fixed else "self"
            text = f"{ohms} to the chassis, {each.device.name} stands {most} with {bias} bias"
            over.setdefault(text, []).append(each)
    for text, alike in over.items():
        first, grids = alike[0], tuple(each.grid for each in alike)
        have = f"grids {listed(grids)} have" if len(grids) > 1 else f"grid {grids[0]} has"
        about = "" if first.ohms >= figure("leak-share") * first.limit else "fault"
        parts, told = tuple(dict.fromkeys(p.owner for p in grids)), _published(first.device)
        yield violation(
            "grid-high", f"the {have} {text}", parts, grids, about=about, published=told
        )


def grid_floats(rails: Rails) -> Iterator[Violation]:
    """A grid of another valve that nothing leads direct current to or from."""
    for part, valve, grid in floating(rails.circuit):
        if grid.pin not in valve.output_pins:
            text = f"nothing leads direct current to or from the grid {grid}"
            yield violation("grid-floats", text, (part.name,), (grid,))


def _to_chassis(rails: Rails, nodes: frozenset[int]) -> bool:
    """Whether direct current finds a way from these nodes to the chassis, or to the HT minus."""
    ends = {far for n in nodes for p, far in rails.ways.at.get(n, ()) if ohmic(p)}
    minus = rails.chassis | rails.ways.nodes([common(rails.circuit)])
    return bool(minus & (ends | nodes))


def no_bias(rails: Rails) -> Iterator[Violation]:
    """An output valve with its cathode on the chassis whose grid nothing makes negative."""
    walls = rails.plus | rails.chassis
    for part, valve in rails.sockets:
        if not _grounded(rails, part, valve):
            continue
        for point, nodes in _grids(rails, part, valve):
            reached = rails.ways.reached(nodes, ohmic, walls)
            biased = bool(reached & (rails.minus | rails.raw)) or _coupled(rails, reached)
            if _to_chassis(rails, reached) and not biased:
                text = f"{part.name} has its cathode on the chassis and no bias on {point}"
                yield violation("no-bias", text, (part.name,), (point,))


def _grounded(rails: Rails, part: Part, valve: Device) -> bool:
    """Whether an output cathode meets the chassis by nothing, or what a meter is hung across."""
    nodes = rails.ways.nodes(
        part.point(pin) for pin, e in valve.output_pins.items() if e.role in ("cathode", "filament")
    )
    reached = rails.ways.reached(
        nodes,
        lambda p: p.how in ("fuse", "contact") or (p.how == "resistor" and _meter(p.part)),
    )
    return bool(reached & rails.chassis)


def _meter(part: Part) -> bool:
    return part.value is not None and part.value.value <= METER


def _coupled(rails: Rails, nodes: frozenset[int]) -> bool:
    """Whether the grid hangs on another electrode, or its supply is outside the file."""
    driving = ("anode", "cathode", "screen")
    others = (
        part.point(pin)
        for part, valve in rails.sockets
        for pin, electrode in valve.pins.items()
        if electrode.role in driving
    )
    plugs = (p for x in rails.circuit.parts.values() if x.kind == "connector" for p in x.points)
    return bool(nodes & (rails.ways.nodes(others) | rails.ways.nodes(plugs)))


def _bias(rails: Rails, nodes: frozenset[int]) -> bool:
    """Whether a bias supply feeds these nodes: a diode sits on them, or a connector."""
    fed = {
        node
        for passage in rails.ways.passages
        if passage.how == "diode"
        for node in (rails.ways.node(passage.a), rails.ways.node(passage.b))
    }
    others = (p for p in rails.circuit.parts.values() if p.kind == "connector")
    return bool(nodes & (fed | rails.ways.nodes(p for part in others for p in part.points)))


def ht_reversed(rails: Rails) -> Iterator[Violation]:
    """An electrolytic whose minus end is nearer to the HT than its plus end."""
    for plus, minus in _marked(rails):
        high, low = rails.ways.node(minus), rails.ways.node(plus)
        if high == low or high in rails.chassis or low not in rails.chassis:
            continue
        if ht_share(rails, high) > _REVERSED:
            part = rails.circuit.parts[plus.owner]
            text = f"{called(part)} has its minus end at {spot(rails.circuit, high)}, on the HT"
            yield violation("ht-reversed", text, (part.name,), (minus,))


def _marked(rails: Rails) -> Iterator[tuple[Point, Point]]:
    """Plus and minus of the electrolytics of which somebody read which end is which."""
    for plus, minus, _ in rails.reservoirs:
        if "polarity" not in rails.circuit.parts[plus.owner].unread:
            yield plus, minus


def bias_reversed(rails: Rails) -> Iterator[Violation]:
    """An electrolytic from a negative line to the chassis with its plus end on the line."""
    for plus, minus in _marked(rails):
        low = rails.ways.node(plus)
        if low in rails.minus and rails.ways.node(minus) in rails.chassis:
            part = rails.circuit.parts[plus.owner]
            at = spot(rails.circuit, low)
            text = f"{called(part)} has its plus end at {at}, on a line that is negative"
            yield violation("bias-reversed", text, (part.name,), (plus,))


def heaters(rails: Rails) -> Iterator[Violation]:
    """Heaters that sit across one winding of another voltage than theirs."""
    allowed = figure("heater-share")
    for part, valve in rails.sockets:
        fed = [(volts, nominal) for nominal, volts in _fed(rails, part, valve)]
        if not fed:
            continue
        volts, nominal = min(fed, key=lambda pair: abs(pair[0] / pair[1] - 1))
        off = volts / nominal - 1
        if abs(off) <= allowed + 1e-9:
            continue
        rule = "heater-high" if off > 0 else "heater-low"
        text = f"{part.name}, a {nominal:g} V heater, is across {volts:g} V"
        about = "danger" if off > figure("heater-burns") else ""
        pins = [pin for pin, e in valve.pins.items() if e.role in _HEATING]
        points = tuple(part.point(p) for p in pins[:2])
        yield violation(rule, text, (part.name,), points, about=about)


def _fed(rails: Rails, part: Part, valve: Device) -> Iterator[tuple[float, float]]:
    """Nominal and winding voltage for each way of feeding the heater that is wired here."""
    for heater in valve.heaters:
        one = rails.ways.nodes(part.point(pin) for pin in heater.one)
        other = rails.ways.nodes(part.point(pin) for pin in heater.other)
        if len(one) == len(other) == 1 and one != other:
            volts = _across(rails, next(iter(one)), next(iter(other)))
            if volts is not None:
                yield heater.volts, volts


def _across(rails: Rails, a: int, b: int) -> float | None:
    """Open-circuit voltage between two nodes that sit on one winding. [V]."""
    for part in rails.circuit.parts.values():
        for element in part.elements:
            if element.kind == "winding" and len(element.taps) == len(element.terminals):
                table = _taps(rails, part, element)
                if a in table and b in table:
                    return abs(table[a] - table[b])
    return None


def _taps(rails: Rails, part: Part, element: Element) -> dict[int, float]:
    pairs = zip(element.terminals, element.taps, strict=True)
    return {rails.ways.node(part.point(t)): volts for t, volts in pairs}


def winding_shorted(rails: Rails) -> Iterator[Violation]:
    """Terminals of one winding, at different voltages, that meet through wires alone."""
    for part in rails.circuit.parts.values():
        for element in part.elements if part.kind == "transformer" else ():
            if len(element.taps) != len(element.terminals):
                continue
            pairs = list(combinations(element.terminals, 2))
            if element.label.lower().startswith(("primary", "mains")):
                pairs.remove((element.terminals[0], element.terminals[-1]))  # line and neutral
            for a, b in pairs:
                one, other = part.point(a), part.point(b)
                if rails.ways.node(one) == rails.ways.node(other):
                    text = f"{one} and {other} of the winding {element.label} are joined"
                    yield violation("winding-shorted", text, (part.name,), (one, other))


def no_discharge(rails: Rails) -> Iterator[Violation]:
    """Reservoirs that keep their charge with the valves cold or out."""
    limit = figure("slow-seconds")
    kept = [d for d in discharges(rails) if d.to_touch > limit]
    if kept:
        parts = tuple(dict.fromkeys(d.plus.owner for d in kept))
        points = tuple(d.plus for d in kept)
        more = f" (and {listed(points[1:])} with it)" if len(points) > 1 else ""
        yield violation("no-discharge", f"{kept[0]}{more}", parts, points)


def reservoir_large(rails: Rails) -> Iterator[Violation]:
    """More capacitance on the cathode of a rectifier valve than its sheet allows."""
    for part, valve, node in rails.cathodes:
        limit = valve.limit("reservoir_uf")
        held = [p for p, _, _ in rails.reservoirs if rails.ways.node(p) == node]
        farads = sum(rails.farads(p) for p in held)
        if limit and farads > limit * 1e-6 * (1 + figure("reservoir-share")):
            text = (
                f"{part.name} ({valve.name}) feeds {printed(farads, 'F')} at {listed(held)}, its"
                f" sheet allows {limit:g}u"
            )
            owners = tuple(dict.fromkeys(p.owner for p in held))
            yield violation("reservoir-large", text, (part.name, *owners), tuple(held))
