"""Findings about small parts: the wrong one, the wrong way round, one missing, one too many."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from buzzout.circuit import Change, Edit, Fit, Move, Part, Point, Remove, Rewire
from buzzout.compare.findings import Finding
from buzzout.compare.fits import Fit as Fitting
from buzzout.compare.model import UNSEEN
from buzzout.compare.story import Story, tell
from buzzout.compare.values import Remark, article, described, judge, kin
from buzzout.compare.words import between, both, drawn_part, found_part, landings, listed


def wrong_parts(story: Story) -> Iterator[Finding]:
    """Parts that are in their place but not the right ones, and notes on those that are."""
    swapped = {i for ring in story.match.exchanged for i in ring}
    fit_of = {fit.i: fit for fit in story.match.fits}
    for ring in story.match.exchanged:
        yield _exchanged(story, [fit_of[i] for i in ring])
    for fit in story.match.fits:
        wanted, fitted = story.drawn(fit.i).part, story.there(fit.j).part
        remarks = judge(wanted, fitted).remarks
        if fit.i not in swapped:
            yield from _remarked(story, fit, remarks)
        yield from _unseen(story, fit)


def _exchanged(story: Story, ring: list[Fitting]) -> Finding:
    """Two parts in each other's place, or three that went round."""
    drawn = [story.drawn(fit.i).part for fit in ring]
    there = [story.there(fit.j).part for fit in ring]
    names = listed([part.name for part in drawn])
    spots = [(described(part), between(landings(story.found, part))) for part in there]
    sits = ", ".join(f"the {what}{'' if n else ' sits'}{at}" for n, (what, at) in enumerate(spots))
    where = "in each other's place" if len(ring) == 2 else "in one another's places, in a ring"
    return tell(
        "values-exchanged",
        f"{names} are {where}: {sits}",
        f"exchange {names}",
        about=drawn,
        seen=there,
        points=[point for part in there for point in landings(story.found, part)],
        remedy=[edit for fit in ring for edit in _replaced(story, fit)],
    )


def _as_drawn(wanted: Part, fitted: Part) -> Part:
    return replace(wanted, name=fitted.name, unseen=fitted.unseen, optional=False)


def _remarked(story: Story, fit: Fitting, remarks: tuple[Remark, ...]) -> Iterator[Finding]:
    wanted, fitted = story.drawn(fit.i).part, story.there(fit.j).part
    points = landings(story.found, fitted)
    name = both(wanted, story.found, fitted)
    wrong = [r for r in remarks if not r.harmless and not r.unread]
    if wrong:
        words = "; ".join(r.words for r in wrong)
        text = f"{name}: {words}" if wanted.kind == fitted.kind else f"{wanted.name}: {words}"
        if not kin(wanted.kind, fitted.kind):
            there = f"{article(described(fitted))} is fitted{between(points)}"
            text = f"{there} where the drawing has {drawn_part(wanted)}"
        yield tell(
            wrong[0].kind,
            text,
            f"fit {article(described(wanted))}{_rated(wanted)} as {wanted.name}",
            about=(wanted,),
            seen=(fitted,),
            points=points,
            remedy=_replaced(story, fit),
        )
    for remark in (r for r in remarks if r.harmless):
        text = f"{name}: {remark.words}"
        yield tell(remark.kind, text, about=(wanted,), seen=(fitted,), points=points, harmless=True)
    unread = [r for r in remarks if r.unread]
    if unread:
        text = f"{name} was taken for right, but {listed([r.words for r in unread])}"
        yield tell(
            "not-verified",
            text,
            f"look at it again; the drawing says {described(wanted)}",
            about=(wanted,),
            seen=(fitted,),
            points=points,
        )


def _rated(part: Part) -> str:
    ratings = [str(q) for q in (part.voltage, part.power, part.current) if q is not None]
    ratings += [part.mains_class] if part.mains_class else []
    return f", {', '.join(ratings)}" if ratings else ""


def _replaced(story: Story, fit: Fitting) -> tuple[Edit, ...]:
    """The drawn part in place of the found one, each lead where the found one for it belongs."""
    wanted, fitted = story.drawn(fit.i).part, story.there(fit.j).part
    if wanted.terminals == fitted.terminals:
        return (Change(fitted.name, _as_drawn(wanted, fitted)),)
    ends = tuple((terminal, story.belongs(fit, s)) for s, terminal in enumerate(wanted.terminals))
    return (Remove(fitted.name), Fit(_as_drawn(wanted, fitted), ends))


def _unseen(story: Story, fit: Fitting) -> Iterator[Finding]:
    wanted, fitted = story.drawn(fit.i).part, story.there(fit.j).part
    for s, t in enumerate(fit.ends):
        if story.there(fit.j).at[t] != UNSEEN:
            continue
        node = story.drawn(fit.i).at[s]
        point = story.spots.best(node, None, story.landing(fit.i, s))
        text = (
            f"nobody saw where the far end of {found_part(story.found, fitted)} goes; it was taken "
            f"for {wanted.name}, which goes to {point}"
        )
        yield tell(
            "not-verified",
            text,
            f"follow the lead, or measure from it to {point}",
            about=(wanted,),
            seen=(fitted,),
            points=(*landings(story.found, fitted), point),
        )


