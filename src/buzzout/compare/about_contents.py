"""Findings about furniture: which valve sits in it, which values are inside."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations

from buzzout.circuit import Change, Element, Part
from buzzout.compare.findings import Finding
from buzzout.compare.model import same_pins
from buzzout.compare.story import Story, tell
from buzzout.compare.values import Remark, article, judge
from buzzout.compare.words import listed


def fitted(story: Story) -> Iterator[Finding]:
    """Valves, values and sections that are not as drawn; what nobody restated is one note."""
    unread: list[tuple[Part, Part, Remark]] = []
    wrong: dict[str, Finding] = {}
    for name, there in story.board.called.items():
        wanted, part = story.drawing.circuit.parts[name], story.found.parts[there]
        remarks = [*judge(wanted, part).remarks, *_elements(story, name)]
        if bad := [r for r in remarks if not r.harmless and not r.unread]:
            wrong[name] = tell(
                bad[0].kind,
                f"{name}: " + "; ".join(dict.fromkeys(r.words for r in bad)),
                f"fit {article(_what(wanted))} as {name}",
                about=(wanted,),
                seen=(part,),
                remedy=(Change(there, wanted),),
            )
        for remark in (r for r in remarks if r.harmless):
            text = f"{name}: {remark.words}"
            yield tell(remark.kind, text, about=(wanted,), seen=(part,), harmless=True)
        unread += [(wanted, part, r) for r in remarks if r.unread]
    yield from _valves_exchanged(story, wrong)
    yield from wrong.values()
    if unread:
        yield _unread(unread)


def _valves_exchanged(story: Story, wrong: dict[str, Finding]) -> Iterator[Finding]:
    """Two wrong valves that sit in each other's sockets are one mistake; taken out of `wrong`."""
    valves = [name for name, finding in wrong.items() if finding.kind == "wrong-valve"]
    for a, b in combinations(valves, 2):
        if a not in wrong or b not in wrong:
            continue
        drawn = [story.drawing.circuit.parts[n] for n in (a, b)]
        there = [story.found.parts[story.board.called[n]] for n in (a, b)]
        if not all(_would_do(d, f) for d, f in zip(drawn, reversed(there), strict=True)):
            continue
        one, two = wrong.pop(a), wrong.pop(b)
        text = (
            f"the valves of {a} and {b} are exchanged: {there[0].type} sits in {a}, "
            f"{there[1].type} in {b}"
        )
        told = tell(
            "wrong-valve",
            text,
            f"exchange the valves of {a} and {b}",
            about=drawn,
            seen=there,
            remedy=(*one.remedy, *two.remedy),
        )
        yield replace(told, joined=(one.id, two.id))


def _would_do(wanted: Part, there: Part) -> bool:
    return not any(r.kind == "wrong-valve" for r in judge(wanted, there).remarks)


def _what(part: Part) -> str:
    if part.kind == "can":
        return f"can with {listed([_section(e) for e in part.elements])}"
    return part.type or (f"{part.value} {part.kind}" if part.value else part.kind)


def _section(element: Element) -> str:
    """`square 32u 450V`: what to ask for at the counter."""
    facts = (element.label, element.value, element.voltage)
    return " ".join(str(fact) for fact in facts if fact)


def _unread(unread: list[tuple[Part, Part, Remark]]) -> Finding:
    names = list(dict.fromkeys(wanted.name for wanted, _, _ in unread))
    is_are = "is" if len(names) == 1 else "are"
    text = f"what is fitted as {listed(names)} was not read and {is_are} taken for right"
    return tell(
        "not-verified",
        text,
        "read types and values off the parts themselves",
        about=list({w.name: w for w, _, _ in unread}.values()),
        seen=list({p.name: p for _, p, _ in unread}.values()),
    )


def _elements(story: Story, name: str) -> Iterator[Remark]:
    """Sections, tracks and windings against the drawing's, through the pins that are used."""
    wanted = story.drawing.circuit.parts[name]
    part = story.found.parts[story.board.called[name]]
    spelt = same_pins(wanted, part)
    there = {frozenset(e.terminals): e for e in part.elements}
    for element in wanted.elements:
        pins = frozenset(spelt[story.match.harmless(name, t)] for t in element.terminals)
        if pins in there:
            yield from _element(wanted, part, element, there[pins])


def _element(wanted: Part, fitted_part: Part, a: Element, b: Element) -> Iterator[Remark]:
    kind = "electrolytic" if a.kind == "capacitor" else "resistor"
    one = _as_part(wanted, a, kind)
    two = _as_part(fitted_part, b, kind)
    if b.value is None and b.voltage is None:
        return
    for remark in judge(one, two).remarks:
        label = f"section {a.label}: " if a.kind == "capacitor" and a.label else ""
        if not remark.unread:
            yield Remark(remark.kind, label + remark.words, remark.harmless)


def _as_part(part: Part, element: Element, kind: str) -> Part:
    return Part(
        part.name,
        kind,
        ("1", "2"),
        value=element.value,
        voltage=element.voltage,
        current=element.current,
        unread=part.unread & {"value"},
    )
