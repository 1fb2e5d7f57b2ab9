"""Decisions: what is to be done about each finding, kept by what the finding is.

One line a decision, in a plain text file that the person edits:

    restore    part-missing:R24:TS4.1:chassis
    accept     value-drifted:R36:TS3.2:TS3.5   because "tone is not used"   by "A. Miller"
    departure  part-extra:P2.ccw:P2.cw

The name of a finding holds its kind, its parts and its points, never a number or a line, so that a
decision survives a new transcription. Where the same part shows the same kind of finding at other
points, or a finding without parts shares its places, the decision is carried over and told as such;
where nothing answers to it, it is stale.

A strip has no name of its own: the next transcription may call it otherwise. A finding that names
nothing but tags is therefore written with what lands there, `near "TS1.3 V1.6; TS1.7 P2.cw"`: the
tag that shares a node with these points is the one that was meant.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from buzzout.bench.guide import unseen
from buzzout.catalogue import nearest
from buzzout.circuit import CHASSIS, NOWHERE, Circuit, Point, Span
from buzzout.compare import Finding
from buzzout.job import Item, PunchList
from buzzout.job.gate import can_be_accepted
from buzzout.language.problems import Problem, ProblemList

WORDS = ("restore", "accept", "departure")
_LINE = re.compile(r'\s*(?P<word>\S+)(?P<rest>(?:[^"#]|"[^"]*")*)')
_STRAIGHT = str.maketrans({"\u201c": '"', "\u201d": '"'})
_TAIL = re.compile(r'\s(?P<key>because|by|near)\s+"(?P<text>[^"]*)"', re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Decision:
    """One line. `finding` is the id as typed; `reason`, `by` and `near` may be ""."""

    word: str
    finding: str
    reason: str = ""
    by: str = ""
    span: Span = NOWHERE
    near: str = ""

    @property
    def kind(self) -> str:
        """The kind of finding it is about."""
        return self.finding.partition(":")[0]

    def __str__(self) -> str:
        said = (("near", self.near), ("because", self.reason), ("by", self.by))
        return f"{self.word} {self.finding}" + "".join(f' {k} "{text}"' for k, text in said if text)

    @property
    def lands(self) -> Mapping[str, tuple[str, ...]]:
        """What lands on each tag that it names, as written behind `near`."""
        groups = (group.split() for group in self.near.split(";"))
        return {words[0]: tuple(words[1:]) for words in groups if len(words) > 1}


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
    line = line.translate(_STRAIGHT)
    match = _LINE.match(line)
    if match is None or '"' in match["word"] or line[match.end() :].startswith('"'):
        problems.error(span, "a quotation mark is not closed", 'as in: because "the reason"')
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
    reason, by, near = (told.get(key, "") for key in ("because", "by", "near"))
    return Decision(word, names[0], reason, by, span, near)


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


UNSEEN = "not-verified"  # what nobody has seen yet: there is nothing to restore before
_ENOUGH = 2  # points that tell which tag was meant
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
    there = {_place(str(point), nodes) for point in finding.points}
    common = 0.0
    for lands in ({}, decision.lands):
        places = {_meant(word, lands, nodes) for word in words}
        shared = len(places & there) / max(min(len(places) - named, len(there)), 1)
        common = max(common, shared)
    if parts and finding.parts:
        return 1 + common if parts == set(finding.parts) else 0.0
    return common if common >= _SHARED else 0.0


def _meant(
    word: str, lands: Mapping[str, tuple[str, ...]], nodes: Mapping[Point, int]
) -> int | str:
    """The node that a point of a decision is on: by what lands there, else by its own name."""
    there = (_place(each, nodes) for each in lands.get(word, ()))
    return next((node for node in there if isinstance(node, int)), _place(word, nodes))


def near(finding: Finding, found: Circuit) -> str:
    """What lands on the tags that a finding names, where it names nothing else; else ""."""
    owners = [found.parts.get(point.owner) for point in finding.points]
    if finding.parts or not owners or any(o is None or o.kind != "strip" for o in owners):
        return ""
    lands = {str(point): _fixed(point, found) for point in finding.points}
    return "; ".join(f"{tag} {' '.join(map(str, there))}" for tag, there in lands.items() if there)


def _fixed(tag: Point, found: Circuit) -> list[Point]:
    """Two points at most with names that stay, joined to a tag: directly, else on its node."""
    straight = [link.other(tag) for link in found.links_at.get(tag, ())]
    whole = found.nodes[found.node(tag)].points
    stay = [
        point
        for point in dict.fromkeys((*straight, *whole))
        if (part := found.parts.get(point.owner)) and part.furniture and part.kind != "strip"
    ]
    return stay[:_ENOUGH]


def _place(word: str, nodes: Mapping[Point, int]) -> int | str:
    """The node of a point, else the point as it is written."""
    owner, _, pin = word.partition(".")
    return nodes.get(Point(owner, pin), word)


def new_line(words: tuple[str, str], reason: str, by: str, punch: PunchList) -> str:
    """A line for the decisions file.

    `words` are the decision and the finding: its name, whole or begun, or the part it is about.

    Raises
    ------
    ValueError
        With a sentence, where no finding or several answer to it, or reason and name are wanted.
    """
    word, begun = words
    findings = [item.finding for item in open_lines(punch)]
    ids = [finding.id for finding in findings]
    meant = [f for f in findings if f.id == begun] or [
        f for f in findings if f.id.startswith(begun)
    ]
    meant = meant or [f for f in findings if begun in f.parts or _at(begun, f)]
    if len(meant) != 1:
        close = [f.id for f in meant[:3]] or nearest(begun, ids, 3)
        hint = f"; did you mean {' or '.join(close)}?" if close else ""
        told = f"{len(meant)} findings answer to" if meant else "there is no open finding"
        raise ValueError(f"{told} {begun}{hint}")
    if word == "accept" and not (reason and by):
        raise ValueError('who accepts it, and why? Say both: --because "…" --by "…"')
    if '"' in reason + by or "\n" in reason + by:
        raise ValueError("no quotation marks in the reason or the name")
    return str(_about(Decision(word, "", reason, by), meant[0], punch.comparison.found))


def _at(place: str, finding: Finding) -> bool:
    """Whether a finding is about leads on the pins of a part: it may name no part at all."""
    return any(point.owner == place for point in finding.points)


def contrary(line: str, decisions: Iterable[Decision]) -> Problem | None:
    """Why a line cannot be added: another one is about the same finding, and only a person edits.

    `line` is as `new_line` makes it and not among the decisions.
    """
    name = line.split()[1]
    for decision in decisions:
        if decision.finding == name:
            return Problem(
                f"decided already: {decision.word}; nothing was added", decision.span,
                "no command changes what you typed: take this line away or edit it, then"
                " decide again",
            )  # fmt: skip
    return None


def warning(line: str, punch: PunchList) -> str:
    """What a decision does not do: an accepted danger stays one, a departure is not yet written.

    `line` is as `new_line` makes it; "" where there is nothing to say.
    """
    word, name = line.split()[:2]
    item = next((i for i in punch.everything if i.finding.id == name), None)
    if word == "departure" and item is not None:
        reason = next((m["text"] for m in _TAIL.finditer(line) if m["key"] == "because"), "")
        return f"{_unwritten(item, reason)} It is no work and nothing to buy from now on."
    if word != "accept" or item is None or item.severity not in ("danger", "damage"):
        return ""
    if can_be_accepted(item):
        return f"It stays what it is, {item.severity}: power only behind a limiter, and watched."
    return f"It stays a danger ({item.why}), and it still bars power: no decision lifts that."


def _about(decision: Decision, finding: Finding, found: Circuit) -> Decision:
    """The same decision written for a finding as it is named now."""
    return replace(decision, finding=finding.id, near=near(finding, found))


def told(settled: Settled, punch: PunchList) -> list[str]:
    """Decisions as lines of text: what holds, what was carried over, what is stale or open."""
    found = punch.comparison.found
    lines = [
        f"{item.number:>3}  {_one(settled, item)}"
        for item in punch.everything
        if _decided(settled, item)
    ]
    for decision, item in settled.carried:
        lines.append(
            f"line {decision.span.line} is carried over to other points: {decision.finding}"
        )
        lines.append("  look again; if it holds, put this line in its place:")
        lines.append(f"  {_about(decision, item.finding, found)}")
    for decision in settled.stale:
        alike = [i.finding for i in settled.undecided if i.finding.kind == decision.kind]
        lines.append(_gone(decision))
        if alike:
            lines.append("  if it is called otherwise now, put in its place:")
        lines += [f"  {_about(decision, each, found)}" for each in alike]
    seen = [item for item in settled.undecided if not unseen(item, punch)]
    looks = [item for item in seen if item.finding.kind == UNSEEN]
    decide = [item for item in seen if item.finding.kind != UNSEEN]
    if looks:
        lines.append(f"look first: {len(looks)}; nothing to decide before it is written down:")
    lines += [f"  {item.finding.id}  {item.finding.action}" for item in looks]
    if decide:
        lines.append(f"undecided: {len(decide)}; lines to copy and complete:")
    lines += [f"  {_about(Decision(_usual(item), ''), item.finding, found)}" for item in decide]
    return lines or ["  none, and none is wanted"]


def _usual(item: Item) -> str:
    """The word to propose: what the drawing itself has wrong is mended by a departure from it."""
    return "departure" if item.rule and "departure" in item.finding.action.lower() else "restore"


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
    by = f" ({decision.by})" if decision.by else ""
    reason = f" Because: {decision.reason}{by}." if decision.reason else by
    still = ""
    if decision.word == "accept" and item.severity in ("danger", "damage"):
        still = f" It is accepted, and it stays what it is: {item.severity}."
    if decision.word == "departure":
        still = f" {_unwritten(item, decision.reason)}"
    return f"{decision.word}: {item.finding.text}{reason}{still}"


def _unwritten(item: Item, reason: str) -> str:
    """That a departure is not written down where the comparison looks for it."""
    told = "The comparison still shows it: write it into a .departures.buzz file"
    line = departure_line(item.finding, reason)
    usual = " (buzzout suggest writes the usual ones)." if item.rule else "."
    return f"{told}, as in: {line}" if line else told + usual
