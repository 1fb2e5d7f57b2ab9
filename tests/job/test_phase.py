"""A winding turned round: harmless, undecided, or feedback of the wrong sign."""

import pytest
from small_set import SET

from buzzout.circuit import Point, Rewire, apply
from buzzout.compare import compare
from buzzout.electrics.operating import operate
from buzzout.electrics.signal import Drive, signals
from buzzout.job import punch_list
from buzzout.language import read

FED = SET + "R20 resistor 4k7 T2.green V1.3\n"
BYPASSED = FED + "C7 electrolytic 25u 25V V1.3 + chassis -\n"
CATHODE = SET.replace("R7 resistor 180R 2W V2.3 chassis", "R7 resistor 180R 2W V2.3 T2.green")
TAGS = "strip TS1 4 tags\nC8 capacitor 100n 400V T2.green TS1.1\nR20 resistor 47k TS1.1 V1.2\n"
FOLLOWED = SET + TAGS
MARKED = FED.replace("dcr 250R", "dcr 250R dot blue").replace("dcr 0.3R", "dcr 0.3R dot green")
WEAK = MARKED.replace("R20 resistor 4k7", "R20 resistor 100k")
SILENT = MARKED.replace("R20 resistor 4k7 T2.green V1.3\n", "")


def changed(text, pairs):
    """All at once: what two ends of a winding carry is exchanged on the lines that tell it."""
    head, mark, rest = text.partition("wire T2.blue V2.7")
    for old, new in pairs:
        rest = rest.replace(old, "T2.away").replace(new, old).replace("T2.away", new)
        mark = mark.replace(old, "T2.away").replace(new, old).replace("T2.away", new)
    return head + mark + rest


def turned(text, first, second):
    return changed(text, [(f"T2.{first}", f"T2.{second}")])


SECONDARY, PRIMARY = ("green", "black"), ("blue", "red")


@pytest.fixture
def told(punched):
    """The list of a drawing against a chassis with the ends of a winding of T2 exchanged."""

    def _told(drawing, ends, **options):
        board = turned(drawing, *ends)
        punch = punched(drawing=drawing, board=board, consequences=True, **options)
        return punch, [i for i in punch.items if i.finding.parts == ("T2",)]

    return _told


@pytest.mark.parametrize("ends", [SECONDARY, PRIMARY])
@pytest.mark.parametrize(
    ("drawing", "by"),
    [
        (FED, "by R20 (4k7)"),
        (CATHODE, "by R7 (180R)"),
        (FOLLOWED, "C8 (100n) and R20 (47k) in series"),
    ],
)
def test_where_feedback_hangs_on_it_the_note_says_that_nobody_knows(told, drawing, by, ends):
    punch, [item] = told(drawing, ends)
    assert (item.finding.title, item.severity) == ("ends turned round", "note")
    assert "Nobody marked the phase" in item.finding.text
    assert "between negative and positive feedback" in item.finding.text
    assert by in item.finding.text
    for said in ("feedback last", "dummy load", "reduced signal", "howls", "common practice"):
        assert said in item.confirm
    every = f"{item.finding.text} {item.why} {item.confirm} {item.consequence} {punch.whole}"
    assert "makes no difference" not in every
    assert "stay as drawn" not in every
    assert "Nobody marked the phase of T2" in punch.whole


@pytest.mark.parametrize("ends", [SECONDARY, PRIMARY])
@pytest.mark.parametrize("drawing", [SET, BYPASSED], ids=["no feedback", "cathode bypassed"])
def test_where_none_does_it_makes_no_difference(told, drawing, ends):
    punch, [item] = told(drawing, ends)
    assert item.finding.harmless
    assert "makes no difference" in item.finding.text
    assert "phase" not in punch.whole


def test_the_note_stays_where_harmless_ones_are_hidden(told):
    assert told(FED, SECONDARY, notes=False)[1]
    assert not told(SET, SECONDARY, notes=False)[1]


def test_without_a_computation_it_is_told_as_well(punched):
    [item] = punched(drawing=FED, board=turned(FED, *SECONDARY)).items
    assert "Nobody marked the phase" in item.finding.text
    assert "phase" in item.why
    assert not item.consequence


@pytest.mark.parametrize("ends", [SECONDARY, PRIMARY])
@pytest.mark.parametrize(
    ("drawing", "words"),
    [
        (MARKED, "feedback is positive with it, and computed the set oscillates by itself"),
        (WEAK, "feedback is positive with it; computed it does not oscillate"),
    ],
)
def test_against_the_mark_the_feedback_is_positive(told, drawing, words, ends):
    """A set that oscillates can destroy a part; one whose gain rises a little cannot by that."""
    punch, [item] = told(drawing, ends)
    assert item.severity == ("damage" if drawing is MARKED else "fault")
    assert ("it oscillates by itself, driven to its limits" in item.why) == (drawing is MARKED)
    assert item.finding.kind == "winding-reversed"
    assert words in item.consequence
    assert item.consequence.count("oscillate") == 1
    assert words in punch.whole


def test_the_gain_that_rises_is_that_of_the_loop_turned_round(told, circuit):
    """By the same circuit with the mark at the other end: nothing else is another one."""
    _, [item] = told(WEAK, SECONDARY)
    gains = [
        abs(signals(operate(circuit(text)), Drive(Point("J1", "tip")), 1000.0).gain(GREEN, BLACK))
        for text in (WEAK, WEAK.replace("dot green", "dot black"))
    ]
    assert gains[1] > 1.01 * gains[0]
    assert "the feedback is positive with it" in item.consequence


GREEN, BLACK = Point("T2", "green"), Point("T2", "black")


def test_against_the_mark_without_feedback_nothing_is_said_of_it(told):
    punch, [item] = told(SILENT, SECONDARY)
    assert "feedback" not in item.consequence + punch.whole


def test_a_drawing_with_positive_feedback_is_called_so(told):
    wrong = WEAK.replace("dot green", "dot black")
    assert "positive as drawn" in told(wrong, SECONDARY)[1][0].consequence


@pytest.mark.parametrize(("text", "said"), [(FED, True), (MARKED, False)])
def test_a_tone_says_which_polarity_it_takes(circuit, text, said):
    got = signals(operate(circuit(text)), Drive(Point("J1", "tip")), 1000.0)
    told = [r for r in got.remarks if "phase mark" in r]
    assert bool(told) == said
    if said:
        assert "T2.red and T2.green are taken to be in phase" in told[0]
        phase = (got.gain(GREEN) / got.gain(Point("T2", "red"), Point("T2", "blue"))).real
        assert phase > 0


@pytest.mark.parametrize("ends", [("green", "black"), ("brown", "blue")])
def test_a_set_with_an_oscillator_of_its_own_howls_beside_it(ends):
    """15 dB of feedback turned round is a loop gain above 1, whatever else the set does."""
    drawn = read("examples/hall-amplifier/hall-amplifier.reference.buzz")
    other = apply(drawn, [Rewire("T2", (ends, ends[::-1]))])
    [item] = punch_list(compare(drawn, other), consequences=True).items
    assert "the feedback is positive with it" in item.consequence
    assert "oscillates by itself" in item.consequence
    assert "nothing goes over its limit at rest" in item.consequence
    assert item.severity == "damage"
