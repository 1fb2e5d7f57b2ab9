"""A made-up bench: one set with one planted fault, solved without any of our electrics.

Nodes by a union-find of its own, the valve laws written down again from the published form (Koren,
Glass Audio 8 no. 5, 1996, with a contact potential; the parameters are those of the shipped
models, varied at random), scipy's hybrid root finder for the direct currents, and the rectifier by
stepping the reservoir through the mains cycle until it repeats itself.
"""

import math
from dataclasses import dataclass, field
from functools import cache

import numpy as np
import yaml
from scipy.optimize import root

from buzzout.circuit import Point

MODELS = "references/models/models.yaml"
HALVES = {"V1": "ECC83", "V2": "ECC83", "V3": "ECC82"}
TRIODE = {"1": ("6", "7", "8"), "2": ("1", "2", "3")}  # anode, grid, cathode of ECC83 and ECC82
PENTODE = ("7", "9", "2", "3")  # anode, screen, grid, cathode of EL84
TURNS, PRIMARY = 250 / 230, 24.0  # of the hall amplifier's transformer [1], [ohm]
HALF = (130.0, 134.0)  # its HT winding [ohm]
PERVEANCE = 0.06 / 10**1.5  # EZ81: 60 mA at 10 V (data sheet, as in our catalogue) [A/V^1.5]
RESERVOIR = 32e-6
SETTLED = 1e-6  # a nanoampere, of which a grid in the air makes a volt [mA]


@dataclass
class Set:
    """What this very specimen is. Resistances by name, leaks and conductances between points."""

    ohms: dict
    between: list = field(default_factory=list)
    emission: dict = field(default_factory=dict)
    mu: dict = field(default_factory=dict)
    gas: dict = field(default_factory=dict)
    halves: tuple = (1.0, 1.0)
    cut: tuple = ()  # pairs of points: links, contacts and pieces of winding that do not hold
    mains: float = 230.0
    farads: dict = field(default_factory=dict)


@cache
def parameters():
    with open(MODELS, encoding="utf-8") as file:  # noqa: PTH123
        return yaml.safe_load(file)


def softplus(x):
    return np.logaddexp(0.0, x)


def space(p, vg, v, mu):
    if v <= 0:
        return 0.0
    x = p["sharp"] * (1 / (mu * p["mu"]) + (vg + p["contact"]) / math.hypot(p["bend"], v))
    return p["k"] * (v / p["sharp"] * softplus(x)) ** p["power"]


def grid(p, vg):
    soft = p.get("grid_soft", 0.25)
    return p.get("grid_k", 2.2e-4) * (soft * softplus(vg / soft)) ** 1.5


