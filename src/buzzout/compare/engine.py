"""The comparison itself: build both sides, match them, explain the difference, prove it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import replace

from buzzout.circuit import CannotApply, Circuit, apply
from buzzout.compare.about_contents import CONTENTS
from buzzout.compare.claim import claim
from buzzout.compare.explain import explain
from buzzout.compare.explanation import Match
from buzzout.compare.findings import DEFAULT_EFFORT, Comparison, Finding, Matching, Proof
from buzzout.compare.furniture import Turn
from buzzout.compare.joints import jointed
from buzzout.compare.match import match
from buzzout.compare.model import VOID, Pair, build
from buzzout.compare.percolate import percolated
from buzzout.compare.prove import differences
from buzzout.compare.refine import CHOICES, node_of_place, same
from buzzout.compare.regions import Rest
from buzzout.compare.settle import all_in_order, settle
from buzzout.compare.story import distinct
from buzzout.compare.task import task
from buzzout.compare.together import LARGEST, by_regions, look_again

FEW_CHOICES = 200  # with furniture to hold on to
LOOKED = 5  # share of the effort that a second look has; the rest is for the proof
AGAIN = 2  # times that what the remedies left undone is explained anew
WHOLE_BOARD = 2500  # small parts; larger boards are explained by regions alone, without a bound
Progress = Callable[[str, float], None]


def compare(
    reference: Circuit,
    found: Circuit,
    effort: int = DEFAULT_EFFORT,
    progress: Progress | None = None,
) -> Comparison:
    """Compare a found circuit with its reference.

    Parameters
    ----------
    reference, found : Circuit
        The drawing and the board. Furniture is known by name; small parts by what they are.
    effort : int
        How many steps, pivots of the solver, the search may take before it reports what it has.
    progress : callable, optional
        Called with what is being done and how far it is, from 0 to 1.

    Returns
    -------
    Comparison
        The findings with their proof. The same input gives the same answer.
    """
    say = progress or (lambda _what, _share: None)
    found = jointed(found)
    result = _compared(reference, found, effort, say)
    for _ in range(AGAIN):
        if result.proof.sufficient or result.repaired is found:
            break
        result = _with_the_rest(result, _compared(reference, result.repaired, effort, say))
    return result


def _compared(reference: Circuit, found: Circuit, effort: int, say: Progress) -> Comparison:
    say("reading both sides", 0)
    pair = build(reference, found)
    say("matching", 0.1)
    best = _best(pair, effort, say)
    say("explaining", 0.8)
    findings = explain(pair, best)
    say("proving", 0.9)
    return _proven(pair, best, findings)


def _with_the_rest(first: Comparison, rest: Comparison) -> Comparison:
    """What the first remedies left undone, told as well. Its list is no longer the shortest."""
    harmful = tuple(f for f in rest.findings if not f.harmless and f.kind != "not-verified")
    proof = replace(
        rest.proof,
        cost=first.proof.cost + rest.proof.cost,
        bound=first.proof.bound,
        minimal=False,
        steps=first.proof.steps + rest.proof.steps,
    )
    findings = tuple(distinct((*first.findings, *harmful)))
    return replace(first, findings=findings, proof=proof, repaired=rest.repaired)


def _best(pair: Pair, effort: int, say: Progress) -> Match:
    """The best explanation. That of a very large board comes from its regions, without a bound."""
    fits = same(pair, CHOICES if no_anchors(pair) else FEW_CHOICES)
    if isinstance(fits, tuple):
        return all_in_order(pair, fits, node_of_place(pair, fits))
    size = max(len(pair.drawing.smalls), len(pair.board.smalls))
    known, large = None, size > WHOLE_BOARD
    if size > LARGEST // 2:  # of both sides together: else no region can be too large
        settled = settle(pair)
        if settled.whole(pair):
            return all_in_order(pair, settled.fits, settled.node_at)
        known = _by_parts(Rest(pair, settled), effort, say, large=large)
    if known and large:
        return known
    best = match(task(pair), effort - (known.steps if known else 0), say, known=known)
    if known:
        first = best if best.proven or best.cost <= known.cost else known
        best = replace(first, bound=best.bound, steps=known.steps + best.steps)
    return best


def _by_parts(rest: Rest, effort: int, say: Progress, *, large: bool) -> Match | None:
    """The best explanation of the parts of a rest, where that is too large to be searched whole."""
    if rest.largest > LARGEST and not (large and rest.scattered):
        return _boldly(rest, effort // 2, say)
    return by_regions(rest, effort, say) if large or rest.scattered else None


def _boldly(rest: Rest, effort: int, say: Progress) -> Match:
    """The best explanation of a rest that hangs together: each node is named, then looked at again.

    Of the names those are taken under which more parts are in order.
    """
    bold = Rest(rest.pair, settle(rest.pair, percolated(rest.pair)))
    better = max(rest, bold, key=lambda each: len(each.settled.fits))
    first = by_regions(better, effort, say)
    return look_again(rest.pair, first, min(effort, first.steps + effort // LOOKED), say)


def no_anchors(pair: Pair) -> bool:
    """No furniture to hold on to: then the likeness of small parts decides everything."""
    return len(pair.drawing.pins) == 1


def _proven(pair: Pair, best: Match, findings: list[Finding]) -> Comparison:
    reference, found = pair.drawing.circuit, pair.board.circuit
    repaired, why = found, []
    try:
        repaired = apply(found, [edit for finding in findings for edit in finding.remedy])
    except CannotApply as error:
        why = [str(error)]
    why += differences(reference, repaired, claim(pair, best, findings, repaired))
    furniture = sum(
        not f.harmless and f.kind != "not-verified" and _about_furniture(pair, f) for f in findings
    )
    cost, bound = best.errors + furniture, best.certain + furniture
    proof = Proof(not why, bound >= cost, cost, bound, best.steps, tuple(why))
    return Comparison(reference, found, tuple(findings), proof, _matching(pair, best), repaired)


def _about_furniture(pair: Pair, finding: Finding) -> bool:
    """What sits in a piece of furniture is wrong; this costs one whatever the match."""
    return (
        finding.kind in CONTENTS and bool(finding.parts) and finding.parts[0] in pair.board.called
    )


def _matching(pair: Pair, best: Match) -> Matching:
    parts: dict[str, tuple[str, ...]] = {
        name: (there,) for name, there in pair.board.called.items()
    }
    for fit in best.fits:
        wanted, fitted = pair.drawing.smalls[fit.i].part, pair.board.smalls[fit.j].part
        parts[wanted.name] = (fitted.name,)
    for group in best.groups:
        for i in group.drawn:
            parts[pair.drawing.smalls[i].part.name] = tuple(
                pair.board.smalls[j].part.name for j in group.found
            )
    return Matching(parts, _matched_nodes(pair, best), _used_pins(pair, best))


def _matched_nodes(pair: Pair, best: Match) -> dict[int, tuple[int, ...]]:
    nodes: dict[int, set[int]] = defaultdict(set)
    for place, node in best.node_at.items():
        points = pair.board.places[place]
        if node != VOID and points[0] in pair.board.circuit.node_of:
            nodes[_drawn_node(pair, node)].add(pair.board.circuit.node_of[points[0]])
    return {n: tuple(sorted(v)) for n, v in sorted(nodes.items())}


def _used_pins(pair: Pair, best: Match) -> dict[str, dict[str, str]]:
    """Pin meant to pin used, for furniture where they differ."""
    pins = {}
    for name, turns in best.turns.items():
        used = {pin: _turned(pin, turns) for pin in pair.drawing.pins[name]}
        if moved := {pin: at for pin, at in used.items() if at != pin}:
            pins[name] = moved
    return pins


def _turned(pin: str, turns: Iterable[Turn]) -> str:
    for turn in turns:
        pin = turn(pin)
    return pin


def _drawn_node(pair: Pair, node: int) -> int:
    """A node of the model as the circuit itself numbers it."""
    return pair.drawing.circuit.node_of[pair.drawing.nodes[node][0]]
