"""What a list that was made before still says of a comparison that came after it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from buzzout.compare import Comparison, Finding
from buzzout.job.rulebook import Judgement, Violation
from buzzout.job.weigh import Weighed

if TYPE_CHECKING:
    from buzzout.job.consequence import Consequence

_LINE = re.compile(r"\bline \d+")


@dataclass(frozen=True)
class Unchanged:
    """Of findings that are what they were, by id: what they do under power, and the rules broken.

    `alone` are the violations that no finding told.
    """

    computed: Mapping[str, Consequence | None] = field(default_factory=dict)
    broken: Mapping[str, tuple[Violation, ...]] = field(default_factory=dict)
    alone: tuple[Violation, ...] = ()

    def weighed(self, now: Comparison) -> Weighed:
        """As the rules would have it if they said the same as before."""
        broken = tuple(self.broken.get(f.id, ()) for f in now.findings)
        return Weighed(broken, self.alone, Judgement())


def unchanged(
    then: Comparison,
    weighed: Weighed,
    computed: Mapping[str, Consequence | None],
    now: Comparison,
) -> Unchanged:
    """What was worked out for a comparison and holds for the same findings of a later one.

    A consequence is that of the drawing with one discrepancy. It stays what it is while the drawing
    is the same, the discrepancy is the same, and so are the harmless differences, as long as both
    lists lead to the drawing. What a finding says tells which parts and points it is about. The
    rules may say otherwise now, for they look at the whole chassis.
    """
    if then.reference != now.reference or not (then.proof.sufficient and now.proof.sufficient):
        return Unchanged()
    harmless = [{_said(f) for f in each.findings if f.harmless} for each in (then, now)]
    same = {_said(f) for f in now.findings}
    rows = zip(then.findings, weighed.broken, strict=True)
    kept = {f.id: broken for f, broken in rows if _said(f) in same}
    known = {id_: computed.get(id_) for id_ in kept} if harmless[0] == harmless[1] else {}
    return Unchanged(known, kept, weighed.alone)


def _said(finding: Finding) -> tuple[str, str, str]:
    """A finding as it is told, wherever its lines stand in the file now."""
    return finding.id, _LINE.sub("", finding.text), _LINE.sub("", finding.action)
