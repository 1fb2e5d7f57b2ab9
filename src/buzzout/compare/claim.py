"""What an explanation claims of the board once it is repaired: who is who, pin for pin."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator

from buzzout.circuit import Circuit, Fit
from buzzout.compare.compounds import Group
from buzzout.compare.explanation import Match
from buzzout.compare.findings import Finding
from buzzout.compare.model import Pair
from buzzout.compare.prove import Claim, Together, Witness


def claim(pair: Pair, match: Match, findings: Iterable[Finding], repaired: Circuit) -> Claim:
    """The claim that `prove.py` checks; `repaired` is the board after the remedies."""
    as_found = tuple(_as_found(pair, match, repaired))
    told = {witness.part for witness in as_found}
    made = tuple(_made_good(pair, findings, told))
    together = tuple(_together(pair, group) for group in match.groups)
    return Claim(as_found + made, _harmless_pins(match), together)


def _as_found(pair: Pair, match: Match, repaired: Circuit) -> Iterator[Witness]:
    """Parts that the board has: each terminal where the pairing says it is.

    A part turned round goes by the other end then, one of another kind by its own terminals.
    """
    for fit in match.fits:
        wanted, fitted = pair.drawing.smalls[fit.i].part, pair.board.smalls[fit.j].part
        used = tuple(fitted.terminals[t] for t in fit.ends)
        after = repaired.parts.get(fitted.name, fitted)
        if after.terminals != fitted.terminals:
            used = wanted.terminals
        elif fit.reversed:
            used = used[::-1]
        ends = tuple(zip(wanted.terminals, used, strict=True))
        yield Witness(wanted.name, fitted.name, ends)


def _made_good(pair: Pair, findings: Iterable[Finding], told: Container[str]) -> Iterator[Witness]:
    """Parts that no found one was taken for: fitted now, or brought from where they sat."""
    drawn = {small.part.name: small.part for small in pair.drawing.smalls}
    for finding in findings:
        name = finding.parts[0] if finding.parts and finding.remedy else ""
        if name in drawn and name not in told:
            fitted = [edit.part.name for edit in finding.remedy if isinstance(edit, Fit)]
            ends = tuple((terminal, terminal) for terminal in drawn[name].terminals)
            yield Witness(name, (*fitted, *finding.found)[0], ends)


def _together(pair: Pair, group: Group) -> Together:
    """What a group claims: its outer leads, and the node between where it has one."""
    drawn = [pair.drawing.smalls[i] for i in group.drawn]
    there = {j: pair.board.smalls[j].part for j in group.found}
    points = [(p, n) for s in drawn for p, n in zip(s.part.points, s.at, strict=True)]
    ends = tuple(
        (next(p for p, n in points if n == node), there[j].points[t])
        for node, _, j, t in group.ties
    )
    outer = {used for _, used in ends}
    inner = tuple(p for part in there.values() for p in part.points if p not in outer)
    return Together(
        tuple(s.part.name for s in drawn), tuple(p.name for p in there.values()), ends, inner
    )


def _harmless_pins(match: Match) -> dict[str, dict[str, str]]:
    """Pin meant to pin used after all remedies: the harmless exchanges stay as they are."""
    table: dict[str, dict[str, str]] = {}
    for name, turns in match.turns.items():
        pins = sorted({pin for turn in turns if turn.harmless for pin in turn.moved})
        pins += [] if turns[0].harmless else sorted(turns[0].moved.keys() - set(pins))
        if used := {pin: on for pin in pins if (on := match.harmless(name, pin)) != pin}:
            table[name] = used
    return table
