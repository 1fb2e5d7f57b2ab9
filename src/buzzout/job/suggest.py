"""A departures file for the usual changes, written from a drawing: text to read, cut and keep.

Three-core lead with the earth on a bolt of its own, line-to-chassis capacitors deleted, a fuse of
the right value in the line, electrolytics that can be bought, coupling capacitors to output grids
that do not leak. What no departure can mend stands there as a remark.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import PurePath

from buzzout.catalogue.colours import MAINS
from buzzout.circuit import Circuit, Part, Point, printed
from buzzout.electrics.draft import STARTING, Power
from buzzout.electrics.limited import within_supply
from buzzout.electrics.operating import operate
from buzzout.electrics.stress import HIGH_MAINS, VOLTAGE_SHARE, States, Stress, shop_volts
from buzzout.electrics.stress_parts import capacitors
from buzzout.job.fuses import fuse_for
from buzzout.job.judge import judged
from buzzout.job.mains_lead import colour_tables
from buzzout.job.rails import HT_RATING, Rails
from buzzout.job.rulebook import Violation, figure
from buzzout.job.supplyline import SupplyLine
from buzzout.job.told import amps
from buzzout.language.layout import formatted

_HEAD = """\
departures "Usual changes, suggested; read each before you keep it"
of "{file}"

