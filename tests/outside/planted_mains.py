"""Planted faults of the mains side, and capacitors that only ripple or a test tone shows."""

import math
from dataclasses import replace

import numpy as np
from made_up_bench import Bench
from made_up_mains import DOUBLE, Swinging, at, capacitors, pieces, ripple, tone
from planted_faults import FIRST, Asked, Planted, asks, place, point, specimen

from buzzout.bench.probe import TONE, Probe, Source, Taken
from buzzout.circuit import CHASSIS, Point

SOURCE = Source(Point("J1", "tip"), 1e-3, 1000.0)
TONE_FIRST = ("V1.6", "V1.1", "V2.6", "V2.1", "V4.2", "V5.2")
# Kinds of the mains side, and of capacitors; each is as likely as the others.
MAINS = ("fuse", "switch", "lead", "heater wire", "ht wire", "primary", "ht half", "heaters",
         "rectifier heater", "cold valve", "half", "dead", "leaky", "worn")  # fmt: skip
TONES = ("coupling open", "bypass open", "bypass dry", "tone open", "smoothing open")
BYPASS = ("C2", "C4", "C11", "C16", "C17")
COUPLING = ("C3", "C5", "C13", "C14", "C15")
SMOOTHING = ("C31", "C32", "C30.triangle")
HUMS = ("smoothing open", "smoothing dry", "reservoir dry")
HUMMING = ("HT1", "HT2", "HT3")  # where ripple is worth a meter
TONE_CONTROL = ("C6", "C7", "C8", "C9", "C12")


def leads(drawing, kind):
    """Wires of the mains lead, of the heaters, or of the HT winding."""
    for link in drawing.links:
        owners = {link.a.owner, link.b.owner}
        heater = {link.a.pin, link.b.pin} & {"h1", "h2", "r1", "r2"}
        ht = {link.a.pin, link.b.pin} & {"red1", "red2", "red/yellow"}
        if kind == "lead" and owners & {"M1", "F1", "S1"}:
            yield link.a, link.b
        if kind == "heater wire" and heater and not owners & {"R42", "R43"}:
            yield link.a, link.b
        if kind == "ht wire" and ht:
            yield link.a, link.b


def windings(kind):
    names = {"primary": ("0", "210"), "ht half": ("red1", "red2"), "heaters": ("h1",),
             "rectifier heater": ("r1",)}[kind]  # fmt: skip
    return [(a, b) for a, b, *_ in pieces() if {a.pin, b.pin} & set(names)]


def plant(drawing, good, rng):
    """One fault of the mains side."""
    kind = str(rng.choice(MAINS))
    pick = lambda found: found[int(rng.integers(len(found)))]  # noqa: E731
    cut = lambda *pairs: replace(good, cut=(*good.cut, *pairs))  # noqa: E731
    if kind == "fuse":
        return Planted(kind, "F1 open"), cut(at("F1", "1", "2"))
    if kind == "switch":
        return Planted(kind, "no contact between S1.a and S1.a1"), cut(at("S1", "a", "a1"))
    if kind in ("lead", "heater wire", "ht wire"):
        a, b = pick(list(leads(drawing, kind)))
        it = cut((a, b))
        if kind == "heater wire" and {a.owner, b.owner} & set(DOUBLE) and "9" not in (a.pin, b.pin):
            name = a.owner if a.owner in DOUBLE else b.owner
            half = f"{name}/{rng.integers(1, 3)}"  # which half heats which section nobody says
            it = replace(it, emission={**it.emission, half: 0.0})
        return Planted(kind, f"wire from {a} to {b} open"), it
    if kind in ("primary", "ht half", "heaters", "rectifier heater"):
        a, b = pick(windings(kind))
        return Planted(kind, f"{a}-{b.pin} open"), cut((a, b))
    if kind == "cold valve":
        name = f"V{rng.integers(1, 7)}"
        pins = [("4", "9"), ("9", "5")] if name in DOUBLE else [("4", "5")]
        it = cut(*(at(name, *p) for p in pins))
        emission = {s: 0.0 if s.split("/")[0] == name else e for s, e in it.emission.items()}
        halves = (0.0, 0.0) if name == "V6" else it.halves
        return Planted(kind, name), replace(it, emission=emission, halves=halves)
    if kind in ("half", "dead", "worn"):
        size = float(np.exp(rng.uniform(math.log(0.05), math.log(0.25))))
        lost = pick([(0.0, 1.0), (1.0, 0.0)])
        halves = {"half": lost, "dead": (0.0, 0.0), "worn": (size, size)}[kind]
        thing = f"V6/{1 + halves.index(0.0)}" if kind == "half" else "V6"
        return Planted(kind, thing), replace(good, halves=halves)
    ohms = float(np.exp(rng.uniform(math.log(5e3), math.log(1e5))))
    path = int(rng.integers(1, 3))
    ends = (Point("V6", "3"), CHASSIS)  # the anode swings about the chassis
    return Planted("leaky", f"V6/{path}", ohms), replace(good, between=[(*ends, 1 / ohms)])


def unlit(swing, was):
    """Whether the pilot lamp is out."""
    pins = at("PL1", "1", "2")
    return swing.volts(*pins) < 0.5 * was.volts(*pins)


class Mains(Asked):
    """One planted fault of the mains side and the bench it stands on."""

    def __init__(self, drawing, rng):
        self.drawing, self.rng, self.bench = drawing, rng, Bench(drawing)
        while True:
            good = specimen(drawing, rng)
            self.planted, broken = plant(drawing, good, rng)
            healthy, of, fine = self.bench.solve(good)
            swing, was = Swinging(self.bench, broken), Swinging(self.bench, good)
            self.set = swing.left()
            self.x, self.of, settled = self.bench.solve(self.set)
            if fine and settled and (self.visible(healthy, of) or unlit(swing, was)):
                self.swing = swing
                break


