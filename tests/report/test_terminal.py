"""The list for a terminal."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from buzzout.compare import Proof, compare
from buzzout.job import LIMITED, PunchList, accepting, punch_list
from buzzout.language import load
from buzzout.language.coverage import coverage
from buzzout.report import page, terminal
from buzzout.report.wording import proof_told

SHORT = """\
drawing    One stage and its supply
chassis    Stage, as received

RESULT
------
power      None that this comparison could find.
list       No difference between the chassis as typed in and the drawing.
proof      Checked: with all of this done, the chassis as typed in equals the drawing.
           Proved: fewer mistakes than these 8 cannot explain it.
looked at  How much of the chassis was written down is not known."""


def test_a_list_without_findings_is_short_and_has_no_cautions(punch: PunchList) -> None:
    none = replace(
        punch,
        items=(),
        rules=(),
        gate=None,
        coverage=None,
        verdict="None that this comparison could find.",
    )
    assert terminal.as_text(none, 90) == SHORT


def test_severities_come_worst_first_with_their_count_and_meaning(punch: PunchList) -> None:
    text = terminal.as_text(punch, 80)
    heads = re.findall(r"^(DANGER|DAMAGE|FAULT|NOTE) \((\d+)\): ", text, re.MULTILINE)
    assert [name for name, _count in heads] == ["DANGER", "DAMAGE", "FAULT", "NOTE"]
    assert sum(int(count) for _name, count in heads) == len(punch.everything)
    assert "can hurt somebody or start a fire" in text


def test_every_item_says_number_severity_what_where_do_confirm_and_why(punch: PunchList) -> None:
    text = " ".join(terminal.as_text(punch, 100).split())
    for item in punch.everything:
        finding = item.finding
        assert f"{item.number} {item.severity}: " in text
        for said in (finding.text, finding.action, item.confirm):
            assert " ".join(said.split()) in text
        assert item.why[1:].split(":")[0] in text
        assert all(str(point) in text for point in finding.points)
    assert "V1.8, V1.7; line 15" in text


def test_cautions_stand_above_the_first_item(punch: PunchList) -> None:
    text = terminal.as_text(punch, 80)
    assert text.index("Lethal voltages") < text.index("DANGER (")


@pytest.mark.parametrize("width", [60, 80, 120])
def test_no_line_is_wider_than_the_terminal(punch: PunchList, width: int) -> None:
    assert max(map(len, terminal.as_text(punch, width).splitlines())) <= width


def test_colour_only_where_it_was_asked_for_and_it_adds_nothing_but_colour(
    punch: PunchList,
) -> None:
    plain, coloured = (terminal.as_text(punch, 80, colour=flag) for flag in (False, True))
    assert "\x1b" not in plain
    assert "\x1b[" in coloured
    stripped = re.sub(r"\x1b\[[0-9;]*m", "", coloured)
    assert [line.rstrip() for line in stripped.splitlines()] == plain.splitlines()


def test_the_environment_does_not_change_the_text(
    punch: PunchList, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = terminal.as_text(punch, 80)
    for name, value in (("COLUMNS", "20"), ("FORCE_COLOR", "1"), ("TERM", "dumb")):
        monkeypatch.setenv(name, value)
    assert terminal.as_text(punch, 80) == before


def test_brief_gives_one_line_for_each_item(punch: PunchList) -> None:
    text = terminal.as_text(punch, 120, brief=True)
    assert len(re.findall(r"^ ?\d+  (danger|damage|fault|note): ", text, re.MULTILINE)) == len(
        punch.everything
    )
    assert "confirm" not in text


def test_escape_sequences_in_a_name_reach_no_terminal(punch: PunchList) -> None:
    item = punch.items[0]
    evil = replace(item.finding, text="a\x1b[2J\x07[bold]b", parts=("R\x1b]0;x\x07",))
    text = terminal.as_text(replace(punch, items=(replace(item, finding=evil),)), 80)
    assert not any(ord(c) < 32 and c != "\n" for c in text)
    assert "[bold]b" in text


def test_the_answer_says_what_the_set_would_do_what_is_accepted_and_what_to_watch(
    punch: PunchList,
) -> None:
    listed = punch_list(punch.comparison, punch.coverage)
    barring = {i.finding.id: "wanted so" for i in listed.everything if i.severity == "damage"}
    harmless = tuple(i for i in listed.items if i.severity != "danger")
    eased = accepting(replace(listed, items=harmless, rules=()), barring)
    assert eased.gate is not None
    assert eased.gate.state == LIMITED
    text = " ".join(terminal.as_text(replace(eased, whole="V1 glows"), 100).split())
    for said in ("together V1 glows.", "wanted so", "watch The lamp of the limiter"):
        assert said in text
    assert "Not fit for power" not in text


PROOFS = [
    (Proof(True, True, 3, 3), "Proved: fewer mistakes than these 3 cannot explain it."),
    (Proof(True, False, 5, 3), "at least 3 mistakes are certain, 5 were found"),
    (Proof(False, False, 5, 3, 0, ("R1 is still on V1.2",)), "Check failed"),
]


@pytest.mark.parametrize(("proof", "said"), PROOFS)
def test_the_proof_is_told_as_far_as_it_goes(proof: Proof, said: str) -> None:
    assert said in proof_told(proof)
    assert ("Proved" in proof_told(proof)) == proof.minimal
    assert ("equals the drawing" in proof_told(proof)) == proof.sufficient


def test_a_half_typed_chassis_is_told_as_such_above_the_list(tmp_path: Path) -> None:
    """Two lines of a chassis: what seems to be missing elsewhere may only not be typed yet."""
    (tmp_path / "stage.reference.buzz").write_text(
        'reference "Stage"\nsocket V1 B9A ECC83\nstrip TS1 4 tags earthed 4\n'
        "R1 resistor 1M V1.2 chassis\nR2 resistor 100k V1.1 TS1.1\nR3 resistor 1k V1.3 TS1.4\n",
        encoding="utf-8",
    )
    (tmp_path / "stage.found.buzz").write_text(
        'found "Stage"\nof "stage.reference.buzz"\nfitted V1 ECC83\nresistor 1M V1.2 to chassis\n',
        encoding="utf-8",
    )
    drawn = load(tmp_path / "stage.reference.buzz").sound().circuit
    typed = load(tmp_path / "stage.found.buzz").sound()
    listed = punch_list(compare(drawn, typed.circuit), coverage(typed))
    head = terminal.as_text(listed, 90).partition("BEFORE YOU OPEN")[0]
    assert "half typed 2 lines of the list only seem to miss something" in head
    assert "Half typed:" in page.page(listed, {})
