"""One self-contained HTML page: gate, punch list, drawing, sockets, coverage, provenance."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from hashlib import sha256

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from buzzout.compare import Comparison
from buzzout.job.confirm import CAUTION
from buzzout.job.gate import REFUSED
from buzzout.job.punch import Item, PunchList
from buzzout.report import drawing, wording
from buzzout.report.charts import Charts, Table, tables
from buzzout.report.drawing.palette import LOOKS
from buzzout.report.sockets import SocketView, socket_views
from buzzout.report.wording import clean

_ON_TOP = ("because", "watch")  # said beside the answer itself
_PROLOG = re.compile(r"^.*?(?=<svg)", re.DOTALL)
_SIZE = re.compile(r'(<svg[^>]*?) width="[^"]*" height="[^"]*"')
_NOISE = re.compile(r"<!--.*?-->\n?| id=\"[^\"]*\"", re.DOTALL)
_USUAL = re.compile(  # what holds without being said; the style sheet names the face
    r' (?:xml:space="preserve"|font-family="[^"]*"|fill="#000000"|text-anchor="start")'
)
_PLAIN = re.compile(r'<g class="(?:node|edge)">\n(.*?)</g>\n', re.DOTALL)  # groups of no finding


@dataclass(frozen=True)
class Line:
    """One item of the list as the page shows it."""

    number: int
    id: str
    severity: str
    title: str
    head: str
    text: str
    where: str
    rows: tuple[tuple[str, str], ...]
    closeup: Markup


@dataclass(frozen=True)
class Answer:
    """May power go on: the sentence, the lines that stand in the way, what to watch.

    `whole` is what the chassis would do as it stands, `half` that it is half typed.
    """

    shut: bool
    verdict: str
    whole: str
    because: Sequence[int]
    watch: Sequence[str]
    half: str


@dataclass(frozen=True)
class View:
    """Everything the page says, in plain text except for the pictures.

    `memory` is a digest under which the browser keeps the ticks.
    """

    chassis: str
    drawing: str
    answer: Answer
    summary: str
    proof: str
    cautions: str
    items: tuple[Line, ...]
    counts: Mapping[str, int]
    picture: Markup
    sockets: Sequence[Mapping[str, object]]
    rests_on: Sequence[tuple[str, Sequence[str]]]
    wanted: Sequence[str]
    meaning: Mapping[str, str]
    looks: Sequence[str]
    charts: Sequence[Table]
    chart_of: Charts
    inputs: Mapping[str, str]
    memory: str
    program: str


def page(punch: PunchList, inputs: Mapping[str, str], charts: Charts | None = None) -> str:
    """The page, in ASCII with character references; `inputs` gives SHA-256 by file name.

    `charts` are the resistances and voltages to print beside the sockets, where they are computed.

    Raises
    ------
    NoRenderer
        If the drawing cannot be rendered.
    """
    view = _view(punch, inputs, charts or Charts())
    text = _templates().get_template("page.html").render(view=view)
    return text.encode("ascii", "xmlcharrefreplace").decode("ascii")


@cache
def _templates() -> Environment:
    return Environment(
        loader=PackageLoader("buzzout.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        keep_trailing_newline=True,
    )


def _view(punch: PunchList, inputs: Mapping[str, str], charts: Charts) -> View:
    comparison = punch.comparison
    numbers = {item.finding.id: item.number for item in punch.everything}
    ruled = tuple(item.finding for item in punch.rules)
    shown = replace(comparison, findings=(*comparison.findings, *ruled))
    picture = drawing.svg(comparison.reference, shown, numbers=numbers)
    return View(
        chassis=clean(comparison.found.title or comparison.found.file or "Chassis"),
        drawing=clean(comparison.reference.title or comparison.reference.file),
        answer=_answer(punch),
        summary=wording.summary(punch),
        proof=wording.proof_told(comparison.proof),
        cautions=CAUTION if wording.needs_cautions(punch) else "",
        items=tuple(_line(item, shown) for item in punch.everything),
        counts=wording.counts(punch.everything),
        picture=_inline(picture),
        sockets=[_socket(view) for view in socket_views(shown, numbers)],
        rests_on=[(label, said) for label, said in wording.rests_on(punch) if label not in _ON_TOP],
        wanted=[clean(f"{d.text}, because {d.reason}") for d in punch.departures],
        meaning=wording.MEANING,
        looks=[look.legend for look in LOOKS.values()],
        charts=tables(charts, comparison.reference),
        chart_of=replace(charts, remarks=[clean(wording.sentence(r)) for r in charts.remarks]),
        inputs={clean(name): digest for name, digest in inputs.items()},
        memory=sha256("".join(inputs.values()).encode()).hexdigest()[:16],
        program=wording.program(),
    )


def _answer(punch: PunchList) -> Answer:
    gate = punch.gate
    return Answer(
        punch.dangerous if gate is None else gate.state == REFUSED,
        clean(punch.verdict),
        clean(wording.sentence(punch.whole)),
        gate.because if gate else (),
        [clean(wording.sentence(spot)) for spot in gate.watch] if gate else [],
        wording.half_typed(punch),
    )


def _line(item: Item, shown: Comparison) -> Line:
    finding = item.finding
    return Line(
        number=item.number,
        id=clean(finding.id),
        severity=item.severity,
        title=finding.title,
        head=wording.head(item),
        text=clean(finding.text),
        where=clean(wording.place(finding)),
        rows=wording.rows(item),
        closeup=_closeup(item, shown),
    )


def _closeup(item: Item, shown: Comparison) -> Markup:
    """The surroundings of one finding; nothing where it has no place in the drawing."""
    only = {item.finding.id: item.number}
    picture = drawing.svg(shown.reference, shown, True, only, False)
    return _inline(picture) if f'finding f{item.number}"' in picture else Markup()


def _socket(view: SocketView) -> Mapping[str, object]:
    svg = Markup(view.svg)  # noqa: S704 - made by us, every text in it escaped
    return {"title": clean(view.title), "svg": svg, "words": tuple(map(clean, view.words))}


def _inline(svg: str) -> Markup:
    """The drawing as an element of the page: no prolog, no fixed size, no ids that could clash.

    A reader of the screen is not given its words one by one: the list says the same.
    """
    body = _NOISE.sub("", _SIZE.sub(r"\1", _PROLOG.sub("", svg, count=1), count=1))
    body = _USUAL.sub("", _PLAIN.sub(r"\1", body))
    body = body.replace("<svg", '<svg aria-hidden="true"', 1)
    return Markup(body.strip())  # noqa: S704 - our own renderer's output, labels escaped there
