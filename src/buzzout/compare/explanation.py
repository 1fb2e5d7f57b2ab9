"""An explanation of the board by the drawing: who is who, and what it costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import ceil

from buzzout.compare import costs
from buzzout.compare.compounds import Group
from buzzout.compare.fits import Fit
from buzzout.compare.furniture import Turn


@dataclass(frozen=True)
class Match:
    """A whole explanation, with its cost and the proven bound in bare costs.

    `crossed` are sockets each of which is wired as the next one, the last as the first. `lacks`
    tells how many connections a node lacks, `made` the nodes of those that a moved wire will make.
    """

    fits: tuple[Fit, ...] = ()
    groups: tuple[Group, ...] = ()
    node_at: Mapping[int, int] = field(default_factory=dict)
    turns: Mapping[str, tuple[Turn, ...]] = field(default_factory=dict)
    crossed: tuple[tuple[str, ...], ...] = ()
    exchanged: tuple[tuple[int, ...], ...] = ()
    lacks: Mapping[int, int] = field(default_factory=dict)
    made: tuple[int, ...] = ()
    cost: float = 0.0
    bound: float = 0.0
    steps: int = 0

    def harmless(self, name: str, pin: str) -> str:
        """The pin used for the one meant when all that is harmful is mended."""
        first, *others = self.turns[name]
        on = first(pin)
        for turn in others:
            on = turn(on) if turn.harmless else on
        if first.harmless:
            return on
        return {used: meant for meant, used in first.moved.items()}.get(on, on)

    @property
    def errors(self) -> int:
        """How many physical errors it speaks of."""
        return costs.errors(self.cost)

    @property
    def certain(self) -> int:
        """How many physical errors are certain."""
        return min(certain(self.bound), self.errors)

    @property
    def proven(self) -> bool:
        """No explanation has fewer errors."""
        return self.certain == self.errors


def certain(bound: float) -> int:
    """Errors that a bound in bare costs makes certain.

    Bare costs come in halves of an error, and the bound is computed from the prices: it is off by
    rounding alone, far less than the millionth of an error that is let pass here.
    """
    return max(0, ceil(bound / costs.ERROR - 1e-6))
