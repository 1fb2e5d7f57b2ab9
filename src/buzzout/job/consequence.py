"""What a finding does under power: the drawing with this one discrepancy, computed.

The chassis after the remedies of all other findings is the drawing with one discrepancy. Its
operating point, running and before the heaters are warm, is audited against every rating and
compared with that of the drawing. What does not settle is told as unknown, never guessed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from buzzout.catalogue import device
from buzzout.circuit import CannotApply, Circuit, Part, Point, apply, listed, metered
from buzzout.compare import Comparison, Finding
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.draft import STARTING, WARM, Power
from buzzout.electrics.limited import limited
from buzzout.electrics.operating import Operating, operate
from buzzout.electrics.ratings import audit_states
from buzzout.electrics.stress import HIGH_MAINS, NEAR, OVER, States, Stress
from buzzout.electrics.stress_valves import GRID
from buzzout.electrics.unmodelled import unmodelled
from buzzout.job.hearing import Ear, Heard
from buzzout.job.limits import limit_told
from buzzout.job.passages import called
from buzzout.job.phase import unmarked
from buzzout.job.rulebook import figure, meaning
from buzzout.job.weigh import only_this

_HUM = "mains hum drives {} as far as the supply lets {} swing"
# common practice: what an oscillation does to the parts is not computed
_HOWLS = (
    "it oscillates by itself, driven to its limits, which can overload output valves and their"
    " screens, the output transformer and a speaker (common practice)"
)
_REVERSED = "winding-reversed"
_POSITIVE = 0.5  # a grid so far above its cathode draws current [V]
_WARM = 1.1  # a winding that carries so many times its current lasts, common practice [1]
_SHOWN = 3  # limits told in one sentence


@dataclass(frozen=True)
class Consequence:
    """What one discrepancy, or all together, does under power.

    A set that oscillates by itself ranks as damage: its figures at rest say nothing of it then.

    `severity` is "" where it is not known. `text` is a sentence. `worst` is how many times the
    worst limit is passed, 0 where none is [1]. It `eases` a rank only where nothing was left out.
    `why` is what makes it worse than a limit that is passed.
    """

    text: str
    severity: str = ""
    worst: float = 0.0
    eases: bool = True
    why: str = ""


@dataclass(frozen=True)
class Bench:
    """A comparison laid out for computing. `ready` tells whether the drawing itself computes."""

    comparison: Comparison

    @cached_property
    def base(self) -> States:
        """The drawing, under the names of the chassis."""
        return _states(self.comparison.repaired)

    @cached_property
    def limits(self) -> Mapping[tuple[str, str], Stress]:
        """What is over its limit, or near it, in the drawing already."""
        return {_key(s): s for s in audit_states(self.base) if s.verdict in (OVER, NEAR)}

    @cached_property
    def _driven(self) -> tuple[str, ...]:
        """Stages that mains hum drives to their limit in the drawing already."""
        return limited(self.base.warm)[1]

    @cached_property
    def ready(self) -> bool:
        """A supply is in the file and the drawing settles."""
        state = self.base.warm
        return state.settled and state.side is not None and bool(state.net.valves)

    @cached_property
    def ear(self) -> Ear:
        """What is heard of the drawing."""
        return Ear(self.base.warm)

    @cached_property
    def middle(self) -> Ear:
        """The same with every control in the middle."""
        return Ear(_middle(self.comparison.repaired, self.base.warm))

    @cached_property
    def drawn(self) -> Mapping[str, str]:
        """Name in the found file to name on the drawing."""
        pairs = self.comparison.matching.parts.items()
        return {name: drawing for drawing, names in pairs for name in names}

    def of(self, finding: Finding) -> Consequence | None:
        """What one finding alone does; None where there is nothing to compute."""
        if finding.harmless or not finding.remedy or not self.ready:
            return None
        edits = only_this(self.comparison.findings, finding)
        try:
            alone = apply(self.comparison.found, edits)
        except CannotApply:
            return Consequence("What it does cannot be told apart from the other findings: unknown")
        if blind := _blind(finding, alone):
            return Consequence(f"There is no model of {blind}: what it does is unknown")
        turned, radio = finding.kind == _REVERSED, self._on_radio(finding)
        return self._compared(alone, "With this alone", turned=turned, radio=radio)

    def _on_radio(self, finding: Finding) -> bool:
        """Whether it is on the radio side of a receiver, of which no gain is computed."""
        parts = self.comparison.repaired.parts
        names = (name for name in (*finding.found, *finding.parts) if name in parts)
        small = (parts[name] for name in names if not parts[name].furniture)
        points = (*finding.points, *(p for part in small for p in part.points))
        return any(point in self.ear.radio for point in points)

    def whole(self) -> str:
        """What the chassis does as it stands, with everything that was found."""
        if not self.ready:
            return "What the drawing does under power cannot be computed from what it tells."
        findings = self.comparison.findings
        turned = any(f.kind == _REVERSED for f in findings)
        radio = any(self._on_radio(f) for f in findings if not f.harmless)
        text = self._compared(
            self.comparison.found, "As it stands", turned=turned, radio=radio
        ).text
        if not self.unmarked:
            return text
        parts = listed(self.unmarked)
        return (
            f"{text} Nobody marked the phase of {parts}: gain, bass, treble and hum hang on whether"
            " its feedback is negative or positive, and what is said of them takes the last ends"
            " of its windings to be in phase."
        )

    @cached_property
    def unmarked(self) -> tuple[str, ...]:
        """Transformers whose ends are turned round, where that decides the sign of a feedback."""
        turned = (f for f in self.comparison.findings if unmarked(f))
        return tuple(dict.fromkeys(name for f in turned for name in f.parts))

    def _compared(
        self, circuit: Circuit, start: str, *, turned: bool = False, radio: bool = False
    ) -> Consequence:
        states = _states(circuit, self.base)
        unsettled = (*states.warm.unsettled, *states.surge.unsettled)
        if unsettled:
            what = listed(list(dict.fromkeys(unsettled)))
            return Consequence(f"{start} the computation does not settle ({what}): unknown")
        if blind := _driven_blind(states.warm, self.base.warm):
            return Consequence(
                f"{start} {blind} draws grid current, and there is no model of it: unknown"
            )
        new = sorted(filter(self._new, audit_states(states)), key=lambda s: -_times(s))
        over = [s for s in new if s.verdict == OVER]
        driven = limited(states.warm)[1]
        stages = sorted(name for name in driven if name not in self._driven)
        hum = [_HUM.format(listed(stages), "them" if len(stages) > 1 else "it")] if stages else []
        left = _left_out(states.warm)
        heard = self.ear.beside(states.warm, turned=turned, radio=radio)
        if over:
            told = [limit_told(s, self._name(s.part, circuit)) for s in over[:_SHOWN]]
            rest = len(over) - _SHOWN
            more = f"; {rest} more limit{'s' * (rest > 1)} passed" if rest > 0 else ""
            also = "".join(f"; {each}" for each in (*heard.feedback(), *hum))
            grave = next((why for s in over if (why := self._grave(s, circuit))), "")
            mild = "fault" if all(s.what == GRID or _warms(s, circuit) for s in over) else "damage"
            return Consequence(
                f"{start} {listed(told)}{more}{also}{left}.",
                "danger" if grave else mild,
                _times(over[0]),
                eases=False,
                why=grave,
            )
        but = [*hum, *(limit_told(s, self._name(s.part, circuit)) for s in new[:1])]
        howls = heard.howls()
        calm = "no rating is passed" if hum else "nothing goes over its limit"
        text = (
            f"{start} {calm}{' at rest' if howls else ''}"
            f"{f', but {listed(but)}' if but else ''}"
            f"{self._moves(circuit, heard, radio=radio)}{left}."
        )
        if howls:
            return Consequence(text, "damage", why=_HOWLS)
        return Consequence(text, "fault", eases=not (hum or left or radio))

    def _new(self, stress: Stress) -> bool:
        """Over a limit, or near it, that the drawing keeps; or much worse than in the drawing."""
        before = self.limits.get(_key(stress))
        if stress.verdict not in (OVER, NEAR) or stress.what == "current":
            return stress.verdict == OVER and (before is None or before.verdict == NEAR)
        if before is None or (before.verdict, stress.verdict) == (NEAR, OVER):
            return True
        return stress.value > before.value * (1 + figure("worse-share"))

    def _name(self, told: str, circuit: Circuit) -> str:
        """`R28 (line 426)` for a part of the chassis; the section or winding stays behind it."""
        part = _owner(told, circuit)
        if part is None:
            return told
        return _part(part, self.drawn.get(part.name, "")) + told[len(part.name) :]

    def _grave(self, stress: Stress, circuit: Circuit) -> str:
        """Why a limit that is passed can burn or burst; "" where it only destroys a part."""
        part = _owner(stress.part, circuit)
        electrolytic = part is not None and part.kind in ("electrolytic", "can")
        graver = (
            ("burn-share", stress.what == "power", _times(stress)),
            ("glow-share", stress.what.endswith(" dissipation"), _times(stress)),
            ("burst-share", stress.what == "voltage" and electrolytic, _times(stress)),
            ("leak-share", stress.what == GRID, _times(stress)),
            ("reverse-volts", stress.what == "reverse voltage", stress.value),
        )
        passed = (name for name, about, value in graver if about and value >= figure(name))
        return next(map(meaning, passed), "")

    def _moves(self, circuit: Circuit, heard: Heard, *, radio: bool) -> str:
        """The voltage that moves by most volts, and what is heard, in words."""
        told = list(heard.changes())
        moved = list(_moved(self.base.warm, heard.state))
        if moved:
            by = (abs(row[3] - row[2]) for row in moved)
            _, (_, point, before, after) = max(
                zip(by, moved, strict=True), key=lambda row: (row[0], str(row[1][1]))
            )
            told.insert(0, f"{point} goes from {metered(before, 'V')} to {metered(after, 'V')}")
        elif told:
            told.insert(0, f"no direct voltage moves by more than {figure('moves-share'):.0%}")
        else:
            middle = [f"{each} with all controls in the middle" for each in self._middling(circuit)]
            told = middle or [_STILL.format(figure("moves-share")) + self._still(radio=radio)]
        if radio:
            told.append(_RADIO)
        return "".join(f"; {each}" for each in told)

    def _still(self, *, radio: bool) -> str:
        """What is said where nothing is heard: of what was computed, and of nothing else."""
        if self.unmarked or radio:
            return ""
        routes = self.ear.routes
        if not routes:
            return "; what it does to gain, bass, treble and hum is not computed"
        controls = [r.start for r in routes if self._control(r.start)]
        return f", and gain, bass, treble and hum{_from(controls)} stay as drawn"

    def _control(self, point: Point) -> bool:
        part = self.comparison.repaired.parts.get(point.owner)
        return part is not None and part.kind == "pot"

    def _middling(self, circuit: Circuit) -> Iterator[str]:
        """What is heard with the controls in the middle: much of a tone control is silent else."""
        if any(part.kind == "pot" for part in circuit.parts.values()):
            yield from self.middle.beside(_middle(circuit, self.middle.state)).gains()


_STILL = "no direct voltage moves by more than {:.0%}"
_RADIO = "what it does at radio and intermediate frequency is not computed"

# Where a voltage is metered: sockets before all, and where HT and output are taken off.
_TELLING = ("socket", "can", "connector", "transformer", "speaker")


def _from(controls: list[Point]) -> str:
    """Where the signal comes in, if at a control: what lies before it is not computed."""
    return f" from {controls[0]} on" if controls else ""


def _states(circuit: Circuit, near: States | None = None) -> States:
    """Running, and before the heaters are warm on high mains; computed from states near by."""
    surge = Power(heat=STARTING, fraction=HIGH_MAINS)
    return States(
        operate(circuit, Power(heat=WARM), near=near.warm if near else None),
        operate(circuit, surge, near=near.surge if near else None),
    )


def _middle(circuit: Circuit, near: Operating) -> Operating:
    """Running, every control in the middle."""
    pots = {part.name: 0.5 for part in circuit.parts.values() if part.kind == "pot"}
    return operate(circuit, Power(heat=WARM), Conditions(rotations=pots), near)


def _blind(finding: Finding, circuit: Circuit) -> str:
    """The valve that a finding is about, where no sheet of it is known."""
    parts = circuit.parts
    types = (
        (parts[n].type for n in finding.found if n in parts)
        if finding.kind == "wrong-valve"
        else ()
    )
    return next((t for t in types if device(t) is None), "")


def _left_out(state: Operating) -> str:
    """Valves that have no model: what is said was computed with a guess of what they draw."""
    names = {valve.name for valve in unmodelled(state.net)}
    names |= {r.partition(":")[0] for r in state.remarks if r.endswith("taken as open")}
    return f" (computed without a model of {listed(sorted(names))})" if names else ""


def _driven_blind(state: Operating, drawn: Operating) -> str:
    """The section without a model whose grid is positive, and is not in the drawing; "" if none."""
    for valve in unmodelled(state.net):
        at = valve.electrodes
        volts, before = (s.volts(at["grid"], at["cathode"]) for s in (state, drawn))
        if volts > _POSITIVE and not before > _POSITIVE:
            return f"{valve.name} ({valve.type})"
    return ""


def _key(stress: Stress) -> tuple[str, str]:
    return stress.part, stress.what


def _times(stress: Stress) -> float:
    """How many times its limit; for a resistance that is too low, the other way round."""
    if stress.limit <= 0 or math.isnan(stress.limit):
        return 0.0
    ratio = stress.value / stress.limit
    return 1 / ratio if ratio and "too low" in stress.what else ratio


def _warms(stress: Stress, circuit: Circuit) -> bool:
    """A transformer's winding that carries little too much: it gets warmer than it should."""
    part = _owner(stress.part, circuit)
    wound = part is not None and part.kind == "transformer" and stress.what == "current"
    return wound and _times(stress) <= _WARM


def _owner(told: str, circuit: Circuit) -> Part | None:
    """The part that a stress is about: `R28`, `C30.square`, `V1/2`, `T1 ht`."""
    names = [n for n in circuit.parts if told == n or told.startswith((f"{n}.", f"{n}/", f"{n} "))]
    return circuit.parts[max(names, key=len)] if names else None


def _part(part: Part, drawn: str) -> str:
    if part.anonymous and drawn:
        return f"{drawn} (line {part.span.line})"
    return called(part)


def _moved(before: Operating, after: Operating) -> Iterator[tuple[float, Point, float, float]]:
    """Points of furniture whose voltage moves: how far [1], where, from and to. [V]."""
    parts = before.net.circuit.parts.values()
    points = [p for part in parts if part.kind in _TELLING for p in part.points]
    for point in points:
        old, new = before.volts(point), after.volts(point)
        if math.isnan(old) or math.isnan(new):
            continue
        share = abs(new - old) / max(abs(old), 2.0)
        if share > figure("moves-share"):
            yield share, point, old, new