class Bench:
    """A specimen of the hall amplifier on the bench."""

    def __init__(self, drawing):
        self.drawing = drawing

    def nodes(self, cut):
        """Point to number of its node; `cut` are links that do not hold."""
        up = {}

        def top(p):
            up.setdefault(p, p)
            while up[p] != p:
                p = up[p]
            return p

        pairs = [(x.a, x.b) for x in self.drawing.links if (x.a, x.b) not in cut]
        for part in self.drawing.parts.values():
            for e in part.elements:
                if e.kind == "contact" and e.closed:
                    ends = (part.point(e.terminals[0]), part.point(e.terminals[1]))
                    pairs += [ends] if ends not in cut else []
            if part.kind == "pot":  # fully clockwise
                pairs.append((part.point("wiper"), part.point("cw")))
        for a, b in pairs:
            up[top(a)] = top(b)
        names = {}
        points = [*self.drawing.points]
        return {p: names.setdefault(top(p), len(names)) for p in points}

    def branches(self, it):
        """Two points and the ohms between them, for every path of direct current."""
        for part in self.drawing.parts.values():
            if part.kind == "resistor":
                yield *part.points, it.ohms[part.name]
            if part.kind == "pot":
                yield part.point("ccw"), part.point("cw"), it.ohms[part.name]
        yield Point("L1", "1"), Point("L1", "2"), it.ohms["L1"]
        yield Point("T2", "blue"), Point("T2", "red"), it.ohms["T2a"]
        yield Point("T2", "red"), Point("T2", "brown"), it.ohms["T2b"]
        yield Point("T2", "black"), Point("T2", "green"), 0.6

    def fitted(self, of):
        """Name, laws and nodes of every valve."""
        return [(name, p, [of[x] for x in pins]) for name, p, pins in self.valves()]

    def valves(self):
        for name, kind in HALVES.items():
            for half, (a, g, k) in TRIODE.items():
                pins = [Point(name, p) for p in (g, k, a, k)]
                yield f"{name}/{half}", parameters()[kind], pins
        for name in ("V4", "V5"):
            a, s, g, k = PENTODE
            yield name, parameters()["EL84"], [Point(name, p) for p in (g, s, a, k)]

    def imbalance(self, it, meter=None):
        """Function of all voltages that is nothing where the currents balance; table of nodes.

        It takes the voltages and the current into the reservoir at a mean voltage. `meter`:
        (point, point, ohms). [V], [mA].
        """
        of = self.nodes(it.cut)
        size, chassis = max(of.values()) + 1, of[Point("chassis")]
        g = np.zeros((size, size))
        extra = [(a, b, 1 / s) for a, b, s in it.between]
        extra += [(meter[0], meter[1], meter[2])] if meter else []
        for a, b, ohms in (*self.branches(it), *extra):
            i, j = of[a], of[b]
            g[i, i] += 1 / ohms
            g[j, j] += 1 / ohms
            g[i, j] -= 1 / ohms
            g[j, i] -= 1 / ohms
        g[np.diag_indices(size)] += 1e-11
        fitted = self.fitted(of)
        ht = of[Point("V6", "3")]

        def off(v, feed):
            v = v.copy()
            v[chassis] = 0.0
            rest = g @ v
            for name, p, (ng, ns, na, nk) in fitted:
                e, mu = it.emission.get(name, 1.0), it.mu.get(name, 1.0)
                vg, va = v[ng] - v[nk], v[na] - v[nk]
                ig = e * grid(p, vg) + 1e-9 * vg - it.gas.get(name, 0.0) * (va > 20)
                i_s = 0.0
                if p["kind"] == "triode":
                    ia = e * space(p, vg, va, mu)
                else:
                    vs = v[ns] - v[nk]
                    whole = e * space(p, vg, vs, mu) * (1 + p["rise"] * max(va, 0.0))
                    ratio = min(vs / va, 1e6) if va > 0 and vs > 0 else 1e6
                    ia = whole / (1 + p["share"] * ratio ** p["slope"] + (p["knee"] * ratio) ** 2)
                    i_s = whole - ia
                ia += 1e-11 * va
                for n, amps in ((ng, ig), (ns, i_s), (na, ia), (nk, -ig - i_s - ia)):
                    rest[n] += amps
            rest[ht] -= feed(v[ht])
            rest[chassis] = v[chassis]
            return 1e3 * rest

        return off, of

    def solve(self, it, start=None, meter=None):
        """Voltage of every node, the table of nodes, and whether it settled."""
        off, of = self.imbalance(it, meter)
        size, chassis = max(of.values()) + 1, of[Point("chassis")]
        x = np.zeros(size) if start is None else start
        source = self.source(it)
        for share in (1.0,) if start is not None else (0.1, 0.3, 0.6, 1.0):
            got = root(off, x, args=(lambda v, s=share: source(v / s) * s,), method="hybr",
                       options={"maxfev": 20000, "xtol": 1e-10})  # fmt: skip
            x = got.x
        left = lambda v: float(np.max(np.abs(off(v, source))))  # noqa: E731
        if left(x) > SETTLED:  # a grid in the air, further off than its own current can bring back
            bound = x.copy()
            for _, _, (grid_, *_, cathode) in self.fitted(of):
                bound[grid_] = max(x[grid_], x[cathode] - 2.0)
            got = root(off, bound, args=(source,), method="hybr", options={"maxfev": 20000})
            x = got.x if left(got.x) < left(x) else x
        x[chassis] = 0.0
        return x, of, left(x) < SETTLED

    def windings(self):
        """Two points and the ohms between them: what carries no direct current under power."""
        for part in self.drawing.parts.values():
            for e in part.elements if part.name == "T1" else ():
                ohms = e.resistance or [0.03] * (len(e.terminals) - 1)
                for a, b, r in zip(e.terminals, e.terminals[1:], ohms, strict=False):
                    yield part.point(a), part.point(b), r
            if part.kind == "fuse":
                yield part.point("1"), part.point("2"), 0.1
            if part.kind == "lamp":
                yield part.point("1"), part.point("2"), 3.0
            if part.kind == "socket":  # a cold heater, 4 and 5 being its ends on these bases
                yield part.point("4"), part.point("5"), 3.0
                if part.name in HALVES:
                    yield part.point("4"), part.point("9"), 3.0

    def ohms(self, it, a, b):
        """Resistance between two points, power off and valves cold. [ohm]."""
        of = self.nodes(it.cut)
        size = max(of.values()) + 1
        g = np.zeros((size, size))
        extra = [(p, q, 1 / s) for p, q, s in it.between]
        for p, q, ohms in (*self.branches(it), *self.windings(), *extra):
            if (p, q) in it.cut or (q, p) in it.cut:
                continue
            i, j = of[p], of[q]
            g[i, i] += 1 / ohms
            g[j, j] += 1 / ohms
            g[i, j] -= 1 / ohms
            g[j, i] -= 1 / ohms
        joined = [of[a]]
        for n in joined:
            joined += [m for m in np.flatnonzero(g[n]) if m not in joined]
        if of[b] not in joined:
            return math.inf
        rest = [n for n in joined if n != of[b]]
        drive = np.array([1.0 if n == of[a] else 0.0 for n in rest])
        if not rest:
            return 0.0
        return float(np.linalg.solve(g[np.ix_(rest, rest)], drive)[rest.index(of[a])])

    def source(self, it):
        """Current into the reservoir at a mean voltage, from a table made by stepping. [V], [A]."""
        if not any(it.halves):
            return lambda v: 0.0
        volts = charging(it.mains, it.halves, it.farads.get("C30.square", RESERVOIR))
        return lambda v: (
            float(np.interp(-v, -volts, DRAINS))
            + max(volts[0] - v, 0.0) * 1e-9
            - max(v - volts[0], 0.0) * 1e-3
        )


