"""The made-up bench's mains side, ripple and test tone: alternating currents, no electrics of ours.

One dense matrix: conductances, and transformers whose windings obey v = turns flux + ohms amps,
the ampere-turns together feeding the core. Figures of heaters are those printed in data sheets:
EL84 0.76 A, EZ81 1 A, ECC82 and ECC83 two halves of 0.15 A, all at 6.3 V.
"""

import math
from dataclasses import replace

import numpy as np
from made_up_bench import cycle

from buzzout.circuit import CHASSIS, Point

HEATERS = {"V4": 0.76, "V5": 0.76, "V6": 1.0}
DOUBLE = ("V1", "V2", "V3")
IRON = 15e3  # what the core takes, seen from 230 V [ohm]
DRAWN = 4.4e3  # what each half of the HT winding is loaded with while its path conducts [ohm]
GLOWS, LIT = 0.6, 0.5  # shares of heater and HT voltage below which nothing comes
MICROPHONE = Point("J1", "tip")


def at(part, *pins):
    return tuple(Point(part, p) for p in pins)


def pieces():
    """Windings of the mains transformer between neighbouring taps: ends, volts, ohms."""
    for a, b, volts, ohms in (
        ("210", "0", 210, 20), ("230", "210", 20, 2), ("250", "230", 20, 2),
        ("red1", "red/yellow", 250, 130), ("red/yellow", "red2", 250, 134),
        ("h1", "h2", 6.45, 0.03), ("r1", "r2", 6.45, 0.1),
    ):  # fmt: skip
        yield *at("T1", a, b), volts, ohms


def whole(cut, a, b):
    return (a, b) not in cut and (b, a) not in cut


class Swinging:
    """Alternating volts of one specimen, as they are once it is warm. [V]."""

    def __init__(self, bench, it):
        self.it = it
        self.of = bench.nodes(it.cut)
        self.paths = (True, True)
        for _ in range(3):  # what the rectifier draws, where it draws
            self.x = self._solved()
            self.paths = tuple(self._path(n) for n in (0, 1))

    def _solved(self):
        of, cut = self.of, self.it.cut
        known = [p for p in pieces() if whole(cut, p[0], p[1])]
        size = max(of.values()) + 1
        m = np.zeros((size + 2 + len(known), size + 2 + len(known)))
        right = np.zeros(len(m))
        flux, feed = size, size + 1
        for a, b, ohms in self._loads():
            if whole(cut, a, b):
                i, j = of[a], of[b]
                m[i, i] += 1 / ohms
                m[j, j] += 1 / ohms
                m[i, j] -= 1 / ohms
                m[j, i] -= 1 / ohms
        m[range(size), range(size)] += 1e-9
        m[of[CHASSIS], of[CHASSIS]] += 1e6
        line, neutral = (of[p] for p in at("M1", "L", "N"))
        m[line, feed] += 1
        m[neutral, feed] -= 1
        m[feed, line], m[feed, neutral], right[feed] = 1, -1, self.it.mains
        if line == neutral:
            raise ValueError("mains shorted")
        m[flux, flux] = -(230.0**2) / IRON
        for n, (a, b, turns, ohms) in enumerate(known, size + 2):
            m[of[a], n] += 1
            m[of[b], n] -= 1
            m[n, of[a]] += 1
            m[n, of[b]] -= 1
            m[n, flux], m[n, n] = -turns, -ohms
            m[flux, n] = -turns
        return np.linalg.solve(m, right)

    def _loads(self):
        yield *at("F1", "1", "2"), 0.1
        for name, amps in HEATERS.items():
            yield *at(name, "4", "5"), 6.3 / amps
        for name in DOUBLE:
            yield *at(name, "4", "9"), 42.0
            yield *at(name, "9", "5"), 42.0
        yield *at("PL1", "1", "2"), 21.0
        for name in ("R42", "R43"):
            yield *at(name, "1", "2"), self.it.ohms[name]
        for draws, pins in zip(self.paths, (("red1", "red/yellow"), ("red/yellow", "red2")),
                               strict=True):  # fmt: skip
            if draws:
                yield *at("T1", *pins), DRAWN

    def volts(self, a, b):
        return abs(self.x[self.of[a]] - self.x[self.of[b]])

    def _path(self, number):
        pin = ("1", "7")[number]
        live = self.volts(Point("V6", pin), CHASSIS) > LIT * 250
        return bool(live and self.it.halves[number] and self.glows("V6"))

    def glows(self, name):
        """Whether any of a heater does; of which half, nobody says."""
        halves = (("4", "9"), ("9", "5")) if name in DOUBLE else (("4", "5"),)
        return any(self.volts(*at(name, *pins)) > GLOWS * 6.3 for pins in halves)

    def left(self):
        """The specimen as a direct current finds it: what is dark gives nothing."""
        dark = [s for s in self.it.emission if not self.glows(s.split("/")[0])]
        halves = tuple(h * p for h, p in zip(self.it.halves, self.paths, strict=True))
        return replace(
            self.it, halves=halves, emission={**self.it.emission, **dict.fromkeys(dark, 0.0)}
        )