def reversed_parts(story: Story) -> Iterator[Finding]:
    """Polarised parts the wrong way round."""
    for fit in story.match.fits:
        if not fit.reversed:
            continue
        wanted, fitted = story.drawn(fit.i).part, story.there(fit.j).part
        a, b = fitted.terminals
        points = tuple(story.found.landing(p) for p in fitted.points)
        words = {"+": "+", "a": "anode"}.get(a, a)
        text = (
            f"{both(wanted, story.found, fitted)} is reversed: its {words} is on {points[0]} and "
            f"belongs on {points[1]}"
        )
        yield tell(
            "reversed",
            text,
            f"turn {wanted.name} round",
            about=(wanted,),
            seen=(fitted,),
            points=points,
            remedy=(Rewire(fitted.name, ((a, b), (b, a))),),
        )


def together(story: Story) -> Iterator[Finding]:
    """Parts that stand for others together: notes, nothing to mend."""
    for group in story.match.groups:
        drawn = [story.drawn(i).part for i in group.drawn]
        there = [story.there(j).part for j in group.found]
        names = listed([part.name for part in drawn])
        where = [found_part(story.found, part) for part in there]
        if group.kind == "series-order":
            text = f"{names} are in series in the other order: {listed(where)}; it is the same"
        elif len(there) == 1:
            text = f"{group.words}: {names} are {where[0]}"
        else:
            text = f"{names} is made of two: {listed(where)}; {group.words}"
        points = dict.fromkeys(p for part in there for p in landings(story.found, part))
        yield tell(group.kind, text, about=drawn, seen=there, points=tuple(points), harmless=True)


def loose_parts(story: Story) -> Iterator[Finding]:
    """Missing parts and extra ones; where both are the same part, it sits in a wrong place."""
    groups = story.match.groups
    matched = {fit.i for fit in story.match.fits} | {i for g in groups for i in g.drawn}
    used = {fit.j for fit in story.match.fits} | {j for g in groups for j in g.found}
    missing = [i for i in range(len(story.drawing.smalls)) if i not in matched]
    extra = [j for j in range(len(story.board.smalls)) if j not in used]
    for i in list(missing):
        for j in list(extra):
            if told := _same_part(story, i, j):
                yield told
                missing.remove(i)
                extra.remove(j)
                break
    yield from (_extra(story, j) for j in extra)
    taken: list[str] = []
    for i in missing:
        yield _missing(story, i, taken)


def _same_part(story: Story, i: int, j: int) -> Finding | None:
    """One finding for a missing part and an extra one that belong together, or none."""
    wanted, fitted = story.drawn(i), story.there(j)
    if UNSEEN in fitted.at or wanted.part.optional:
        return None
    if wanted.part.kind != fitted.part.kind or len(wanted.at) != 2:
        return None
    return None if judge(wanted.part, fitted.part).wrong else _elsewhere(story, i, j)


def _elsewhere(story: Story, i: int, j: int) -> Finding | None:
    wanted, fitted = story.drawn(i).part, story.there(j).part
    if any(story.found.landing(p) == p for p in fitted.points):
        return None
    new = _targets(story, i)
    old = [story.found.landing(p) for p in fitted.points]
    moves = [Move(p, a, b) for p, a, b in zip(fitted.points, old, new, strict=True) if a != b]
    text = (
        f"both leads of {wanted.name} ({described(fitted)}) are on the wrong points: it sits"
        f"{between(old)} and belongs{between(new)}"
    )
    return tell(
        "wrong-point",
        text,
        f"move {wanted.name} to {new[0]} and {new[1]}",
        about=(wanted,),
        seen=(fitted,),
        points=(*old, *new),
        remedy=moves,
    )


def _targets(story: Story, i: int) -> list[Point]:
    wanted = story.drawn(i)
    return [story.spots.best(node, None, story.landing(i, s)) for s, node in enumerate(wanted.at)]


def _extra(story: Story, j: int) -> Finding:
    part = story.there(j).part
    text = f"{found_part(story.found, part)} is not on the drawing"
    return tell(
        "part-extra",
        text,
        "take it out",
        seen=(part,),
        points=landings(story.found, part),
        remedy=(Remove(part.name),),
    )


def _missing(story: Story, i: int, taken: list[str]) -> Finding:
    wanted = story.drawn(i).part
    points = _targets(story, i)
    name = story.free_name(wanted.name, taken)
    taken.append(name)
    text = f"{drawn_part(wanted)} is missing{between(points)}"
    if wanted.optional:
        text += "; the drawing says that it may be left out"
        return tell("part-missing", text, about=(wanted,), points=points, harmless=True)
    fit = Fit(replace(wanted, name=name), tuple(zip(wanted.terminals, points, strict=True)))
    return tell(
        "part-missing",
        text,
        f"fit {article(described(wanted))}{_rated(wanted)}{between(points)}",
        about=(wanted,),
        points=points,
        remedy=(fit,),
    )
