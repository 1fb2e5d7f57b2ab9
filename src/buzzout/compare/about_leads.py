"""Findings about leads and wires: on the wrong point, exchanged, missing, one too many."""

from __future__ import annotations

from collections.abc import Iterator

from buzzout.circuit import Move
from buzzout.compare.about_wires import Shift, Wires, on_wrong_point
from buzzout.compare.findings import Finding
from buzzout.compare.model import UNSEEN, VOID
from buzzout.compare.story import Story, tell
from buzzout.compare.words import both, lead


def leads_and_wires(story: Story) -> Iterator[Finding]:
    """All findings about where leads and wires land."""
    shifts = list(_off_leads(story))
    wires = Wires(story)
    shifts += wires.moved()
    done: set[int] = set()
    for n, a in enumerate(shifts):
        if n in done:
            continue
        m = next(
            (m for m in range(n + 1, len(shifts)) if m not in done and _crossed(a, shifts[m])), 0
        )
        if m:
            done.add(m)
            yield _exchanged(a, shifts[m])
        elif wires.dropped(a):
            yield wires.join(a.old, a.new)
        else:
            yield on_wrong_point(a)
    yield from wires.bridges()
    yield from wires.missing()


def _crossed(a: Shift, b: Shift) -> bool:
    """Each belongs where the other is."""
    same_thing = a.part is not None and a.part is b.part
    fits = a.may_land_on(b.old) and b.may_land_on(a.old)
    return fits and a.here == b.to and b.here == a.to and a.old != b.old and not same_thing


def _exchanged(a: Shift, b: Shift) -> Finding:
    text = f"{a.what} on {a.old} and {b.what} on {b.old} are exchanged"
    edits = (Move(a.fixed, a.old, b.old), Move(b.fixed, b.old, a.old))
    return tell(
        "leads-exchanged",
        text,
        f"exchange the two: {a.old} for {b.old}",
        about=[s.part for s in (a, b) if s.part],
        seen=[s.seen for s in (a, b) if s.seen],
        points=(a.old, b.old),
        remedy=edits,
        spans=[x.span for s in (a, b) for x in s.links],
    )


def _off_leads(story: Story) -> Iterator[Shift]:
    for fit in story.match.fits:
        for s, (t, kept) in enumerate(zip(fit.ends, fit.kept, strict=True)):
            if kept:
                continue
            wanted, fitted = story.drawn(fit.i).part, story.there(fit.j).part
            point = fitted.point(fitted.terminals[t])
            old = story.found.landing(point)
            place = story.there(fit.j).at[t]
            yield Shift(
                f"{lead(fitted.terminals[t])} of {both(wanted, story.found, fitted)}",
                point,
                old,
                story.belongs(fit, s),
                VOID if place == UNSEEN else story.match.node_at[place],
                story.drawn(fit.i).at[s],
                wanted,
                fitted,
            )
