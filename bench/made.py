"""Made-up amplifiers of any size: a drawing and a chassis wired to it, tag by tag."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path
from random import Random

from slips_of_the_hand import STRIP

from buzzout.circuit import CHASSIS, Circuit, Element, Link, Part, Point, parse
from buzzout.language import read

TAGS = 20  # on a strip
SIZES = {"B9A": 9, "B7G": 7, "octal": 8}
RESISTORS = "100 220 330 470 1k 1k5 2k2 4k7 10k 22k 47k 68k 100k 150k 220k 330k 470k 1M 2M2".split()
CAPACITORS = "47p 100p 220p 470p 1n 2n2 4n7 10n 22n 47n 100n".split()


@dataclass
class Draughtsman:
    """Collects parts of a drawing; nodes are named by what stage and electrode they serve."""

    random: Random
    parts: dict[str, Part] = field(default_factory=dict)
    links: list[Link] = field(default_factory=list)
    names: dict[str, None] = field(default_factory=dict)
    letters: Counter[str] = field(default_factory=Counter)

    def add(self, part: Part) -> Part:
        self.parts[part.name] = part
        self.letters[part.name[0]] += 1
        return part

    def join(self, point: Point, node: str) -> None:
        if node == "chassis":
            self.links.append(Link(point, CHASSIS, "joint"))
            return
        self.names[node] = None
        self.links.append(Link(point, Point(node), "joint"))

    def socket(self, name: str, base: str, valve: str, nodes: dict[int, str]) -> None:
        pins = tuple(str(n + 1) for n in range(SIZES[base]))
        part = self.add(Part(name, "socket", pins, type=valve, base=base))
        for pin, node in nodes.items():
            self.join(part.point(str(pin)), node)

    def small(self, kind: str, value: str, a: str, b: str, **more: str) -> None:
        letter = {"resistor": "R", "diode": "D"}.get(kind, "C")
        number = 1 + self.letters[letter]
        unit = {"resistor": "ohm", "diode": ""}.get(kind, "F")
        ends = {"electrolytic": ("+", "-"), "diode": ("a", "k")}.get(kind, ("1", "2"))
        ratings = {k: parse(v) for k, v in more.items()}
        worth = parse(value, unit) if unit else None
        part = Part(f"{letter}{number}", kind, ends, value=worth, **ratings)  # type: ignore[arg-type]
        if kind == "diode":
            part = Part(f"D{number}", kind, ends, type=value)
        self.add(part)
        self.join(part.point(ends[0]), a)
        self.join(part.point(ends[1]), b)

    def some(self, values: list[str]) -> str:
        return self.random.choice(values)

    def circuit(self) -> Circuit:
        return Circuit(
            "reference", parts=self.parts, links=tuple(self.links), names=tuple(self.names)
        )


def drawing(random: Random, size: int) -> Circuit:
    """An amplifier with at least `size` parts, furniture included."""
    d = Draughtsman(random)
    supply(d)
    stage = 0
    while len(d.parts) < size:
        stage += 1
        signal = f"in{stage}"
        if stage % 4 == 1:
            jack = d.add(Part(f"J{stage}", "jack", ("tip", "sleeve")))
            d.join(jack.point("tip"), signal)
            d.join(jack.point("sleeve"), "chassis")
        if stage % 4 == 3:
            tone(d, stage, signal)
        else:
            random.choices((pentode, sensitive, twin), (2, 1, 7))[0](d, stage, signal)
    return d.circuit()


def supply(d: Draughtsman) -> None:
    windings = (
        Element("winding", "primary", ("0", "210", "230", "250"), taps=(0, 210, 230, 250)),
        Element("winding", "HT", ("ht1", "ct", "ht2"), taps=(-250, 0, 250)),
        Element("winding", "heaters", ("h1", "h2"), taps=(0, 6.3)),
    )
    ends = tuple(t for w in windings for t in w.terminals)
    t = d.add(Part("T1", "transformer", ends, elements=windings))
    conductors = tuple(Element("conductor", "", (letter,)) for letter in "LNE")
    cord = d.add(Part("M1", "cord", ("L", "N", "E"), elements=conductors))
    fuse = d.add(Part("F1", "fuse", ("1", "2"), value=parse("1A", "A")))
    for pin, node in (("L", "mains"), ("N", "neutral"), ("E", "chassis")):
        d.join(cord.point(pin), node)
    d.join(fuse.point("1"), "mains")
    d.join(fuse.point("2"), "fused")
    used = ("0", "230", "ht1", "ct", "ht2", "h1", "h2")
    names = ("fused", "neutral", "ac1", "chassis", "ac2", "hA", "hB")
    for pin, node in zip(used, names, strict=True):
        d.join(t.point(pin), node)
    d.socket("V0", "B9A", "EZ81", {1: "ac1", 7: "ac2", 3: "ht0", 4: "hA", 5: "hB"})
    sections = (
        Element("capacitor", "square", ("square", "can"), parse("50u", "F"), parse("350V", "V")),
        Element(
            "capacitor", "triangle", ("triangle", "can"), parse("32u", "F"), parse("350V", "V")
        ),
    )
    can = d.add(Part("C0", "can", ("square", "triangle", "can"), elements=sections))
    for pin, node in (("square", "ht0"), ("triangle", "ht1"), ("can", "chassis")):
        d.join(can.point(pin), node)
    d.small("resistor", "1k", "ht0", "ht1", power="5W")


def twin(d: Draughtsman, n: int, signal: str) -> None:
    """A double triode: two stages in a row, now and then with a volume control between."""
    nodes = {4: "hA", 5: "hA", 9: "hB", 1: f"a{n}", 2: f"g{n}", 3: f"k{n}"}
    nodes |= {6: f"aa{n}", 7: f"gg{n}", 8: f"kk{n}"}
    d.socket(f"V{n}", "B9A", d.some(["ECC83", "ECC81", "ECC82"]), nodes)
    d.small("resistor", d.some(RESISTORS[-3:]), signal, "chassis")
    d.small("resistor", d.some(RESISTORS[8:12]), signal, f"g{n}")
    ht = f"ht{1 + n // 3}"
    for a, k, g in ((f"a{n}", f"k{n}", ""), (f"aa{n}", f"kk{n}", f"gg{n}")):
        d.small("resistor", d.some(["47k", "100k", "150k", "220k"]), a, ht, power="0.5W")
        d.small("resistor", d.some(["1k", "1k5", "2k2", "3k3"]), k, "chassis")
        if d.random.random() < 0.7:
            d.small("electrolytic", d.some(["10u", "25u", "50u"]), k, "chassis", voltage="25V")
        if g:
            d.small("resistor", d.some(["470k", "1M"]), g, "chassis")
    d.small("capacitor", d.some(CAPACITORS[6:]), f"a{n}", f"c{n}", voltage="400V")
    if d.random.random() < 0.3:
        pot = d.add(
            Part(
                f"P{n}",
                "pot",
                ("ccw", "wiper", "cw"),
                value=parse("500k", "ohm"),
                elements=(Element("track", "", ("ccw", "wiper", "cw")),),
            )
        )
        for pin, node in (("ccw", "chassis"), ("wiper", f"gg{n}"), ("cw", f"c{n}")):
            d.join(pot.point(pin), node)
    else:
        d.small("resistor", d.some(["47k", "100k", "470k"]), f"c{n}", f"gg{n}")
    d.small("capacitor", d.some(CAPACITORS[6:]), f"aa{n}", f"in{n + 1}", voltage="400V")
    if n % 3 == 2:
        d.small("resistor", d.some(["4k7", "10k", "22k"]), ht, f"ht{2 + n // 3}")
        d.small("electrolytic", "16u", f"ht{2 + n // 3}", "chassis", voltage="450V")


def tone(d: Draughtsman, n: int, signal: str) -> None:
    """A passive tone network: a ladder, all parts small."""
    pot = d.add(
        Part(
            f"P{n}",
            "pot",
            ("ccw", "wiper", "cw"),
            value=parse("1M", "ohm"),
            elements=(Element("track", "", ("ccw", "wiper", "cw")),),
        )
    )
    for pin, node in (("ccw", f"t{n}"), ("wiper", f"in{n + 1}"), ("cw", f"u{n}")):
        d.join(pot.point(pin), node)
    d.small("capacitor", d.some(CAPACITORS[:6]), signal, f"u{n}")
    d.small("resistor", d.some(RESISTORS[9:15]), signal, f"v{n}")
    d.small("capacitor", d.some(CAPACITORS[5:]), f"v{n}", f"t{n}")
    d.small("resistor", d.some(RESISTORS[6:12]), f"t{n}", "chassis")
    d.small("diode", "1N4148", f"v{n}", "chassis")
    if d.random.random() < 0.5:  # the ladder is on a strip that the drawing shows
        strip = d.add(Part(f"S{n}", "strip", tuple("123456")))
        for tag, node in enumerate((signal, f"u{n}", f"v{n}", f"t{n}"), 1):
            d.join(strip.point(str(tag)), node)


def sensitive(d: Draughtsman, n: int, signal: str) -> None:
    """A pentode with its screening on two pins that the valve joins; often one is earthed."""
    nodes = {1: f"s{n}", 3: f"k{n}", 4: "hA", 5: "hB", 6: f"a{n}", 8: f"k{n}", 9: f"g{n}"}
    earthed = {d.some(["2", "7"]): "chassis"} if d.random.random() < 0.6 else {}
    nodes |= {int(pin): node for pin, node in earthed.items()}
    d.socket(f"V{n}", "B9A", "EF86", nodes)
    ht = f"ht{1 + n // 3}"
    d.small("resistor", "4k7", signal, f"g{n}")
    d.small("resistor", d.some(["1M", "2M2"]), f"g{n}", "chassis")
    d.small("resistor", d.some(["1k5", "2k2"]), f"k{n}", "chassis")
    d.small("electrolytic", "50u", f"k{n}", "chassis", voltage="25V")
    d.small("resistor", d.some(["100k", "220k"]), f"a{n}", ht, power="0.5W")
    d.small("resistor", d.some(["470k", "1M"]), f"s{n}", ht, power="0.5W")
    d.small("capacitor", "100n", f"s{n}", "chassis", voltage="400V")
    d.small("capacitor", d.some(CAPACITORS[6:]), f"a{n}", f"in{n + 1}", voltage="400V")


def pentode(d: Draughtsman, n: int, signal: str) -> None:
    nodes = {2: f"g{n}", 3: f"k{n}", 4: "hA", 5: "hB", 7: f"a{n}", 9: f"ht{1 + n // 3}"}
    d.socket(f"V{n}", "B9A", "EL84", nodes)
    d.small("resistor", d.some(["1k", "4k7", "10k"]), signal, f"g{n}")
    d.small("resistor", d.some(["220k", "470k"]), signal, "chassis")
    d.small("resistor", d.some(["100", "150", "220"]), f"k{n}", "chassis", power="2W")
    d.small("electrolytic", "50u", f"k{n}", "chassis", voltage="25V")
    t = d.add(
        Part(
            f"T{n + 1}",
            "transformer",
            ("p1", "p2", "s1", "s2"),
            elements=(
                Element("winding", "primary", ("p1", "p2"), dot="p1"),
                Element("winding", "secondary", ("s1", "s2"), dot="s1"),
            ),
        )
    )
    for pin, node in (
        ("p1", f"a{n}"),
        ("p2", f"ht{1 + n // 3}"),
        ("s1", f"o{n}"),
        ("s2", "chassis"),
    ):
        d.join(t.point(pin), node)
    d.small("resistor", "15k", f"o{n}", f"in{n + 1}")


def chassis(random: Random, circuit: Circuit) -> Circuit:
    """The drawing wired up: furniture in place, tags between, small parts unnamed and shuffled.

    `note` keeps the name that a small part has on the drawing; no comparison looks at it.
    """
    tags = 0
    links: list[Link] = []
    landing: dict[Point, Point] = {}
    for node in circuit.nodes:
        pins = [p for p in node.points if p == CHASSIS or _fixed(circuit, p)]
        leads = [p for p in node.points if p.owner in circuit.parts and not _fixed(circuit, p)]
        places = list(pins)
        if leads and (not pins or random.random() < 0.35):
            for _ in range(random.choice((1, 1, 2))):
                places.append(Point(f"{STRIP}{tags // TAGS + 1}", str(tags % TAGS + 1)))
                tags += 1
        for pair in pairwise(places):
            a, b = pair if random.random() < 0.5 else pair[::-1]
            links.append(Link(a, b, "wire", random.choice(("green", "black", "red", "white"))))
        landing |= {lead: random.choice(places) for lead in leads}
    parts = {n: p for n, p in circuit.parts.items() if p.furniture}
    for n in range(tags // TAGS + 1):
        strip = Part(f"{STRIP}{n + 1}", "strip", tuple(str(tag + 1) for tag in range(TAGS)))
        parts[strip.name] = strip
    small = [p for p in circuit.parts.values() if not p.furniture]
    random.shuffle(small)
    for number, part in enumerate(small, 100):
        fitted = replace(part, name=f"@{number}", note=part.name, accepts=(), optional=False)
        ends = [landing[q] for q in part.points]
        if part.swap == "same" and random.random() < 0.5:
            ends.reverse()
        parts[fitted.name] = fitted
        links += [Link(p, at, "lead") for p, at in zip(fitted.points, ends, strict=True)]
    random.shuffle(links)
    return Circuit("found", parts=parts, links=tuple(links))


def examples() -> dict[str, Circuit]:
    """The drawings under `examples/`, by name."""
    files = sorted((Path(__file__).parents[1] / "examples").glob("*/*.reference.buzz"))
    return {file.parent.name: read(file) for file in files}


def _fixed(circuit: Circuit, point: Point) -> bool:
    return point.owner in circuit.parts and circuit.parts[point.owner].furniture
