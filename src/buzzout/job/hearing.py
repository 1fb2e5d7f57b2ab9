"""What a discrepancy does to the signal: gain, bass, treble, hum, and a tone that sustains itself.

Small signals at the operating point, every control fully clockwise unless the file tells otherwise.
Where no input reaches an output, as the aerial of a receiver does not in the computation, the
signal comes in at the volume control, behind the detector. Hum is the ripple of the reservoirs as
it reaches the output, with valves as like as on paper.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from buzzout.circuit import CHASSIS, Point, frequency, listed, printed
from buzzout.electrics.alternating import layout
from buzzout.electrics.inputs import inputs, plugged
from buzzout.electrics.limited import driven
from buzzout.electrics.loops import cut, oscillations
from buzzout.electrics.mains import hertz_of
from buzzout.electrics.operating import Operating
from buzzout.electrics.signal import Drive, Linear, answer, linear
from buzzout.electrics.stability import Stability, stability
from buzzout.electrics.stress_parts import smoothed
from buzzout.electrics.way import along
from buzzout.job.radio import Radio
from buzzout.job.rulebook import figure

BASS, MIDDLE, TREBLE = 50.0, 1000.0, 10_000.0  # where the gain is looked at [Hz]
_LEAST = 1e-2  # a way that passes less than this share is none
_SPEAKER = 100.0  # an output winding is made for less than this [ohm]
_AS_MUCH = 0.1  # feedback that changes the gain by less than this is none [dB]
_SILENT = -40.0  # a gain that falls by more is told as none [dB]
_TONES = (20.0, 20_000.0)  # modes that are heard [Hz]
_DIAL = 0.01  # an oscillator that moves by less is trimmed back, common practice [1]
_NEAR = 0.9  # a loop gain above this at a growing mode is that of its loop, which is above 1


@dataclass(frozen=True, slots=True)
class Route:
    """From where a signal comes in to where it goes out, and its gains at the three frequencies.

    The output is taken from `end` to `to`: the two ends of a winding or a speaker, so that it is
    the same one when they are exchanged.
    """

    start: Point
    end: Point
    to: Point
    gains: tuple[complex, ...]

    def within(self, view: Linear) -> Route:
        """The same way with its gains in another state."""
        return replace(self, gains=_gains(view, self.start, self.end, self.to))

    def above(self, before: Route) -> tuple[float, ...]:
        """How much the gains are above those of before. [dB]."""
        return tuple(_decibels(b, a) for a, b in zip(before.gains, self.gains, strict=True))

    def suspect(self, before: Route) -> bool:
        """Whether feedback may have turned positive: the gain changes sign, or rises."""
        ratio = self.gains[1] / before.gains[1]
        return abs(ratio) > 0.05 and (ratio.real < 0 or abs(ratio) > 1.4)


@dataclass(frozen=True, slots=True)
class Tone:
    """A frequency that sustains itself, and the loop gain there, opened at a grid. [Hz], [1]."""

    hertz: float
    gain: complex
    lead: Point

    def beside(self, state: Operating) -> tuple[float, float]:
        """Frequency [Hz] and loop gain [1] in another state, (0, 0) where the loop is gone."""
        loop = cut(state, self.lead)
        if loop is None:
            return 0.0, 0.0
        if abs(loop.at(self.hertz).gain / self.gain - 1) < figure("moves-share"):
            return self.hertz, abs(self.gain)
        found = ((o.hertz, o.gain) for o in oscillations(loop, self.hertz / 4, self.hertz * 4, 16))
        return max(found, key=lambda each: each[1], default=(0.0, 0.0))


@dataclass(frozen=True)
class Ear:
    """What is heard of a drawing, to hold other states against it."""

    state: Operating

    @cached_property
    def _view(self) -> Linear:
        return linear(self.state)

    @cached_property
    def routes(self) -> tuple[Route, ...]:
        """The ways of the signal: each input with the output that it reaches best."""
        ends = tuple(_outputs(self.state))
        out = {end for end, _ in ends}
        starts = [p for p in inputs(self.state.net) if p not in out]
        best = (self._best(start, ends) for start in starts)
        return tuple(route for route in best if route is not None) or tuple(self._control(ends))

    def _control(self, ends: tuple[tuple[Point, Point], ...]) -> Iterator[Route]:
        """From the end of a track with the most gain to an output: that of the volume control."""
        parts = self.state.net.circuit.parts.values()
        pots = [p for p in parts if p.kind == "pot"] if ends else []
        points = (p for pot in pots for p in pot.points if not p.pin.startswith(("wiper", "sw")))
        starts = (p for p in points if _off_chassis(self.state, p))
        found = [r for r in (self._best(start, ends) for start in starts) if r is not None]
        yield from sorted(found, key=lambda r: -abs(r.gains[1]))[:1]

    @cached_property
    def radio(self) -> Radio:
        """What of the set is the radio side of a receiver."""
        heard = [route.start for route in self.routes]
        silent = tuple(p for p in inputs(self.state.net) if p not in heard)
        return Radio(self.state, silent, tuple(self._passed))

    @cached_property
    def _passed(self) -> frozenset[Point]:
        """Points on the ways of the signal."""
        views = ((_inside(self._view, r.start), Drive(r.start)) for r in self.routes)
        return frozenset(p for view, drive in views for p in along(answer(view, drive, MIDDLE)))

    def _best(self, start: Point, ends: tuple[tuple[Point, Point], ...]) -> Route | None:
        got = answer(_inside(self._view, start), Drive(start), MIDDLE)
        others = ends or tuple((p, CHASSIS) for p in _plugs(self.state) if p != start)
        best = max(others, key=lambda pair: abs(got.gain(*pair)), default=None)
        if best is None or not abs(got.gain(*best)) > _LEAST:
            return None
        return Route(start, *best, _gains(self._view, start, *best))

    @cached_property
    def tones(self) -> tuple[Tone, ...]:
        """Tones that the drawing makes by itself."""
        low, high = _TONES
        growing = [g.hertz for g in self.stability.growing if low < g.hertz < high]
        return tuple(tone for hertz in growing if (tone := self._tone(hertz)) is not None)

    def _tone(self, hertz: float) -> Tone | None:
        """The grid round which the loop gain is nearest to a real one above 1."""
        loops = ((grid, cut(self.state, grid)) for grid in _grids(self.state))
        gains = ((loop.at(hertz).gain, grid) for grid, loop in loops if loop is not None)
        near = [(abs(cmath.phase(gain)), gain, grid) for gain, grid in gains if gain.real > _NEAR]
        found = min(near, key=lambda each: each[0], default=None)
        return Tone(hertz, found[1], found[2]) if found else None

    @cached_property
    def hums(self) -> Mapping[Point, float]:
        """Hum at the outputs. Peak to peak. [V]."""
        return _hums(self._view, {route.end for route in self.routes})

    @cached_property
    def stability(self) -> Stability:
        """What the drawing does by itself."""
        return stability(self.state)

    def beside(self, state: Operating, *, turned: bool = False, radio: bool = False) -> Heard:
        """Another state held against it; `turned`: a winding is, `radio`: it differs there."""
        return Heard(self, state, turned, radio)


@dataclass(frozen=True)
class Heard:
    """What is heard otherwise in another state than in that of the drawing. Told in words."""

    drawn: Ear
    state: Operating
    turned: bool = False
    radio: bool = False

    @cached_property
    def _view(self) -> Linear:
        return linear(self.state)

    @cached_property
    def _routes(self) -> tuple[Route, ...]:
        """The ways of the signal as they are here."""
        return tuple(route.within(self._view) for route in self.drawn.routes)

    @cached_property
    def _stability(self) -> Stability:
        return stability(self.state)

    def changes(self) -> Iterator[str]:
        """All of it."""
        yield from self.gains()
        yield from self._hum()
        yield from self._tones()
        yield from self._oscillators()
        yield from self.feedback() if self.turned else self._growing()

    def howls(self) -> bool:
        """Whether it is told that the set oscillates by itself, other than drawn."""
        if self.turned:
            return self._stability.modes > self.drawn.stability.modes
        return any(self._growing())

    def feedback(self) -> Iterator[str]:
        """What feedback does where a winding is turned round."""
        if not self.turned:
            return
        rows = zip(self._routes, self.drawn.routes, strict=True)
        most = max((now.above(before)[1] for now, before in rows), key=abs, default=0.0)
        now, before = self._stability, self.drawn.stability
        if now.modes > before.modes:
            known = [g.hertz for g in before.growing]
            heard = next((g.hertz for g in now.growing if _new(g.hertz, known)), None)
            at = f", at first at {frequency(heard)}" if heard else " or motorboats"
            yield f"the feedback is positive with it, and computed the set oscillates by itself{at}"
        elif most > _AS_MUCH:
            yield (
                "the feedback is positive with it; computed it does not oscillate, but stray"
                " capacitance and the leakage of the transformer are not in the file"
            )
        elif most < -_AS_MUCH:
            yield "the feedback is negative with it and positive as drawn: look at the drawing"

    def gains(self) -> Iterator[str]:
        """How the ways of the signal change.

        What changes most first; inputs of which the same is to be told are told together.
        """
        rows = zip(self.drawn.routes, self._routes, strict=True)
        moved = [(before, now.above(before)) for before, now in rows]
        moved.sort(key=lambda each: -max(map(abs, each[1])))
        same: dict[str, list[Point]] = {}
        for route, steps in moved:
            for words in _told(route.end, steps):
                same.setdefault(words, []).append(route.start)
        for words, starts in same.items():
            yield words.format(listed(sorted(starts, key=str)))

    def _hum(self) -> Iterator[str]:
        drawn = self.drawn.hums
        now = _hums(self._view, set(drawn))
        louder = [p for p in now if now[p] > figure("hum-times") * drawn[p] and now[p] > 1e-3]
        for point in louder[:1]:
            before, after = (printed(float(f"{v[point]:.2g}"), "V") for v in (drawn, now))
            yield f"the hum at {point} rises from {before} to {after} peak to peak"

    def _tones(self) -> Iterator[str]:
        for tone in self.drawn.tones:
            hertz, gain = tone.beside(self.state)
            if gain <= 1:
                yield f"the tone of {frequency(tone.hertz)} does not start (loop gain {gain:.2g})"
            elif abs(hertz / tone.hertz - 1) > figure("moves-share"):
                yield f"the tone moves from {frequency(tone.hertz)} to {frequency(hertz)}"

    def _oscillators(self) -> Iterator[str]:
        """What becomes of the oscillator of a receiver."""
        for each in self.drawn.radio.oscillators if self.radio else ():
            hertz = each.beside(self.state)
            at = f"the oscillator at {each.grid} ({frequency(each.hertz)} as drawn)"
            if hertz == 0:
                yield f"{at} does not start"
            elif hertz is not None and abs(hertz / each.hertz - 1) > _DIAL:
                yield f"{at} moves to {frequency(hertz)}"

    def _growing(self) -> Iterator[str]:
        """Tones that the drawing has not, where feedback may have turned positive."""
        rows = zip(self._routes, self.drawn.routes, strict=True)
        if not any(now.suspect(before) for now, before in rows):
            return
        known = [tone.hertz for tone in self.drawn.tones]
        for each in self._stability.growing:
            if _new(each.hertz, known):
                yield f"the set oscillates by itself, at first at {frequency(each.hertz)}"


def _new(hertz: float, known: list[float]) -> bool:
    """Whether a mode is heard, and none of those that the drawing has by itself. [Hz]."""
    low, high = _TONES
    return low < hertz < high and all(abs(math.log(hertz / k)) > 0.5 for k in known if k > 0)


def _told(end: Point, steps: tuple[float, ...]) -> Iterator[str]:
    """The gain that moved, with bass and treble where they move otherwise; {} for the inputs."""
    least, way = figure("moves-decibels"), f"from {{}} to {end}"
    bass, middle, treble = steps
    if middle < _SILENT:
        yield f"no signal comes {way}"
    elif abs(middle) >= least:
        others = zip((bass, treble), (BASS, TREBLE), strict=True)
        apart = [f"{_share(s)} at {frequency(f)}" for s, f in others if abs(s - middle) >= least]
        more = f" ({', '.join(apart)})" if apart else ""
        yield f"the gain {way} {_step(middle)} at {frequency(MIDDLE)}{more}"
    else:
        for name, hertz, step in (("bass", BASS, bass), ("treble", TREBLE, treble)):
            if abs(step) >= least:
                yield f"the {name} {way} {_step(step)} at {frequency(hertz)}"


def _share(decibels: float) -> str:
    return f"{decibels:+.0f} dB" if abs(decibels) >= 0.5 else "unchanged"


def _step(decibels: float) -> str:
    return f"{'rises' if decibels > 0 else 'falls'} by {abs(decibels):.0f} dB"


def _decibels(now: complex, before: complex) -> float:
    ratio = abs(now) / max(abs(before), 1e-12)
    return 20 * math.log10(max(ratio, 1e-6)) if math.isfinite(ratio) else 20 * math.log10(1e-6)


def _inside(view: Linear, start: Point) -> Linear:
    """The same with a plug in the jack where a signal comes in."""
    net = plugged(view.net, [start.owner])
    return view if net is view.net else replace(view, net=net, plan=layout(net))


def _gains(view: Linear, start: Point, end: Point, to: Point) -> tuple[complex, ...]:
    inside = _inside(view, start)
    return tuple(answer(inside, Drive(start), f).gain(end, to) for f in (BASS, MIDDLE, TREBLE))


def _grids(state: Operating) -> Iterator[Point]:
    return (v.electrodes["grid"] for v in state.net.valves if "grid" in v.electrodes)


def _off_chassis(state: Operating, point: Point) -> bool:
    return point in state.net.of and state.net.of[point] != state.net.chassis


def _plugs(state: Operating) -> Iterator[Point]:
    """Contacts of jacks and connectors that are not the chassis."""
    parts = state.net.circuit.parts.values()
    points = (p for part in parts if part.kind in ("jack", "connector") for p in part.points)
    return (p for p in points if _off_chassis(state, p))


def _outputs(state: Operating) -> Iterator[tuple[Point, Point]]:
    """Where a speaker is, or would be: both its ends, the further from the chassis first.

    Then everything else on the same nodes, against the chassis.
    """
    loads = [
        tuple(Point(part, t) for t in element.terminals)
        for part, element in state.net.windings()
        if element.load is not None and element.load < _SPEAKER
    ]
    loads += [
        tuple(p for p in speaker.points if not p.pin.startswith("field"))
        for speaker in state.net.circuit.parts.values()
        if speaker.kind == "speaker"
    ]
    of, known = state.net.of, dict[Point, Point]()
    for ends in loads:
        back = next((p for p in ends if of[p] == state.net.chassis), None)
        known |= dict.fromkeys(ends, back or CHASSIS)
    nodes = {of[p] for p in known} - {state.net.chassis}
    for node in sorted(nodes):
        yield from ((p, known.get(p, CHASSIS)) for p in state.net.groups[node])


def _hums(view: Linear, points: set[Point]) -> dict[Point, float]:
    """The ripple of each reservoir as it arrives at some points, added up. Peak to peak. [V].

    No stage swings further than its supply, however much ripple reaches it.
    """
    state = view.state
    total = dict.fromkeys(sorted(points, key=str), 0.0)
    for number in sorted({r.group for r in state.reservoirs if r.farads and r.ripple}):
        members = [i for i, r in enumerate(state.reservoirs) if r.group == number]
        at = state.net.groups[smoothed(state, members)][0]
        hertz = hertz_of(state.net.circuit) * min(len(members), 2)
        if _off_chassis(state, at):
            ripple = state.reservoirs[members[0]].ripple
            got = driven(view, Drive(at), hertz, ripple / 2)
            for point in total:
                total[point] += ripple * abs(got.gain(point))
    return total
