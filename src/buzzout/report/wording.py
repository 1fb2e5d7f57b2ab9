"""Sentences that several outputs share: what the proof says, what was looked at, where it is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from buzzout.bench.guide import still_unseen, unseen
from buzzout.circuit import Span
from buzzout.compare import Finding, Proof
from buzzout.job.punch import Item, PunchList
from buzzout.job.rulebook import SEVERITIES
from buzzout.language.coverage import Coverage

_USUAL = "common practice"  # goes without saying where a difference ranks
_EQUAL = "equals the drawing"  # the gate says so too; here the proof has said it already
MEANING = {
    "danger": "can hurt somebody or start a fire",
    "damage": "can destroy a part",
    "fault": "keeps the set from working as drawn",
    "note": "harmless, or not verified yet",
}


def program() -> str:
    """Name and version of this program."""
    from importlib.metadata import version  # noqa: PLC0415 - slow to import, rarely needed

    return f"buzzout {version('buzzout')}"


def clean(text: str) -> str:
    """Text for a person: control characters, which could steer a terminal, become a blank."""
    return "".join(c if c.isprintable() else " " for c in text)


def counts(items: Iterable[Item]) -> dict[str, int]:
    """How many items there are of each severity, worst first."""
    listed = [item.severity for item in items]
    return {severity: listed.count(severity) for severity in SEVERITIES}


def summary(punch: PunchList) -> str:
    """The list in one line."""
    everything = punch.everything
    if not everything:
        return "No difference between the chassis as typed in and the drawing."
    told = [f"{n} {severity}" for severity, n in counts(everything).items() if n]
    kinds = _number(len(punch.items), "difference")
    if punch.rules:
        kinds += f" and {_number(len(punch.rules), 'broken rule')}"
    return f"{kinds}: {', '.join(told)}."


def proof_told(proof: Proof) -> str:
    """What is certain about the list."""
    if not proof.sufficient:
        why = f" ({'; '.join(proof.why)})" if proof.why else ""
        return f"Check failed: with all of this done the chassis would still differ{why}."
    done = "Checked: with all of this done, the chassis as typed in equals the drawing."
    if proof.minimal:
        if proof.cost < 2:
            return done
        return f"{done} Proved: fewer mistakes than these {proof.cost} cannot explain it."
    least = f"at least {proof.bound} mistakes are certain, {proof.cost} were found"
    return f"{done} Not proved to be the shortest list: {least}."


def half_typed(punch: PunchList) -> str:
    """That lines only seem to miss something, where a chassis is half typed; else ""."""
    return still_unseen(sum(unseen(item, punch) for item in punch.open))


def coverage_told(coverage: Coverage | None) -> list[str]:
    """How far the transcription carries, one sentence a line."""
    if coverage is None:
        return ["How much of the chassis was written down is not known."]
    both = f"{coverage.confirmed} of {_number(coverage.total, 'lead')} seen from both ends"
    lines = [f"{both}, {coverage.once} from one end only."]
    counted = (
        (len(coverage.contradictions), "pair", "of lines contradict each other"),
        (len(coverage.unmatched), "lead", "not seen at the far end, although it has a heading"),
        (len(coverage.unvisited), "point", "of furniture that no line speaks of"),
        (len(coverage.unread), "part", "with something that could not be read"),
        (len(coverage.unseen), "part", "with an end that nobody could see"),
    )
    lines += [f"{_number(n, what)} {rest}." for n, what, rest in counted if n]
    if coverage.unlooked:
        names = ", ".join(part.name for part in coverage.unlooked)
        lines.append(f"Taken over from the drawing and not looked at: {names}.")
    return lines


def place(finding: Finding) -> str:
    """Where a finding sits: points, and the lines of the found file."""
    points = ", ".join(str(point) for point in finding.points)
    lines = sorted({span.line for span in finding.spans if span.line})
    word = "line" if len(lines) == 1 else "lines"
    told = f"{word} {', '.join(map(str, lines))}" if lines else ""
    return "; ".join(x for x in (points, told) if x)


def sentence(text: str) -> str:
    """Words as a sentence: a capital, a full stop."""
    if not text:
        return ""
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?", "!")) else ".")


def rows(item: Item) -> tuple[tuple[str, str], ...]:
    """What is said of an item below its sentence: label and text, nothing empty."""
    told = (
        ("where", place(item.finding)),
        ("do", item.finding.action),
        ("confirm", item.confirm),
        ("power on", sentence(item.consequence)),
        ("ranks so", sentence(item.why)),
        ("source", item.source if item.rule or item.source != _USUAL else ""),
    )
    return tuple((label, clean(text)) for label, text in told if text)


def head(item: Item) -> str:
    """Parts and kind of an item in a few words."""
    name = f"{', '.join(item.finding.parts)}, " if item.finding.parts else ""
    return clean(f"{name}{item.finding.title}")


def result(punch: PunchList) -> Iterator[tuple[str, str]]:
    """The answer in a few lines: label and text, nothing empty."""
    told = (
        ("power", punch.verdict),
        ("together", sentence(punch.whole)),
        ("list", summary(punch)),
        ("proof", proof_told(punch.comparison.proof)),
    )
    for label, text in told:
        if text:
            yield label, clean(text)


def rests_on(punch: PunchList) -> Iterator[tuple[str, tuple[str, ...]]]:
    """What the answer on power rests on and what it does not: label and lines, nothing empty."""
    gate = punch.gate
    if gate is None:
        yield "looked at", tuple(coverage_told(punch.coverage))
        return
    told: tuple[tuple[str, Iterable[object]], ...] = (
        ("because", [f"number {_counted(gate.because)}"] if gate.because else []),
        ("watch", gate.watch),
        ("checked", [each for each in gate.checked if _EQUAL not in each]),
        ("unchecked", gate.unchecked),
        ("accepted", gate.accepted),
        ("ask", gate.asked),
        ("reservoir", gate.discharge),
        ("fuse", gate.fuses),
    )
    for label, lines in told:
        if found := tuple(clean(sentence(str(line))) for line in lines):
            yield label, found


def line_of(span: Span) -> dict[str, str | int]:
    """A place in a file as a mapping."""
    return {"file": span.file, "line": span.line, "column": span.column}


def needs_cautions(punch: PunchList) -> bool:
    """Whether anything in the list asks somebody to open or to measure."""
    return any(item.confirm or item.finding.action for item in punch.everything)


def _counted(numbers: Sequence[int]) -> str:
    """Numbers as a reader would say them: `1 to 7, 9`."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(r[0]) if len(r) == 1 else f"{r[0]} to {r[-1]}" for r in runs)


def _number(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"
