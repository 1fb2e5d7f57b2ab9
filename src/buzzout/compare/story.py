"""What the explaining functions share: both sides, the match, the choice of points."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from buzzout.circuit import Circuit, Edit, Part, Point, Span
from buzzout.compare.explanation import Match
from buzzout.compare.findings import Finding
from buzzout.compare.fits import Fit
from buzzout.compare.model import Board, Drawing, Pair, Small, joined_inside
from buzzout.compare.spots import Spots
from buzzout.compare.words import sentence


@dataclass(frozen=True)
class Story:
    """Context of one explanation."""

    pair: Pair
    match: Match
    spots: Spots

    @property
    def drawing(self) -> Drawing:
        """The reference side."""
        return self.pair.drawing

    @property
    def board(self) -> Board:
        """The found side."""
        return self.pair.board

    @property
    def found(self) -> Circuit:
        """The found circuit as it was written down."""
        return self.pair.board.circuit

    def drawn(self, i: int) -> Small:
        """Small part `i` of the drawing."""
        return self.pair.drawing.smalls[i]

    def there(self, j: int) -> Small:
        """Small part `j` of the board."""
        return self.pair.board.smalls[j]

    def wanted(self, part: Part) -> Part | None:
        """The drawn part that a found one is, if it is one of its own."""
        fits = (fit for fit in self.match.fits if self.there(fit.j).part is part)
        return next((self.drawn(fit.i).part for fit in fits), None)

    def landing(self, i: int, s: int) -> Point:
        """Where the drawing lands terminal number `s` of part `i`."""
        part = self.drawn(i).part
        return self.pair.drawing.circuit.landing(part.point(part.terminals[s]))

    def inside(self) -> Iterator[tuple[int, int]]:
        """Places that the valves join inside once all pins are what they are meant for."""
        target = {
            name: to
            for ring in self.match.crossed
            for name, to in zip(ring, ring[1:] + ring[:1], strict=True)
        }
        for name in self.board.called:
            places = self.board.pins[target.get(name, name)]
            for a, b in joined_inside(self.drawing.circuit.parts[name]):
                yield places[self._used(name, a.pin)], places[self._used(name, b.pin)]

    def _used(self, name: str, pin: str) -> str:
        for turn in self.match.turns[name]:
            pin = turn(pin)
        return pin

    def belongs(self, fit: Fit, s: int) -> Point:
        """Where the found lead for terminal number `s` goes: where it is, if that is right."""
        part = self.there(fit.j).part
        here = self.found.landing(part.point(part.terminals[fit.ends[s]]))
        if fit.kept[s]:
            return here
        return self.spots.best(self.drawn(fit.i).at[s], here, self.landing(fit.i, s))

    def free_name(self, wanted: str, taken: Iterable[str] = ()) -> str:
        """A name for a part to be fitted that no found part has."""
        known = {*self.found.parts, *taken}
        while wanted in known:
            wanted += "'"
        return wanted


def tell(  # noqa: PLR0913 - the fields of a finding, all by name
    kind: str,
    text: str,
    action: str = "",
    *,
    about: Sequence[Part] = (),
    seen: Sequence[Part] = (),
    points: Sequence[Point] = (),
    remedy: Sequence[Edit] = (),
    spans: Sequence[Span] = (),
    harmless: bool = False,
) -> Finding:
    """A finding whose id is made of what it is: kind, drawn parts, points."""
    names = tuple(part.name for part in about)
    key = [kind, *(["+".join(names)] if names else []), *map(str, points)]
    return Finding(
        id=":".join(key),
        kind=kind,
        text=sentence(text),
        action=sentence(action) if action else "",
        harmless=harmless,
        parts=names,
        found=tuple(part.name for part in seen),
        points=tuple(points),
        remedy=tuple(remedy),
        spans=tuple(dict.fromkeys(s for s in (*(p.span for p in seen), *spans) if s.line)),
        reference_spans=tuple(dict.fromkeys(p.span for p in about if p.span.line)),
    )


def distinct(findings: Iterable[Finding]) -> list[Finding]:
    """The findings with ids made different where two are otherwise the same."""
    count: dict[str, int] = {}
    told = []
    for finding in findings:
        count[finding.id] = count.get(finding.id, 0) + 1
        n = count[finding.id]
        told.append(finding if n == 1 else replace(finding, id=f"{finding.id}~{n}"))
    return told
