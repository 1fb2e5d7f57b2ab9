"""Every lead is seen twice, once from each end."""

import pytest

from buzzout.circuit import Point
from buzzout.language import load
from buzzout.language.coverage import coverage, told

CROSSED = "seen from TS1.1 it goes to V1.3; seen from V1.3 it goes to TS1.2 (or a line is missing at V1.3)"  # noqa: E501


def test_two_sightings_are_one_confirmed_part(found):
    loaded = found("at TS1.1\nresistor 1k to V1.3\nat V1.3\nresistor 1k to TS1.1\n")
    parts = [p for p in loaded.circuit.parts.values() if p.anonymous]
    assert len(parts) == 1
    assert coverage(loaded).confirmed == 1
    assert coverage(loaded).once == 0


def test_parallel_twins_are_two(found):
    two = "resistor 1k to {0}\nresistor 1k to {0}\n"
    loaded = found(f"at TS1.1\n{two.format('V1.3')}at V1.3\n{two.format('TS1.1')}")
    assert len([p for p in loaded.circuit.parts.values() if p.anonymous]) == 2
    assert coverage(loaded).confirmed == 2


def test_twins_of_which_one_was_overlooked_at_one_end(found):
    loaded = found(
        "at TS1.1\nresistor 1k to V1.3\nresistor 1k to V1.3\nat V1.3\nresistor 1k to TS1.1\n"
    )
    covered = coverage(loaded)
    assert (covered.confirmed, covered.once) == (1, 1)
    assert len(covered.unmatched) == 1


def test_what_one_end_could_not_read_the_other_did(found):
    loaded = found(
        "at TS1.1\nresistor unread to V1.3\nat V1.3\nresistor bands brown black red to TS1.1\n"
    )
    part = next(p for p in loaded.circuit.parts.values() if p.anonymous)
    assert part.value.value == 1000
    assert not part.unread
    assert not coverage(loaded).contradictions


def test_a_name_ties_two_sightings_with_an_unseen_end(found):
    loaded = found("at TS1.1\nC7 capacitor 0.1 to ?\nat V1.3\nC7 capacitor 0.1 to ?\n")
    part = loaded.circuit.parts["C7"]
    assert not part.unseen
    ends = {loaded.circuit.landing(p) for p in part.points}
    assert ends == {Point("TS1", "1"), Point("V1", "3")}


def test_wires_merge_and_keep_their_colour(found):
    loaded = found("at TS1.1\nwire green to V1.2\nat V1.2\nwire to TS1.1\n")
    wires = [x for x in loaded.circuit.links if x.how == "wire"]
    assert [(x.colour, x.seen) for x in wires] == [("green", 2)]


@pytest.mark.parametrize(
    ("lines", "reason"),
    [
        (
            "at TS1.1\nresistor 1k to V1.3\nat V1.3\nresistor 10k to TS1.1\n",
            "read as 1k on one line and 10k on the other",
        ),
        (
            "at TS1.1\nwire green to V1.3\nat V1.3\nwire black to TS1.1\n",
            "the wire is green on one line and black on the other",
        ),
        (
            "at TS1.1\nresistor 1k to V1.3\nat V1.3\nresistor 1k to TS1.2\n",
            CROSSED,
        ),
        (
            "at TS1.1\nelectrolytic 8u + to V1.3\nat V1.3\nelectrolytic 8u + to TS1.1\n",
            "the + end is seen at both ends",
        ),
        (
            "at TS1.1\nresistor 1k to V1.3\nat V1.3\nnothing\n",
            "a lead goes to V1.3, of which the other line says: nothing there",
        ),
        (
            "at TS1.1\ndiode OA81 a to V1.3 k\nat V1.3\ndiode OA85 k to TS1.1 a\n",
            "read as OA81 on one line and OA85 on the other",
        ),
    ],
)
def test_contradictions_show_both_lines_and_stay_one_part(found, lines, reason):
    loaded = found(
        lines.replace("diode OA81", "diode type OA81").replace("diode OA85", "diode type OA85")
    )
    assert loaded.ok, loaded.problems
    covered = coverage(loaded)
    assert [c.reason for c in covered.contradictions] == [reason]
    assert [(c.first.line, c.second.line) for c in covered.contradictions] == [(5, 7)]
    things = [p for p in loaded.circuit.parts.values() if p.anonymous]
    wires = [x for x in loaded.circuit.links if x.how == "wire"]
    assert len(things) + len(wires) == 1


def test_points_never_visited(found):
    covered = coverage(found("at TS1.1\nwire to TS1.2\nat TS1.4 nothing\n"))
    pins = [p.pin for p in covered.unvisited if p.owner == "TS1"]
    assert pins == ["5", "6", "7", "8", "9", "10", "11", "12"]


