"""Large irregular circuits that somebody else made: gate netlists as networks of small parts.

Source: the ISCAS-85 netlists (Brglez and Fujiwara, ISCAS 1985) as the PyPI package `circuitgraph`
0.2.1 (MIT) ships them. They are read as text; the package itself is not imported.

A gate becomes a resistor from each input to a point of its own, its value telling the kind of gate,
and a diode from there to the output: inputs are interchangeable, the output is not. Nobody would
build that. It is a graph with the ways of a real design that our own generator knows nothing of.
"""

from __future__ import annotations

import re
from importlib import metadata
from random import Random

from buzzout.circuit import Circuit, Link, Part, Point, parse

NAMES = "c432 c499 c880 c1355 c1908 c2670 c3540 c5315 c6288 c7552".split()
VALUES = {"nand": "10k", "and": "22k", "nor": "47k", "or": "100k", "xor": "220k", "xnor": "470k",
          "not": "1M", "buf": "2M2"}  # fmt: skip
GATE = re.compile(r"^\s*(n?and|n?or|xn?or|not|buf)\s+[^\s(]+\s*\(([^)]*)\)\s*;", re.MULTILINE)
PORT = re.compile(r"^\s*(?:input|output)\s([^;]*);", re.MULTILINE)


def there() -> bool:
    """The package with the netlists is installed."""
    return bool(_file("c432"))


def _file(name: str) -> metadata.PackagePath | None:
    try:
        files = metadata.files("circuitgraph") or []
    except metadata.PackageNotFoundError:
        return None
    return next((f for f in files if f.name == f"{name}.v"), None)


def drawing(name: str, *, ports: bool = True) -> Circuit:
    """The reference. With `ports` a connector holds inputs and outputs, else nothing has a name."""
    file = _file(name)
    if file is None:
        raise FileNotFoundError(f"circuitgraph, which ships {name}, is not installed")
    text = file.read_text(encoding="utf-8")
    parts: dict[str, Part] = {}
    links: list[Link] = []
    if ports:
        pins = tuple(p for group in PORT.findall(text) for p in re.findall(r"[^\s,]+", group))
        connector = parts["X1"] = Part("X1", "connector", pins)
        links += [Link(connector.point(p), Point(f"n{p}"), "joint") for p in pins]
    for gate, (kind, nets) in enumerate(GATE.findall(text), 1):
        output, *inputs = re.findall(r"[^\s,]+", nets)
        middle = Point(f"g{gate}")
        for n, net in enumerate(inputs, 1):
            value = parse(VALUES[kind], "ohm")
            _small(parts, links, Part(f"R{gate}_{n}", "resistor", ("1", "2"), value=value),
                   Point(f"n{net}"), middle)  # fmt: skip
        _small(parts, links, Part(f"D{gate}", "diode", ("a", "k"), type="1N4148"),
               middle, Point(f"n{output}"))  # fmt: skip
    nodes = {p.owner for x in links for p in (x.a, x.b) if not p.pin}
    return Circuit("reference", parts=parts, links=tuple(links), names=tuple(sorted(nodes)))


def chassis(random: Random, drawn: Circuit) -> Circuit:
    """The drawing wired up: everything shuffled, no small part and no node with its name."""
    small = [p for p in drawn.parts.values() if not p.furniture]
    called = {p.name: f"@{n}" for n, p in enumerate(random.sample(small, len(small)), 1)}
    tags = {n: f"t{k}" for k, n in enumerate(random.sample(drawn.names, len(drawn.names)), 1)}
    furniture = [p for p in drawn.parts.values() if p.furniture]
    parts = {p.name: p for p in furniture}
    links = [Link(x.a, Point(tags[x.b.owner]), "wire") for x in drawn.links if x.a.owner in parts]
    for part in random.sample(small, len(small)):
        ends = [Point(tags[drawn.landing(p).owner]) for p in part.points]
        if part.swap == "same" and random.random() < 0.5:
            ends.reverse()
        there = Part(called[part.name], part.kind, part.terminals, value=part.value, type=part.type)
        _small(parts, links, there, *ends)
    random.shuffle(links)
    return Circuit("found", parts=parts, links=tuple(links))


def _small(parts: dict[str, Part], links: list[Link], part: Part, a: Point, b: Point) -> None:
    parts[part.name] = part
    links += [Link(p, end, "lead") for p, end in zip(part.points, (a, b), strict=True)]
