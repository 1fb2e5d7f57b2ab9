"""The record: what was found, what was done and why, what is left, for owner and next technician.

Made anew from the files of the job each time: the same files give the same bytes. The date is the
one that somebody wrote into the chassis file.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from buzzout.bench.as_left import AsLeft, as_left
from buzzout.bench.changed import carried_out
from buzzout.bench.decisions import UNSEEN, Decision, open_lines
from buzzout.bench.guide import still_unseen, unseen
from buzzout.bench.output_stage import Bias, stages
from buzzout.bench.output_stage import told as bias_told
from buzzout.bench.pages import rendered
from buzzout.bench.readings import Report, Step, report
from buzzout.bench.reported import between, what, where
from buzzout.bench.sittings import Sitting, sittings
from buzzout.bench.state import State, state
from buzzout.circuit import Circuit
from buzzout.job import Item
from buzzout.job.confirm import CAUTION
from buzzout.language import load
from buzzout.language.departures import Departure

_WORSE = {
    "danger": "can hurt or burn",
    "damage": "can destroy a part",
    "fault": "keep it from working right",
    "note": "do no harm, or could not be looked at",
}
_LINES = re.compile(r", line \d+| \(line \d+\)")
OVER = "OVER A LIMIT: not to be switched on until this is settled"
NOT_YET = "Wanted, and not carried out, or not seen"
_OTHERWISE = (
    "The readings do not agree with the set as it was written down: that comes first. By what was"
    " written down alone:"
)
RECEIVED = "as-received"  # the name under which the first state is kept


@dataclass(frozen=True)
class Decided:
    """An open line of the punch list with what was decided about it, if anything was."""

    item: Item
    decision: Decision | None


@dataclass(frozen=True)
class Record:
    """Everything that goes on paper. `before` is None where no state was kept as received.

    `open` are the lines of the list where somebody has looked, `unseen` counts the others;
    `earlier` are readings that were taken again later. `unreadable` says that the readings file has
    mistakes, so that no reading is here. `changed` are the departures that the chassis shows,
    `wanted` the others.
    """

    title: str
    date: str
    by: tuple[str, ...]
    state: State
    before: State | None
    change: AsLeft | None
    open: tuple[Decided, ...]
    readings: Report | None
    output: tuple[Bias, ...]
    provenance: tuple[tuple[str, str], ...]
    unreadable: str = ""
    unseen: int = 0
    earlier: tuple[Sitting, ...] = ()
    changed: tuple[Departure, ...] = ()
    wanted: tuple[Departure, ...] = ()

    @property
    def waits(self) -> str:
        """That nobody has looked at some places yet, in one sentence; "" where all is seen."""
        return still_unseen(self.unseen)

    @property
    def answer(self) -> str:
        """The answer on power as the gate gives it, which looks at the chassis alone.

        Readings that say otherwise come before it.
        """
        verdict = self.state.punch.verdict
        return f"{_OTHERWISE} {verdict}" if self.over or self.off else verdict

    @property
    def over(self) -> tuple[str, ...]:
        """What was read, or follows from readings, above a limit: it stands before the answer."""
        steps = self.readings.steps if self.readings is not None else ()
        last = [(bias, bias.after or bias.before) for bias in self.output]
        return (
            *(f"{step.sitting}: {told}" for step in steps for told in step.over),
            *(
                f"output stage {', '.join(bias.valves)}: {limit} over its limit, or it may be"
                for bias, got in last if got is not None
                for limit in got.stage.over
            ),
        )  # fmt: skip

    @property
    def unchecked(self) -> tuple[str, ...]:
        """What nobody checked."""
        gate = self.state.punch.gate
        return (*gate.unchecked, *gate.asked) if gate is not None else ()

    @property
    def watch(self) -> tuple[str, ...]:
        """What to watch when power goes on."""
        gate = self.state.punch.gate
        return gate.watch if gate is not None else ()

    @property
    def mended(self) -> tuple[Item, ...]:
        """What was wrong when it came in and is closed."""
        seen = self.seen_since
        return tuple(item for item in self._closed if item not in seen)

    @property
    def seen_since(self) -> tuple[Item, ...]:
        """What is closed because somebody has looked since: there was nothing to put right."""
        return tuple(
            item
            for item in self._closed
            if item.finding.kind == UNSEEN or (self.before and unseen(item, self.before.punch))
        )

    @property
    def _closed(self) -> tuple[Item, ...]:
        return self.change.closed if self.change is not None else ()

    @property
    def looked(self) -> str:
        """The parts or points that somebody has looked at since, in one sentence; or ""."""
        about = (i.finding.parts or i.finding.points[:1] for i in self.seen_since)
        names = dict.fromkeys(str(name) for each in about for name in each)
        told = "Could not be told when it came in, and was looked at since"
        return f"{told}: {', '.join(names)}." if names else ""

    @property
    def put_right(self) -> tuple[str, ...]:
        """What is put right since it came in, the parts of one kind together, worst first."""
        parts: dict[str, list[str]] = {}
        for item in self.mended:
            named = parts.setdefault(item.finding.title, [])
            about = item.finding.parts or item.finding.points
            named += [name for name in map(str, about[:4]) if name not in named]
        return tuple(
            f"{title} ({', '.join(names)})" if names else title for title, names in parts.items()
        )

    @property
    def received(self) -> str:
        """What was wrong on receipt, in one sentence by how bad it was."""
        items = open_lines(self.before.punch) if self.before is not None else ()
        count = Counter(item.severity for item in items)
        told = [f"{count[word]} that {_WORSE[word]}" for word in _WORSE if count[word]]
        return f"{len(items)} things: {', '.join(told)}." if told else "Nothing that was seen."

    @property
    def off(self) -> str:
        """How many readings are not as computed and what explains them, in one sentence; or ""."""
        if self.readings is None or self.readings.in_order:
            return ""
        off = sum(step.off for step in self.readings.steps)
        count = sum(len(step.lines) for step in self.readings.steps)
        likely = self.readings.diagnosis.explanations[:1]
        best = f"; best explained by: {likely[0].words} ({likely[0].share:.0%})" if likely else ""
        return f"{off} of {count} readings are not as computed{best}"

    @property
    def checked(self) -> tuple[str, ...]:
        """What the answer rests on."""
        gate = self.state.punch.gate
        return gate.checked if gate is not None else ()


def record(now: State) -> Record:
    """Put the record of a job together; see `state` for what reading its files may raise."""
    kept = now.folder.kept(RECEIVED)
    before = state(now.folder, kept) if kept.is_file() else None
    reports, output, earlier, unreadable = _readings(now)
    listed = open_lines(now.punch)
    seen = [item for item in listed if not unseen(item, now.punch)]
    circuit = now.chassis.circuit
    return Record(
        now.drawn.circuit.title,
        _note(circuit, "date"),
        tuple(n.partition(": ")[2] for n in circuit.notes if n.startswith("by: ")),
        now,
        before,
        as_left(before.punch, now.punch) if before is not None else None,
        tuple(Decided(i, now.settled.of.get(i.finding.id)) for i in seen),
        reports,
        output,
        tuple(_provenance(now)),
        unreadable,
        len(listed) - len(seen),
        earlier,
        *carried_out(now.punch, now.drawn.circuit),
    )


def _note(circuit: Circuit, word: str) -> str:
    told = (note.partition(": ")[2] for note in circuit.notes if note.startswith(f"{word}: "))
    return next(told, "")


def _readings(
    now: State,
) -> tuple[Report | None, tuple[Bias, ...], tuple[Sitting, ...], str]:
    """Readings of all steps, output stages, readings that were taken again, and what hinders."""
    path = now.folder.readings
    if not path.is_file():
        return None, (), (), ""
    typed = load(path, now.drawing, wanted="found")
    if not typed.ok:
        first = next(p for p in typed.problems if p.level == "error")
        where = f"{Path(first.span.file).name}, line {first.span.line}"
        return None, (), (), f"The readings could not be read ({where}: {first.message})"
    if not typed.circuit.readings:
        return None, (), (), ""
    read = sittings(typed.circuit)
    biases = tuple(b for b in stages(read, now.punch.comparison) if b.before is not None)
    again = tuple(sitting for sitting in read if sitting.again)
    return report(read, now.punch.comparison), biases, again, ""


def _provenance(now: State) -> Iterator[tuple[str, str]]:
    """Name and SHA-256 of every file that the record was made from."""
    folder = now.folder
    files = [Path(name) for name in now.drawn.sources]
    files += [*folder.departures, folder.chassis, folder.kept(RECEIVED), folder.readings]
    files += [folder.decisions]
    for path in files:
        if path.is_file():
            yield path.name, sha256(path.read_bytes()).hexdigest()


def as_page(made: Record, reader: str) -> str:
    """The record as a page to print: `reader` is "owner" or "technician"."""
    return rendered(f"record_{reader}.html", record=made, over=OVER, not_yet=NOT_YET)


def as_text(made: Record, reader: str) -> str:
    """The same as plain text."""
    lines = [made.title, f"date {made.date or 'not written down'}", *(f"by {b}" for b in made.by)]
    lines += ["", CAUTION]
    lines += _block(OVER, made.over)
    lines += _block("Readings that are off", [made.off] if made.off else [])
    lines += ["", "Answer on power", f"  {made.answer}"]
    lines += _block("Watch", made.watch)
    lines += _block("Readings left out", [made.unreadable] if made.unreadable else [])
    lines += _block("What was found and is put right", _done(made))
    lines += _block("Looked at since", [made.looked] if made.looked else [])
    lines += _block("What is left", [*map(_left, made.open), *([made.waits] if made.waits else [])])
    lines += _block("Changed on purpose", (f"{d.text}: {d.reason}" for d in made.changed))
    lines += _block(NOT_YET, (f"{d.text}: {d.reason}" for d in made.wanted))
    if reader == "technician":
        lines += _block("Found on receipt", _received(made))
        lines += _block("Readings", _reading_rows(made))
        lines += _block("Output stage", (row for bias in made.output for row in bias_told(bias)))
        lines += _block("Checked", made.checked)
    lines += _block("Not checked, or to be answered by whoever did the work", made.unchecked)
    lines += _block("Made from", (f"{name}  {digest}" for name, digest in made.provenance))
    return "\n".join(lines) + "\n"


def _block(title: str, rows: Iterator[str] | Sequence[str]) -> list[str]:
    listed = list(rows)
    return ["", title, *(f"  {row}" for row in listed)] if listed else []


def _done(made: Record) -> Iterator[str]:
    if made.change is None:
        yield f"not told: no state was kept under the name {RECEIVED}"
        return
    for item in made.mended:
        yield f"{item.finding.title}: {without_lines(item.finding.text)}"
    for new in made.change.new:
        yield f"NEW since then: {without_lines(new.item.finding.text)}"


def without_lines(text: str) -> str:
    """A sentence without the numbers of lines, for whoever has not got the files."""
    return _LINES.sub("", text)


def _left(line: Decided) -> str:
    told = f"{line.item.severity}: {line.item.finding.text}"
    if line.decision is None:
        return f"{told} Nobody decided on it."
    reason = f", {line.decision.reason}" if line.decision.reason else ""
    by = f" ({line.decision.by})" if line.decision.by else ""
    return f"{told} Decided: {line.decision.word}{reason}{by}."


def _received(made: Record) -> Iterator[str]:
    if made.before is not None:
        for item in open_lines(made.before.punch):
            yield f"{item.severity}: {item.finding.text}"


def _reading_rows(made: Record) -> Iterator[str]:
    """Readings in one line each: point, reading, range; then what explains them."""
    if made.readings is None:
        return
    for step in made.readings.steps:
        yield from _step_rows(step)
    for sitting in made.earlier:
        yield f"{sitting}: {', '.join(f'{where(r)} {what(r)}' for r in sitting.readings)}"
    if made.off and made.readings.diagnosis.summary:
        yield made.readings.diagnosis.summary
    for best in made.readings.diagnosis.explanations[:1] if made.off else ():
        yield f"explained best by: {best.words} ({best.share:.0%})"


def _step_rows(step: Step) -> Iterator[str]:
    if step.refused:
        yield f"{step.sitting}: {step.refused}"
        return
    yield f"{step.sitting}, {step.fed}"
    for line in step.lines:
        mark = "off" if line.off else "as expected"
        told = f"{where(line.reading)}: {what(line.reading)}"
        yield f"{told}, {between(line)} computed: {mark}"
    yield from (note for _, note in step.notes)