MAINS = (
    'reference "x"\ncord M1 L brown N blue E green/yellow\nbond PE1\nfuse F1 1A slow\n'
    "switch S1 on-off set on\njack J1 tip sleeve\nwire M1.L F1.1\nwire F1.2 S1.a\n"
    "wire M1.E PE1\nwire J1.tip J1.sleeve\n"
)


@pytest.mark.parametrize(
    ("lines", "unlooked"),
    [
        ("", ["M1", "PE1", "F1", "S1", "J1"]),
        ("wire M1.L F1.1\nwire F1.2 S1.a\nwire M1.E J1.tip", ["M1", "PE1", "F1", "S1"]),
        ("at M1.E\nwire green/yellow to PE1\nat J1.tip nothing", ["M1", "F1", "S1"]),
        (("cord M1 L brown N blue\nswitch S1 on-off set on\nfuse F1 1A\njack J1 tip sleeve\n"
         "bond PE1"), []),
    ],
)  # fmt: skip
def test_furniture_that_is_not_said_again_was_not_looked_at(tmp_path, lines, unlooked):
    """Of jacks and bolts there is nothing to say again: a lead that lands there shows them."""
    (tmp_path / "drawing.buzz").write_text(MAINS, encoding="utf-8")
    board = tmp_path / "board.buzz"
    board.write_text(f'found "x"\nof "drawing.buzz"\n{lines}\n', encoding="utf-8")
    loaded = load(board)
    assert [part.name for part in coverage(loaded).unlooked] == unlooked


def test_what_goes_to_the_chassis_is_closed_by_a_heading_there(found):
    """The metal is a place like any other, and so is a bolt in it."""
    once = "at V1.3\n  resistor 1k to chassis\nat V1.4\n  wire black to PE1\n"
    loaded = found(once)
    lines = [span.line for span in coverage(loaded).single]
    assert len(lines) == 2
    twice = once + "at chassis\n  resistor 1k to V1.3\nat PE1\n  wire black to V1.4\n"
    covered = coverage(found(twice))
    assert (covered.confirmed, covered.once, covered.single) == (2, 0, ())


def test_the_report_in_words(found):
    loaded = found(
        "at TS1.1\nresistor 1k to V1.3\ncapacitor 22n to ?\nresistor unread to TS1.2\n"
        "at V1.3\nresistor 10k to TS1.1\n"
    )
    file = next(iter(loaded.sources))
    text = "\n".join(told(coverage(loaded), loaded.sources, 3)).replace(file, "found.buzz")
    assert text == (
        "1 of 3 leads and wires are confirmed from both ends, 2 were seen once\n"
        "CONTRADICTION: read as 1k on one line and 10k on the other\n"
        "  found.buzz:5:1\n"
        "    5 | resistor 1k to V1.3\n"
        "      | ^^^^^^^^^^^^^^^^^^^\n"
        "  found.buzz:9:1\n"
        "    9 | resistor 10k to TS1.1\n"
        "      | ^^^^^^^^^^^^^^^^^^^^^\n"
        "not looked at, taken from the drawing: 7\n"
        "  V1, V2, T1, C20, P1, J1, PE1\n"
        "could not be read: 2\n"
        "  resistor on line 5: value\n"
        "  resistor on line 7: value\n"
        "an end that nobody saw: 1\n"
        "  capacitor on line 6\n"
        "points never visited: 40\n"
        "  V1: 1 2 4 5 6 7 8 9\n"
        "  V2: 1 2 3 4 5 6 7 8 9\n"
        "  T1: red1 red/yellow red2 h1 h2\n"
        "  … and 4 more (--all)\n"
        "seen from one end, no heading (at …) at the other yet: 1\n"
        "      7 | resistor unread to TS1.2"
    )


def test_two_red_wires_of_which_one_line_was_forgotten_are_no_contradiction(found):
    loaded = found("at TS1.1\nwire red to V1.2\nat TS1.4\nwire red to TS1.1\n")
    covered = coverage(loaded)
    assert not covered.contradictions
    assert [s.here for s, _ in covered.unmatched] == [Point("TS1", "4")]
    assert len([x for x in loaded.circuit.links if x.how == "wire"]) == 2


def test_what_two_lines_disagree_on_counts_as_unread(found):
    loaded = found("at TS1.1\nresistor 22k to V1.3\nat V1.3\nresistor 220k to TS1.1\n")
    part = next(p for p in loaded.circuit.parts.values() if p.anonymous)
    assert part.value is None
    assert part.unread == {"value"}
