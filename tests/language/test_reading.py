"""What a file says, as a circuit."""

import pytest

from buzzout.circuit import Point
from buzzout.language import load


def point(text):
    return Point(*text.split("."))


def together(circuit, *points):
    return len({circuit.node(point(p)) for p in points}) == 1


def test_a_drawing_reads_whole(drawing, told):
    loaded = load(drawing)
    assert told(loaded) == ""
    circuit = loaded.circuit
    assert circuit.title == "One stage"
    assert [n for n in circuit.parts if not circuit.parts[n].furniture] == ["R1", "R2", "C1", "D1"]
    assert together(circuit, "R2.2", "C20.square", "V2.3", "D1.k", "HT1")
    assert together(circuit, "R1.2", "C1.-", "chassis", "PE1")


def test_defaults_give_what_a_part_does_not_say(drawing):
    parts = load(drawing).circuit.parts
    assert parts["R1"].value.minus == 0.1
    assert parts["R1"].power.value == 0.5
    assert parts["R2"].power.value == 1.0


def test_heaters_are_wired_by_the_catalogue(drawing):
    circuit = load(drawing).circuit
    assert together(circuit, "T1.h1", "V1.4", "V1.5", "V2.4")
    assert together(circuit, "T1.h2", "V1.9", "V2.5")


def test_furniture_in_detail(drawing):
    parts = load(drawing).circuit.parts
    ht = parts["T1"].elements[0]
    assert ht.taps == (-270.0, 0.0, 270.0)
    assert ht.resistance == (120.0, 125.0)
    assert ht.current.value == pytest.approx(0.08)
    assert [e.label for e in parts["C20"].elements] == ["square", "triangle"]
    assert parts["J1"].elements[0].closed
    assert parts["V2"].base == "B9A"
    assert parts["V1"].accepts == ("7025",)


def test_expected_figures_keep_their_circumstances(drawing):
    figure = load(drawing).circuit.expected[0]
    assert (figure.at, figure.value.value, figure.meter) == (point("V1.1"), 168.0, 20e3)
    assert figure.per_volt
    assert figure.supply.value == 230.0


@pytest.mark.parametrize(
    ("line", "kind", "check"),
    [
        ("bands brown black yellow silver", "resistor", lambda p: p.value.value == 100e3),
        ("bands brown black yellow silver", "resistor", lambda p: p.value.minus == 0.1),
        ("body green end blue dot orange", "resistor", lambda p: p.value.value == 56e3),
        ('marked "103K"', "capacitor", lambda p: abs(p.value.value - 10e-9) < 1e-15),
        ('marked "0.1"', "capacitor", lambda p: abs(p.value.value - 0.1e-6) < 1e-15),
        ('marked "100"', "capacitor", lambda p: p.unread == {"value"}),
        ("unread", "resistor", lambda p: p.unread == {"value"}),
        ("8 450V", "electrolytic", lambda p: abs(p.value.value - 8e-6) < 1e-15),
        ("22k reads 28k", "resistor", lambda p: p.measured.value == 28e3 and not p.in_circuit),
        ("22k reads 9k1 in-circuit", "resistor", lambda p: p.in_circuit),
        ("4K7J", "resistor", lambda p: p.value.minus == 0.05),
        ('10k note "scorched" unsure', "resistor", lambda p: p.unsure and p.note == "scorched"),
        ("1N4007", "diode", lambda p: p.type == "1N4007"),
        ("type OA81", "diode", lambda p: p.type == "OA81"),
        ('marked "104K 630V"', "capacitor", lambda p: p.voltage.value == 630),
        ('marked ".05/400"', "capacitor", lambda p: p.voltage.value == 400),
        ('marked "0.1uF 400V DC"', "capacitor", lambda p: abs(p.value.value - 0.1e-6) < 1e-15),
        ('marked "1k 5W"', "resistor", lambda p: (p.value.value, p.power.value) == (1e3, 5)),
        ('marked ".001/400"', "capacitor", lambda p: abs(p.value.value - 1e-9) < 1e-15),
        ('marked ".022 /400"', "capacitor", lambda p: abs(p.value.value - 22e-9) < 1e-15),
        ('marked "22n K 400V"', "capacitor", lambda p: p.value.minus == 0.1),
        ('marked "?"', "capacitor", lambda p: p.unread == {"value"}),
        ("dots red green black", "capacitor", lambda p: abs(p.value.value - 25e-12) < 1e-18),
        ("2 jar", "capacitor", lambda p: abs(p.value.value - 2.222e-9) < 1e-14),
        ("490p variable", "capacitor", lambda p: p.style == ("variable",)),
        ("190uH dcr 3R", "inductor", lambda p: p.elements[0].resistance == (3.0,)),
        ("22n polyester X2", "capacitor", lambda p: p.style == ("polyester", "X2")),
    ],
)
def test_facts_about_a_part(found, line, kind, check):
    loaded = found(f"{kind} {line} from TS1.1 to TS1.2\n")
    parts = [p for p in loaded.circuit.parts.values() if p.anonymous]
    assert len(parts) == 1
    assert check(parts[0]), parts[0]


