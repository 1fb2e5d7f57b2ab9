"""Rules and comparison together: nothing is told twice.

A rule that the chassis breaks and the drawing does not is the work of a finding: the one whose
remedy ends it. That finding takes the rule's severity and reason. What the drawing breaks itself
stands in the list as an item of its own; a departure resolves it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from buzzout.circuit import CannotApply, Circuit, Edit, Point, apply
from buzzout.compare import Comparison, Finding
from buzzout.job.judge import judged
from buzzout.job.rulebook import Judgement, Violation, rules

_OWN = "The drawing itself has it, and the chassis is as drawn: {text}."
_DRAWN = "The drawing itself has it, this chassis has not: {text}."
_LATER = "The drawing itself has it, and so has the chassis once it is as drawn: {text}."
_DEPART = " A departure from the drawing resolves it."
_KEEP = "Keep it so, and write the departure down."


@dataclass(frozen=True)
class Weighed:
    """What the rules make of a comparison.

    `broken` are the violations behind each finding, in the order of the findings; `alone` those
    that no finding tells, ready to be told; `board` is the judgement of the chassis as found.
    """

    broken: tuple[tuple[Violation, ...], ...]
    alone: tuple[Violation, ...]
    board: Judgement


def weigh(comparison: Comparison, *, lent: bool = False) -> Weighed:
    """Judge drawing and chassis, and lay each violation where it belongs.

    A rule that the drawing alone breaks is not told of a part that breaks one on the chassis too.
    `lent`: windings of the chassis have figures of the drawing.
    """
    board = judged(comparison.found, lent=lent)
    drawing = judged(comparison.reference, frozenset(rules()), board)
    broken_now = frozenset(v.kind for v in board.violations)
    kept = {v.key for v in judged(comparison.repaired, broken_now, drawing).violations}
    own = {v.kind for v in drawing.violations}
    shared = [v for v in board.violations if v.key in kept and v.kind in own]
    new = [v for v in board.violations if v not in shared]
    caused = _causes(comparison, [v for v in new if v.key not in kept], board)
    same = ([v for v in new if v.key in kept and _same(f, v)] for f in comparison.findings)
    broken = tuple((*a, *b) for a, b in zip(caused, same, strict=True))
    worse = {n for f, b in zip(comparison.findings, broken, strict=True) if b for n in f.parts}
    drawn = [_drawing(v, comparison, shared) for v in drawing.violations]
    drawn = [v for v in drawn if v.found or not worse & set(v.parts)]
    told = {(v.kind, frozenset(v.found)) for v in drawn} | {v.key for each in broken for v in each}
    alone = [_board(v) for v in board.violations if v.key not in told]
    return Weighed(broken, tuple(_numbered([*drawn, *alone])), board)


def _causes(
    comparison: Comparison, new: Sequence[Violation], board: Judgement
) -> tuple[tuple[Violation, ...], ...]:
    """For each finding the violations that end with it, or that it alone brings about."""
    findings = comparison.findings
    if not new:
        return ((),) * len(findings)
    kinds = frozenset(v.kind for v in new)
    without = [_keys(comparison.found, f.remedy, kinds, board) for f in findings]
    ended = [{v.key for v in new if k is not None and v.key not in k} for k in without]
    orphans = {v.key for v in new} - set().union(*ended)
    if orphans:
        edits = (only_this(findings, f) for f in findings)
        alone = [_keys(comparison.found, each, kinds, board) for each in edits]
        ended = [e | (orphans & (k or set())) for e, k in zip(ended, alone, strict=True)]
    return tuple(tuple(v for v in new if v.key in keys) for keys in ended)


def _same(finding: Finding, broken: Violation) -> bool:
    """Whether a rule that no remedy ends speaks of the same thing as a finding.

    A fuse that nobody has read; a two-core lead whose earth conductor the drawing joins somewhere.
    """
    if broken.kind == "fuse-unknown":
        names = {*finding.parts, *finding.found}
        return finding.kind == "not-verified" and names >= set(broken.parts)
    earths = {Point(name, "E") for name in broken.parts}
    return broken.kind == "no-earth" and bool(earths & set(finding.points))


def _keys(
    circuit: Circuit, edits: Sequence[Edit], kinds: frozenset[str], board: Judgement
) -> set[tuple[str, frozenset[str]]] | None:
    """Violations of a circuit after some edits; None where there is nothing to do or to be done."""
    if not edits:
        return None
    try:
        changed = apply(circuit, edits)
    except CannotApply:
        return None
    return {v.key for v in judged(changed, kinds, board).violations}


def only_this(findings: Iterable[Finding], kept: Finding) -> tuple[Edit, ...]:
    """Edits that leave a chassis with one finding: the remedies of all others."""
    return tuple(edit for f in findings if f is not kept for edit in f.remedy)


def _drawing(broken: Violation, comparison: Comparison, shared: Sequence[Violation]) -> Violation:
    """A violation of the drawing, told with where the chassis has it."""
    parts = frozenset(n for name in broken.parts for n in _found(comparison, name))
    alike = [v for v in shared if v.kind == broken.kind]
    same = next((v for v in alike if parts & set(v.parts)), None)
    if same is None and len(alike) == 1:
        same = alike[0]
    if same is None and _touched(comparison) & set(broken.parts):
        text = _DRAWN.format(text=broken.text)
        return replace(broken, text=text, action=_KEEP, about="note")
    found = same.parts if same else tuple(sorted(parts))
    spans = tuple(comparison.found.parts[n].span for n in found if n in comparison.found.parts)
    return replace(
        broken,
        text=(_OWN if same else _LATER).format(text=broken.text),
        action=broken.todo + _DEPART,
        found=found,
        points=same.points if same else broken.points,
        spans=spans,
    )


def _touched(comparison: Comparison) -> set[str]:
    """Drawn parts that any difference is about, or sits at."""
    owners = {point.owner for finding in comparison.findings for point in finding.points}
    return owners.union(*(finding.parts for finding in comparison.findings))


def _found(comparison: Comparison, name: str) -> tuple[str, ...]:
    return comparison.matching.parts.get(name, (name,)) or (name,)


def _board(broken: Violation) -> Violation:
    """A violation of the chassis that neither the drawing nor a finding tells."""
    text = f"{broken.text[:1].upper()}{broken.text[1:]}."
    return replace(broken, text=text, action=broken.todo, found=broken.parts)


def _numbered(broken: Sequence[Violation]) -> list[Violation]:
    """Ids that stay the same while the files do: the rule, its parts and its points."""
    return [replace(v, id=":".join((v.kind, *v.parts, *map(str, v.points)))) for v in broken]
