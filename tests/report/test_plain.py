"""JSON and CSV: the schema holds, and every key says what the finding says."""

from __future__ import annotations

import csv
import io
import json
import math
from dataclasses import replace
from typing import Any

import jsonschema
import pytest

from buzzout.circuit import CHASSIS, Cut, Fit, Join, Move, Point, Remove, Rewire, Span
from buzzout.compare import KINDS
from buzzout.job import PunchList, accepting
from buzzout.job.discharge import Discharge
from buzzout.language.coverage import Coverage
from buzzout.language.departures import Departure
from buzzout.language.sightings import Contradiction
from buzzout.report import plain
from buzzout.report.schema import schema

INPUTS = {"stage.reference.buzz": "0" * 64, "stage.found.buzz": "f" * 64}


def read(punch: PunchList) -> dict[str, Any]:
    """The JSON of a list, which must fulfil the schema."""
    report: dict[str, Any] = json.loads(plain.as_json(punch, INPUTS))
    jsonschema.Draft202012Validator(schema()).validate(report)
    return report


def test_the_schema_is_one() -> None:
    jsonschema.Draft202012Validator.check_schema(schema())


def test_every_finding_has_the_keys_of_the_contract(punch: PunchList) -> None:
    found = read(punch)["findings"]
    assert [f["number"] for f in found] == [item.number for item in punch.items]
    wrong = next(f for f in found if f["kind"] == "wrong-point")
    assert wrong["parts"] == ["C2"]
    assert wrong["points"] == ["V1.8", "V1.7"]
    assert wrong["remedy"] == [{"do": "move", "fixed": "C2.2", "old": "V1.8", "new": "V1.7"}]
    assert wrong["lines"] == [{"file": "stage.found.buzz", "line": 15, "column": 3}]
    assert wrong["severity"] in ("danger", "damage", "fault", "note")


def test_proof_verdict_inputs_and_coverage_are_told(punch: PunchList) -> None:
    report = read(punch)
    assert report["proof"]["sufficient"] is True
    assert (report["proof"]["cost"], report["proof"]["bound"]) == (8, 8)
    assert report["verdict"]["fit_for_power"] is False
    assert report["inputs"][1] == {"name": "stage.found.buzz", "sha256": "f" * 64}
    assert report["coverage"]["unvisited"] == ["V1.9"]
    assert report["coverage"]["unlooked"] == ["J1"]
    assert sum(report["counts"].values()) == len(punch.everything)


def test_it_never_says_that_a_set_is_fit_for_power(punch: PunchList) -> None:
    clear = replace(punch, items=(), rules=(), gate=None, coverage=None)
    assert read(clear)["verdict"]["fit_for_power"] is None


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_finding_fulfils_the_schema(punch: PunchList, kind: str) -> None:
    item = punch.items[0]
    only = replace(item, finding=replace(item.finding, kind=kind))
    assert read(replace(punch, items=(only,)))["findings"][0]["kind"] == kind


def test_every_kind_of_step_fulfils_the_schema(punch: PunchList) -> None:
    a, b, c = Point("V1", "1"), Point("V1", "2"), CHASSIS
    part = punch.comparison.reference.parts["C1"]
    steps = (Remove("@30"), Fit(part, (("+", a), ("-", c))), Join(a, b, "red"), Cut(a, b),
             Move(a, b, c), Rewire("V1", (("1", "2"), ("2", "1"))))  # fmt: skip
    item = replace(punch.items[0], finding=replace(punch.items[0].finding, remedy=steps))
    told = read(replace(punch, items=(item,)))["findings"][0]["remedy"]
    assert [step["do"] for step in told] == ["remove", "fit", "join", "cut", "move", "rewire"]
    assert told[1]["ends"] == {"+": "V1.1", "-": "chassis"}
    assert told[5]["pins"] == {"1": "2", "2": "1"}


def test_the_schema_refuses_what_is_no_report(punch: PunchList) -> None:
    report = read(punch)
    validator = jsonschema.Draft202012Validator(schema())
    for key, value in (("format", 2), ("findings", {}), ("verdict", {"fit_for_power": True})):
        assert not validator.is_valid(report | {key: value})
    assert not validator.is_valid({k: v for k, v in report.items() if k != "proof"})


def test_a_reservoir_without_a_path_has_no_time(punch: PunchList) -> None:
    assert punch.gate is not None
    never = Discharge(Point("C3", "+"), CHASSIS, "C3", 16e-6, math.inf, 450.0, math.inf, math.inf)
    told = read(replace(punch, gate=replace(punch.gate, discharge=(never,))))["gate"]["discharge"]
    assert (told[0]["ohms"], told[0]["seconds_to_touch"], told[0]["volts"]) == (None, None, 450)


def test_what_the_set_would_do_and_what_somebody_accepted_are_told(punch: PunchList) -> None:
    first = next(item for item in punch.items if item.severity == "fault")
    eased = accepting(punch, {first.finding.id: "A. Owner: wanted so"})
    report = read(replace(eased, whole="V1 draws 9 mA of its 8 mA"))
    assert report["whole"] == "V1 draws 9 mA of its 8 mA"
    (told,) = report["gate"]["accepted"]
    assert told.endswith("A. Owner: wanted so")
    assert read(punch)["whole"] == ""


def test_contradictions_and_departures_are_told(punch: PunchList) -> None:
    first, second = Span("a.buzz", 3), Span("a.buzz", 9)
    coverage = Coverage(1, 1, (Contradiction(first, second, "two colours"),), (), (), (), (), ())
    departure = Departure("remove C1", "no longer wanted", (Remove("C1"),), Span("d.buzz", 4))
    report = read(replace(punch, coverage=coverage, departures=(departure,)))
    assert report["coverage"]["contradictions"][0]["second"]["line"] == 9
    assert report["departures"][0]["reason"] == "no longer wanted"


def test_the_same_list_gives_the_same_bytes(punch: PunchList) -> None:
    assert plain.as_json(punch, INPUTS) == plain.as_json(punch, INPUTS)
    assert plain.as_json(punch, INPUTS).isascii()


def rows(punch: PunchList) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(plain.as_csv(punch), newline="")))


def test_csv_has_one_row_for_each_line_of_the_list(punch: PunchList) -> None:
    table = rows(punch)
    assert [row["number"] for row in table] == [str(item.number) for item in punch.everything]
    assert tuple(table[0]) == plain.COLUMNS
    wrong = next(row for row in table if row["kind"] == "wrong-point")
    assert (wrong["parts"], wrong["where"]) == ("C2", "V1.8, V1.7; line 15")


@pytest.mark.parametrize("start", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx"])
def test_no_cell_is_taken_for_a_formula(punch: PunchList, start: str) -> None:
    item = punch.items[0]
    evil = replace(item, finding=replace(item.finding, text=start))
    assert rows(replace(punch, items=(evil,), rules=()))[0]["text"] == f"'{start}"
