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

# Kinds of what is told here and must be mended: each costs one whatever the match.
CONTENTS = (
    "wrong-valve",
    "value-wrong",
    "values-exchanged",
    "wrong-type",
    "value-drifted",
    "under-rated",
)


def fitted(story: Story) -> Iterator[Finding]:
    """Valves, values and sections that are not as drawn; what nobody restated is one note."""
    unread: list[tuple[Part, Part, Remark]] = []
    wrong: dict[str, Finding] = {}
    for name, there in story.board.called.items():
        wanted, part = story.drawing.circuit.parts[name], story.found.parts[there]
        remarks = _remarks(story, name, part)
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
    yield from _exchanged(story, wrong)
    yield from wrong.values()
    if unread:
        yield _unread(unread)


def _exchanged(story: Story, wrong: dict[str, Finding]) -> Iterator[Finding]:
    """Two that sit in each other's place are one mistake; taken out of `wrong`."""
    for a, b in combinations(list(wrong), 2):
        if a not in wrong or b not in wrong:
            continue
        drawn = [story.drawing.circuit.parts[n] for n in (a, b)]
        there = [story.found.parts[story.board.called[n]] for n in (a, b)]
        if not (
            _would_do(story, a, drawn[0], there[1]) and _would_do(story, b, drawn[1], there[0])
        ):
            continue
        one, two = wrong.pop(a), wrong.pop(b)
        kind, text, action = _words(drawn, there)
        remedy = (*one.remedy, *two.remedy)
        told = tell(kind, text, action, about=drawn, seen=there, remedy=remedy)
        yield replace(told, joined=(one.id, two.id))


def _words(drawn: list[Part], there: list[Part]) -> tuple[str, str, str]:
    """Kind, text and action for two pieces of furniture with each other's contents."""
    a, b = (part.name for part in drawn)
    if drawn[0].kind == "socket":
        text = (
            f"the valves of {a} and {b} are exchanged: {there[0].type} sits in {a}, "
            f"{there[1].type} in {b}"
        )
        return "wrong-valve", text, f"exchange the valves of {a} and {b}"
    text = f"{a} and {b} are in each other's place: each has the figures of the other"
    action = f"exchange {a} and {b}; where only what was typed is exchanged, mend that"
    return "values-exchanged", text, action


def _would_do(story: Story, name: str, wanted: Part, there: Part) -> bool:
    """The part that sits in the other place is what this one wants."""
    alike = wanted.kind == there.kind and wanted.terminals == there.terminals
    remarks = _remarks(story, name, there) if alike else judge(wanted, there).remarks
    harmful = (r for r in remarks if not r.harmless and not r.unread)
    return wanted.kind == there.kind and not any(harmful)


def _remarks(story: Story, name: str, part: Part) -> list[Remark]:
    """What is to be said of a found part as the furniture of that name on the drawing."""
    wanted = story.drawing.circuit.parts[name]
    return [*judge(wanted, part).remarks, *_elements(story, name, part)]


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


def _elements(story: Story, name: str, part: Part) -> Iterator[Remark]:
    """Sections, tracks and windings against the drawing's, through the pins that are used."""
    wanted = story.drawing.circuit.parts[name]
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
