"""Findings laid over the drawing: frames on parts, lines that are too many, lines that lack.

What is wrong is read from the remedy of each finding, so every kind is drawn by the same few rules:
a part to fit lacks, a part to remove is too many, a lead to move is drawn where it is and where it
belongs.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from buzzout.circuit import Change, Cut, Edit, Fit, Join, Move, Part, Point, Remove, Rewire
from buzzout.compare.findings import KINDS, Comparison, Finding
from buzzout.report.drawing.blocks import Block
from buzzout.report.drawing.canvas import Pen
from buzzout.report.drawing.palette import LOOKS, Look
from buzzout.report.drawing.places import Places
from buzzout.report.drawing.sheet import Sheet


@dataclass(frozen=True, slots=True)
class Mark:
    """The number of a finding with its look, and what is said beside the part.

    `pins` are those of a socket that it is about; none means all of it.
    """

    number: int
    look: Look
    lines: tuple[str, ...] = ()
    pins: frozenset[str] = frozenset()

    @property
    def classes(self) -> str:
        """Names by which a page finds everything that shows this finding."""
        return f"finding f{self.number}"

    @property
    def pen(self) -> Pen:
        """How lines of this finding are drawn."""
        return Pen(self.look.colour, self.look.width, self.look.line, self.classes)


@dataclass(frozen=True, slots=True)
class Wire:
    """A line that a finding adds: between two points of the sheet."""

    a: Point
    b: Point
    mark: Mark


@dataclass(frozen=True)
class Marks:
    """All that the findings add.

    `parts` goes by the name on the drawing; `leads` are ends of drawn parts that are elsewhere on
    the board; `extra` are parts that the drawing does not know, to be fitted where they were found.
    """

    parts: Mapping[str, tuple[Mark, ...]] = field(default_factory=dict)
    leads: Mapping[Point, Mark] = field(default_factory=dict)
    wires: tuple[Wire, ...] = ()
    extra: tuple[Fit, ...] = ()

    @property
    def extra_names(self) -> frozenset[str]:
        """Names under which the extra parts are drawn."""
        return frozenset(fit.part.name for fit in self.extra)

    @property
    def looks(self) -> tuple[Look, ...]:
        """Looks in use, in the order of the legend."""
        used = [mark.look for marks in self.parts.values() for mark in marks]
        used += [wire.mark.look for wire in self.wires] + [m.look for m in self.leads.values()]
        return tuple(look for look in LOOKS.values() if look in used)


def marks(sheet: Sheet, comparison: Comparison, numbers: Mapping[str, int]) -> Marks:
    """The marks of a comparison on the sheet of its drawing; `numbers` go by finding id."""
    pen = _Pen(sheet, comparison)
    for finding in comparison.findings:
        if finding.id in numbers:
            pen.draw(finding, numbers[finding.id])
    parts = {name: tuple(found) for name, found in pen.parts.items()}
    return Marks(parts, pen.leads, tuple(pen.wires), tuple(pen.extra))


class _Pen:
    """Collects marks, finding by finding."""

    def __init__(self, sheet: Sheet, comparison: Comparison) -> None:
        self._sheet = sheet
        self._found = comparison.found
        self._places = Places(sheet, comparison)
        self.parts: dict[str, list[Mark]] = {}
        self.leads: dict[Point, Mark] = {}
        self.wires: list[Wire] = []
        self.extra: list[Fit] = []

    def draw(self, finding: Finding, number: int) -> None:
        """Everything that one finding adds."""
        if finding.harmless or not finding.remedy:
            self._frames(finding.parts, Mark(number, _quiet(finding), (finding.title,)))
            return
        for edit in finding.remedy:
            self._edit(edit, finding, number)

    def _edit(self, edit: Edit, finding: Finding, number: int) -> None:
        there, lacking = Mark(number, LOOKS["there"]), Mark(number, LOOKS["lacking"])
        match edit:
            case Fit(part, _ends):
                wanted = [p for p in finding.parts if p in self._sheet.circuit.parts]
                self._frames(wanted or [part.name], replace(lacking, lines=("missing",)))
            case Remove(name):
                self._surplus(self._found.parts[name], replace(there, lines=("too many",)))
            case Change(name, to):
                lines = unlike(self._found.parts[name], to) or (finding.title,)
                self._frames([self._drawn(name)], Mark(number, LOOKS["differs"], lines))
            case Rewire(name, pins):
                used = [(old, to) for old, to in pins if Point(name, old) in self._found.links_at]
                lines = rewired(finding.title, used)
                mark = Mark(number, LOOKS["differs"], lines, frozenset(p for p, _to in pins))
                self._frames([self._drawn(name)], mark)
            case Join(a, b):
                lost = self._places.alone(a) or self._places.alone(b)
                if lost is not None and lost not in self.leads:
                    self.leads[lost] = lacking
                else:
                    self._wire(a, b, lacking)
            case Cut(a, b):
                self._wire(a, b, there)
            case Move():
                self._moved(edit, there, lacking)

    def _drawn(self, found: str) -> str:
        return self._places.drawn_name.get(found, found)

    def _frames(self, names: tuple[str, ...] | list[str], mark: Mark) -> None:
        for name in names:
            self.parts.setdefault(name, []).append(mark)

    def _moved(self, edit: Move, there: Mark, lacking: Mark) -> None:
        """A lead is drawn where it is; where it belongs it is dashed."""
        lead = self._places.same(edit.fixed)
        if lead is not None and lead in self._sheet.pin_at and lead not in self.leads:
            self.leads[lead] = lacking
        else:
            self._wire(edit.fixed, edit.new, lacking, not_by=edit.old)
        self._wire(edit.fixed, edit.old, there)

    def _wire(self, a: Point, b: Point, mark: Mark, not_by: Point | None = None) -> None:
        """A line between what lies at both points, the line itself left out of account."""
        ends = self._places.near(a, not_by or b), self._places.near(b, a)
        self.wires.append(Wire(ends[0] or a, ends[1] or b, mark))

    def _surplus(self, part: Part, mark: Mark) -> None:
        """A part that the drawing does not know, tied to what it lies between."""
        if part.furniture:
            self._frames([self._drawn(part.name)], mark)
            return
        name = f"extra {part.kind} {len(self.extra) + 1}"
        ends = []
        for end in part.points:
            at = self._found.landing(end)
            ends.append((end.pin, self._places.near(at, end) or at))
        self.extra.append(Fit(replace(part, name=name), tuple(ends)))
        self._frames([name], mark)


def rewired(title: str, pins: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """What is wrong with the wiring of a socket: the pins where there are few, else in words."""
    moved = [(old, new) for old, new in pins if old != new]
    if len(moved) == 1:
        old, new = moved[0]
        return (f"on {old}, belongs on {new}",)
    if len(moved) == 2 and moved[0] == moved[1][::-1] and moved[0][0] not in "+-":
        return (f"{' and '.join(sorted(moved[0]))} exchanged",)
    return (title,)


def on_block(block: Block, laid: Marks) -> tuple[Mark, ...]:
    """The marks that one block of a part shows: those about its pins, on heaters without words.

    What is about all of a pot or speaker stands at its track or coil, not at its switch or field;
    what is about a section of a can stands there.
    """
    pins = {pin.point.pin for pin in block.pins}
    beside = block.part.kind in ("pot", "speaker") and block.id != block.part.name
    found = []
    for mark in laid.parts.get(block.part.name, ()):
        if block.shape == "heater":
            if mark.pins & pins:
                found.append(replace(mark, lines=()))
        elif mark.pins & pins or not (mark.pins or beside):
            found.append(mark)
    return tuple(found) if block.part.kind != "can" else tuple(_of_section(block, found))


def _of_section(block: Block, found: Sequence[Mark]) -> Iterator[Mark]:
    """The marks of a can that are about one section of it, or about none in particular."""
    labels = [element.label for element in block.part.elements]
    mine = block.id.removeprefix(f"{block.part.name} ")
    for mark in found:
        about = [next((e for e in labels if ln.startswith(f"{e}: ")), mine) for ln in mark.lines]
        lines = tuple(ln for ln, label in zip(mark.lines, about, strict=True) if label == mine)
        if lines or not mark.lines:
            yield replace(mark, lines=lines)


def _quiet(finding: Finding) -> Look:
    """The look of a finding that asks for no change of the wiring."""
    if finding.kind not in KINDS:
        return LOOKS["rule"]
    return LOOKS["harmless" if finding.harmless else "unsure"]


def unlike(fitted: Part, wanted: Part) -> tuple[str, ...]:
    """What is there and what should be, where the two differ, each as a short line."""
    lines = []
    for name in ("type", "value", "voltage", "power", "style"):
        is_, should = getattr(fitted, name), getattr(wanted, name)
        if is_ and should and is_ != should:
            lines.append(f"found {_short(is_)}, wants {_short(should)}")
    for one, other in zip(fitted.elements, wanted.elements, strict=False):
        if one.value and other.value and one.value != other.value:
            lines.append(f"{other.label}: found {one.value}, wants {other.value}")
    if fitted.measured and not lines:
        lines.append(f"reads {fitted.measured}")
    return tuple(lines)


def _short(fact: object) -> str:
    return " ".join(fact) if isinstance(fact, tuple) else str(fact or "")
