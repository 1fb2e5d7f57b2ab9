"""Which fault explains the readings best, and what to measure next.

Every single fault of the kinds that happen is computed; where none explains the readings, pairs
are. Faults that no reading on offer can tell apart are told together. After J. de
Kleer and B. C. Williams, Diagnosing multiple faults, Artificial Intelligence 32 (1987): a fault is
judged by how likely it makes the readings, times how often such a fault happens.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from buzzout.bench.care import Stands, before
from buzzout.bench.case import Case
from buzzout.bench.direct import Direct
from buzzout.bench.faults import NOTHING, Fault
from buzzout.bench.no_ht import no_ht
from buzzout.bench.pairs import Paired, pairs
from buzzout.bench.probe import (
    Predicted,
    Probe,
    Taken,
    aligned,
    digit,
    scored,
    told,
)
from buzzout.bench.score import Fit, Question, expected_gain, fit, mass, shares
from buzzout.bench.slips import slipped
from buzzout.electrics.common import common
from buzzout.electrics.laws import Floats, Ints

_MOST = 10  # explanations that are told
_SMALL = 0.004  # share below which an explanation is not told after the third
_OFF = 2.5  # deviations from which a reading counts as not explained
_POOR = 2.2  # misfit for each reading from which singles do not explain
_ALIKE, _ALIKE_VOLTS = 0.02, 0.06  # readings this close are no difference to a meter
_TOLD_ALIKE = 12  # faults that are told together with another
_LOOKED = 40  # explanations among which likeness is looked for
_IN_PLAY = 250  # faults that the choice of the next reading looks at
_ON_OHMS = 60  # and that of a resistance
_WORTH = 0.01  # doubt that a reading must be expected to take away [bit]
_CLEAR = 0.1  # and this much where the leading explanations would all show the same [bit]
_TOLD, _APART = 0.01, 0.05  # share of an explanation, and of a reading, that are told apart
# How much more an ohmmeter must tell: power off, discharge, measure that it is discharged; and as
# much a reading for which valves are pulled. [bit]
_DEARER = 0.25
# A grid that is positive: by current out of it, or through the capacitor that leads to it. With the
# valve pulled what stays is the capacitor's. Common practice.
_OUT_OF_IT, _INTO_IT = "valve gassy", ("capacitor leaky", "capacitor shorted")
_SUSPECT = 0.03  # share from which either is thought of


@dataclass(frozen=True)
class Explanation:
    """One fault, or a pair, with how well it explains the readings.

    `share` of it among all explanations; `misfit` for each reading, about 1 where all is as
    expected; `unexplained` are readings far off; `alike` other faults that no meter tells from
    it; `slip` is a reading taken for a slip. `shows` is what it predicts at each reading, in the
    unit of that reading.
    """

    faults: tuple[Fault, ...]
    share: float
    misfit: float
    shows: tuple[float, ...]
    unexplained: tuple[Taken, ...] = ()
    alike: tuple[Fault, ...] = ()
    slip: Taken | None = None

    @property
    def words(self) -> str:
        """The fault in words, with those like it."""
        pen = f"the reading {self.slip} is a slip of meter or pen" if self.slip else ""
        if pen and self.faults == (NOTHING,):
            rest = "it explains no other" if self.unexplained else "nothing else is wrong"
            return f"{pen}; {rest}"
        if self.faults == (NOTHING,):
            return "nothing that these points show"
        told = " and ".join([*(sized(f) for f in self.faults), *([pen] if pen else [])])
        return "; or ".join([told, *(f.words for f in self.alike)])


def sized(fault: Fault) -> str:
    """A fault in words with its size."""
    return f"{fault.words} ({fault.size})" if fault.size else fault.words


@dataclass(frozen=True, slots=True)
class Next:
    """A reading worth taking: how much doubt it takes away [bit], what each would show.

    [V], or [ohm] where the probe is an ohmmeter's. One outcome alone tells what is named already
    from what is not; where several would show it, it has no words. `notes` are what to
    know before the meter goes there.
    """

    probe: Probe
    gain: float
    shows: tuple[tuple[str, float], ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Diagnosis:
    """Explanations, best first; what to measure next; whether anything explains the readings.

    `summary` tells a dead set as such, in one sentence; "" for any other.
    """

    readings: tuple[Taken, ...]
    explanations: tuple[Explanation, ...]
    next: tuple[Next, ...] = ()
    explained: bool = True
    remarks: tuple[str, ...] = ()
    summary: str = ""


@dataclass(frozen=True)
class _Scored:
    """Readings against every fault of a case, and against each of them being a slip.

    `groups` are rows of faults told together. `mass` is the logarithm of the likelihood of all
    single faults and slips together.
    """

    asked: Case
    taken: tuple[Taken, ...]
    values: Floats
    step: Floats
    known: Predicted
    got: Fit
    pen: tuple[Fit, ...]
    share: Floats
    slips: Floats
    groups: tuple[tuple[int, ...], ...]
    mass: float

    def best(self, rows: Sequence[int]) -> int:
        """The row of a group that explains most."""
        return rows[int(np.argmax(self.share[list(rows)]))]

    def shows(self, mean: Floats) -> tuple[float, ...]:
        """Predictions in the unit of each reading."""
        return tuple(told(t.probe.way, float(v)) for t, v in zip(self.taken, mean, strict=True))

    def far(self, off: Floats) -> tuple[Taken, ...]:
        """Readings that are not explained."""
        return tuple(t for t, o in zip(self.taken, off, strict=True) if abs(o) > _OFF)


def diagnose(asked: Case, readings: Sequence[Taken], further: int = 3) -> Diagnosis:
    """Rank the explanations of some readings and choose the `further` readings to take next."""
    if not readings:
        return Diagnosis((), (), remarks=("nothing was read",))
    scored = _scored(asked, tuple(readings))
    lines = sorted([*_singles(scored), *_slips(scored)], key=lambda e: -e.share)
    single = 1.0
    if _poor(lines[0], len(readings)):
        found, share = _pairs(scored)
        single -= share
        singles = [replace(line, share=line.share * single) for line in lines]
        lines = sorted([*singles, *found], key=lambda e: -e.share)
    kept = tuple(e for i, e in enumerate(lines[:_MOST]) if i < 3 or e.share > _SMALL)
    explained = not _poor(kept[0], len(readings))
    following, summary = tuple(_next(scored, further)), no_ht(asked, single * scored.share)
    return Diagnosis(scored.taken, kept, following, explained, summary=summary)


def _scored(asked: Case, taken: tuple[Taken, ...]) -> _Scored:
    values = np.array([scored(t.probe.way, t.value) for t in taken])
    step = np.array([digit(t.probe.way, t.value, t.step) for t in taken])
    known = asked.at(taken)
    got = fit(known, values, step)
    pen = slipped(known.rows([0]), values, step)
    log = np.concatenate([got.log, *(each.log for each in pen)])
    weight = np.concatenate([asked.likely, np.ones(len(pen))])  # beside those of the faults
    share = shares(log, weight)
    own, slips = share[: len(asked.faults)], share[len(asked.faults) :]
    shown = np.concatenate([asked.told_apart, known.mean], axis=1)
    groups = tuple(_groups(asked.faults, shown, own))
    whole = mass(log, weight)
    return _Scored(asked, taken, values, step, known, got, pen, own, slips, groups, whole)


def _poor(best: Explanation, count: int) -> bool:
    """Whether even the best explanation leaves the readings unexplained."""
    return best.misfit > _POOR + 4 / count or bool(best.unexplained)


def _groups(faults: Sequence[Fault], shown: Floats, share: Floats) -> Iterator[tuple[int, ...]]:
    """Rows of the faults that belong together: sizes of one, and those that look alike.

    `shown` is what the meters show for each at every point, and at what was read so far.
    """
    by_key: dict[tuple[str, str], list[int]] = {}
    for row, fault in enumerate(faults):
        by_key.setdefault(fault.key, []).append(row)
    ranked = sorted(by_key.values(), key=lambda rows: -float(np.sum(share[rows])))
    groups: list[list[int]] = []
    tops: list[int] = []
    for rows in ranked:
        top = rows[int(np.argmax(share[rows]))]
        same = _alike(shown, tops[:_LOOKED], top)
        if same is None:
            groups.append(list(rows))
            tops.append(top)
        else:
            groups[same] += rows
    return (tuple(group) for group in groups)


def _alike(mean: Floats, rows: Sequence[int], one: int) -> int | None:
    """The first of some states that no reading at any point tells from another one."""
    if not rows:
        return None
    others, own = mean[list(rows)], mean[one]
    close = _ALIKE * np.maximum(np.abs(others), np.abs(own)) + _ALIKE_VOLTS
    same = np.flatnonzero(np.all(np.abs(others - own) <= close, axis=1))
    return int(same[0]) if len(same) else None


def _singles(scored: _Scored) -> Iterator[Explanation]:
    """One line for each group of faults, with its best member."""
    faults = scored.asked.faults
    for rows in scored.groups[: 3 * _MOST]:
        best = scored.best(rows)
        others = {faults[r].key: faults[r] for r in rows}
        others.pop(faults[best].key)
        yield Explanation(
            (faults[best],),
            float(np.sum(scored.share[list(rows)])),
            float(scored.got.chi[best]) / len(scored.taken),
            scored.shows(scored.known.mean[best]),
            scored.far(scored.got.off[best]),
            tuple(others.values())[:_TOLD_ALIKE],
        )


def _slips(scored: _Scored) -> Iterator[Explanation]:
    shows, count = scored.shows(scored.known.mean[0]), len(scored.taken)
    for taken, share, got in zip(scored.taken, scored.slips, scored.pen, strict=True):
        misfit, far = float(got.chi[0]) / count, scored.far(got.off[0])
        yield Explanation((NOTHING,), float(share), misfit, shows, far, slip=taken)


def _pairs(scored: _Scored) -> tuple[list[Explanation], float]:
    """Two faults at once, or one and a slip, one line for each; the share of all together."""
    asked = scored.asked
    made: Paired = pairs(asked, scored.taken, (scored.values, scored.step), scored.known)
    if not made.rows:
        return [], 0.0
    whole = mass(made.fit.log, made.weights)
    share = float(np.exp(whole - np.logaddexp(whole, scored.mass)))
    own = share * shares(made.fit.log, made.weights)
    by_key: dict[tuple[int | None, tuple[tuple[str, str], ...]], list[int]] = {}
    for number, (rows, slip) in enumerate(zip(made.rows, made.slip, strict=True)):
        by_key.setdefault((slip, tuple(asked.faults[r].key for r in rows)), []).append(number)
    found = []
    for (slip, _), numbers in by_key.items():
        best = numbers[int(np.argmax(own[numbers]))]
        found.append(
            Explanation(
                tuple(asked.faults[r] for r in made.rows[best]),
                float(np.sum(own[numbers])),
                float(made.fit.chi[best]) / len(scored.taken),
                scored.shows(made.mean[best]),
                scored.far(made.fit.off[best]),
                slip=None if slip is None else scored.taken[slip],
            )
        )
    return sorted(found, key=lambda e: -e.share)[:_MOST], share


def _next(scored: _Scored, further: int) -> Iterator[Next]:
    """The readings that are expected to take away most doubt, the best first."""
    rows = np.argsort(-scored.share, kind="stable")[:_IN_PLAY]
    rows = rows[scored.share[rows] > 1e-6]
    if not len(rows):
        return
    asked, gains = scored.asked, list[tuple[float, int, Probe]]()
    read = {(t.probe.view, frozenset((t.probe.at, t.probe.to))) for t in scored.taken}
    places = [(asked.volts, 0.0, _IN_PLAY), (asked.ohms, _DEARER, _ON_OHMS)]
    if _positive(scored):
        places.append((asked.grids, _DEARER, _ON_OHMS))
    for probes, dearer, most in places:
        fresh = [p for p in probes if (p.view, frozenset((p.at, p.to))) not in read]
        if fresh:
            question = _question(scored, rows[:most], fresh)
            gains += [
                (expected_gain(question, number) - dearer, len(gains) + number, probe)
                for number, probe in enumerate(fresh)
            ]
    for gain, _, probe in sorted(gains, key=lambda g: (-round(g[0], 6), g[1]))[:further]:
        if gain > _WORTH:
            shows = _shown(scored, probe)
            if len(shows) < 2 and gain < _CLEAR:
                continue
            notes = before(scored.asked, probe, tuple(_stands(scored, probe)))
            yield Next(probe, gain, shows, tuple(notes))


def _positive(scored: _Scored) -> bool:
    """Whether a gassy valve and a leaky capacitor are both among the leading explanations."""
    kinds = [fault.kind for fault in scored.asked.faults]
    shares = [
        sum(s for s, kind in zip(scored.share, kinds, strict=True) if kind in wanted)
        for wanted in ((_OUT_OF_IT,), _INTO_IT)
    ]
    return bool(min(shares) > _SUSPECT)


def _question(scored: _Scored, rows: Ints, fresh: Sequence[Probe]) -> Question:
    """What is known, for the faults still in play and the places to choose from."""
    asked = scored.asked
    keys = {asked.faults[r].key: n for n, r in enumerate(rows)}
    group = np.array([keys[asked.faults[r].key] for r in rows])
    group = np.unique(group, return_inverse=True)[1]
    share = scored.share[rows] / np.sum(scored.share[rows])
    known, points = aligned(scored.known.rows(rows.tolist()), asked.foreseen(fresh, rows.tolist()))
    return Question(known, points, scored.values, scored.step, share, group)


def _stands(scored: _Scored, probe: Probe) -> Iterator[Stands]:
    """Each end of a direct reading with what leading explanations have there. [V]."""
    view = scored.asked.view(probe.step, probe.way)
    if not isinstance(view, Direct):
        return
    minus = common(view.state.net.circuit)
    rows = _leading(scored)
    for end in (probe.at, probe.to):
        if end != minus and rows:
            means = scored.asked.foreseen([replace(probe, at=end, to=minus)], rows).mean[:, 0]
            yield Stands(end, float(np.min(means)), float(np.max(means)))


def _leading(scored: _Scored) -> list[int]:
    """The best row of each fault that is likely, the likeliest first."""
    asked, share = scored.asked, scored.share
    order = [int(r) for r in np.argsort(-share, kind="stable")[:_LOOKED] if share[r] > _TOLD]
    first = {asked.faults[r].key: r for r in reversed(order)}
    return [r for r in order if first[asked.faults[r].key] == r]


def _shown(scored: _Scored, probe: Probe) -> tuple[tuple[str, float], ...]:
    """What the leading explanations would show at a place, each outcome once. [V] or [ohm].

    Where all of them would show the same, the one outcome goes under no name of a fault.
    """
    asked, rows = scored.asked, _leading(scored)
    if not rows:
        return ()
    means = asked.foreseen([probe], rows).mean[:, 0]
    values = [told(probe.way, float(m)) for m in means]
    shown: list[tuple[str, float]] = []
    for row, value in zip(rows, values, strict=True):
        near = [v for _, v in shown if abs(v - value) <= _APART * max(abs(v), abs(value)) + 0.05]
        if not near and len(shown) < 3:
            shown.append((sized(asked.faults[row]), value))
    if len(shown) == 1 and len(rows) > 1:
        return (("", shown[0][1]),)
    return tuple(shown)
