"""Planted faults on the made-up bench, and whether a diagnosis names the true one."""

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from made_up_bench import Bench, Set
from made_up_mains import Swinging, ripple

from buzzout.bench.case import together
from buzzout.bench.diagnose import diagnose
from buzzout.bench.direct import Direct
from buzzout.bench.faults import NOTHING
from buzzout.bench.probe import ALTERNATING, OHMS, OPEN, RIPPLE, Probe, Taken
from buzzout.bench.readings import pulled
from buzzout.circuit import CHASSIS, Point
from buzzout.electrics.draft import Power
from buzzout.electrics.operating import operate

FIRST = ("HT1", "HT4", "V1.1", "V2.1", "V3.6", "V4.3")  # what anybody measures first
RAIL_AND_CATHODES = ("HT1", "HT3", "HT4", "V1.8", "V1.3", "V2.8", "V2.3", "V3.8", "V3.3", "V4.3")
ANODES = ("HT1", "HT4", "V1.6", "V1.1", "V2.6", "V2.1", "V3.6", "V4.7", "V5.7", "V4.3")
OUTPUT = ("V4", "V5")
MOST = 10  # readings in all; what is beyond the first six is what the tool asks for
COUNTS = ((2.0, 0.001), (20.0, 0.01), (200.0, 0.1), (2000.0, 1.0))  # a 3 1/2 digit meter
KINDS = ("open", "up", "down", "leak", "short", "weak", "dead", "missing", "gas", "half", "joint")
ODDS = (0.2, 0.2, 0.04, 0.16, 0.06, 0.14, 0.04, 0.04, 0.05, 0.03, 0.04)


@dataclass(frozen=True)
class Planted:
    """What was done to the specimen; `thing` is a part, a section, or the words of a joint."""

    kind: str
    thing: str
    size: float = math.nan


def point(text):
    owner, _, pin = text.partition(".")
    return CHASSIS if text == "chassis" else Point(owner, pin)


def specimen(drawing, rng):
    """Good parts, each somewhere inside its tolerance, valves inside their spread."""
    ohms = {}
    for part in drawing.parts.values():
        if part.kind in ("resistor", "pot"):
            tolerance = part.value.minus or 0.2
            ohms[part.name] = part.value.value * (1 + tolerance * rng.uniform(-1, 1))
    ohms |= {"L1": 200.0, "T2a": 120.0, "T2b": 135.0}
    sections = [f"V{n}/{h}" for n in (1, 2, 3) for h in (1, 2)] + ["V4", "V5"]
    emission = {s: float(np.exp(rng.normal(0, 0.1))) for s in sections}
    mu = {s: float(np.exp(rng.normal(0, 0.03))) for s in sections}
    return Set(ohms, emission=emission, mu=mu, mains=float(rng.uniform(222, 238)))


def plant(drawing, good, rng, joints):
    """The specimen with one fault of a random kind, place and size."""
    kind = str(rng.choice(KINDS, p=np.array(ODDS) / sum(ODDS)))
    pick = lambda names: str(rng.choice(sorted(names)))  # noqa: E731
    resistors = [p.name for p in drawing.parts.values() if p.kind == "resistor"]
    capacitors = [p.name for p in drawing.parts.values() if p.kind in ("capacitor", "electrolytic")]
    spread = lambda low, high: float(np.exp(rng.uniform(math.log(low), math.log(high))))  # noqa: E731
    if kind in ("open", "up", "down"):
        name = pick(resistors)
        factor = {"open": 1e7, "up": spread(1.6, 6), "down": spread(0.25, 0.6)}[kind]
        ohms = good.ohms | {name: good.ohms[name] * factor}
        return Planted(kind, name, factor), replace(good, ohms=ohms)
    if kind in ("leak", "short"):
        name = pick(set(capacitors) - {"C1"})
        ohms = spread(1e4, 2e6) if kind == "leak" else 0.5
        ends = [drawing.landing(p) for p in drawing.parts[name].points]
        return Planted(kind, name, ohms), replace(good, between=[*good.between, (*ends, 1 / ohms)])
    if kind in ("weak", "dead", "missing"):
        section = pick(good.emission)
        part = section.split("/")[0]
        share = spread(0.15, 0.6) if kind == "weak" else 0.0
        hit = (
            [s for s in good.emission if s.split("/")[0] == part]
            if kind == "missing"
            else [section]
        )
        emission = good.emission | {s: good.emission[s] * share for s in hit}
        thing = part if kind == "missing" else section
        return Planted(kind, thing, share), replace(good, emission=emission)
    if kind == "gas":
        section = pick(good.emission)
        amps = spread(3e-6, 3e-5)
        return Planted(kind, section, amps), replace(good, gas={**good.gas, section: amps})
    if kind == "half":
        halves = (0.0, 1.0) if rng.random() < 0.5 else (1.0, 0.0)
        return Planted(kind, "V6"), replace(good, halves=halves)
    words = pick(joints)
    ends = tuple(point(w) for w in joints[words])
    return Planted(kind, words), replace(good, cut=(*good.cut, ends))