DRAINS = np.array([0.0, 0.002, 0.01, 0.03, 0.06, 0.09, 0.13, 0.2, 0.35])


@cache
def charging(mains, halves, farads=RESERVOIR):
    """Mean voltages of the reservoir at each of the drains."""
    it = Set({}, mains=mains, halves=halves, farads={"C30.square": farads})
    return np.array([charged(it, amps) for amps in DRAINS])


def charged(it, drain):
    """Mean voltage of the reservoir with a steady drain."""
    return float(np.mean(cycle(it, drain)))


def cycle(it, drain):
    """Voltage of the reservoir through a mains cycle, stepped until it repeats itself."""
    peak, steps = math.sqrt(2) * it.mains * TURNS, 400
    dt = 1 / 50 / steps
    wave = [math.sin(2 * math.pi * n / steps) for n in range(steps)]
    series = [h + PRIMARY * TURNS**2 for h in HALF]
    farads = it.farads.get("C30.square", RESERVOIR)
    v = 0.9 * peak
    for _ in range(400):
        first, told = v, []
        for s in wave:
            flow = 0.0
            for sign, ohms, good in zip((1, -1), series, it.halves, strict=True):
                drive = sign * peak * s - v
                if good and drive > 0:
                    lost = min(drive, (drive / ohms / (good * PERVEANCE)) ** (2 / 3))
                    for _ in range(6):  # the drop that fits its own current
                        i = good * PERVEANCE * lost**1.5
                        lost -= (lost + ohms * i - drive) / (
                            1 + 1.5 * ohms * good * PERVEANCE * math.sqrt(max(lost, 1e-9))
                        )
                        lost = max(lost, 0.0)
                    flow += min(good * PERVEANCE * lost**1.5, drive / ohms)
            v += (flow - drain) * dt / farads
            told.append(v)
        if abs(v - first) < 1e-4 * peak:
            break
    return told
