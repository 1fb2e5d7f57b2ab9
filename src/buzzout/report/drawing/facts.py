"""What is printed beside a symbol: value, type and the ratings that are worth saying."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from buzzout.circuit import Circuit, Element, Part, printed

MANY = 4  # a rating that so many parts of a kind share goes without saying
_SAID = ("electrolytic",)  # their ratings are always worth saying
Ratings = Mapping[tuple[str, str], str]  # kind and "voltage" or "power" to the usual figure


@dataclass(frozen=True, slots=True)
class Facts:
    """What to print of a part. `file` is the file that the circuit was read from."""

    usual: Ratings
    found: bool = False
    file: str = ""

    def of(self, part: Part) -> tuple[str, ...]:
        """Value, type and ratings in one line, and in another what nobody has read."""
        type_ = (part.type or "empty") if part.kind == "socket" else part.type
        facts = [str(part.value or ""), type_, *self._ratings(part), str(part.current or "")]
        if part.kind in ("pot", "fuse"):
            facts += part.style
        if part.kind == "choke":
            facts += [printed(ohms, "ohm") for e in part.elements for ohms in e.resistance]
        told = " ".join(fact for fact in facts if fact)
        return tuple(line for line in (told, self.doubt(part)) if line)

    def doubt(self, part: Part) -> str:
        """What is not known: whether somebody looked at all, or could not read it."""
        if not part.unread & {"value", "type"}:
            return ""
        taken_over = self.found and part.furniture and part.span.file not in ("", self.file)
        return "not looked at" if taken_over else "not read"

    def _ratings(self, part: Part) -> list[str]:
        told = {"voltage": part.voltage, "power": part.power}
        return [
            str(figure)
            for rating, figure in told.items()
            if figure and self.usual.get((part.kind, rating)) != str(figure)
        ]


def usual(circuit: Circuit) -> Ratings:
    """The commonest rating of each kind of small part: a default of the file, or as good as one.

    Only where every part of the kind has one: what is not printed can then be told.
    """
    found: dict[tuple[str, str], str] = {}
    small = [
        part for part in circuit.parts.values() if not part.furniture and part.kind not in _SAID
    ]
    for kind in dict.fromkeys(part.kind for part in small):
        for rating in ("voltage", "power"):
            figures = [getattr(part, rating) for part in small if part.kind == kind]
            (figure, count), *_ = Counter(map(str, figures)).most_common(1)
            if count >= MANY and all(figures):
                found[kind, rating] = figure
    return found


def told(ratings: Ratings) -> str:
    """Ratings in words: `resistor 0.5W, capacitor 400V`."""
    return ", ".join(f"{kind} {figure}" for (kind, _rating), figure in ratings.items())


def winding(element: Element) -> str:
    """A winding in words: its label and what it gives or is made for."""
    facts = [element.label, "-".join(f"{abs(v):g}" for v in element.taps)]
    if element.taps:
        facts[-1] += "V"
    facts += [str(element.value or ""), str(element.current or "")]
    if element.load is not None:
        facts.append(f"for {printed(element.load, 'ohm')}")
    return " ".join(fact for fact in facts if fact)