# What this changes is what the bench does before anything else; it does not make a set fit for use
# by itself. Earth continuity and insulation are measured afterwards. Local codes come first.
"""
# Electrolytics that shops keep, figures of one decade, microfarads. Common practice.
_SHOP = (10.0, 22.0, 33.0, 47.0, 68.0, 100.0)
_STOPPER = 47e3  # largest resistor before a grid that counts as its stopper [ohm], common practice


def suggested(reference: Circuit) -> str:
    """The text of a departures file for a drawing, laid out. Every line of it can be loaded."""
    side, rails = SupplyLine(reference), Rails(reference)
    broken = judged(reference).violations
    blocks = (
        ("Mains side.", list(_mains(side, broken))),
        ("Fuse.", list(_fuse(side, broken))),
        ("Discharge.", list(_bleeder(reference, broken))),
        ("Electrolytics of today.", list(_cans(rails))),
        ("Coupling capacitors of today.", list(_coupling(rails))),
        ("What no departure mends.", list(_remarks(broken))),
    )
    text = _HEAD.format(file=PurePath(reference.file).name.replace('"', ""))
    for title, lines in blocks:
        if lines:
            text += "\n".join(["", f"# {title}", *lines, ""])
    return formatted(text)


def _mains(side: SupplyLine, broken: Iterable[Violation]) -> Iterator[str]:
    kinds = {v.kind for v in broken}
    cord = side.cord
    if cord is not None and "no-earth" in kinds:
        colours = _colours(side)
        yield (
            f"add cord {cord.name} L {colours['L']} N {colours['N']} E {colours['E']}"
            ' because "two-core lead replaced by a three-core one, with strain relief"'
        )
        yield from _bond(side, cord)
    elif cord is not None and "earth-bonded" in kinds and side.earth not in side.live:
        yield from _bond(side, cord)
    done: set[str] = set()
    for each in broken:
        if each.kind in ("path-to-chassis", "path-to-outside") and each.level == "danger":
            yield from _deleted(side.circuit, each, done)


def _colours(side: SupplyLine) -> dict[str, str]:
    """Colours of a new lead in the region of the set."""
    region = side.circuit.mains.region if side.circuit.mains else ""
    words = {"line": "L", "neut": "N", "prot": "E"}
    table = MAINS[colour_tables(region)[0]]
    return {words[c.meaning[:4]]: c.colour for c in table}


def _bond(side: SupplyLine, cord: Part) -> Iterator[str]:
    bolts = [p.name for p in side.circuit.parts.values() if p.kind == "bond"]
    bolt = bolts[0] if bolts else _free(side.circuit, "PE")
    if not bolts:
        yield f'add bond {bolt} because "the protective earth has a bolt of its own"'
    if "E" in cord.terminals:
        yield f'lift {cord.name}.E because "nothing but the chassis on the protective earth"'
    yield f'add wire {cord.name}.E {bolt} because "protective earth"'


def _free(circuit: Circuit, letters: str) -> str:
    """A name that nothing has yet."""
    taken = set(circuit.parts) | set(circuit.names)
    return next(name for n in range(1, 1000) if (name := f"{letters}{n}") not in taken)


def _deleted(circuit: Circuit, broken: Violation, done: set[str]) -> Iterator[str]:
    """The capacitor, else the resistor, that leads from the mains to the chassis."""
    parts = [circuit.parts[n] for n in broken.parts if n in circuit.parts]
    likely = [p for kind in ("capacitor", "resistor") for p in parts if p.kind == kind]
    if not likely or done & {p.name for p in likely}:
        return
    part = likely[0]
    done.add(part.name)
    if part.anonymous:
        yield f"# the {part.kind} on line {part.span.line} of the drawing: remove it, {broken.text}"
    else:
        yield f'remove {part.name} because "way from the mains to the chassis deleted"'


def _fuse(side: SupplyLine, broken: Iterable[Violation]) -> Iterator[str]:
    current, told = side.draws.most
    if current <= 0:
        return
    value = printed(fuse_for(current), "A")
    for each in broken:
        if each.kind in ("fuse-too-large", "fuse-too-small", "fuse-unknown", "fuse-stays"):
            yield f'change {each.parts[0]} to {value} because "{told.format(amps(current))}"'
        elif each.kind == "fuse-in-line" and (start := side.conductor("L")) is not None:
            yield from _new_fuse(side, start, value)


def _new_fuse(side: SupplyLine, start: Point, value: str) -> Iterator[str]:
    """A fuse between the line conductor and whatever it was on."""
    node = side.circuit.nodes[side.ways.node(start)]
    rest = [p for p in node.points if p != start]
    if rest:
        name = _free(side.circuit, "F")
        yield f'add fuse {name} {value} slow because "fuse in the line, first behind the lead"'
        yield f'lift {start} because "the fuse comes first"'
        yield f'add wire {start} {name}.1 because "line to fuse"'
        yield f'add wire {name}.2 {rest[0]} because "fuse to what the line was on"'


def _bleeder(circuit: Circuit, broken: Iterable[Violation]) -> Iterator[str]:
    """A resistor across a reservoir that has no way to discharge."""
    for each in broken:
        if each.kind == "no-discharge" and not each.parts[0].startswith("@"):
            name = _free(circuit, "R")
            minus = next(m for p, m, _ in Rails(circuit).reservoirs if p == each.points[0])
            yield f'add {name} resistor 220k 2W {each.points[0]} {minus} because "bleeder"'


def _cans(rails: Rails) -> Iterator[str]:
    """Electrolytics of the HT: a value that shops keep, the rating that an order would ask for.

    That is what the computed set asks for, and never below the drawing and the peak of a cold set.
    """
    peak = rails.peak * (1 + figure("mains-high"))
    asked = _asked(rails.circuit)
    for plus, _, volts in rails.reservoirs:
        part = rails.circuit.parts[plus.owner]
        if volts < HT_RATING or part.anonymous:
            continue
        farads = rails.farads(plus)
        name = f"{part.name}.{plus.pin}" if part.kind == "can" else part.name
        stress = asked.get(name)
        least = shop_volts(max(volts, peak))
        wanted = max(least, stress.order) if stress else least
        value = _shop(farads, _most(rails, plus))
        if value == printed(farads, "F") and wanted == volts:
            continue
        at = plus if part.kind == "can" else part.name
        above = f", above the {peak:.0f} V of a cold set" if 0 < peak <= wanted else ""
        if stress and wanted > least:
            above += f", and running it has no more than {VOLTAGE_SHARE:.0%} of its rating"
        yield f'change {at} to {value} {wanted:g}V because "can be bought{above}"'


def _asked(circuit: Circuit) -> dict[str, Stress]:
    """What each capacitor has to stand; nothing where the drawing does not settle."""
    states = States(operate(circuit), operate(circuit, Power(heat=STARTING, fraction=HIGH_MAINS)))
    if not states.warm.settled or not states.surge.settled or states.warm.side is None:
        return {}
    return {s.part: s for s in capacitors(within_supply(states)) if s.what == "voltage"}


def _most(rails: Rails, plus: Point) -> float:
    """The largest reservoir that the rectifier on this point stands. [F]."""
    limits = [
        limit * 1e-6
        for _, valve, node in rails.cathodes
        if node == rails.ways.node(plus) and (limit := valve.limit("reservoir_uf"))
    ]
    return min(limits, default=1.0)


def _shop(farads: float, most: float) -> str:
    """The next value that shops keep, at most a tenth below; less where that is too much."""
    micro = farads * 1e6
    sizes = [f * 10.0**d for d in (-1, 0, 1) for f in _SHOP]
    allowed = [s for s in sizes if s <= 1.1 * most * 1e6]
    wanted = next((s for s in allowed if s >= 0.9 * micro), allowed[-1] if allowed else micro)
    return printed(wanted * 1e-6, "F")


def _coupling(rails: Rails) -> Iterator[str]:
    """Coupling capacitors to the grids of output valves."""
    for part, valve in rails.sockets:
        grids = [part.point(p) for p, e in valve.output_pins.items() if e.role == "grid"]
        near = rails.ways.reached(
            rails.ways.nodes(grids), lambda p: p.how == "resistor" and _small(p.part), rails.chassis
        )
        for name in dict.fromkeys(p.part.name for n in near for p, _ in rails.ways.at.get(n, ())):
            capacitor = rails.circuit.parts[name]
            volts = capacitor.voltage.value if capacitor.voltage else 0.0
            if capacitor.kind == "capacitor" and not capacitor.anonymous and volts < 630:
                value = printed(capacitor.value.value, "F") if capacitor.value else ""
                if value:
                    why = f"a leaky one takes {part.name} with it"
                    yield f'change {name} to {value} 630V because "{why}"'


def _small(part: Part) -> bool:
    return part.value is not None and part.value.value <= _STOPPER


def _remarks(broken: Iterable[Violation]) -> Iterator[str]:
    """Rules that somebody has to settle with a pencil first."""
    mended = {
        "no-earth", "path-to-chassis", "path-to-outside", "fuse-in-line", "fuse-too-large",
        "fuse-too-small", "fuse-unknown", "fuse-stays", "no-discharge",
    }  # fmt: skip
    for each in broken:
        if each.kind not in mended and each.level != "note":
            yield f"# {each.rule.title}: {each.text}. {each.todo}"
