"""No word of a statement is passed over: without it something else is read, or is said."""

import re

import pytest
from one_stage import DRAWING

from buzzout.language import load, render

REFERENCE = """\
reference "x"
socket V1 B9A ECC83
socket V2 EZ81
transformer T1
winding T1 heaters a b 6.3V 3A
transformer T2
node HT1 V1.1
"""
FOUND = 'found "x"\nof "drawing.buzz"\nstrip TS1 12 tags earthed 3\n'
REMARKS = 'unsure note "n" photo "p.jpg"'
DRAWN = [
    "mains 230 V 50 Hz region UK",
    f"socket V3 B9A or 7025 optional {REMARKS}",
    f"pot P1 500k 20% 2W log tapped ganged switched wirewound reads 490k {REMARKS}",
    f"switch S1 2 poles 3 ways set 1 {REMARKS}",
    f"switch S1 2 poles on-off set on {REMARKS}",
    f"jack J1 tip sleeve break {REMARKS}",
    f"transformer T3 optional {REMARKS}",
    f"winding T2 primary 0 210 230 0-210-230V 1A 10H dcr 20R+3R dot 210 load 8k {REMARKS}",
    f"choke L1 10H 200R 80mA 500V 5% {REMARKS}",
    f"choke L1 10H dcr 200R {REMARKS}",
    f"can C20 square 32u 450V 20% triangle 16u 450V {REMARKS}",
    f"fuse F1 1A 250V 5% slow {REMARKS}",
    f"lamp PL1 6.3V 0.3A 2W {REMARKS}",
    f"speaker LS1 15R field 1k {REMARKS}",
    f"connector SK1 4 pins {REMARKS}",
    f"cord M1 L brown N blue E green/yellow {REMARKS}",
    f"bond PE1 {REMARKS}",
    f"R1 resistor 1k 10% 2W 350V carbon type x or y reads 2k in-circuit V1.1 V1.2 {REMARKS}",
    f"R1 resistor bands brown black red gold V1.1 through V1.6 V1.2 {REMARKS}",
    "L2 inductor 10mH dcr 3R V1.1 V1.2",
    "D1 diode 1N4007 400V V1.1 a V1.2",
    "B1 bridge 400V V1.1 ~ V1.2 ~ V1.3 + V1.6 -",
    f"wire screened dark red V1.1 V1.2 {REMARKS}",
    f"node V1.1 V1.2 HT1 {REMARKS}",
    "heaters V1 V2 from T1.a T1.b",
    f"expect V1.1 to V1.2 168 V meter 20k/V mains 240 V 10% ac {REMARKS}",
    "expect V1.1 -1.5 V",
]
SEEN = [
    f"fitted V1 ECC83 {REMARKS}",
    f"at V1.1 {REMARKS}",
    "at V1.9 nothing\nwire to V1.8",
    f"reads V1.1 168 V meter 10M mains 228 V 5% {REMARKS}",
    f"step 5 meter 20k/V mains 228 V {REMARKS}\nreads V1.1 168 V",
    "tone J1.tip 5 mV 1000 Hz\nreads V1.1 168 mV ac",
    "date 2026-11-02",
    f"resistor 1k V1.3 to TS1.2 {REMARKS}",
    f"wire black TS1.4 TS1.9 {REMARKS}",
    f"strip TS2 3 tags earthed 2 {REMARKS}",
    "reads V1.3 to chassis >20M",
    "reads V1.3 to chassis 1k5",
]
NOISE = ("to",)  # a word that only makes a line easier to read
# Words that belong together: one goes with the other.
GROUP = re.compile(
    r'(?:reads|note|photo|type|or|dcr|dot|load|field|meter|set|through|region|mains) ("[^"]*"|\S+)'
    r'(?: V\b)?|"[^"]*"|\d+ (?:V|mV|Hz|poles|ways)\b|\S+'
)


def words(line):
    """Every word or group of words of the first statement but the one it begins with."""
    return [m.span() for m in GROUP.finditer(line.partition("\n")[0])][1:]


def read(folder, head, lines):
    """All that is kept of a file and all that is said of it, without places."""
    (folder / "drawing.buzz").write_text(DRAWING, encoding="utf-8")
    path = folder / "it.buzz"
    path.write_text(f"{head}{lines}\n", encoding="utf-8")
    loaded = load(path)
    circuit = loaded.circuit
    kept = (
        dict(circuit.parts), circuit.links, circuit.names, circuit.mains, circuit.expected,
        circuit.readings, sorted(map(str, circuit.visited)), circuit.notes,
    )  # fmt: skip
    return re.sub(r"Span\([^)]*\)", "", repr(kept)), [p.message for p in loaded.problems], loaded


@pytest.mark.parametrize(
    ("head", "line"), [(REFERENCE, line) for line in DRAWN] + [(FOUND, line) for line in SEEN]
)
def test_every_word_counts(tmp_path, head, line):
    kept, said, loaded = read(tmp_path, head, line)
    if "nothing" not in line:
        assert loaded.ok, render(loaded.problems, loaded.sources)
    idle = [
        line[start:end]
        for start, end in words(line)
        if read(tmp_path, head, line[:start] + line[end:])[:2] == (kept, said)
    ]
    assert [word for word in idle if word not in NOISE] == []


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("mains 230 V 50 Hz 5A", "mains are not told in A"),
        ("R1 resistor 1k 10% 20% V1.1 V1.2", "a second tolerance on one line"),
        ("R1 resistor 1k reads 2k reads 3k V1.1 V1.2", "a second reading on one line"),
        ('R1 resistor 1k V1.1 V1.2 note "a" note "b"', "a second note on one line"),
        ("R1 resistor 1k dcr 3R V1.1 V1.2", "dcr does not belong on a resistor"),
        ('R1 resistor 1k V1.1 V1.2 because "b"', "because belongs in a departures file"),
        ('C1 capacitor marked "103K" marked "104K" V1.1 V1.2', "a second marking on one line"),
        ("L2 inductor 10mH dcr 3R dcr 4R V1.1 V1.2", "a second resistance on one line"),
        ("D1 diode 1N4007 type OA81 V1.1 a V1.2 k", "a second type on one line"),
        (
            "can C20 square 32u 450V 2A",
            "a section of C20 has its capacitance and its volts, no more",
        ),
        ("wire V1.1 V1.2 optional", "optional says nothing here"),
        ("heaters V1 from T1.a T1.b 6.3A", "6.3A is no heater voltage"),
        ("expect V1.1 168 V 50 Hz", "what is 50 Hz for?"),
        ("expect V1.1 168 V mains 5A", "5A is no mains voltage"),
        ("expect V1.1 168 V meter 10M meter 20k/V", "a second meter on one line"),
        (
            "reads V1.1 1k5 lifted",
            "with a lead lifted it is the part that is read, not the circuit",
        ),
    ],
)
def test_what_is_not_kept_is_a_mistake(tmp_path, line, message):
    loaded = read(tmp_path, REFERENCE, line)[2]
    assert [p.message for p in loaded.problems if p.level == "error"] == [message]