def shown(volts, rng):
    """What a 3 1/2 digit meter of 0.5 % shows, and its last digit."""
    step = next((s for most, s in COUNTS if abs(volts) < most), 1.0)
    return round(volts * (1 + rng.uniform(-0.005, 0.005)) / step) * step, step


class Asked:
    """One planted case and the bench it stands on; two faults where `second` is wanted."""

    def __init__(self, drawing, rng, joints, second=False):
        self.drawing, self.rng, self.bench = drawing, rng, Bench(drawing)
        while True:
            good = specimen(drawing, rng)
            self.planted, self.set = plant(drawing, good, rng, joints)
            healthy, of, fine = self.bench.solve(good)
            self.x, self.of, settled = self.bench.solve(self.set)
            if not fine or not settled or not self.visible(healthy, of):
                continue
            if not second:
                break
            first, alone, of = self.planted, self.x, self.of
            self.also, self.set = plant(drawing, self.set, rng, joints)
            self.x, self.of, settled = self.bench.solve(self.set)
            if settled and self.also.thing != first.thing and self.visible(alone, of):
                break

    @cached_property
    def swing(self):
        """The alternating volts of this specimen."""
        return Swinging(self.bench, self.set)

    @property
    def pulled(self):
        """The specimen without its output valves."""
        gas = {name: amps for name, amps in self.set.gas.items() if name not in OUTPUT}
        emission = {**self.set.emission, **dict.fromkeys(OUTPUT, 0.0)}
        return replace(self.set, gas=gas, emission=emission)

    @cached_property
    def ripple(self):
        """The ripple of this specimen."""
        return ripple(self.bench, self.set, self.x)

    def visible(self, healthy, of):
        """Whether any pin or named node is off by an eighth and a quarter of a volt."""
        for p in of:
            before, after = healthy[of[p]], self.x[self.of[p]]
            reachable = not p.pin or self.drawing.parts[p.owner].furniture
            if reachable and abs(after - before) > max(0.125 * abs(before), 0.25):
                return True
        return False

    def read(self, probe):
        """A reading with a 10 Mohm meter, rounded as it shows it; or with an ohmmeter."""
        if probe.way == OHMS:
            ohms = self.bench.ohms(self.set, probe.at, probe.to)
            if ohms > OPEN:
                return Taken(probe, OPEN, 1e4)
            scale = 200.0 if ohms < 200 else 10 ** math.ceil(math.log10(ohms / 2)) * 2
            read, step = shown((ohms + 0.2) * 2e2 / scale, self.rng)  # leads of 0.2 ohm
            return Taken(probe, read * scale / 2e2, step * scale / 2e2)
        supply = round(self.set.mains) / 230.0
        if probe.way == RIPPLE:
            level, of = self.ripple
            volts = level[of[probe.at]] * (1 + self.rng.uniform(-0.02, 0.02))
            value = float(f"{volts + abs(self.rng.normal(0, 3e-4)):.3g}")  # hum and hiss
            return Taken(Probe(probe.at, probe.to, 10e6, supply, RIPPLE), value, 1e-3 * value)
        if probe.way == ALTERNATING:
            volts, step = shown(self.swing.volts(probe.at, probe.to), self.rng)
            return Taken(Probe(probe.at, probe.to, 10e6, supply, ALTERNATING), volts, step)
        if probe.step:  # the output valves are out
            x, of, _ = self.bench.solve(self.pulled, None, (probe.at, probe.to, 10e6))
            volts, step = shown(x[of[probe.at]] - x[of[probe.to]], self.rng)
            return Taken(Probe(probe.at, probe.to, 10e6, supply, step=probe.step), volts, step)
        x, of, _ = self.bench.solve(self.set, self.x, (probe.at, probe.to, 10e6))
        volts, step = shown(x[of[probe.at]] - x[of[probe.to]], self.rng)
        return Taken(Probe(probe.at, probe.to, 10e6, supply), volts, step)