def test_a_type_may_stand_before_the_ends(write):
    loaded = load(write('reference "x"\nconnector A 2 pins\nD1 diode OA81 A.1 a A.2 k\n'))
    assert loaded.ok
    assert loaded.circuit.parts["D1"].type == "OA81"


def test_a_found_file_takes_over_the_furniture_but_has_not_looked(found):
    parts = found("fitted V2 EZ80\npot P1 470k\n").circuit.parts
    assert parts["V1"].unread == {"type"}
    assert parts["V2"].type == "EZ80"
    assert not parts["V2"].unread
    assert parts["P1"].value.value == 470e3
    assert not parts["P1"].unread
    assert parts["C20"].unread == {"value"}
    assert not parts["J1"].unread


def test_earthed_tags_and_bolts_are_chassis(found):
    circuit = found("").circuit
    assert together(circuit, "TS1.3", "PE1", "chassis")
    assert not together(circuit, "TS1.1", "chassis")


def test_a_lead_may_pass_through_a_point(found):
    circuit = found(
        "resistor 1k from V1.3 through V1.8 to TS1.1\nwire TS1.5, TS1.6, TS1.7\n"
    ).circuit
    assert together(circuit, "V1.3", "V1.8")
    assert together(circuit, "TS1.5", "TS1.6", "TS1.7")


def test_polarity(found):
    circuit = found(
        "at TS1.1\n"
        "electrolytic 8u + to TS1.3 -\n"
        "electrolytic 8u to TS1.2\n"
        "diode 1N4007 k to TS1.4\n"
        "diode 1N4007 + to TS1.5\n"
    ).circuit
    signed, unsigned, diode, plus = [p for p in circuit.parts.values() if p.anonymous]
    assert circuit.landing(signed.point("+")) == point("TS1.1")
    assert unsigned.unread == {"polarity"}
    assert circuit.landing(diode.point("k")) == point("TS1.1")
    assert circuit.landing(plus.point("k")) == point("TS1.1")


def test_an_end_nobody_saw(found):
    circuit = found("at TS1.1\ncapacitor 22n to ?\n").circuit
    part = next(p for p in circuit.parts.values() if p.anonymous)
    assert part.unseen == {"2"}


def test_a_block_is_used_twice(write):
    loaded = load(
        write(
            'reference "two"\nsocket V1 B9A ECC83\n'
            "block STAGE in out ht\n  Ra resistor 100k out ht\n  Rk resistor 1k5 mid chassis\n"
            "  node mid in\nend\n"
            "use STAGE as left in V1.3 out V1.1 ht HT\n"
            "use STAGE as right in V1.8 out V1.6 ht HT\n"
            "node HT\n"
        )
    )
    assert loaded.ok, loaded.problems
    circuit = loaded.circuit
    assert [n for n in circuit.parts if n != "V1"] == ["left-Ra", "left-Rk", "right-Ra", "right-Rk"]
    assert together(circuit, "left-Ra.2", "right-Ra.2", "HT")
    assert together(circuit, "left-Rk.1", "V1.3")
    assert not together(circuit, "left-Rk.1", "right-Rk.1")


