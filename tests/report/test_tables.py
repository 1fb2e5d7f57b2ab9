"""Sheets: how figures are said, columns in line, what goes to a spreadsheet."""

import csv
import io
import json
import math

import pytest

from buzzout.report.tables import (
    Column,
    Sheet,
    Table,
    amount,
    as_csv,
    as_json,
    as_text,
    figure,
    gathered,
    ohms,
    volts,
)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (220e3, "220k"),
        (0.3, "<1R"),
        (math.inf, "open"),
        (math.nan, "not known"),
        (1234567, "1.23M"),
    ],
)
def test_ohms(value, text):
    assert ohms(value) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [(168.4, "168 V"), (9.96, "10.0 V"), (1.416, "1.42 V"), (-0.001, "0.00 V"),
     (math.nan, "floats")],
)  # fmt: skip
def test_volts(value, text):
    assert volts(value) == text


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [(0.0667, "A", "66.7 mA"), (8.354, "W", "8.35 W"), (1.25e-5, "V", "12.5 uV"),
     (0.99999, "A", "1 A"), (0.0, "W", "0 W"), (1500.0, "Hz", "1.5 kHz"),
     (math.nan, "W", "not known")],
)  # fmt: skip
def test_amount(value, unit, text):
    assert amount(value, unit) == text


def test_figures_keep_their_width():
    assert [figure(v) for v in (99.4, 99.5, 9.94, 9.95)] == ["99.4", "100", "9.94", "9.9"]


COLUMNS = (
    Column("part", "part"),
    Column("ohm", "reads", ohms, right=True),
    Column("value", only_data=True),
)
SHEET = Sheet(
    "TITLE",
    (("drawing", "x"),),
    (
        Table("one", COLUMNS, (("R1", 1e3, 1.0), ("=A1", math.inf, math.nan))),
        Table("two", COLUMNS, (("a longer name", None, 2.5),)),
    ),
    ("P1: not stated", "P2: not stated", "alone"),
)


def test_text_lines_up_over_tables_and_leaves_data_out():
    lines = as_text(SHEET).splitlines()
    assert "Lethal voltages" in lines[2]
    first = next(line for line in lines if line.startswith("  R1"))
    assert first.rstrip().endswith("1k")
    heads = [line for line in lines if line.startswith("  part")]
    assert heads[0] == heads[1]
    assert "value" not in heads[0]
    assert "- P1, P2: not stated" in lines


def test_csv_is_harmless_and_in_base_units():
    rows = list(csv.DictReader(io.StringIO(as_csv(SHEET))))
    assert [row["table"] for row in rows] == ["one", "one", "two"]
    assert rows[0]["ohm"] == "1000"
    assert rows[1] == {"table": "one", "part": "'=A1", "ohm": "open", "value": ""}
    assert rows[2]["ohm"] == ""


def test_json_holds_no_infinite_number():
    told = json.loads(as_json(SHEET, {"a.buzz": "0" * 64}))
    assert told["tables"][0]["rows"][1] == {"part": "=A1", "ohm": "open", "value": None}
    assert told["inputs"] == [{"name": "a.buzz", "sha256": "0" * 64}]


def test_remarks_alike_become_one():
    assert gathered(["a: x", "b: y", "c: x", "d", "d"]) == ["a, c: x", "b: y", "d"]


def test_the_widest_column_of_words_is_folded_where_a_table_is_too_wide():
    columns = (Column("part", "part"), Column("ohms", "reads", right=True), Column("why", "why"))
    why = "the resistor of line 17 at 4.7k would explain it; lift one lead to tell"
    text = as_text(Sheet("T", tables=(Table("", columns, (("R1", "4.7k", why),)),)), 50)
    rows = text.splitlines()[-3:]
    assert all(len(row) <= 50 for row in rows)
    assert " ".join(" ".join(rows).split()) == f"R1 4.7k {why}"