# -- the test tone ---------------------------------------------------------------------------------

TURNS = math.sqrt(8000) / 2, math.sqrt(8000) / 2, math.sqrt(15)
MAGNETISED, SMOOTHED = 30.0, 10.0  # output transformer's primary and the choke [H]


def capacitors(drawing):
    """Name, ends and farads of every capacitor; a section of a can is one."""
    for part in drawing.parts.values():
        if part.kind in ("capacitor", "electrolytic"):
            yield part.name, part.points, part.value.value
        for e in part.elements if part.kind == "can" else ():
            ends = tuple(part.point(t) for t in e.terminals)
            yield f"{part.name}.{e.label}", ends, e.value.value


def slopes_of(bench, it, x):
    """Slopes of all direct currents by differences at `x`, the reservoir holding its voltage."""
    off, _ = bench.imbalance(it)
    still = lambda v: 0.0  # noqa: E731
    away = 1e-4 * np.eye(len(x))
    return np.array([(off(x + e, still) - off(x - e, still)) / 0.2 for e in away]).T


def ripple(bench, it, x):
    """Ripple at every node: each harmonic of the reservoir through what smooths it. [V]."""
    of = bench.nodes(it.cut)
    reservoir = Point("V6", "3")
    mean = x[of[reservoir]]
    wave = np.array(cycle(it, bench.source(it)(mean)))
    parts = np.abs(np.fft.rfft(wave - np.mean(wave))) * math.sqrt(2) / len(wave)
    slopes, total = slopes_of(bench, it, x), 0.0
    for n in range(1, 9):
        if parts[n] > 0.02 * np.max(parts):
            level, _ = tone(bench, it, x, (reservoir, parts[n], 50.0 * n), slopes)
            total = total + level**2
    return np.sqrt(total), of


def tone(bench, it, x, source=(MICROPHONE, 1e-3, 1000.0), slopes=None):
    """Level at every node with a tone of so many volts and hertz on a point. [V]."""
    source, volts, hertz = source
    of, size, omega = bench.nodes(it.cut), len(x), 2 * math.pi * hertz
    slopes = slopes_of(bench, it, x) if slopes is None else slopes
    ends = (("red", "blue"), ("brown", "red"), ("green", "black"))
    copper = (it.ohms["T2a"], it.ohms["T2b"], 0.6)
    coils = [(*at("T2", *pins), ohms) for pins, ohms in zip(ends, copper, strict=True)]
    m = np.zeros((size + 4, size + 4), dtype=complex)
    m[:size, :size] = slopes

    def between(a, b, siemens):
        i, j = of[a], of[b]
        m[i, i] += siemens
        m[j, j] += siemens
        m[i, j] -= siemens
        m[j, i] -= siemens

    for name, ends, farads in capacitors(bench.drawing):
        between(*ends, 1j * omega * it.farads.get(name, farads))
    between(*at("L1", "1", "2"), 1 / (it.ohms["L1"] + 1j * omega * SMOOTHED) - 1 / it.ohms["L1"])
    between(*at("T2", "green", "black"), 1 / 15.0)
    for n, ((a, b, ohms), turns) in enumerate(zip(coils, TURNS, strict=True), size + 1):
        between(a, b, -1 / ohms)
        m[of[a], n] += 1
        m[of[b], n] -= 1
        m[n, of[a]] += 1
        m[n, of[b]] -= 1
        m[n, size], m[n, n], m[size, n] = -turns, -ohms, -turns
    m[size, size] = -8000 / (1j * omega * MAGNETISED)
    right = np.zeros(size + 4, dtype=complex)
    chassis, into = of[CHASSIS], of[source]
    m[chassis, :], m[:, chassis] = 0, 0
    m[chassis, chassis] = 1
    m[into, into] += 1e4
    right[into] = 1e4 * volts
    return np.abs(np.linalg.solve(m, right)[:size]), of