def test_include(write):
    write("R1 resistor 1k V1.3 chassis\n", "part.buzz")
    loaded = load(write('reference "x"\nsocket V1 B9A ECC83\ninclude "part.buzz"\n'))
    assert loaded.ok
    assert "R1" in loaded.circuit.parts
    assert loaded.circuit.parts["R1"].span.file.endswith("part.buzz")


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("blank", [" ", "\t"])
def test_line_ends_marks_and_tabs_do_not_matter(tmp_path, ends, mark, blank):
    path = tmp_path / "x.buzz"
    text = ends.join(['reference "x"', "", f"socket{blank}V1{blank}B9A", ""])
    path.write_bytes(mark + text.encode())
    loaded = load(path)
    assert loaded.ok
    assert "V1" in loaded.circuit.parts


def test_a_lead_soldered_to_nothing_is_not_an_end_unseen(found):
    loaded = found('at TS1.1\ncapacitor 22n to air\nwire green to air note "cut off"\n')
    assert loaded.ok, loaded.problems
    part = next(p for p in loaded.circuit.parts.values() if p.anonymous)
    assert not part.unseen
    assert loaded.circuit.landing(part.point("2")) == part.point("2")


def test_wires_as_people_describe_them(found):
    circuit = found("wire dark red TS1.1 TS1.2\nwire green yellow TS1.4 to TS1.5\n").circuit
    wires = [(x.colour, x.note) for x in circuit.links if x.how == "wire"]
    assert wires == [("red", "dark"), ("green/yellow", "")]


def test_heaters_in_series(write):
    loaded = load(
        write(
            'reference "x"\nsocket V1 B8A UF41\nsocket V2 B8A UL41\nconnector X1 2 pins\n'
            "heaters series V2 V1 from X1.1 chassis\nwire X1.2 chassis\n"
        )
    )
    assert loaded.ok, loaded.problems
    circuit = loaded.circuit
    assert together(circuit, "X1.1", "V2.1")
    assert together(circuit, "V2.8", "V1.1")
    assert together(circuit, "V1.8", "chassis")


@pytest.mark.parametrize("word", ["open", ">20M"])
def test_the_commonest_reading_of_all(found, word):
    reading = found(f"reads V1.3 to chassis {word}\n").circuit.readings[0]
    assert (reading.value.value, reading.value.text) == (float("inf"), word)


def test_an_empty_fuse_holder(found):
    assert found("fitted V1 none\n").circuit.parts["V1"].type == "none"


def test_typographic_quotes_are_quotes(found):
    part = next(
        p
        for p in found("resistor 1k note “hot” from TS1.1 to TS1.2\n").circuit.parts.values()
        if p.anonymous
    )
    assert part.note == "hot"


def test_the_taper_of_a_pot_is_kept(drawing):
    assert load(drawing).circuit.parts["P1"].style == ("log",)


def test_without_a_heading_nothing_else_is_guessed(write):
    loaded = load(write('refrence "x"\nsocket V1 B9A\nR1 resistor 1k V9.1 chassis\n'))
    assert [p.message for p in loaded.problems] == ["'refrence' begins no statement"]


def test_a_chassis_of_another_drawing_is_pointed_out(write, drawing):
    path = write('found "x"\nof "other.reference.buzz"\n', "x.found.buzz")
    loaded = load(path, load(drawing).circuit)
    assert [p.message for p in loaded.problems] == [
        "this file is of other.reference.buzz, but it is compared with drawing.buzz"
    ]


def test_voltages_below_the_chassis(write):
    lines = "expect V1.2 -1.5 V 10%\nreads V1.2 to V1.3 -350mV\nreads V1.2 −9V\n"
    text = f'reference "x"\nsocket V1 B9A ECC83\n{lines}'
    circuit = load(write(text)).sound().circuit
    assert [r.value.value for r in circuit.readings] == [-0.35, -9.0]
    (told,) = circuit.expected
    assert told.value.span() == pytest.approx((-1.65, -1.35))
    (wrong,) = load(write(text + "reads V1.2 -1 V ac\n")).problems
    assert wrong.message == "an alternating voltage has no sign"
