"""A broken file of devices: each fault named, with its path and line, all in one go."""

import pytest

from buzzout.catalogue.check import faults
from buzzout.catalogue.reading import read_sheet

GOOD = """\
EC900:
  kind: triode
  also:
    - {names: ["6ZZ9"], source: printed on the carton}
  base: B7G
  sections: {"1": triode}
  pins:
    "1": anode
    "2": unused
    "3": heater
    "4": heater
    "5": internal
    "6": grid
    "7": cathode
    source: measured on two samples
  heaters:
    - {volts: 6.3, amps: 0.15, between: "3", and: "4", source: carton}
  limits:
    - system: not stated
      anode_v: 250
      source: carton
"""


def told(text):
    return [f"{f.line} {f.path}: {f.message}" for f in faults(read_sheet(text, "devices.yaml"))]


def test_a_good_file_has_no_faults():
    assert told(GOOD) == []


def test_an_empty_file_has_none_either():
    assert told("") == []
    assert told("# nothing yet\n") == []


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        # the traps of YAML
        (
            '    "1": anode',
            "    1: anode",
            '8 EC900.pins.1: write the name in quotes: "1"',
        ),
        (
            '["6ZZ9"]',
            "[5881]",
            '4 EC900.also.1.names.1: 5881 is read as a number; write it in quotes: "5881"',
        ),
        (
            '["6ZZ9"]',
            "[010]",
            '4 EC900.also.1.names.1: 010 is read as a number; write it in quotes: "010"',
        ),
        (
            "  kind: triode",
            "  kind: NO",
            '2 EC900.kind: YAML takes NO for something else; write "NO"',
        ),
        (
            "  kind: triode",
            "  kind: 2026-11-25",
            '2 EC900.kind: YAML takes 2026-11-25 for something else; write "2026-11-25"',
        ),
        ("  kind: triode", "  kind:", "2 EC900.kind: is empty"),
        (
            "  base: B7G",
            "  base: B7G\n  base: B9A",
            "6 EC900.base: is there twice (first in line 5)",
        ),
        (
            "  kind: triode",
            "\tkind: triode",
            (
                "2 : not readable as YAML: found character that cannot start any token "
                "(blanks at the line's head? a quote left open?)"
            ),
        ),
        (
            "source: carton}",
            "source: *carton}",
            (
                "17 : not readable as YAML: found undefined alias "
                "(blanks at the line's head? a quote left open?)"
            ),
        ),
        # the shape
        ("  kind: triode\n", "", "1 EC900: kind is missing"),
        (
            "  kind: triode",
            "  kind: triode\n  limts: []",
            "3 EC900.limts: is not known here; did you mean limits?",
        ),
        (
            "      anode_v: 250",
            "      anode_volts: 250",
            "20 EC900.limits.1.anode_volts: is not known here; did you mean anode_v?",
        ),
        (
            "      anode_v: 250",
            "      anode_v: 250 V",
            "20 EC900.limits.1.anode_v: '250 V' is no number (the unit stands in the name)",
        ),
        (
            "      anode_v: 250\n",
            "",
            "19 EC900.limits.1: has no figure",
        ),
        (
            "      source: carton",
            "      note: none",
            "19 EC900.limits.1: source is missing",
        ),
        (
            '{"1": triode}',
            '{"1": triodes}',
            (
                "6 EC900.sections.1: 'triodes' is none of triode, tetrode, pentode, hexode, "
                "heptode, diode, indicator, bridge; did you mean triode?"
            ),
        ),
        (
            '{"1": triode}',
            '{"one": triode}',
            "6 EC900.sections: sections are numbered 1 to 9, not 'one'",
        ),
        (
            '    "6": grid',
            '    "6": Grid No. 1',
            (
                "13 EC900.pins.6: 'Grid No. 1' is no electrode such as: "
                "anode, cathode + suppressor, grid 2"
            ),
        ),
        ("volts: 6.3", "volts: -6.3", "17 EC900.heaters.1.volts: must be more than 0"),
        ('["6ZZ9"]', "[]", "4 EC900.also.1.names: is empty"),
        (
            "  limits:\n    - system",
            "  limits:\n      system",
            "18 EC900.limits: expected a list",
        ),
        # what only the trade knows
        (
            "  base: B7G",
            "  base: B7H",
            (
                "5 EC900.base: there is no base 'B7H'; there are B7G, B9A, octal, B8A, B8G, B9D, "
                "UX4, UX5, UX6, UX7"
            ),
        ),
        (
            '    "7": cathode',
            '    "8": cathode',
            "14 EC900.pins.8: the base B7G has no pin 8",
        ),
        (
            '    "2": unused\n',
            "",
            (
                "7 EC900.pins: pin 2 is not told; a pin is unused, internal or absent if it is "
                "joined to no electrode"
            ),
        ),
        (
            '    "6": grid',
            '    "6": gird',
            "13 EC900.pins.6: there is no electrode 'gird'; did you mean grid?",
        ),
        (
            '    "6": grid',
            '    "6": grid 2',
            "13 EC900.pins.6: there is no section 2",
        ),
        (
            'between: "3"',
            'between: "6"',
            "17 EC900.heaters.1.between: pin 6 is no heater or filament",
        ),
        (
            "6ZZ9",
            " 6ZZ9",
            "4 EC900.also.1.names.1: ' 6ZZ9' has blanks where none belong",
        ),
    ],
)
def test_each_fault_is_told(old, new, fault):
    assert old in GOOD
    assert fault in told(GOOD.replace(old, new, 1))


def test_all_faults_come_in_one_go_in_the_order_of_the_lines():
    broken = GOOD.replace("B7G", "B7H").replace("volts: 6.3", "volts: 0").replace("kind", "knid")
    assert told(broken) == [
        "1 EC900: kind is missing",
        "2 EC900.knid: is not known here; did you mean kind?",
        (
            "5 EC900.base: there is no base 'B7H'; there are B7G, B9A, octal, B8A, B8G, B9D, "
            "UX4, UX5, UX6, UX7"
        ),
        "17 EC900.heaters.1.volts: must be more than 0",
    ]


def test_two_devices_cannot_have_one_name():
    again = GOOD.replace("EC900:", "EC901:")
    assert "22 EC901: the name 6ZZ9 belongs to EC900 already" in told(GOOD + again)


def test_a_source_must_be_listed_where_a_list_is_kept():
    sheet = read_sheet(GOOD, "family.yaml")
    found = faults(sheet, ("carton", "measured on two samples"))
    assert [str(f) for f in found] == [
        "family.yaml:4: EC900.also.1.source: there is no source 'printed on the carton'"
    ]


def test_anchors_are_refused_and_do_not_blow_up():
    bomb = "A: &a [x, x]\nB: &b [*a, *a]\nC: [*b, *b]\n"
    assert any("is written with & and *" in line for line in told(bomb))


def test_a_thing_that_contains_itself_is_refused():
    assert any("is written with & and *" in line for line in told("A: &a [*a]\n"))


def test_a_list_at_the_top_is_no_device_file():
    assert told("- one\n- two\n") == ["1 : expected names with a colon behind each"]


def test_binary_rubbish_is_told_in_words():
    assert told("\x00\x01") == [
        "1 : this is no text: unacceptable character #x0000: control characters are not allowed"
    ]