def charted(case, asked, points):
    """The readings of a chart that is taken whatever it shows."""
    return diagnose(case, [asked.read(Probe(point(p), CHASSIS)) for p in points], 0)


def guided(case, asked):
    """Six readings that anybody takes, then what the tool asks for, ten in all."""
    return asks(case, asked, [asked.read(Probe(point(p), CHASSIS)) for p in FIRST])


def asks(case, asked, taken):
    """These readings and what the tool asks for, ten in all."""
    while True:
        told = diagnose(case, taken, 1)
        best = told.explanations[0]
        sure = best.share > 0.97 and best.faults != (NOTHING,)  # something is wrong: go on
        if len(taken) >= MOST or not told.next or sure:
            return told
        taken.append(asked.read(told.next[0].probe))


SENSES = {
    "open": ("resistor open", "resistor drifted up"),
    "up": ("resistor open", "resistor drifted up"),
    "down": ("resistor drifted down", "resistor shorted"),
    "leak": ("capacitor leaky", "electrolytic leaky", "capacitor shorted"),
    "short": ("capacitor leaky", "electrolytic leaky", "capacitor shorted"),
    "weak": ("valve weak", "section dead"),
    "dead": ("valve weak", "section dead"),
    "missing": ("valve missing",),
    "gas": ("valve gassy",),
    "half": ("half a rectifier",),
    "joint": ("joint dry",),
}


def names(planted, fault):
    """Whether a fault is the planted one: the same part, failed in the same sense."""
    if fault.kind not in SENSES[planted.kind]:
        return False
    if planted.kind in ("weak", "dead", "gas"):
        return fault.words.split(" ")[0] == planted.thing
    return planted.thing in (fault.thing, fault.words)


def both(told, one, other, most=3):
    """How many of two planted faults stand on the first lines, and whether one line has both."""
    lines = [(*e.faults, *e.alike) for e in told.explanations[:most] if e.slip is None]
    named = [any(names(p, f) for line in lines for f in line) for p in (one, other)]
    whole = any(all(any(names(p, f) for f in line) for p in (one, other)) for line in lines)
    return sum(named), whole


def rank(told, planted):
    """Place of the true fault in the list, from 1; 0 where it is not there."""
    return place(told, lambda fault: names(planted, fault))


def place(told, named):
    """The first line with a fault that counts as named, from 1; 0 where there is none."""
    for number, line in enumerate(told.explanations, 1):
        if line.slip is None and any(named(f) for f in (*line.faults, *line.alike)):
            return number
    return 0


def thought_of(drawing, sources=()):
    """Every fault of a set, with the step of the plan in which its output valves are out."""
    state = operate(drawing)
    out = replace(pulled(drawing), power=Power())  # the made-up bench has no lamp
    return together([Direct(state, sources=sources)], out)


def joints_of(case):
    """Words of the open joints that a direct current notices, with the two points of each."""
    found = {}
    for fault in case.faults:
        if fault.kind == "joint dry" and " to " in fault.words:
            a, _, rest = fault.words.partition("wire from ")[2].partition(" to ")
            found[fault.words] = (a, rest.split(" open")[0])
    return {w: ends for w, ends in found.items() if "T1" not in w}  # the bench has no windings
