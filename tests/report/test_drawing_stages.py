"""Where things stand follows from what they are joined to; what is printed beside them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from buzzout.circuit import Change, Circuit, Part, Quantity
from buzzout.compare import Comparison, Finding, Matching, Proof
from buzzout.language import load
from buzzout.report import drawing
from buzzout.report.drawing.bands import bands
from buzzout.report.drawing.marks import Marks, marks, on_block
from buzzout.report.drawing.sheet import sheet
from buzzout.report.drawing.stages import stages

RADIO = """\
reference "Receiver of three valves"
mains 230 V 50 Hz region UK
default resistor 10% 0.5W
socket V1 B9A ECH81
socket V2 B9A EABC80
socket V3 B9A EL84
socket V4 B9A EZ80
connector AE 2 pins
cord M1 L brown N blue
fuse F1 1A slow
transformer L1
winding L1 couple 1 2
winding L1 mw 3 4 190uH
winding L1 lw 5 6 2.2mH
transformer L2
winding L2 mw 1 2 90uH
winding L2 feedback 3 4
transformer IF1
winding IF1 primary 1 2
winding IF1 secondary 3 4
switch S1 2 poles 2 ways set 1
switch S2 2 poles 1 ways
pot P1 500k log switched
transformer T1
winding T1 ht red1 red/yellow red2 250-0-250V
winding T1 heaters h1 h2 6.3V
winding T1 primary 0 230 0-230V
transformer T2
winding T2 primary blue red load 5k2
winding T2 secondary 0 3 load 3R
speaker LS1 3R
C1 capacitor 1n AE.1 L1.1
wire L1.2 L1.4 L1.6 L2.4 AE.2 chassis
wire S1.a1 L1.3
wire S1.a2 L1.5
C2 capacitor 490p S1.a chassis
C3 capacitor 100p S1.a V1.2
R1 resistor 1M V1.2 chassis
wire V1.3 V2.7 V2.3 chassis
C4 capacitor 100p V1.9 L2.1
C5 capacitor 490p L2.1 chassis
wire L2.2 chassis
wire V1.9 V1.7
R2 resistor 47k V1.9 chassis
wire V1.8 L2.3
R3 resistor 33k V1.1 HT1
wire V1.6 IF1.1
wire IF1.2 HT1
C6 capacitor 110p IF1.1 IF1.2
C7 capacitor 110p IF1.3 IF1.4
wire IF1.3 V2.6
R4 resistor 470k IF1.4 chassis
C8 capacitor 10n IF1.4 P1.cw
wire P1.ccw chassis
C9 capacitor 10n P1.wiper V2.8
R5 resistor 10M V2.8 chassis
R6 resistor 220k V2.9 HT1
C10 capacitor 10n V2.9 V3.2
R7 resistor 1M V3.2 chassis
R8 resistor 150R 1W V3.3 chassis
wire V3.7 T2.blue
wire T2.red V3.9 HT1
wire LS1.1 T2.0 chassis
wire LS1.2 T2.3
node HT1 V4.3
wire V4.1 T1.red1
wire V4.7 T1.red2
wire T1.red/yellow T1.h2 chassis
heaters V1 V2 V3 V4 from T1.h1 T1.h2
wire M1.L F1.1
wire F1.2 P1.sw1
wire P1.sw2 S2.a
wire S2.a1 T1.230
wire M1.N S2.b
wire S2.b1 T1.0
"""

LIVE = """\
reference "Set without mains transformer"
mains 220 V 50 Hz region EU
socket V1 B8A UCH42
socket V2 B8A UL41
socket V3 B8A UY41
cord M1 L brown N blue
switch S1 on-off
R1 resistor 450R 10W M1.L S1.a
R2 resistor 180R S1.a1 V3.2
heaters series V3 V2 V1 from S1.a1 chassis
R3 resistor 1k V3.7 HT1
node HT1 V2.5
R4 resistor 1M V2.6 chassis
wire V1.7 chassis
"""


def circuit_of(text: str, folder: Path, name: str = "it.buzz") -> Circuit:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    loaded = load(path)
    assert loaded.ok, [p.message for p in loaded.problems]
    return loaded.circuit


@pytest.fixture(scope="module")
def radio(tmp_path_factory: pytest.TempPathFactory) -> Circuit:
    return circuit_of(RADIO, tmp_path_factory.mktemp("radio"))


@pytest.fixture
def live(tmp_path: Path) -> Circuit:
    return circuit_of(LIVE, tmp_path)


def stage_of(circuit: Circuit) -> dict[str, str]:
    return {b.id: stage.name for stage in stages(sheet(circuit)) for b in stage.blocks}


IN_THE_SIGNAL = {
    "AE": "L1", "L1": "L1", "S1a": "L1", "C1": "L1", "L2": "L2", "IF1": "IF1", "C6": "IF1",
    "C7": "IF1", "V2b": "IF1", "P1": "V2a", "T2": "output", "LS1": "output",
}  # fmt: skip
IN_THE_SUPPLY = ["M1", "F1", "P1 switch", "S2a", "S2b", "T1", "V4", "V1 heater", "V4 heater"]


@pytest.mark.parametrize(("block", "stage"), IN_THE_SIGNAL.items())
def test_coils_switches_and_diodes_of_the_signal_stand_in_it(
    radio: Circuit, block: str, stage: str
) -> None:
    assert stage_of(radio)[block] == stage


@pytest.mark.parametrize("block", IN_THE_SUPPLY)
def test_what_the_mains_feeds_stands_in_the_supply(radio: Circuit, block: str) -> None:
    assert stage_of(radio)[block] == "supply"


def test_diodes_that_nothing_is_on_are_not_used(radio: Circuit) -> None:
    placed = stage_of(radio)
    assert {placed["V2c"], placed["V2d"]} == {"not used"}


def test_stages_follow_the_signal_from_the_aerial_to_the_speaker(radio: Circuit) -> None:
    order = [stage.name for stage in stages(sheet(radio))]
    path = [name for name in order if name in ("L1", "V1b", "IF1", "V2a", "V3", "output")]
    assert path == ["L1", "V1b", "IF1", "V2a", "V3", "output"]
    assert order.index("V1a") < order.index("V1b"), "the oscillator before what it feeds"
    assert order[-1] == "supply"


def test_a_capacitor_across_a_winding_hangs_on_the_transformer_by_lines(radio: Circuit) -> None:
    drawn = sheet(radio)
    (signal, *_) = bands(drawn, stages(drawn), Marks())
    for name in ("C6", "C7"):
        leads = [drop for drop in signal.drops if drop.block == name]
        nodes = {drop.node for drop in signal.drops if drop.block == "IF1"}
        assert leads
        assert {lead.node for lead in leads} <= nodes
        gap = abs(signal.placed[name].at[0] - signal.placed["IF1"].at[0])
        assert gap < 220


def test_the_primary_of_a_transformer_is_above_wherever_it_was_written(radio: Circuit) -> None:
    block = next(b for b in sheet(radio).blocks if b.id == "T1")
    assert {p.point.pin for p in block.pins if p.side == "n"} == {"0", "230"}


@pytest.mark.parametrize(
    ("text", "live"),
    [
        (LIVE, True),  # no transformer keeps the mains from the set
        (LIVE + "wire M1.N chassis\n", True),
        (RADIO, False),
        (RADIO + "wire M1.N chassis\n", True),
        (RADIO + "wire F1.1 chassis\n", True),
    ],
)
def test_a_live_chassis_has_its_own_symbol_and_is_told(
    tmp_path: Path, text: str, live: bool
) -> None:
    circuit = circuit_of(text, tmp_path)
    assert ("chassis LIVE" in sheet(circuit).symbols.values()) == live
    assert ("CHASSIS LIVE" in drawing.dot_source(circuit)) == live


def test_heaters_in_series_are_drawn_as_a_chain(live: Circuit) -> None:
    drawn = sheet(live)
    supply = bands(drawn, stages(drawn), Marks())[-1]
    at = [supply.placed[f"{name} heater"].at for name in ("V3", "V2", "V1")]
    assert len({y for _x, y in at}) == 1, "all in one row"
    xs = [x for x, _y in at]
    assert xs in (sorted(xs), sorted(xs, reverse=True)), "in the order of the chain"
    for one, other in (("V3", "V2"), ("V2", "V1")):
        ends = {d.node for d in supply.drops if d.block == f"{one} heater"}
        assert ends & {d.node for d in supply.drops if d.block == f"{other} heater"}


def test_heaters_in_parallel_are_told_by_the_winding(radio: Circuit) -> None:
    assert "T1.h1" in sheet(radio).symbols.values()


def lines(circuit: Circuit, name: str) -> tuple[str, ...]:
    return next(block.lines for block in sheet(circuit).blocks if block.id == name)


def test_the_usual_rating_goes_without_saying_and_the_legend_has_it(radio: Circuit) -> None:
    assert lines(radio, "R1") == ("1M",)
    assert lines(radio, "R8") == ("150R 1W",)
    assert "Where no rating stands: resistor 0.5W." in drawing.dot_source(radio)


def test_where_some_part_has_no_rating_all_ratings_are_printed(radio: Circuit) -> None:
    bare = replace(radio.parts["R2"], power=None)
    assert lines(radio.but({**radio.parts, "R2": bare}), "R1") == ("1M 0.5W",)


def test_a_pot_shows_its_taper_where_it_is_known(radio: Circuit) -> None:
    known = replace(radio.parts["P1"], style=("log",))
    assert lines(radio.but({**radio.parts, "P1": known}), "P1") == ("500k log",)


def test_furniture_nobody_looked_at_says_so_and_what_was_not_read_says_that(
    radio: Circuit, tmp_path: Path
) -> None:
    found = 'found "As received"\nat V3.3\n  resistor unread to chassis\n'
    (tmp_path / "f.buzz").write_text(found)
    chassis = load(tmp_path / "f.buzz", radio).circuit
    assert lines(chassis, "LS1") == ("3R", "not looked at")
    assert [ln for b in sheet(chassis).blocks if b.part.kind == "resistor" for ln in b.lines] == [
        "not read"
    ]


def differing(circuit: Circuit, part: Part) -> Comparison:
    """A chassis that has another part in one place, and the finding that undoes it."""
    chassis = circuit.but({**circuit.parts, part.name: part})
    right = Change(part.name, circuit.parts[part.name])
    finding = Finding(id="f", kind="value-wrong", parts=(part.name,), text="", remedy=(right,))
    nodes = {node.index: (node.index,) for node in circuit.nodes}
    names = Matching({name: (name,) for name in circuit.parts}, nodes)
    proof = Proof(sufficient=True, minimal=True, cost=1, bound=1)
    return Comparison(circuit, chassis, (finding,), proof, names, circuit)


def marked(circuit: Circuit, part: Part) -> dict[str, tuple[str, ...]]:
    """Blocks with a mark, and the words of it."""
    drawn = sheet(circuit)
    laid = marks(drawn, differing(circuit, part), {"f": 1})
    found = {block.id: on_block(block, laid) for block in drawn.blocks}
    return {name: mark[0].lines for name, mark in found.items() if mark}


def test_a_wrong_pot_is_marked_at_its_track_and_not_at_its_switch(radio: Circuit) -> None:
    wrong = replace(radio.parts["P1"], value=Quantity(1e6, "ohm", text="1M"))
    assert marked(radio, wrong) == {"P1": ("found 1M, wants 500k",)}


def test_a_wrong_section_of_a_can_is_told_with_both_values(tmp_path: Path) -> None:
    can = "can C20 square 32u 450V triangle 16u 450V\n"
    circuit = circuit_of(RADIO + can, tmp_path)
    part = circuit.parts["C20"]
    small = replace(part.elements[0], value=Quantity(8e-6, "F", text="8u"))
    said = ("square: found 8u, wants 32u",)
    wrong = replace(part, elements=(small, part.elements[1]))
    assert marked(circuit, wrong) == {"C20 square": said}


def test_a_line_that_a_new_row_cuts_tells_where_it_goes_on(tmp_path: Path) -> None:
    """Twelve like stages in a chain, too long for one row: the cut line is named at both ends."""
    lines = ['reference "A long chain"', "jack J1 tip sleeve", "wire J1.sleeve chassis", "node HT1"]
    before = "J1.tip"
    for n in range(1, 13):
        lines += [
            f"socket V{n} B7G EC92",
            f"C{n} capacitor 22n {before} V{n}.6",
            f"R{3 * n} resistor 1M V{n}.6 chassis",
            f"R{3 * n + 1} resistor 100k V{n}.1 HT1",
            f"R{3 * n + 2} resistor 1k5 V{n}.7 chassis",
        ]
        before = f"V{n}.1"
    path = tmp_path / "chain.buzz"
    path.write_text("\n".join(lines) + "\n")
    drawn = sheet(load(path).sound().circuit)
    laid = bands(drawn, stages(drawn), Marks())
    assert len(laid) == 2
    told = {
        (each.name, band.symbol_of(pin))
        for band in laid
        for each in band.stages
        for block in each.blocks
        for pin in block.pins
        if " to V" in band.symbol_of(pin)
    }
    last, first = laid[0].stages[-1].name, laid[1].stages[0].name
    [(name, there)] = {tuple(s.split(" to ")) for at, s in told if at == last}
    assert there == first
    assert (first, f"{name} to {last}") in told
