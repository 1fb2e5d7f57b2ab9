"""Wanted changes to a drawing."""

import pytest

from buzzout.circuit import Point
from buzzout.language import Unreadable, load
from buzzout.language.departures import depart

HEAD = 'departures "later practice"\nof "drawing.buzz"\n'


@pytest.fixture
def departed(write, drawing):
    def _departed(lines):
        rows = [r if "because" in r else f'{r} because "wanted"' for r in lines.splitlines()]
        lines = "\n".join(rows)
        return depart(load(drawing).circuit, write(HEAD + lines, "it.departures.buzz"))

    return _departed


def together(circuit, *points):
    return len({circuit.node(Point(*p.split("."))) for p in points}) == 1


def test_each_line_keeps_its_text_and_reason(departed):
    made = departed('remove R1 because "not wanted"\nchange V1 to 7025  because "hum"\n').departures
    assert [(d.text, d.reason) for d in made] == [
        ("remove R1", "not wanted"),
        ("change V1 to 7025", "hum"),
    ]


def test_remove(departed):
    assert "R1" not in departed("remove R1\n").circuit.parts


def test_change_value_type_and_section(departed):
    parts = departed(
        "change R2 to 120k 2W\nchange V1 to 7025\nchange C20.square to 47u 500V\n"
    ).circuit.parts
    assert (parts["R2"].value.value, parts["R2"].power.value) == (120e3, 2.0)
    assert parts["V1"].type == "7025"
    square = parts["C20"].elements[0]
    assert (square.value.value, square.voltage.value) == (pytest.approx(47e-6), 500.0)


def test_add_furniture_part_and_wire(departed):
    circuit = departed(
        "add cord M1 L brown N blue E green/yellow\nadd wire M1.E PE1\n"
        "add R99 resistor 220k 1W HT1 chassis\n"
    ).circuit
    assert together(circuit, "M1.E", "PE1", "chassis", "R99.2")
    assert together(circuit, "R99.1", "C20.square")


def test_move_and_lift_leave_the_rest_together(departed):
    moved = departed("move V2.3 to V1.6\n").circuit
    assert together(moved, "V2.3", "V1.6")
    assert together(moved, "R2.2", "C20.square", "D1.k")
    assert not together(moved, "V2.3", "C20.square")
    lifted = departed("lift C20.square\n").circuit
    assert not together(lifted, "C20.square", "V2.3")
    assert together(lifted, "V2.3", "R2.2", "D1.k")


def test_lines_build_on_one_another(departed):
    circuit = departed("add R98 resistor 1k V1.6 chassis\nmove R98.2 to HT1\n").circuit
    assert together(circuit, "R98.2", "HT1")


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("remove R9\n", "I do not know 'R9'"),
        ("change V1 to EL41\n", "an EL41 has a B8A base; V1 is B9A"),
        ("change C1 to 10k\n", "'10k' is no capacitance"),
        ("change C20.round to 47u\n", "C20 has no section round"),
        ("move R1.3 to V1.4\n", "R1 has no end '3'"),
        ("change R1 to lk\n", "'lk' is not a value"),
        ("add R1 resistor 1k V1.1 chassis\n", "there is a part called R1 already"),
        ("resistor 1k V1.1 chassis\n", "part does not belong in a departures file"),
    ],
)
def test_what_cannot_be_done_is_told(departed, line, told):
    with pytest.raises(Unreadable) as caught:
        departed(line)
    assert told in str(caught.value)


def test_a_departure_needs_a_reason(write, drawing):
    path = write(HEAD + "remove R1\n", "it.departures.buzz")
    with pytest.raises(Unreadable) as caught:
        depart(load(drawing).circuit, path)
    assert "no reason given" in str(caught.value)


def test_cut_takes_one_wire_away(departed):
    circuit = departed("cut HT1 C20.square\n").circuit
    assert not together(circuit, "R2.2", "C20.square")


def test_a_departures_file_says_of_which_drawing(write):
    loaded = load(write('departures "x"\nremove R1 because "y"\n'))
    assert [p.message for p in loaded.problems] == ["of which drawing are these departures?"]


@pytest.mark.parametrize("own", ["", "bond PE1\n"])
def test_a_bolt_that_a_departure_adds_is_on_the_chassis_of_a_found_file_too(departed, write, own):
    wanted = departed("add bond PE1\nadd wire V1.9 PE1\n").circuit
    path = write(f'found "x"\nof "drawing.buzz"\n{own}wire V1.9 PE1\n', "x.found.buzz")
    board = load(path, wanted).sound().circuit
    assert together(board, "V1.9", "PE1", "chassis")
    bolted = [x for x in board.links if x.a == Point("PE1")]
    assert [(str(x.b), x.how) for x in bolted] == [("chassis", "joint")]
