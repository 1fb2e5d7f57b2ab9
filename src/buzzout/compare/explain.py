"""From a match to findings: what a person sees, and the edits that put it right."""

from __future__ import annotations

from dataclasses import replace

from buzzout.circuit import CannotApply, apply
from buzzout.compare import about_contents, about_furniture, about_leads, about_parts
from buzzout.compare.about_contents import CONTENTS
from buzzout.compare.explanation import Match
from buzzout.compare.findings import Finding
from buzzout.compare.model import Pair
from buzzout.compare.spots import Spots
from buzzout.compare.story import Story, distinct
from buzzout.compare.words import listed


def explain(pair: Pair, match: Match) -> list[Finding]:
    """The findings, in an order in which their remedies can be applied.

    Leads and wires move before parts are turned round and sockets rewired, and sockets change
    places last, because all remedies name the points as they are found.
    """
    story = Story(pair, match, Spots(pair, match))
    first = [
        *about_leads.leads_and_wires(story),
        *about_parts.wrong_parts(story),
        *about_parts.together(story),
        *about_parts.loose_parts(story),
        *about_parts.reversed_parts(story),
    ]
    findings = [
        *about_furniture.as_rewired(story, first),
        *about_contents.fitted(story),
        *about_furniture.turned(story),
    ]
    try:
        now = apply(story.found, [edit for finding in findings for edit in finding.remedy])
    except CannotApply:  # the self-check meets it again and says so
        now = story.found
    return distinct(_by_name([*findings, *about_furniture.crossed(story, now)]))


def _by_name(findings: list[Finding]) -> list[Finding]:
    """Two that are wired as each other and hold what the other should only go by wrong names."""
    pair = {f.id: frozenset(f.parts) for f in findings if len(f.parts) == 2}
    inside = {pair[f.id]: f for f in findings if f.kind in CONTENTS and f.id in pair}
    crossed = ("sockets-exchanged", "wiring-exchanged")
    wired = {pair[f.id]: f for f in findings if f.kind in crossed and f.id in pair}
    for each in inside.keys() & wired.keys():
        told = _renamed(inside[each], wired[each])
        findings = [told if f is wired[each] else f for f in findings if f is not inside[each]]
    return findings


def _renamed(inside: Finding, wired: Finding) -> Finding:
    names = listed(wired.parts)
    return replace(
        wired,
        id=":".join(("names-exchanged", "+".join(wired.parts))),
        kind="names-exchanged",
        text=f"{names} go by each other's names: each is wired and fitted as the other is drawn.",
        action=f"Exchange the names of {names} on the plan; if they were moved, exchange the two.",
        remedy=(*inside.remedy, *wired.remedy),
        joined=(inside.id, wired.id),
    )
