"""A short way to write circuits in tests: parts with where their ends land."""

from __future__ import annotations

from dataclasses import replace

from buzzout.circuit import CHASSIS, KINDS, Circuit, Element, Link, Mains, Part, Point, parse


def point(text):
    owner, _, pin = text.partition(".")
    return CHASSIS if text == "chassis" else Point(owner, pin)


def value(text, unit=""):
    words = text.split()
    quantity = parse(words[0], unit)
    return quantity.within(float(words[1].rstrip("%")) / 100) if len(words) > 1 else quantity


class Board:
    """Collects parts and wires; a node name is a point without a pin."""

    def __init__(self, kind="reference", mains=None):
        self.parts, self.links, self.names, self.kind = {}, [], [], kind
        self.mains = Mains(parse(mains[0], "V"), parse(mains[1], "Hz")) if mains else None
        self.extra = {}

    def _point(self, text):
        at = point(text)
        if not at.pin and at != CHASSIS and at.owner not in self.names:
            self.names.append(at.owner)
        return at

    def part(self, name, kind, what=None, *ends, **more):
        known = KINDS[kind]
        quantity = value(what, known.unit) if what else None
        terminals = more.pop("terminals", known.terminals)
        self.parts[name] = Part(name, kind, tuple(terminals), quantity, **more)
        for terminal, end in zip(terminals, ends, strict=False):
            if end:
                self.links.append(Link(Point(name, terminal), self._point(end), "lead"))
        return self

    def r(self, name, what, a, b, **more):
        return self.part(name, "resistor", what, a, b, **more)

    def c(self, name, what, a, b, **more):
        return self.part(name, "capacitor", what, a, b, **more)

    def e(self, name, what, plus, minus, **more):
        return self.part(name, "electrolytic", what, plus, minus, **more)

    def valve(self, name, kind, pins=9, **lands):
        terminals = tuple(str(n + 1) for n in range(pins))
        self.parts[name] = Part(name, "socket", terminals, type=kind)
        for pin, end in lands.items():
            self.links.append(Link(Point(name, pin.lstrip("p")), self._point(end), "lead"))
        return self

    def winding_part(self, name, kind, windings, **lands):
        """`windings`: (label, terminals, taps, ohms[, load])."""
        elements = tuple(
            Element("winding", w[0], tuple(w[1].split()), taps=tuple(w[2]), resistance=tuple(w[3]),
                    load=w[4] if len(w) > 4 else None)
            for w in windings
        )  # fmt: skip
        terminals = tuple(t for e in elements for t in e.terminals)
        self.parts[name] = Part(name, kind, terminals, elements=elements)
        for terminal, end in lands.items():
            self.links.append(Link(Point(name, terminal), self._point(end), "lead"))
        return self

    def wire(self, a, b):
        self.links.append(Link(self._point(a), self._point(b)))
        return self

    def drop(self, name):
        self.parts.pop(name)
        self.links = [x for x in self.links if name not in (x.a.owner, x.b.owner)]
        return self

    def change(self, name, **what):
        self.parts[name] = replace(self.parts[name], **what)
        return self

    def circuit(self, **more):
        return Circuit(
            self.kind, "test", "test.buzz", dict(self.parts), tuple(self.links), tuple(self.names),
            self.mains, **more,
        )  # fmt: skip
