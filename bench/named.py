"""Is what was planted what was told? Slip by slip, and whether the list adds up to its cost."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from slips_of_the_hand import Planted

from buzzout.circuit import Circuit, Cut, Fit, Join, Move, Remove, Rewire
from buzzout.compare import Comparison, Finding
from buzzout.compare.values import kin

NAMED, SAME_COST, CHEAPER, WRONG = "named", "same cost", "cheaper", "wrong"
RING = 3


def weight(finding: Finding, found: Circuit) -> int:
    """Errors that a finding stands for: most are one; each lead that is off is one."""
    if finding.harmless or finding.kind == "not-verified":
        return 0
    moves, cuts, joins = (
        sum(isinstance(e, kind) for e in finding.remedy) for kind in (Move, Cut, Join)
    )
    match finding.kind:
        case "wrong-point" | "leads-exchanged":
            return max(1, moves)
        case "bridge":
            return max(1, cuts)
        case "connection-missing":
            return max(1, joins)
        case "wrong-type":  # one thing out and another in; what a hand takes for it is one error
            kinds = {e.part.kind for e in finding.remedy if isinstance(e, Fit)}
            kinds |= {found.parts[e.part].kind for e in finding.remedy if isinstance(e, Remove)}
            return 1 if len(kinds) < 2 or kin(*kinds) else 2
        case "pins-exchanged":
            ring = any(isinstance(e, Rewire) and len(e.pins) == RING for e in finding.remedy)
            return 2 if ring else 1
        case "socket-mirrored":
            return 2 if "and from the wrong pin" in finding.text else 1
        case (
            "values-exchanged" | "sockets-exchanged" | "wiring-exchanged"
        ):  # several in a ring: one exchange less
            return max(1, len(finding.parts) - 1)
        case _:
            return 1


@dataclass(frozen=True)
class Judged:
    """One board. `slips` has a verdict for each slip planted; `beyond` are findings left over."""

    slips: tuple[tuple[Planted, str], ...]
    beyond: tuple[Finding, ...]
    planted: int
    cost: int
    adds_up: bool
    sufficient: bool

    @property
    def verdicts(self) -> Counter[str]:
        return Counter(verdict for _, verdict in self.slips)

    @property
    def exact(self) -> bool:
        """Each slip under its own name, nothing else, and the remedies mend the board."""
        return set(self.verdicts) <= {NAMED} and not self.beyond and self.sufficient

    def line(self) -> str:
        """What was planted and not named, and what was told instead."""
        lost = ", ".join(p.kind for p, verdict in self.slips if verdict != NAMED)
        told = ", ".join(f.kind for f in self.beyond)
        verdict = next((v for v in (WRONG, CHEAPER, SAME_COST) if self.verdicts[v]), "beyond")
        words = f"{verdict}: {lost or 'nothing'} -> {told or 'nothing'}"
        return f"{words} ({self.planted} planted, {self.cost} told)"


def judged(result: Comparison, planted: list[Planted]) -> Judged:
    """Match slips and findings by kind and by the names that they are about.

    What is not named is another explanation of the *same cost* if the list is sufficient and adds
    up to what was planted, *cheaper* if it adds up to less, else *wrong*.
    """
    left = [f for f in result.findings if f.kind != "not-verified"]
    weights = {f.id: weight(f, result.found) for f in left}
    cost = sum(p.cost for p in planted)
    told = sum(weights.values())
    adds_up = told == result.proof.cost
    sound = result.proof.sufficient and adds_up and told <= cost
    other = (SAME_COST if told == cost else CHEAPER) if sound else WRONG
    room = {f.id: max(1, weights[f.id]) for f in left}
    slips = []
    for slip in planted:
        found = next(
            (f for f in left if room[f.id] >= slip.cost and _names(f, slip, weights[f.id])), None
        )
        if found is not None:
            room[found.id] -= max(1, slip.cost)
        slips.append((slip, NAMED if found is not None else other))
    untouched = {f.id for f in left if room[f.id] == max(1, weights[f.id])}
    beyond = tuple(f for f in left if f.id in untouched and not f.harmless)
    return Judged(tuple(slips), beyond, cost, result.proof.cost, adds_up, result.proof.sufficient)


def _names(finding: Finding, slip: Planted, weight: int) -> bool:
    """The kind and a name. A finding of several errors names several slips."""
    kinds = {finding.kind}
    if finding.kind == "socket-mirrored" and weight > 1:
        kinds.add("socket-shifted")
    if slip.kind not in kinds or finding.harmless != slip.harmless:
        return False
    return not slip.about or bool({*finding.found, *finding.parts} & {*slip.about})


@dataclass
class Tally:
    """Boards by number, with what became of their slips."""

    boards: dict[int, Judged] = field(default_factory=dict)

    def table(self) -> str:
        """Kinds of slip against verdicts."""
        count: dict[str, Counter[str]] = {}
        for board in self.boards.values():
            for slip, verdict in board.slips:
                kind = f"{slip.kind} (harmless)" if slip.harmless else slip.kind
                count.setdefault(kind, Counter())[verdict] += 1
        columns = (NAMED, SAME_COST, CHEAPER, WRONG)
        rows = [f"  {'kind planted':32}{'slips':>7}" + "".join(f"{c:>11}" for c in columns)]
        for kind, row in [*sorted(count.items()), ("all", sum(count.values(), Counter()))]:
            told = "".join(f"{row[c]:11}" for c in columns)
            rows.append(f"  {kind:32}{row.total():7}{told}")
        return "\n".join(rows)

    def not_exact(self) -> list[str]:
        """A line for each board that was told otherwise, by its number."""
        lines = []
        for number, board in self.boards.items():
            if not board.exact:
                odd = "" if board.adds_up else ", DOES NOT ADD UP"
                odd += "" if board.sufficient else ", NOT SUFFICIENT"
                lines.append(f"  --board {number:<5} {board.line()}{odd}")
        return lines

    def share(self, verdict: str) -> tuple[int, int]:
        """How many slips have the verdict, of how many."""
        slips = [v for board in self.boards.values() for _, v in board.slips]
        return slips.count(verdict), len(slips)
