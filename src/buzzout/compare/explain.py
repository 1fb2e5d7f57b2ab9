"""From a match to findings: what a person sees, and the edits that put it right."""

from __future__ import annotations

from buzzout.circuit import CannotApply, apply
from buzzout.compare import about_contents, about_furniture, about_leads, about_parts
from buzzout.compare.explanation import Match
from buzzout.compare.findings import Finding
from buzzout.compare.model import Pair
from buzzout.compare.spots import Spots
from buzzout.compare.story import Story, distinct


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
    return distinct([*findings, *about_furniture.crossed(story, now)])
