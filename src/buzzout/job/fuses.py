"""Rules of the fuse: value told, neither too small nor too large, against computed currents.

A fuse is held against four currents: full load, the first seconds with cold heaters, the moment of
switching on, and a shorted reservoir. What it must stand and when it must melt is in `fuses.yaml`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from buzzout.circuit import Part, listed, printed
from buzzout.job.rulebook import FuseLink, Violation, figure, fuse_link, fuse_values, violation
from buzzout.job.supplyline import SupplyLine
from buzzout.job.told import amps

if TYPE_CHECKING:
    from buzzout.job.draws import Draws


def fuse_for(current: float) -> float:
    """The preferred slow fuse for a full-load primary current [A] to [A]."""
    wanted = current * figure("fuse-factor")
    return next((v for v in fuse_values() if v >= wanted), fuse_values()[-1])


@dataclass(frozen=True)
class Fused:
    """One fuse of the mains with what flows through it."""

    fuse: Part
    draws: Draws

    @property
    def rated(self) -> float:
        """Marked current, 0 where nobody told it. [A]."""
        return self.fuse.value.value if self.fuse.value else 0.0

    @property
    def speed(self) -> str:
        """As marked, "" where nobody told it."""
        return next((s for s in self.fuse.style if s in ("slow", "fast")), "")

    def link(self, unmarked: str) -> FuseLink | None:
        """Its sheet; where the speed is not marked, that of the speed given."""
        return fuse_link(self.rated, self.speed or unmarked) if self.rated > 0 else None

    def __str__(self) -> str:
        """`F1 (500mA slow)`."""
        value = printed(self.rated, "A") if self.rated > 0 else "value not told"
        return f"{self.fuse.name} ({value}{f' {self.speed}' if self.speed else ''})"

    @property
    def told(self) -> Iterator[str]:
        """What it carries, what it has to stand and when it goes, as far as that is known."""
        draws = self.draws
        known = (
            (f"at full load, windings {draws.marked}", draws.full_load),
            (f"running, computed without signal{self._set}", draws.running),
            ("in the first seconds, heaters cold", draws.cold),
        )
        currents = [f"{amps(value)} {when}" for when, value in known if value > 0]
        if currents:
            yield f"{self}: {', '.join(currents)}"
        if (link := self.link("fast")) is not None:
            yield from self._switching(link)
        if (link := self.link("slow")) is not None:
            yield from self._shorted(link)

    @property
    def _set(self) -> str:
        """How the controls of the bias stand for that, and what it is at their other end."""
        draws = self.draws
        if not draws.turned:
            return ""
        other = f"{amps(draws.turned)} with {'them' if len(draws.bias) > 1 else 'it'} anticlockwise"
        return f" with {listed(draws.bias)} fully clockwise ({other})"

    def _switching(self, link: FuseLink) -> Iterator[str]:
        draws = self.draws
        least = f"{link.mark} {printed(link.rated, 'A')} must stand {_energy(link.stands)}"
        stands = f"it stands the usual inrush, {_energy(draws.usual_surge)}"
        if math.isfinite(draws.peak):
            bound = (
                f"at the worst instant of switching on {amps(draws.peak)} and"
                f" {_energy(draws.surge)} in the first half cycle at the very most (the resistance"
                f" of the primary allows no more), {least}"
            )
            stands = "it stands that" if draws.surge <= link.stands else f"{stands}, not that"
        elif draws.side.isolated and draws.usual_surge:
            bound = f"nobody told the ohms of the primary, which bound the switching on; {least}"
        else:
            return
        blows = draws.surge > link.stands < draws.usual_surge
        yield f"{self}: {bound} by {link.sheet}: {'it may blow' if blows else stands}"

    def _shorted(self, link: FuseLink) -> Iterator[str]:
        current, at = self.draws.shorted
        if at is not None and current > 0:
            flows = f"about {amps(current)}{self.draws.guessed}"
            yield f"{self}: with {at} shorted {flows}, {_melting(link, current)}"


def fuses(side: SupplyLine) -> tuple[Fused, ...]:
    """Fuses between the mains lead and the load."""
    near = side.line_side | side.neutral_side
    return tuple(
        Fused(part, side.draws)
        for part in side.circuit.parts.values()
        if part.kind == "fuse" and side.ways.nodes(part.points) & near
    )


def _energy(value: float) -> str:
    return f"{float(f'{value:.2g}'):g} A²s"


def _melting(link: FuseLink, current: float) -> str:
    """What the standard asks of a fuse at a current."""
    if link.carries(current):
        return f"which {link.sheet} lets it carry for an hour and longer"
    within = link.melts(current)
    if math.isinf(within):
        return f"for which {link.sheet} asks no time of it"
    time = f"{within:g} s" if within < 120 else f"{within / 60:g} min"
    return f"which must blow it within {time}"


def fuse_value(side: SupplyLine) -> Iterator[Violation]:
    """Fuses on the line: value told, not below the load, not far above it, fit to be switched on.

    The inrush of a transformer is known only between a bound and what the trade expects; told is
    what breaks even the latter.
    """
    for each in fuses(side):
        current, _ = each.draws.most
        if each.rated <= 0:
            yield _broken("fuse-unknown", each, f"the value of {each.fuse.name} is not known")
        elif 0 < current * figure("fuse-most") < each.rated:
            yield _unfit("fuse-too-large", each)
        elif each.rated < current:
            yield _unfit("fuse-too-small", each)
        else:
            yield from _stays(each)
        yield from _inrush(each)


def _unfit(rule: str, each: Fused) -> Violation:
    """What fits is what to do: a line that has the drawn fuse fitted says one value, not two."""
    current, words = each.draws.most
    text = f"{each.fuse.name} is {printed(each.rated, 'A')}, {words.format(amps(current))}"
    fitting = printed(fuse_for(current), "A")
    factor = figure("fuse-factor")
    action = f"Fit a slow one of {fitting}: {factor:g} times that current, or the next value above."
    return replace(_broken(rule, each, text), action=action)


def _stays(each: Fused) -> Iterator[Violation]:
    """A shorted reservoir that it may carry for good."""
    link, (current, at) = each.link("slow"), each.draws.shorted
    if link is not None and at is not None and link.carries(current):
        flows = f"about {amps(current)}{each.draws.guessed}"
        text = f"with {at} shorted {each} carries {flows}, {_melting(link, current)}"
        yield replace(_broken("fuse-stays", each, text), action=_smallest(each, current))


def _smallest(each: Fused, shorted: float) -> str:
    """The smallest slow fuse that carries the load, and what else where a short leaves it whole."""
    load, _ = each.draws.most
    value = fuse_for(load)
    link = fuse_link(value, "slow")
    if load <= 0 or link is None:
        return ""
    if link.carries(shorted):
        told = f"{printed(value, 'A')} slow, the smallest that carries the load, stays whole too"
        return f"Fit a second fuse, in the lead of the HT winding: {told}."
    told = "the smallest that carries the load and stands the usual inrush"
    return f"Fit a slow one of {printed(value, 'A')}: {told}."


def _inrush(each: Fused) -> Iterator[Violation]:
    link, draws = each.link("slow"), each.draws
    current, _ = draws.most
    if link is None or not each.draws.side.isolated:
        return
    if current == 0 and each.speed == "fast":
        text = f"{each.fuse.name} is a fast one, before a transformer"
        yield _broken("fuse-inrush", each, text)
    elif draws.usual_surge > link.stands < draws.surge:
        text = (
            f"{each} must stand {_energy(link.stands)} by its standard, and the inrush of this"
            f" transformer may be {_energy(draws.usual_surge)}"
        )
        yield _broken("fuse-inrush", each, text)


def _broken(rule: str, each: Fused, text: str) -> Violation:
    return violation(rule, text, (each.fuse.name,), each.fuse.points[:1])
