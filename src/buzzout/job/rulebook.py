"""The rules of the trade as data: what is forbidden, why, how bad, by which source."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

from buzzout.catalogue.files import data_folder
from buzzout.catalogue.reading import read_sheet
from buzzout.circuit import Point
from buzzout.compare import Finding

if TYPE_CHECKING:
    from buzzout.job.rails import Rails
    from buzzout.job.supplyline import SupplyLine

SEVERITIES = ("danger", "damage", "fault", "note")


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule. `why` can follow "because"; `source` is a publication or "common practice".

    `action` is what to do, `confirm` what a meter must show with the set unplugged. `reaches` tells
    a rule of the mains side: what breaks it can reach a person.
    """

    id: str
    title: str
    why: str
    severity: str
    source: str
    action: str
    confirm: str
    reaches: bool = False


@dataclass(frozen=True, slots=True)
class PlaceRule:
    """A rule for differences by what they are and where they sit; see `places.yaml`.

    What is empty asks nothing. `until` is "computed" where a computation can ease it.
    """

    severity: str
    why: str
    source: str
    until: str = ""
    kinds: frozenset[str] = frozenset()
    at: frozenset[str] = frozenset()
    and_at: frozenset[str] = frozenset()
    there: frozenset[str] = frozenset()
    parts: frozenset[str] = frozenset()
    trait: str = ""


class Verdict(NamedTuple):
    """How bad a line is and why.

    `reaches` puts it first: it can reach a person. `times` is how many times a limit is passed
    where that was computed. A `fallback` stands only until somebody computes what happens.
    `source` is where the rule that decided is from.
    """

    severity: str
    why: str
    reaches: bool = False
    times: float = 0.0
    fallback: bool = False
    source: str = ""

    @property
    def rank(self) -> int:
        """The severity as a number, 0 the worst."""
        return SEVERITIES.index(self.severity)

    @property
    def urgency(self) -> tuple[int, bool, bool, float]:
        """Order of a list: the smaller the worse. What is known comes before what is feared."""
        return self.rank, not self.reaches, self.fallback, -self.times


@dataclass(frozen=True, slots=True)
class Question:
    """What only the person can answer; `when` says at which sets it is asked."""

    id: str
    asks: str
    when: str
    source: str


@dataclass(frozen=True, slots=True)
class Region:
    """Names of the tables of conductor colours, the present one first; whether plugs turn round."""

    colours: tuple[str, ...]
    reversible: bool


@dataclass(frozen=True)
class Violation(Finding):
    """A rule that a circuit breaks: a finding that needs no drawing. Its kind is the rule's id.

    Until it is told, `parts` and `points` are those of the circuit that was judged. `about` holds
    where the violation ranks other than its rule says, `published` the sheet of the part that
    it breaks, where that says more than the source of the rule.
    """

    about: str = ""
    published: str = ""

    @property
    def rule(self) -> Rule:
        """The rule that is broken, by the source that holds here."""
        rule = rules()[self.kind]
        return replace(rule, source=self.published) if self.published else rule

    @property
    def title(self) -> str:
        """The rule in a few words."""
        return self.rule.title

    @property
    def todo(self) -> str:
        """What to do here, else what its rule says."""
        return self.action or self.rule.action

    @property
    def key(self) -> tuple[str, frozenset[str]]:
        """What makes two violations the same one: rule and parts."""
        return self.kind, frozenset(self.parts)

    @property
    def level(self) -> str:
        """How bad it is."""
        return self.about or self.rule.severity


@dataclass(frozen=True, slots=True)
class Unjudged:
    """Rules that could not be judged: their ids, in words, and what is missing."""

    rules: tuple[str, ...]
    what: str
    reason: str

    def __str__(self) -> str:
        return f"{self.what}: {self.reason}"


