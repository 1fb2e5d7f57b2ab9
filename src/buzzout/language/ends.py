"""The ends of a part or wire as they were typed: places, signs, what a lead passes through."""

from __future__ import annotations

from dataclasses import dataclass

from lark import Token, Tree

from buzzout.circuit import KINDS, article
from buzzout.language.grammar import Node
from buzzout.language.values import designation

_SIGNS = {
    "electrolytic": {"+": "+", "-": "-"},
    # common practice: the cathode of a rectifier is its + end
    "diode": {"a": "a", "k": "k", "+": "k", "-": "a"},
}
_BRIDGE = "D1 bridge T1.red1 ~ T1.red2 ~ C1.square + chassis -"


@dataclass(frozen=True)
class Place:
    """One end: the spot, the sign behind it, the spots that the lead passes on its way."""

    item: Node
    sign: str = ""
    through: tuple[Node, ...] = ()

    @property
    def unseen(self) -> bool:
        """Whether nobody could see where this end goes."""
        return designation(self.item) == "?"

    @property
    def loose(self) -> bool:
        """Whether this end is soldered to nothing."""
        return designation(self.item).lower() == "air"


@dataclass(frozen=True)
class Ends:
    """All ends of a statement; with `far_only` the near one is the heading above."""

    places: tuple[Place, ...] = ()
    far_only: bool = False
    near_sign: str = ""

    @property
    def signs(self) -> tuple[str, ...]:
        """The sign of each end, the heading's first."""
        behind = tuple(place.sign for place in self.places)
        return (self.near_sign, *behind) if self.far_only else behind


@dataclass(frozen=True)
class Signs:
    """Which terminal each end is; `unread` when nobody saw it; else an error with its hint."""

    terminals: tuple[str, ...] = ()
    unread: bool = False
    error: str = ""
    hint: str = ""


def ends_of(tree: Node) -> Ends:
    """The ends that a `part` or `wire` tree gives."""
    holder = next((c for c in tree.children if isinstance(c, Tree) and c.data == "ends"), None)
    if holder is None:
        return Ends()
    inner = holder.children[0]
    far = isinstance(inner, Tree) and inner.data == "far"
    items = inner.children if far and isinstance(inner, Tree) else holder.children
    signs = [str(c).lower() for c in items if isinstance(c, Token)]
    places = tuple(_place(c) for c in items if isinstance(c, Tree))
    return Ends(places, far, signs[0] if signs else "")


def _place(tree: Node) -> Place:
    spot, *rest = tree.children
    signs = [str(c).lower() for c in rest if isinstance(c, Token)]
    passed = [c.children[0] for c in rest if isinstance(c, Tree)]
    return Place(
        spot if isinstance(spot, Tree) else Tree("spot", [spot]),
        signs[0] if signs else "",
        tuple(p for p in passed if isinstance(p, Tree)),
    )


def signed(kind: str, signs: tuple[str, ...], *, must: bool) -> Signs:
    """Terminals from signs. `must`: a drawing has to say which end is which."""
    if kind == "bridge":
        return _bridge(signs)
    terminals = KINDS[kind].terminals
    table = _SIGNS.get(kind)
    given = [sign for sign in signs if sign]
    if table is None:
        hint = "is it an electrolytic?" if kind == "capacitor" else "leave the sign out"
        return (
            Signs(error=f"{article(kind)} has no {given[0]} end", hint=hint)
            if given
            else Signs(terminals)
        )
    if not given:
        if not must:
            return Signs(terminals, unread=True)
        a, b = terminals
        return Signs(
            error=f"which end of this {kind} is which?",
            hint=f"put {a} and {b} behind the two ends: V1.3 {a} chassis {b}",
        )
    known = [table.get(sign, "") for sign in signs]
    other = dict(zip(terminals, reversed(terminals), strict=True))
    known = [a or other.get(b, "") for a, b in zip(known, reversed(known), strict=True)]
    if len(set(known)) < len(known) or "" in known:
        return Signs(
            error=f"the signs {' '.join(given)} do not make sense on {article(kind)}",
            hint=f"its ends are {' and '.join(terminals)}",
        )
    return Signs(tuple(known))


def _bridge(signs: tuple[str, ...]) -> Signs:
    if sorted(signs) != ["+", "-", "~", "~"]:
        return Signs(error="a bridge has four ends, marked ~ ~ + -", hint=_BRIDGE)
    free = iter(("~1", "~2"))
    return Signs(tuple(next(free) if sign == "~" else sign for sign in signs))


def ends_missing(kind: str, count: int, under: str = "") -> tuple[str, str]:
    """What to say of a part with too few ends, and the likely fix; `under` is the heading."""
    if kind == "bridge":
        return "a bridge has four ends, each with its sign", _BRIDGE
    if count and under:
        return f"this {kind} has one end only", f"from {under}, write to before the far end"
    if count:
        return f"this {kind} has one end only", "add the other end; ? where it cannot be seen"
    return f"this {kind} has no ends", "say where it sits: V1.3 chassis; under an at line: to V1.2"
