"""Decisions: what is to be done about each finding, kept by what the finding is.

One line a decision, in a plain text file that the person edits:

    restore    part-missing:R24:TS4.1:chassis
    accept     value-drifted:R36:TS3.2:TS3.5   because "tone is not used"   by "A. Miller"
    departure  part-extra:P2.ccw:P2.cw

The name of a finding holds its kind, its parts and its points, never a number or a line, so that a
decision survives a new transcription. Where the same part shows the same kind of finding at other
points, or a finding without parts shares its places, the decision is carried over and told as such;
where nothing answers to it, it is stale.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from buzzout.catalogue import nearest
from buzzout.circuit import CHASSIS, NOWHERE, Circuit, Point, Span
from buzzout.compare import Finding
from buzzout.job import Item, PunchList
from buzzout.language.problems import Problem, ProblemList

WORDS = ("restore", "accept", "departure")
_LINE = re.compile(r'\s*(?P<word>\S+)(?P<rest>(?:[^"#]|"[^"]*")*)')
_TAIL = re.compile(r'\s(?P<key>because|by)\s+"(?P<text>[^"]*)"', re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Decision:
    """One line. `finding` is the id as typed; `reason` and `by` may be ""."""

    word: str
    finding: str
    reason: str = ""
    by: str = ""
    span: Span = NOWHERE

    @property
    def kind(self) -> str:
        """The kind of finding it is about."""
        return self.finding.partition(":")[0]

    def __str__(self) -> str:
        reason = f' because "{self.reason}"' if self.reason else ""
        return f"{self.word} {self.finding}{reason}" + (f' by "{self.by}"' if self.by else "")


@dataclass(frozen=True)
class Settled:
    """Decisions and findings brought together.

    `of` gives the decision on each finding by its id. `carried` are decisions whose finding is
    still there at other points; `stale` have no finding any more; `undecided` no decision.
    """

    of: Mapping[str, Decision] = field(default_factory=dict)
    carried: tuple[tuple[Decision, Item], ...] = ()
    stale: tuple[Decision, ...] = ()
    undecided: tuple[Item, ...] = ()


def read_decisions(text: str, file: str) -> tuple[tuple[Decision, ...], tuple[Problem, ...]]:
    """The decisions of a file and what is wrong with it; a line with a mistake is left out."""
    problems = ProblemList()
    found: dict[str, Decision] = {}
    for number, line in enumerate(text.splitlines(), 1):
        code = line.strip()
        if not code or code.startswith("#"):
            continue
        decision = _decision(line, Span(file, number, 1, len(line) + 1), problems)
        if decision is None:
            continue
        earlier = found.get(decision.finding)
        if earlier is not None:
            problems.warn(
                decision.span, f"{decision.finding} is decided twice: this line holds",
                "take one of the two away", (earlier.span, "first here"),
            )  # fmt: skip
        found[decision.finding] = decision
    return tuple(found.values()), problems.sorted()


def _decision(line: str, span: Span, problems: ProblemList) -> Decision | None:
    match = _LINE.match(line)
    if match is None:
        problems.error(span, "a quotation mark is not closed")
        return None
    word, rest = match["word"].lower(), match["rest"]
    if word not in WORDS:
        close = nearest(word, WORDS, 1)
        hint = f"did you mean {close[0]}?" if close else "restore, accept or departure"
        problems.error(span, f"{match['word']!r} is no decision", hint)
        return None
    told = {m["key"].lower(): m["text"].strip() for m in _TAIL.finditer(rest)}
    names = _TAIL.sub("", rest).split()
    if len(names) != 1 or ":" not in names[0]:
        problems.error(
            span, "which finding?",
            'as in: accept value-drifted:R36:TS3.2:TS3.5 because "not used" by "A. Miller"',
        )  # fmt: skip
        return None
    if word == "accept" and not (told.get("because") and told.get("by")):
        problems.error(span, "who accepts it, and why?", 'add: because "the reason" by "the name"')
        return None
    return Decision(word, names[0], told.get("because", ""), told.get("by", ""), span)


def open_lines(punch: PunchList) -> tuple[Item, ...]:
    """What asks for a decision: real differences, and rules of the trade that are broken."""
    return tuple(item for item in punch.everything if not item.finding.harmless)


def settle(
    decisions: Iterable[Decision], items: Iterable[Item], found: Circuit | None = None
) -> Settled:
    """Bring decisions and findings together; harmless differences need no decision.

    `found` is the chassis as it was transcribed: points that are one node there are one place.
    """
    listed, given = tuple(items), tuple(decisions)
    by_id = {item.finding.id: item for item in listed}
    of = {d.finding: d for d in given if d.finding in by_id}
    nodes = found.node_of if found is not None else {}
    carried: list[tuple[Decision, Item]] = []
    stale: list[Decision] = []
    for decision in given:
        if decision.finding in by_id:
            continue
        free = [item for item in listed if item.finding.id not in of]
        likeness = [(_likeness(decision, item.finding, nodes), item) for item in free]
        best = max((value for value, _ in likeness), default=0.0)
        same = [item for value, item in likeness if value == best > 0]
        if len(same) == 1:
            of[same[0].finding.id] = decision
            if sorted(decision.finding.split(":")) != sorted(same[0].finding.id.split(":")):
                carried.append((decision, same[0]))
        else:
            stale.append(decision)
    undecided = [i for i in listed if i.finding.id not in of and not i.finding.harmless]
    return Settled(of, tuple(carried), tuple(stale), tuple(undecided))


_SHARED = 0.5  # share of the places of two findings without parts that makes them one


def _likeness(decision: Decision, finding: Finding, nodes: Mapping[Point, int]) -> float:
    """How sure it is that a decision is about a finding: nothing, else more than nothing to 2.

    The kind must be the same. Equal parts are enough; where one of the two names no part, half of
    the places must be the same ones. Of several the one with most places in common is meant.
    """
    kind, *words = decision.finding.split(":")
    if kind != finding.kind or not words:
        return 0.0
    named = "." not in words[0] and words[0] != str(CHASSIS)
    parts = set(words[0].split("+")) if named else set()
    places = {_place(word, nodes) for word in words}
    there = {_place(str(point), nodes) for point in finding.points}
    common = len(places & there) / max(min(len(places) - named, len(there)), 1)
    if parts and finding.parts:
        return 1 + common if parts == set(finding.parts) else 0.0
    return common if common >= _SHARED else 0.0


def _place(word: str, nodes: Mapping[Point, int]) -> int | str:
    """The node of a point, else the point as it is written."""
    owner, _, pin = word.partition(".")
    return nodes.get(Point(owner, pin), word)


def new_line(words: tuple[str, str], reason: str, by: str, items: Iterable[Item]) -> str:
    """A line for the decisions file: `words` are the decision and the finding, whole or begun.

    Raises
    ------
    ValueError
        With a sentence, where no finding or several begin so, or reason and name are wanted.
    """
    word, begun = words
    ids = [item.finding.id for item in items]
    meant = [one for one in ids if one == begun] or [one for one in ids if one.startswith(begun)]
    if len(meant) != 1:
        close = nearest(begun, ids, 3)
        hint = f"; did you mean {' or '.join(close)}?" if close else ""
        told = f"{len(meant)} findings begin with" if meant else "there is no finding"
        raise ValueError(f"{told} {begun}{hint}")
    if word == "accept" and not (reason and by):
        raise ValueError('who accepts it, and why? Say both: --because "…" --by "…"')
    if '"' in reason + by or "\n" in reason + by:
        raise ValueError("no quotation marks in the reason or the name")
    return str(Decision(word, meant[0], reason, by))


def told(settled: Settled, items: Iterable[Item]) -> list[str]:
    """Decisions as lines of text: what holds, what was carried over, what is stale or open."""
    lines = [
        f"{item.number:>3}  {_one(settled, item)}" for item in items if _decided(settled, item)
    ]
    for decision, item in settled.carried:
        lines.append(f"carried over to other points, look again: {decision.finding}")
        lines.append(f"  now {item.finding.id}; write this name into the line if it holds")
    for decision in settled.stale:
        near = [i.finding.id for i in settled.undecided if i.finding.kind == decision.kind]
        lines += [_gone(decision), *(f"  is it now {one}?" for one in near)]
    if settled.undecided:
        lines.append(f"undecided: {len(settled.undecided)}; lines to copy and complete:")
    lines += [f"  restore {item.finding.id}" for item in settled.undecided]
    return lines


def departure_line(finding: Finding, reason: str) -> str:
    """The line of a departures file that would make the drawing as the chassis is; "" if unsure.

    Only for parts that the drawing names: what else is on the chassis has no points there.
    """
    because = f'because "{reason or "…"}"'
    if len(finding.parts) != 1:
        return ""
    if finding.kind == "part-missing":
        return f"remove {finding.parts[0]} {because}"
    if finding.kind in ("value-wrong", "under-rated", "wrong-valve", "wrong-type"):
        return f"change {finding.parts[0]} to … {because}"
    return ""


def _gone(decision: Decision) -> str:
    """A decision without a finding: done, or the finding is called otherwise now."""
    why = {
        "restore": "closed, or called otherwise now",
        "departure": "wanted and written down, or called otherwise now",
        "accept": "STALE: what was accepted is not there any more, or is called otherwise now",
    }[decision.word]
    return f"line {decision.span.line}: {decision}: the comparison shows no such finding: {why}"


def _decided(settled: Settled, item: Item) -> bool:
    return item.finding.id in settled.of


def _one(settled: Settled, item: Item) -> str:
    decision = settled.of[item.finding.id]
    reason = f": {decision.reason}" if decision.reason else ""
    by = f" ({decision.by})" if decision.by else ""
    still = ""
    if decision.word == "accept" and item.severity in ("danger", "damage"):
        still = f" It is accepted, and it stays what it is: {item.severity}."
    if decision.word == "departure":
        still = " The comparison still shows it: write it into a .departures.buzz file"
        line = departure_line(item.finding, decision.reason)
        still += f", as in: {line}" if line else "."
    return f"{decision.word}: {item.finding.text}{reason}{by}{still}"