@dataclass(frozen=True)
class Judgement:
    """What the rules say of one circuit, and the two sides of it that they looked at."""

    violations: tuple[Violation, ...] = ()
    unjudged: tuple[Unjudged, ...] = ()
    features: frozenset[str] = field(default_factory=frozenset)
    side: SupplyLine | None = None
    rails: Rails | None = None


def violation(
    rule: str,
    text: str,
    parts: tuple[str, ...] = (),
    points: tuple[Point, ...] = (),
    **more: Any,
) -> Violation:
    """A violation of a rule that is in the book."""
    return Violation(id="", kind=rules()[rule].id, text=text, parts=parts, points=points, **more)


@cache
def rules() -> Mapping[str, Rule]:
    """All rules by id, in the order of the files."""
    mains = {name: Rule(name, **e, reaches=True) for name, e in _sheet("mains").items()}
    return mains | {name: Rule(name, **e) for name, e in _sheet("supply").items()}


@cache
def place_rules() -> tuple[PlaceRule, ...]:
    """The rules of places, in their order."""
    return tuple(_place_rule(**entry) for entry in _sheet("places").values())


def _place_rule(when: Mapping[str, Any], **told: Any) -> PlaceRule:
    asked = {name.replace("-", "_"): value for name, value in when.items()}
    lists: dict[str, Any] = {
        name: frozenset(v) if isinstance(v, list) else v for name, v in asked.items()
    }
    return PlaceRule(**told, **lists)


@cache
def questions() -> tuple[Question, ...]:
    """The questions to the person, in order."""
    return tuple(Question(name, **entry) for name, entry in _sheet("questions").items())


@cache
def regions() -> Mapping[str, Region]:
    """Regions by their name."""
    return {
        name: Region(tuple(entry["colours"]), entry["plug"] == "both ways")
        for name, entry in _sheet("regions").items()
    }


def figure(name: str) -> float:
    """One figure of `margins.yaml`, in the unit that stands there."""
    return float(_sheet("margins")[name]["value"])


def meaning(name: str) -> str:
    """What a figure of `margins.yaml` means, in words that can follow a colon."""
    return str(_sheet("margins")[name]["means"])


def fuse_values() -> tuple[float, ...]:
    """Preferred currents of fuse links. [A]."""
    return tuple(float(v) for v in _sheet("margins")["fuse-values"]["values"])


@dataclass(frozen=True, slots=True)
class FuseLink:
    """A fuse link by its standard sheet: what it must stand, when it must melt. [A], [s].

    `rows` are the multiple of the rated current, the least and the longest time, 0 where the
    standard asks nothing.
    """

    rated: float
    mark: str
    sheet: str
    rows: tuple[tuple[float, float, float], ...]

    @property
    def stands(self) -> float:
        """What it must stand for a moment: the least that its shortest gate asks. [A²s]."""
        times, least, _ = max(row for row in self.rows if row[1] > 0)
        return (times * self.rated) ** 2 * least

    def carries(self, amps: float) -> bool:
        """Whether it may carry a current for an hour and longer."""
        return amps <= self.rows[0][0] * self.rated

    def melts(self, amps: float) -> float:
        """Within what time it must have melted at a current; infinite where nothing asks it."""
        asked = [most for times, _, most in self.rows if most and amps >= times * self.rated]
        return min(asked, default=math.inf)


def fuse_link(rated: float, speed: str) -> FuseLink | None:
    """A fuse link by rated current [A] and speed, "slow" or "fast"; None beyond the sheets."""
    sheet = _sheet("fuses")[speed]
    rows = next((band["rows"] for band in sheet["bands"] if rated <= band["to"]), None)
    return FuseLink(rated, sheet["mark"], sheet["sheet"], rows) if rows else None


@cache
def _sheet(name: str) -> Mapping[str, Any]:
    path = data_folder() / "rules" / f"{name}.yaml"
    sheet = read_sheet(path.read_text(encoding="utf-8"), path.name)
    if sheet.faults:
        raise ValueError("; ".join(str(fault) for fault in sheet.faults))
    return sheet.data
