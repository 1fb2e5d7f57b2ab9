"""A receiver: what is computed of its sound side, and what of its radio side is not."""

import re

import pytest
from small_receiver import RECEIVER

from buzzout.circuit import Point
from buzzout.electrics.operating import operate
from buzzout.job.hearing import Ear

UNMARKED = RECEIVER.replace(" dot g", "").replace(" dot r", "")
NOT_COMPUTED = "what it does at radio and intermediate frequency is not computed"


def exchanged(text, one, two):
    """The drawing with what two terminals carry exchanged."""
    other = {one: two, two: one}
    lines = (" ".join(other.get(w, w) for w in line.split(" ")) for line in text.split("\n"))
    return "\n".join(lines)


@pytest.fixture
def told(punched):
    """The list of the receiver against one with lines of it changed or left out."""

    def _told(*swaps, drawing=RECEIVER, board=""):
        text = board or drawing
        for old, new in swaps:
            assert text.count(f"{old}\n") == 1, old
            text = text.replace(f"{old}\n", new)
        return punched(drawing=drawing, board=text, consequences=True)

    return _told


def of(punch, part):
    return next(i for i in punch.items if part in i.finding.parts)


def test_the_signal_comes_in_at_the_volume_control(circuit):
    ear = Ear(operate(circuit(RECEIVER)))
    [route] = ear.routes
    assert str(route.start) == "P1.cw"
    assert route.end in (Point("T4", "s1"), Point("LS1", "1"))
    assert ear.radio.silent == (Point("SK1", "1"),)


@pytest.mark.parametrize(
    ("point", "inside"),
    [
        ("SK1.1", True), ("V1.2", True), ("V1.9", True), ("L3.p", True), ("V2.7", True),
        ("V2.9", True), ("T3.4", True), ("T2.4", True), ("P1.cw", False), ("V5.1", False),
        ("V5.7", False), ("V4.2", False), ("LS1.1", False), ("HT2.", False), ("T1.h1", False),
        ("chassis.", False),
    ],
)  # fmt: skip
def test_what_is_on_the_radio_side(circuit, point, inside):
    radio = Ear(operate(circuit(RECEIVER))).radio
    owner, _, pin = point.partition(".")
    at = next(p for p in radio.state.net.of if (p.owner, p.pin) == (owner, pin))
    assert (at in radio) == inside


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("C24 capacitor 10n P1.wiper V5.1", "no signal comes from P1.cw to T4.s1"),
        ("C26 capacitor 22n V5.7 V4.2", "no signal comes from P1.cw to T4.s1"),
    ],
)
def test_a_coupling_capacitor_of_the_sound_side(told, line, words):
    item = of(told((line, "")), line.split()[0])
    assert words in item.consequence
    assert NOT_COMPUTED not in item.consequence


def test_a_value_of_the_sound_side(told):
    item = of(told(("C25 capacitor 220p V5.7 chassis", "C25 capacitor 10n V5.7 chassis\n")), "C25")
    assert re.search(r"gain from P1.cw to T4.s1 falls by \d+ dB at 1 kHz", item.consequence)


def test_what_stays_is_said_of_the_sound_side_only(told):
    swap = ("R10 resistor 10M V5.1 chassis", "R10 resistor 15M V5.1 chassis\n")
    item = of(told(swap), "R10")
    assert "gain, bass, treble and hum from P1.cw on stay as drawn" in item.consequence


@pytest.mark.parametrize(
    ("line", "new"),
    [
        ("C15 capacitor 130p 5% T2.1 T2.2", ""),
        ("C18 capacitor 47n V2.3 chassis", ""),
        ("C7 capacitor 47n V1.3 chassis", ""),
        ("C1 capacitor 1n 1000V SK1.1 L1.a", ""),
        ("C21 capacitor 100p T3.4 chassis", "C21 capacitor 10n T3.4 chassis\n"),
        ("wire V2.9 V2.1", ""),
    ],
)
def test_nothing_is_said_to_stay_on_the_radio_side(told, line, new):
    punch = told((line, new))
    [item] = [i for i in punch.items if i.consequence]
    assert NOT_COMPUTED in item.consequence
    assert NOT_COMPUTED in punch.whole
    assert "stay as drawn" not in item.consequence + punch.whole


# The padder of 520p and the tuning capacitor in series with 95 uH: 1.02 MHz, and 1.32 with 220p.
@pytest.mark.parametrize("silent", [False, True], ids=["", "no henries on the chassis"])
def test_the_oscillator_whose_winding_is_turned_round(told, silent):
    board = exchanged(RECEIVER, "L3.r", "L3.p")
    if silent:
        board = board.replace(" 95uH dcr 2R", "").replace(" 12uH dcr 1R", "")
    punch = told(board=board)
    item = of(punch, "L3")
    assert item.finding.kind == "winding-reversed"
    assert "the oscillator at V1.9 (1.02 MHz as drawn) does not start" in item.consequence
    assert "the oscillator at V1.9 (1.02 MHz as drawn) does not start" in punch.whole
    assert "loudspeaker" not in item.consequence + item.confirm
    assert "feedback" not in item.consequence + item.confirm


def test_the_oscillator_that_lands_elsewhere_on_the_dial(told):
    item = of(told(("C11 capacitor 520p 2% L3.b chassis", "C11 capacitor 220p L3.b chassis\n")),
              "C11")  # fmt: skip
    assert "the oscillator at V1.9 (1.02 MHz as drawn) moves to 1.32 MHz" in item.consequence


def test_the_oscillator_that_lost_its_feedback(told):
    item = of(told(("C9 capacitor 470p V1.8 L3.p", "")), "C9")
    assert "the oscillator at V1.9 (1.02 MHz as drawn) does not start" in item.consequence


@pytest.mark.parametrize("ends", [("T2.1", "T2.2"), ("T3.3", "T3.4"), ("L1.g", "L1.b")])
def test_a_coil_turned_round_is_no_output_transformer(told, ends):
    punch = told(board=exchanged(RECEIVER, *ends))
    [item] = [i for i in punch.items if ends[0].partition(".")[0] in i.finding.parts]
    every = f"{item.finding.text} {item.why} {item.confirm} {item.consequence} {punch.whole}"
    assert item.severity == "note"
    assert "tuning and selectivity may be others; that is not computed" in item.finding.text
    for wrong in ("dummy load", "negative", "makes no difference", "stay as drawn"):
        assert wrong not in every


def test_the_coil_of_an_oscillator_that_nobody_marked(told):
    punch = told(drawing=UNMARKED, board=exchanged(UNMARKED, "L3.r", "L3.p"))
    item = of(punch, "L3")
    assert "the oscillator hangs on it" in item.finding.text
    assert "from the grid of the oscillator to its cathode" in item.confirm
    for wrong in ("dummy load", "feedback", "makes no difference"):
        assert wrong not in f"{item.finding.text} {item.why} {item.confirm} {punch.whole}"


def test_without_a_sound_side_no_gain_is_said_to_stay(told):
    """Neither speaker nor control; C31 is at the supply of all stages."""
    cut = RECEIVER[: RECEIVER.index("socket V5 B7G")].replace(
        "V1 V2 V5 V4 V3 from", "V1 V2 V3 from"
    )
    silent = f"{cut}C31 capacitor 100n HT2 chassis\n"
    item = of(told(("C31 capacitor 100n HT2 chassis", ""), drawing=silent), "C31")
    assert "what it does to gain, bass, treble and hum is not computed" in item.consequence
    assert "stay as drawn" not in item.consequence