def plant_capacitor(drawing, good, rng):
    """One capacitor open, or what is left of a dried-out one."""
    kind = str(rng.choice(TONES))
    names = {"coupling open": COUPLING, "tone open": TONE_CONTROL, "smoothing open": SMOOTHING}
    name = str(rng.choice(names.get(kind, BYPASS)))
    left = float(np.exp(rng.uniform(math.log(0.001), math.log(0.05)))) if "dry" in kind else 0.0
    farads = {**good.farads, name: good.farads[name] * left}
    return Planted(kind, name, left), replace(good, farads=farads)


class Toned(Asked):
    """One capacitor open and a bench with a test tone at the microphone."""

    def __init__(self, drawing, rng):
        self.drawing, self.rng, self.bench = drawing, rng, Bench(drawing)
        while True:
            good = specimen(drawing, rng)
            spread = {n: f * (1 + rng.uniform(-0.2, 0.2)) for n, _, f in capacitors(drawing)}
            good = replace(good, farads=spread)
            self.planted, self.set = plant_capacitor(drawing, good, rng)
            self.x, self.of, settled = self.bench.solve(self.set)
            self.levels = {}
            was, _ = tone(self.bench, good, self.x)
            if settled and self.heard(was):
                break

    def heard(self, was):
        """Whether the level at some pin of a valve is off by a quarter."""
        pins = [p for p in self.of if p.owner.startswith("V")]
        level = self.at(SOURCE)
        pairs = [(was[self.of[p]], level[self.of[p]]) for p in pins]
        return any(max(a, b) > 5e-4 and abs(b - a) > 0.25 * a for a, b in pairs)

    def at(self, source):
        """Level at every node with a tone."""
        if source not in self.levels:
            fed = (source.at, source.volts, source.hertz)
            self.levels[source], _ = tone(self.bench, self.set, self.x, fed)
        return self.levels[source]

    def read(self, probe):
        if probe.way != TONE:
            return super().read(probe)
        level = self.at(probe.tone)[self.of[probe.at]] * (1 + self.rng.uniform(-0.02, 0.02))
        value = float(f"{level + abs(self.rng.normal(0, 1e-4)):.3g}")  # hum and hiss
        return Taken(replace(probe, meter=10e6, supply=1.0), value, 1e-3 * value + 1e-5)


def plant_hum(good, rng):
    """One capacitor of the HT dried out."""
    kind = str(rng.choice(HUMS))
    name = "C30.square" if kind == "reservoir dry" else str(rng.choice(("C30.triangle", "C31")))
    low, high = {"smoothing open": (0, 0), "smoothing dry": (0.01, 0.15)}.get(kind, (0.1, 0.4))
    left = float(np.exp(rng.uniform(math.log(low), math.log(high)))) if high else 0.0
    farads = {**good.farads, name: left * good.farads[name]}
    return Planted(kind, name, left), replace(good, farads=farads)


class Humming(Asked):
    """One capacitor of the HT dried out, no tone: what the ripple tells."""

    def __init__(self, drawing, rng):
        self.drawing, self.rng, self.bench = drawing, rng, Bench(drawing)
        while True:
            good = specimen(drawing, rng)
            spread = {n: f * (1 + rng.uniform(-0.2, 0.2)) for n, _, f in capacitors(drawing)}
            good = replace(good, farads=spread)
            self.planted, self.set = plant_hum(good, rng)
            self.x, self.of, settled = self.bench.solve(self.set)
            x, _, fine = self.bench.solve(good)
            was, _ = ripple(self.bench, good, x)
            self.__dict__.pop("ripple", None)
            if settled and fine and self.hums(was):
                break

    def hums(self, was):
        """Whether the ripple somewhere is half as much again, and no less than 10 mV."""
        pairs = [(was[self.of[Point(p)]], self.ripple[0][self.of[Point(p)]]) for p in HUMMING]
        return any(b > 1.5 * a and b > 0.01 for a, b in pairs)


def usual(asked):
    """What anybody reads first: direct volts, or the level at the anodes and output grids."""
    if isinstance(asked, Toned):
        return [asked.read(Probe(point(p), CHASSIS, way=TONE, tone=SOURCE)) for p in TONE_FIRST]
    return [asked.read(Probe(point(p), CHASSIS)) for p in FIRST]


def guided(case, asked):
    """The usual six readings, then what the tool asks for, ten in all."""
    return asks(case, asked, usual(asked))


def rank(told, planted):
    """Place of the true fault in the list, from 1; 0 where it is not there."""
    return place(told, lambda fault: names(planted, fault))


def names(planted, fault):
    """Whether a fault is the planted one: the same thing, failed in the same way."""
    kind, thing = planted.kind, planted.thing
    if kind in (*TONES, *HUMS):
        gone = ("capacitor open", "electrolytic dry")
        return fault.kind in gone and fault.words.split(" ")[0] == thing
    if kind == "cold valve":
        dark = "no HT: V6 dead or dark" in fault.words if thing == "V6" else False
        return dark or (fault.kind == "valve missing" and fault.thing == thing)
    if kind == "half":
        return fault.kind == "half a rectifier" and fault.words.startswith(thing)
    if kind == "dead":
        return fault.kind == "no supply"
    if kind in ("worn", "leaky"):
        return fault.kind == f"rectifier {kind}" and fault.words.startswith(thing)
    turned = {"T1.210-0 open": "T1.0-210 open", "T1.230-210 open": "T1.210-230 open"}
    return f" {turned.get(thing, thing)}" in f" {fault.words}"
