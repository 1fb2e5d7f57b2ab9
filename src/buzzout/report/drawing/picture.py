"""The sheet as a picture: signal from left to right, HT above, chassis below; then the supply."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from buzzout.circuit import Circuit, Fit, Point, apply
from buzzout.compare.findings import Comparison
from buzzout.report.drawing.bands import bands
from buzzout.report.drawing.canvas import Canvas
from buzzout.report.drawing.draw import draw_bands, draw_tags
from buzzout.report.drawing.legend import Scope, draw_legend
from buzzout.report.drawing.marks import Marks, marks, on_block
from buzzout.report.drawing.nodes import name_of
from buzzout.report.drawing.overlay import draw_overlay
from buzzout.report.drawing.sheet import Sheet, sheet, warned
from buzzout.report.drawing.stages import Stage, stages
from buzzout.report.drawing.tags import tags_of


def dot_source(
    circuit: Circuit,
    comparison: Comparison | None = None,
    only_findings: bool = False,
    numbers: Mapping[str, int] | None = None,
    legend: bool = True,
) -> str:
    """A circuit, or a comparison's drawing with the findings marked, in the DOT language.

    With a comparison, `circuit` is its reference. `numbers` are the numbers in the punch list by
    finding id; without it, findings count from 1 in their order. `only_findings` leaves out what is
    no neighbour of a finding; `legend` may be left out where one stands near. Every stroke has its
    place already: render it with `rendered`.
    """
    drawn, laid = sheet(circuit), Marks()
    if comparison is not None:
        told = numbers
        if told is None:
            told = {f.id: i for i, f in enumerate(comparison.findings, 1)}
        laid = marks(drawn, comparison, told)
        drawn = sheet(apply(circuit, laid.extra), drawn.usual)
        drawn = warned(drawn) if sheet(comparison.found).live else drawn
    every = stages(drawn)
    if only_findings:
        drawn = _surroundings(drawn, laid)
        every = _kept(every, drawn)
    drawn = _open_ends(drawn, laid.extra)
    paper = Canvas()
    laid_out = bands(drawn, every, laid)
    draw_bands(paper, laid_out, laid)
    tags = tags_of(circuit, comparison)
    beside = draw_tags(paper, laid_out, tags)
    draw_overlay(paper, laid_out, laid, beside)
    if legend:
        draw_legend(paper, drawn, laid_out, laid, Scope(whole=not only_findings, tagged=bool(tags)))
    return paper.source


def _surroundings(drawn: Sheet, laid: Marks) -> Sheet:
    """Only the blocks with a finding on them and those one line away."""
    points = [p for wire in laid.wires for p in (wire.a, wire.b)] + list(laid.leads)
    core = {drawn.pin_at[p][0].id for p in points if p in drawn.pin_at}
    core |= {block.id for block in drawn.blocks if on_block(block, laid)}
    near = set(core)
    for node, ends in drawn.ends.items():
        if node not in drawn.symbols and any(block.id in core for block, _pin in ends):
            near |= {block.id for block, _pin in ends}
    kept = replace(drawn, blocks=tuple(b for b in drawn.blocks if b.id in near))
    cut = {
        node: f"to {_other_end(drawn, node, near)}"
        for node, ends in kept.ends.items()
        if len(ends) == 1 < len(drawn.ends[node]) and node not in drawn.symbols
    }
    return replace(kept, symbols={**drawn.symbols, **cut})


def _kept(every: Iterable[Stage], drawn: Sheet) -> tuple[Stage, ...]:
    """The stages with what is still drawn of them."""
    kept = (Stage(s.name, tuple(b for b in s.blocks if b in drawn.blocks)) for s in every)
    return tuple(stage for stage in kept if stage.blocks)


def _other_end(drawn: Sheet, node: int, near: Iterable[str]) -> Point:
    return next(pin.point for block, pin in drawn.ends[node] if block.id not in near)


def _open_ends(drawn: Sheet, extra: Iterable[Fit]) -> Sheet:
    """Ends of parts that the drawing does not know, where nothing else of it is, get a name."""
    names = {}
    for fit in extra:
        for _terminal, at in fit.ends:
            node = drawn.circuit.node(at)
            if node not in drawn.symbols and len(drawn.ends.get(node, ())) < 2:
                names[node] = name_of(drawn.circuit, node)
    return replace(drawn, symbols={**drawn.symbols, **names})
